//! Ends of a member, each cut drawn with its angle.

use nalgebra::Vector2;

use super::Asked;
use crate::drawing::flow::Block;
use crate::drawing::font::Face;
use crate::drawing::leaf::fitted;
use crate::drawing::scene::{
    Anchor, CENTRE, Corner, NARROW, Place, Purpose, Scene, Shape, Text, WIDE,
};
use crate::drawing::words;
use crate::geometry::{Pt3, Vec3};
use crate::measure::{Quantity, Show, quantity};
use crate::member::{End, EndShape, Member, Shape as SectionShape};

/// Room for one sketch, mm.
const CELL: Vector2<f64> = Vector2::new(60.0, 46.0);
const SKETCH: f64 = 26.0;

/// One sketch: an end seen so that one direction of the section stands upright.
struct Sketch {
    title: String,
    /// Size of the section upright on the sketch, mm.
    size: f64,
    /// Each cut: how far it lies beyond the first, and its slope against upright, degrees.
    cuts: Vec<(f64, Quantity)>,
}

/// Sketches and sentences about the ends; `None` for a ring.
pub fn blocks(member: &Member, asked: &Asked) -> Option<Vec<Block>> {
    if member.ends.is_empty() {
        return None;
    }
    let mut sketches = Vec::new();
    let mut sentences = Vec::new();
    for (index, end) in member.ends.iter().enumerate() {
        match end.shape {
            EndShape::Plane | EndShape::Double => {
                let own = sketches_of(member, index, end);
                if own.is_empty() {
                    sentences.push(format!("End {index}: cut square."));
                }
                sketches.extend(own);
            }
            EndShape::Saddle => sentences.extend(end.saddle.as_ref().map(|s| {
                format!(
                    "End {index}: coped to fit a round of {} outside, axes at {} {}, {} apart; the mark-out has its wrap.",
                    words::dimension(s.diameter, asked.show),
                    words::angle(s.angle),
                    words::angle_plus_minus(s.angle),
                    words::dimension(s.offset, asked.show)
                )
            })),
            EndShape::Other => sentences.push(format!(
                "End {index}: neither cuts nor a cope; set it out from the model."
            )),
        }
    }
    let mut blocks: Vec<Block> = sentences.into_iter().map(Block::Words).collect();
    for sketch in &sketches {
        let mut scene = Scene::default();
        draw(&mut scene, sketch, 0.0, asked.show);
        blocks.push(Block::Picture {
            name: sketch.title.clone(),
            scene,
            size: CELL,
        });
    }
    Some(blocks)
}

/// Slopes nearer to upright than this aren't drawn, degrees.
const SQUARE: f64 = 0.05;

fn sketches_of(member: &Member, index: usize, end: &End) -> Vec<Sketch> {
    let section = &member.section;
    let from = Pt3::from(end.point);
    let tangent = Vec3::from(end.tangent);
    let beyond = |k: usize| {
        end.cuts
            .get(k)
            .map_or(0.0, |c| (Pt3::from(c.point) - from).dot(&tangent))
    };
    let sketch = |title: String, size: Option<Quantity>, slopes: Vec<Quantity>| {
        let leaning = slopes.iter().any(|q| q.value.abs() > SQUARE);
        (leaning || slopes.len() > 1).then(|| Sketch {
            title,
            size: size.map_or(50.0, |q| q.value),
            cuts: slopes
                .into_iter()
                .enumerate()
                .map(|(k, q)| (beyond(k), q))
                .collect(),
        })
    };
    match (section.shape, end.cuts.as_slice()) {
        (SectionShape::Round | SectionShape::RoundBar, [cut]) => sketch(
            format!("end {index}, long point level"),
            section.diameter,
            vec![quantity(-cut.off_square.value, cut.off_square.plus_minus)],
        )
        .into_iter()
        .collect(),
        (_, cuts) => {
            let size = |q: Option<Quantity>| q.or(section.diameter).or(section.width);
            let width = cuts.iter().map(|c| c.tilt_width).collect();
            let height = cuts.iter().map(|c| c.tilt_height).collect();
            let leans = |list: &Vec<Quantity>| list.iter().any(|q| q.value.abs() > SQUARE);
            let mut list = Vec::new();
            if leans(&width) {
                list.extend(sketch(
                    format!("end {index}, width upright"),
                    size(section.width),
                    width,
                ));
            }
            if leans(&height) {
                list.extend(sketch(
                    format!("end {index}, height upright"),
                    size(section.height),
                    height,
                ));
            }
            list
        }
    }
}

fn draw(scene: &mut Scene, sketch: &Sketch, x: f64, show: Show) {
    let half = sketch.size / 2.0;
    let reach = |v: f64| {
        sketch
            .cuts
            .iter()
            .map(|(beyond, slope)| beyond - v * slope.value.to_radians().tan())
            .fold(f64::INFINITY, f64::min)
    };
    let points: Vec<(f64, f64)> = (0..=64)
        .map(|k| half - sketch.size * f64::from(k) / 64.0)
        .map(|v| (reach(v), v))
        .collect();
    let low = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    let deep = (high - low).max(1e-9);
    let scale = (SKETCH / sketch.size).min(32.0 / deep);
    // The longest point stands at the right edge of the cell.
    let place = |s: f64, v: f64| Place::new(x + 50.0 + (s - high) * scale, 28.0 + v * scale);
    let start = place(low, 0.0).x - 8.0;
    let mut corners: Vec<Corner> = vec![Place::new(start, place(0.0, half).y)]
        .into_iter()
        .chain(points.iter().map(|(s, v)| place(*s, *v)))
        .chain([Place::new(start, place(0.0, -half).y)])
        .map(|at| Corner { at, bulge: 0.0 })
        .collect();
    corners.dedup_by(|a, b| (a.at - b.at).norm() < 1e-9);
    scene.stroke(
        Purpose::Sheet,
        WIDE,
        Shape::Path {
            corners,
            closed: false,
        },
    );
    let axis = [Place::new(start, 28.0), Place::new(x + 53.0, 28.0)];
    scene.line(CENTRE, axis[0], axis[1]);
    // The square line the angles are measured from, through the longest point.
    let square = place(high, 0.0).x;
    scene.line(
        NARROW,
        Place::new(square, 28.0 - half * scale - 2.0),
        Place::new(square, 28.0 + half * scale + 2.0),
    );
    let angles: Vec<String> = sketch
        .cuts
        .iter()
        .map(|(_, q)| {
            let q = quantity(q.value.abs(), q.plus_minus);
            format!("{} {}", words::angle(q), words::angle_plus_minus(q))
        })
        .collect();
    let mut lines = vec![
        sketch.title.clone(),
        format!("off square {}", angles.join(" and ")),
    ];
    if let [(_, slope)] = sketch.cuts.as_slice() {
        let back = sketch.size * slope.value.to_radians().tan().abs();
        lines.push(format!("(set back {})", words::plain_length(back, show)));
    }
    if let [(first, one), (second, two)] = sketch.cuts.as_slice() {
        // Both cuts reach equally far where they meet.
        let slope = |q: &Quantity| q.value.to_radians().tan();
        let meet = (first - second) / (slope(one) - slope(two));
        if meet.abs() < half {
            let down = words::plain_length(half - meet, show);
            lines.push(format!("cuts meet {down} below the upper face"));
        }
    }
    for (k, line) in lines.iter().enumerate() {
        let face = if k == 0 { Face::Bold } else { Face::Plain };
        let text = fitted(line, face, 2.5, CELL.x - 4.0);
        let at = Place::new(x + CELL.x / 2.0, 10.0 - 4.4 * k as f64);
        scene.text(Purpose::Sheet, Text { at, ..text }.anchored(Anchor::Middle));
    }
}

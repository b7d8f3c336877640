//! The section of the whole model: picture with marks, parts list, set-out.

use nalgebra::Vector2;

use super::part::pieces;
use super::{Asked, cautions};
use crate::body::Body;
use crate::drawing::bulge;
use crate::drawing::dimension::{LANE, balloon, level, upright};
use crate::drawing::flow::{Block, Section};
use crate::drawing::projection::{SIGN_WIDTH, sign};
use crate::drawing::scale::scale;
use crate::drawing::scene::{Anchor, NARROW, Place, Purpose, Scene, Text};
use crate::drawing::table::Table;
use crate::drawing::view::{self, Look, picture};
use crate::drawing::words::{self, counted};
use crate::geometry::{Pt3, Vec3};
use crate::report::{Report, what};

const PICTURE: f64 = 104.0;
const VIEWS: f64 = 62.0;
/// Room kept free on both sides of the picture for marks, mm.
const SIDE: f64 = 16.0;

pub fn section(report: &Report, bodies: &[Body], asked: &Asked) -> Section {
    let all: Vec<&Body> = bodies.iter().collect();
    let mut blocks = vec![
        marked(report, &all, asked),
        Block::Heading("Parts".into()),
        Block::Table(parts(report, asked)),
    ];
    if !all.is_empty() {
        blocks.push(Block::Heading(
            "Set-out: overall sizes, and where the pieces stand".into(),
        ));
        blocks.push(overall(&all, asked));
        blocks.push(Block::Words(
            "Datum: the lowest, leftmost, foremost corner of a box around the whole model. x runs to the right, y away from you, z up, as in the file."
                .into(),
        ));
        blocks.push(Block::Table(places(report, bodies, asked)));
    }
    let general: Vec<Block> = report
        .findings
        .iter()
        .filter(|f| f.part.is_none())
        .map(|f| Block::Words(format!("{} {}", f.message, f.remedy)))
        .collect();
    if !general.is_empty() {
        blocks.push(Block::Heading("About the file".into()));
        blocks.extend(general);
    }
    let different = counted(report.parts.len(), "different part");
    let n: u32 = report
        .parts
        .iter()
        .map(|p| p.quantity + p.opposite_hand)
        .sum();
    Section {
        mark: String::new(),
        heading: "Parts and set-out".into(),
        under: format!("{different}, {}", counted(n as usize, "piece")),
        blocks,
        cautions: cautions::whole(),
    }
}

/// Everything from above a corner, each different part with its mark.
fn marked(report: &Report, all: &[&Body], asked: &Asked) -> Block {
    let look = Look::isometric(&Vec3::x(), &Vec3::y(), &Vec3::z());
    let (low, high) = around(all, &look);
    let room = Vector2::new(asked.width - 2.0 * SIDE, PICTURE - 8.0);
    let (scale, name) = scale(high - low, room);
    let seen = picture(all, look, 0.4 / scale);
    let size = view::size(&seen) * scale;
    let at = Place::new((asked.width - size.x) / 2.0, 4.0 + (room.y - size.y) / 2.0);
    let mut scene = Scene::default();
    view::draw(&mut scene, &seen, NARROW, scale, at);
    let mut marks: Vec<(Place, &str)> = report
        .parts
        .iter()
        .filter_map(|part| {
            let body = all.get(part.body as usize)?;
            let middle = nearest_to_centre(body);
            Some((
                at + (look.place(&middle) - seen.extent.0) * scale,
                part.mark.as_str(),
            ))
        })
        .collect();
    marks.sort_by(|a, b| b.0.y.total_cmp(&a.0.y).then(a.0.x.total_cmp(&b.0.x)));
    // Left half to the left, right half to the right, none more than its share.
    let half = marks.len().div_ceil(2);
    let mut by_x = marks.clone();
    by_x.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let border = by_x.get(half.saturating_sub(1)).map_or(0.0, |m| m.0.x);
    for left in [true, false] {
        let side: Vec<&(Place, &str)> =
            marks.iter().filter(|m| (m.0.x <= border) == left).collect();
        let step = (PICTURE - 12.0) / side.len().max(1) as f64;
        for (k, (to, mark)) in side.iter().enumerate() {
            let y = PICTURE - 6.0 - step * (k as f64 + 0.5);
            let x = if left { 6.0 } else { asked.width - 6.0 };
            balloon(&mut scene, Place::new(x, y), *to, mark);
        }
    }
    let corner = Place::new(asked.width - SIGN_WIDTH, 3.5);
    sign(&mut scene, asked.projection, corner);
    let words = format!("{}, {name}", asked.projection.name());
    let text = Text::plain(corner - Vector2::new(1.5, 1.2), 2.5, words);
    scene.text(Purpose::Sheet, text.anchored(Anchor::End));
    Block::Picture {
        scene,
        size: Vector2::new(asked.width, PICTURE),
    }
}

/// The vertex nearest to the middle of a body: a bent piece's own middle may lie beside it.
fn nearest_to_centre(body: &Body) -> Pt3 {
    let from = |v: &Pt3| (v - body.centroid).norm_squared();
    let found = body
        .vertices
        .iter()
        .min_by(|a, b| from(a).total_cmp(&from(b)));
    found.copied().unwrap_or(body.centroid)
}

fn around(all: &[&Body], look: &Look) -> (Place, Place) {
    let points = all.iter().flat_map(|b| &b.vertices);
    let (low, high) = bulge::around(points.map(|v| look.place(v)));
    match low.x <= high.x {
        true => (low, high),
        false => (Place::origin(), Place::new(1.0, 1.0)),
    }
}

/// From the front and from above, with the three overall sizes.
fn overall(all: &[&Body], asked: &Asked) -> Block {
    let front = Look {
        right: Vec3::x(),
        up: Vec3::z(),
    };
    let above = Look {
        right: Vec3::x(),
        up: Vec3::y(),
    };
    let mut scene = Scene::default();
    let room = Vector2::new(asked.width / 2.0 - LANE - 12.0, VIEWS - LANE - 8.0);
    for (k, look) in [front, above].into_iter().enumerate() {
        let (low, high) = around(all, &look);
        let (scale, name) = scale(high - low, room);
        let seen = picture(all, look, 0.4 / scale);
        let size = view::size(&seen) * scale;
        let at = Place::new(asked.width / 2.0 * k as f64 + LANE + 6.0, LANE + 4.0);
        view::draw(&mut scene, &seen, NARROW, scale, at);
        let far = at + size;
        let [w, h] = [size.x, size.y].map(|v| words::plain_length(v / scale, asked.show));
        // The length across both views is the same and is said once.
        if k == 0 {
            level(
                &mut scene,
                at,
                Place::new(far.x, at.y),
                at.y - LANE + 1.5,
                &w,
            );
        }
        upright(
            &mut scene,
            at,
            Place::new(at.x, far.y),
            at.x - LANE + 1.5,
            &h,
        );
        let title = match k {
            0 => format!("from the front, {name}"),
            _ => format!("from above, {name}"),
        };
        let place = Place::new(at.x, VIEWS - 3.0);
        scene.text(Purpose::Sheet, Text::plain(place, 2.5, title));
    }
    Block::Picture {
        scene,
        size: Vector2::new(asked.width, VIEWS),
    }
}

fn parts(report: &Report, asked: &Asked) -> Table {
    let mass = asked.show.mass_symbol();
    let rows = report.parts.iter().map(|part| {
        let n = f64::from(part.quantity + part.opposite_hand);
        let weight = |factor: f64| {
            part.mass
                .and_then(|m| asked.show.mass(m.scaled(factor)))
                .map_or(words::NOT_KNOWN.to_owned(), |w| w.value)
        };
        let mut name = what(part, asked.show);
        if let Some(own) = &part.name {
            name = format!("{name} \"{own}\"");
        }
        vec![
            part.mark.clone(),
            name,
            pieces(part),
            weight(1.0),
            weight(n),
        ]
    });
    Table {
        headings: vec![
            "mark ".into(),
            "what it is ".into(),
            "pieces ".into(),
            format!("one, {mass}"),
            format!("all, {mass}"),
        ],
        rows: rows.collect(),
    }
}

/// Where each body stands: its box from the datum.
fn places(report: &Report, bodies: &[Body], asked: &Asked) -> Table {
    let box_of = |body: &Body| {
        let start = (
            Pt3::from([f64::INFINITY; 3]),
            Pt3::from([f64::NEG_INFINITY; 3]),
        );
        body.vertices
            .iter()
            .fold(start, |(low, high), v| (low.inf(v), high.sup(v)))
    };
    let datum = bodies
        .iter()
        .map(|b| box_of(b).0)
        .fold(Pt3::from([f64::INFINITY; 3]), |a, b| a.inf(&b));
    let rows = report.parts.iter().flat_map(|part| {
        part.bodies.iter().filter_map(|&index| {
            let (low, high) = box_of(bodies.get(index as usize)?);
            let span = |k: usize| {
                let [from, to] = [low, high].map(|p| words::tape(p[k] - datum[k], asked.show));
                format!("{from} to {to}")
            };
            Some(vec![
                part.mark.clone(),
                index.to_string(),
                span(0),
                span(1),
                span(2),
            ])
        })
    });
    Table {
        headings: ["mark ", "body ", "x", "y", "z"].map(String::from).to_vec(),
        rows: rows.collect(),
    }
}

//! The path of a tool over the plate it should cut: tints and dashes only, so it reads in grey.

use nalgebra::Vector2;

use super::bulge::around;
use super::font::{self, Face};
use super::scene::{
    CENTRE, Corner, Extent, Fill, HIDDEN, Item, NARROW, Pen, Place, Purpose, Scene, Shape, Text,
    WIDE,
};

/// What is drawn, mm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overlay {
    /// Plates: for each its rings, the outside first.
    pub plates: Vec<Vec<Vec<Place>>>,
    /// Closed cuts.
    pub cuts: Vec<Vec<Place>>,
    /// Cuts that do not close.
    pub open: Vec<Vec<Place>>,
    /// Ways into and out of a cut.
    pub leads: Vec<Vec<Place>>,
    /// Ways without cutting.
    pub rapids: Vec<[Place; 2]>,
    /// Where the tool starts.
    pub pierces: Vec<Place>,
    /// Places that are pointed at, and what is there.
    pub spots: Vec<(Place, String)>,
    /// Heading.
    pub title: String,
    /// Lines under the drawing.
    pub lines: Vec<String>,
}

/// Spots that are numbered on the drawing.
const MOST_SPOTS: usize = 30;

/// The drawing and the box around it.
pub fn overlay(from: &Overlay) -> (Scene, Extent) {
    let all = from
        .plates
        .iter()
        .flatten()
        .chain(&from.cuts)
        .chain(&from.open)
        .chain(&from.leads)
        .flatten()
        .copied();
    let ways = from.rapids.iter().flatten().copied();
    let (low, high) = around(all.clone());
    let (low, high) = match (high - low).iter().all(|v| v.is_finite()) {
        true => (low, high),
        false => (Place::origin(), Place::new(1.0, 1.0)),
    };
    let side = (high - low).max().max(1.0);
    // Lines and letters keep their look on a small plate and on a large sheet.
    let grow = side / 200.0;
    let mut scene = Scene::default();
    for plate in &from.plates {
        for (k, ring) in plate.iter().enumerate() {
            let fill = if k == 0 {
                Fill::Tint(0.22)
            } else {
                Fill::White
            };
            add(&mut scene, ring, true, Some(fill), pen(NARROW, 0.6 * grow));
        }
    }
    for [a, b] in &from.rapids {
        add(&mut scene, &[*a, *b], false, None, pen(CENTRE, 0.5 * grow));
    }
    for ring in &from.cuts {
        add(&mut scene, ring, true, None, pen(WIDE, grow));
    }
    for path in &from.open {
        add(&mut scene, path, false, None, pen(WIDE, grow));
    }
    for lead in &from.leads {
        add(&mut scene, lead, false, None, pen(HIDDEN, grow));
    }
    for pierce in &from.pierces {
        scene.items.push(dot(*pierce, 0.9 * grow));
    }
    let height = 2.6 * grow;
    let spots = from.spots.iter().take(MOST_SPOTS);
    for (number, (at, _)) in (1..).zip(spots) {
        spot(&mut scene, *at, number, (low, high), height);
    }
    let (reach_low, reach_high) = around(ways.chain([low, high]));
    let mut at = Place::new(reach_low.x, reach_low.y - 4.0 * height);
    let room = (reach_high.x - reach_low.x).max(60.0 * height);
    at.y = legend(&mut scene, at, height, grow);
    write(&mut scene, &mut at, room, height, from);
    let title = Text::plain(
        Place::new(reach_low.x, reach_high.y + 3.0 * height),
        1.3 * height,
        from.title.clone(),
    );
    scene.text(Purpose::Words, title.bold());
    let boxes = scene
        .items
        .iter()
        .map(|item| super::bulge::extent(&item.shape));
    let (low, high) = around(boxes.flat_map(|(low, high)| [low, high]));
    let margin = Vector2::new(2.0, 2.0) * height;
    let window = (low - margin, high + margin);
    let mut paper = Scene::default();
    paper.rectangle(None, Some(Fill::White), window);
    paper.items.append(&mut scene.items);
    (paper, window)
}

fn pen(like: Pen, grow: f64) -> Pen {
    Pen {
        width: like.width * grow,
        ..like
    }
}

fn add(scene: &mut Scene, points: &[Place], closed: bool, fill: Option<Fill>, pen: Pen) {
    let corners: Vec<Corner> = points
        .iter()
        .map(|at| Corner {
            at: *at,
            bulge: 0.0,
        })
        .collect();
    if corners.len() > 1 {
        scene.items.push(Item {
            purpose: Purpose::Sheet,
            pen: Some(pen),
            fill,
            shape: Shape::Path { corners, closed },
        });
    }
}

fn dot(centre: Place, radius: f64) -> Item {
    Item {
        purpose: Purpose::Sheet,
        pen: None,
        fill: Some(Fill::Black),
        shape: Shape::Circle { centre, radius },
    }
}

/// A ring round the place and its number beside it, turned inwards at the right edge.
fn spot(scene: &mut Scene, at: Place, number: usize, (_, high): Extent, height: f64) {
    let radius = 1.3 * height;
    scene.items.push(Item {
        purpose: Purpose::Sheet,
        pen: Some(Pen {
            width: 0.22 * height,
            ..WIDE
        }),
        fill: None,
        shape: Shape::Circle { centre: at, radius },
    });
    let right = at.x + 6.0 * height <= high.x;
    let beside = if right { 1.5 * radius } else { -2.6 * radius };
    let text = Text::plain(
        at + Vector2::new(beside, 0.6 * radius),
        1.2 * height,
        number.to_string(),
    );
    scene.text(Purpose::Words, text.bold());
}

/// What each line means, each beside a piece of it; the height left below.
fn legend(scene: &mut Scene, at: Place, height: f64, grow: f64) -> f64 {
    let length = 9.0 * height;
    let samples = [
        ("the plate as designed", None),
        ("cut by the program", Some(pen(WIDE, grow))),
        ("lead into or out of a cut", Some(pen(HIDDEN, grow))),
        ("way without cutting", Some(pen(CENTRE, 0.5 * grow))),
    ];
    let mut y = at.y;
    for (words, sample) in samples {
        let (left, right) = (Place::new(at.x, y), Place::new(at.x + length, y));
        match sample {
            Some(pen) => add(scene, &[left, right], false, None, pen),
            None => {
                let up = Vector2::new(0.0, 0.5 * height);
                let corners = [left - up, right - up, right + up, left + up];
                add(
                    scene,
                    &corners,
                    true,
                    Some(Fill::Tint(0.22)),
                    pen(NARROW, 0.6 * grow),
                );
            }
        }
        let text = Text::plain(
            Place::new(right.x + height, y - 0.5 * height),
            height,
            words,
        );
        scene.text(Purpose::Words, text);
        y -= 1.9 * height;
    }
    let middle = Place::new(at.x + length / 2.0, y);
    scene.items.push(dot(middle, 0.9 * grow));
    let beside = Place::new(at.x + length + height, y - 0.5 * height);
    scene.text(
        Purpose::Words,
        Text::plain(beside, height, "the tool starts to cut"),
    );
    y - 3.0 * height
}

fn write(scene: &mut Scene, at: &mut Place, room: f64, height: f64, from: &Overlay) {
    let spots = (1..).zip(&from.spots).take(MOST_SPOTS);
    let mut lines: Vec<String> = spots
        .map(|(n, (_, words)): (usize, _)| format!("{n}  {words}"))
        .collect();
    let more = from.spots.len().saturating_sub(MOST_SPOTS);
    if more > 0 {
        lines.push(format!("and {more} more"));
    }
    lines.extend(from.lines.iter().cloned());
    for line in lines {
        for part in font::wrap(&line, Face::Plain, height, room) {
            scene.text(Purpose::Words, Text::plain(*at, height, part));
            at.y -= 1.7 * height;
        }
    }
}

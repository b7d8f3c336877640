//! A plate: its flat with the overall sizes and its holes numbered, and as it stands.

use nalgebra::Vector2;

use super::super::Asked;
use super::{CAPTION, ROW, caption, corner, half, main_height, seat, taken};
use crate::body::Body;
use crate::drawing::bulge;
use crate::drawing::clear;
use crate::drawing::dimension::{LANE, LETTERS, level, upright};
use crate::drawing::flow::{self, Block};
use crate::drawing::outline::flat::{FlatPlate, Hand, flat_plate};
use crate::drawing::scale::scale;
use crate::drawing::scene::{
    CENTRE, Corner, EDGE, Extent, Place, Purpose, Scene, Shape, Text, WIDE,
};
use crate::drawing::view::{self, Look};
use crate::drawing::words;
use crate::geometry::Vec3;
use crate::plate::{Plate, Sense};
use crate::report::ReportedPart;

/// The flat, the plate as it stands, and from above a corner.
pub fn plate(part: &ReportedPart, plate: &Plate, body: Option<&Body>, asked: &Asked) -> Vec<Block> {
    let flat = flat_plate(plate, Hand::AsModelled).ok();
    let mut blocks: Vec<Block> = flat
        .map(|f| flat_view(plate, &f, asked))
        .into_iter()
        .collect();
    if let Some(body) = body {
        blocks.extend(folded(plate, body, part, asked));
        blocks.push(corner(body, &seat(part, body), asked));
    }
    blocks
}

fn flat_view(plate: &Plate, flat: &FlatPlate, asked: &Asked) -> Block {
    let (low, high) = bulge::extent(&flat.outer);
    let room = Vector2::new(asked.width - 2.0 * LANE - 10.0, main_height(asked) + 14.0);
    let (scale, name) = scale(high - low, room);
    let left = (asked.width - (high.x - low.x) * scale) / 2.0;
    let corner = Place::new(left, CAPTION + LANE + 2.0);
    let place = |p: Place| corner + (p - low) * scale;
    let far = place(high);
    let size = Vector2::new(asked.width, far.y + 6.0);
    let mut scene = Scene::default();
    let shape = |s: &Shape| scaled(s, low, scale, corner);
    scene.stroke(Purpose::Sheet, WIDE, shape(&flat.outer));
    for bend in &flat.bends {
        scene.line(CENTRE, place(bend.from), place(bend.to));
    }
    for hole in &flat.holes {
        for contour in hole.through.iter().chain(&hole.head) {
            scene.stroke(Purpose::Sheet, EDGE, shape(contour));
        }
    }
    if let Some(q) = plate.flat.length {
        let right = Place::new(far.x, corner.y);
        let words = words::dimension(q, asked.show);
        level(&mut scene, corner, right, corner.y - LANE + 1.5, &words);
    }
    if let Some(q) = plate.flat.width {
        let top = Place::new(corner.x, far.y);
        let words = words::dimension(q, asked.show);
        upright(&mut scene, corner, top, corner.x - LANE + 1.5, &words);
    }
    let name = match plate.bends.is_empty() && plate.roll_axis.is_none() {
        true => format!("front face, {name}"),
        false => format!("flat, front face, {name}"),
    };
    caption(&mut scene, name.clone());
    let room = (Place::origin(), Place::new(size.x, size.y));
    for (k, hole) in flat.holes.iter().enumerate() {
        let around = match (hole.head.as_ref().or(hole.through.as_ref()), hole.centre) {
            (Some(contour), _) => Some(bulge::extent(&shape(contour))),
            (None, at) => at.map(|at| (place(at), place(at))),
        };
        if let Some(around) = around {
            label(&mut scene, around, (k + 1).to_string(), room);
        }
    }
    for (k, bend) in flat.bends.iter().enumerate() {
        let way = match bend.sense {
            Sense::Up => "up",
            Sense::Down => "down",
        };
        let (from, to) = (place(bend.from), place(bend.to));
        let words = format!("bend {} {way}", k + 1);
        on_line(&mut scene, from, to, words, room);
    }
    flow::picture(name, scene, size)
}

/// A bent or rolled plate as it stands, seen along its bends.
fn folded(plate: &Plate, body: &Body, part: &ReportedPart, asked: &Asked) -> Option<Block> {
    let axis = plate
        .bends
        .first()
        .map(|b| Vec3::from(b.axis))
        .or(plate.roll_axis.map(|a| Vec3::from(a[1])));
    let axis = axis.and_then(|a| a.try_normalize(1e-9))?;
    let seat = seat(part, body);
    let up = [seat.z, seat.y, seat.x]
        .into_iter()
        .find_map(|v| (v - axis * axis.dot(&v)).try_normalize(0.5))?;
    let size = Vector2::new(half(asked), ROW);
    let room = Vector2::new(size.x - 8.0, size.y - CAPTION - 4.0);
    let look = Look {
        right: up.cross(&axis),
        up,
    };
    let (seen, scale, name) = taken(body, look, room);
    let own = view::size(&seen) * scale;
    let at = Place::new(
        (size.x - own.x) / 2.0,
        CAPTION + 2.0 + (room.y - own.y) / 2.0,
    );
    let mut scene = Scene::default();
    view::draw(&mut scene, &seen, EDGE, scale, at);
    let name = match plate.bends.is_empty() {
        false => format!("seen along its bends, {name}"),
        true => format!("seen along its axis, {name}"),
    };
    caption(&mut scene, name.clone());
    Some(flow::picture(name, scene, size))
}

/// A contour of the flat on paper.
fn scaled(shape: &Shape, low: Place, scale: f64, corner: Place) -> Shape {
    let place = |p: Place| corner + (p - low) * scale;
    match shape {
        Shape::Circle { centre, radius } => Shape::Circle {
            centre: place(*centre),
            radius: radius * scale,
        },
        Shape::Path { corners, closed } => Shape::Path {
            corners: corners
                .iter()
                .map(|c| Corner {
                    at: place(c.at),
                    bulge: c.bulge,
                })
                .collect(),
            closed: *closed,
        },
        other => other.clone(),
    }
}

/// Words in or beside a box.
fn label(scene: &mut Scene, (low, high): Extent, words: String, room: Extent) {
    let text = Text::plain(low, LETTERS, words);
    let width = text.width();
    let middle = nalgebra::center(&low, &high);
    let y = middle.y - LETTERS / 2.0;
    let mut places = Vec::new();
    for gap in [0.9, 3.0, 6.0] {
        let down = LETTERS + gap;
        places.extend([
            Place::new(high.x + gap * 0.6, high.y + gap * 0.5),
            Place::new(high.x + gap, y),
            Place::new(low.x - gap - width, y),
            Place::new(middle.x - width / 2.0, high.y + gap),
            Place::new(middle.x - width / 2.0, low.y - down),
            Place::new(high.x + gap, low.y - down),
            Place::new(low.x - gap - width, high.y + gap),
            Place::new(low.x - gap - width, low.y - down),
            Place::new(middle.x - width / 2.0, y),
        ]);
    }
    clear::put(scene, text, &places, room);
}

/// Words beside a line, anywhere along it.
fn on_line(scene: &mut Scene, from: Place, to: Place, words: String, room: Extent) {
    let text = Text::plain(from, LETTERS, words);
    let width = text.width();
    let upright = (to.y - from.y).abs() > (to.x - from.x).abs();
    let mut places = Vec::new();
    for share in [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9] {
        let p = from + (to - from) * share;
        let sides = match upright {
            true => [
                Place::new(p.x + 1.0, p.y - LETTERS / 2.0),
                Place::new(p.x - 1.0 - width, p.y - LETTERS / 2.0),
            ],
            false => [
                Place::new(p.x - width / 2.0, p.y + 1.2),
                Place::new(p.x - width / 2.0, p.y - LETTERS - 1.2),
            ],
        };
        places.extend(sides);
    }
    clear::put(scene, text, &places, room);
}

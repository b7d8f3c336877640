//! Views of one part with the dimensions they carry.

use nalgebra::Vector2;

use super::Asked;
use crate::body::Body;
use crate::drawing::bulge;
use crate::drawing::dimension::{LANE, LETTERS, level, pointer, upright};
use crate::drawing::flow::Block;
use crate::drawing::lay;
use crate::drawing::outline::flat::{Hand, flat_plate};
use crate::drawing::projection::{Projection, SIGN_WIDTH, sign};
use crate::drawing::scale::scale;
use crate::drawing::scene::{
    Anchor, CENTRE, Corner, NARROW, Pen, Place, Purpose, Scene, Shape, Text, WIDE,
};
use crate::drawing::view::{self, Look, Picture, picture};
use crate::drawing::walk;
use crate::drawing::words;
use crate::geometry::{Pt3, Vec3};
use crate::member::{Member, Section, Span};
use crate::plate::{Plate, Sense};
use crate::report::ReportedPart;

/// Edges of pictures, mm.
const EDGE: Pen = Pen {
    width: 0.35,
    ..WIDE
};
/// Room of the row with the section and the picture from above a corner, mm.
const ROW: f64 = 58.0;
/// Room of the main views, mm.
const MAIN: f64 = 66.0;

/// Origin and axes a part is seen by: those it lies on the table with.
struct Seat {
    origin: Pt3,
    x: Vec3,
    y: Vec3,
    z: Vec3,
}

fn seat(part: &ReportedPart, body: &Body) -> Seat {
    let (origin, axes, _) = lay::place(part, body);
    Seat {
        origin,
        x: axes.column(0).into(),
        y: axes.column(1).into(),
        z: axes.column(2).into(),
    }
}

/// Details this fine are told apart on paper, mm.
const FINEST: f64 = 0.4;

fn taken(body: &Body, look: Look, room: Vector2<f64>) -> (Picture, f64, String) {
    let places = body.vertices.iter().map(|v| look.place(v));
    let (low, high) = bulge::around(places);
    let (scale, name) = scale(high - low, room);
    (picture(&[body], look, FINEST / scale), scale, name)
}

/// A member: from its side and from above, its section, and from above a corner.
pub fn member(part: &ReportedPart, member: &Member, body: &Body, asked: &Asked) -> Block {
    let seat = seat(part, body);
    let front = Look {
        right: seat.x,
        up: seat.y,
    };
    let above = Look {
        right: seat.x,
        up: -seat.z,
    };
    let size_of = |look: &Look| {
        let (low, high) = bulge::around(body.vertices.iter().map(|v| look.place(v)));
        high - low
    };
    let (a, b) = (size_of(&front), size_of(&above));
    let lanes = 2.0 * LANE + 6.0;
    let room = Vector2::new(asked.width - 2.0 * LANE - 24.0, MAIN);
    let (scale, name) = scale(Vector2::new(a.x.max(b.x), a.y + b.y), room);
    let height = (a.y + b.y) * scale + lanes + 8.0;
    let mut scene = Scene::default();
    let base = ROW + 4.0;
    // The front view keeps the lane below it free for its dimension.
    let (front_y, above_y) = match asked.projection {
        Projection::Third => (base + LANE + 3.0, base + LANE + a.y * scale + 12.0),
        Projection::First => (base + LANE + 12.0 + b.y * scale, base + 2.0),
    };
    let left = (asked.width - a.x * scale) / 2.0;
    let finest = FINEST / scale;
    let seen = picture(&[body], front, finest);
    view::draw(&mut scene, &seen, EDGE, scale, Place::new(left, front_y));
    let other = picture(&[body], above, finest);
    view::draw(&mut scene, &other, EDGE, scale, Place::new(left, above_y));
    let spot = |p: &Pt3| Place::new(left, front_y) + (front.place(p) - seen.extent.0) * scale;
    lengths(&mut scene, member, &seat, &spot, front_y, asked);
    let corner = Place::new(asked.width - SIGN_WIDTH, base + 4.0);
    sign(&mut scene, asked.projection, corner);
    let text = Text::plain(corner - Vector2::new(1.0, 1.2), LETTERS, name);
    scene.text(Purpose::Sheet, text.anchored(Anchor::End));
    section(&mut scene, &member.section, asked);
    corner_picture(&mut scene, body, &seat, asked);
    Block::Picture {
        scene,
        size: Vector2::new(asked.width, base + height),
    }
}

/// Length or chord below, rise at the side, radius at the crown.
fn lengths(
    scene: &mut Scene,
    member: &Member,
    seat: &Seat,
    spot: &dyn Fn(&Pt3) -> Place,
    bottom: f64,
    asked: &Asked,
) {
    let [first, last] = member.ends.as_slice() else {
        ring(scene, member, seat, spot, asked);
        return;
    };
    let (a, b) = (spot(&first.point.into()), spot(&last.point.into()));
    let straight = matches!(member.spans.as_slice(), [Span::Straight { .. }]);
    let line = &member.centreline;
    let below = match straight {
        true => line.length,
        false => line.chord,
    };
    let y = bottom - LANE + 1.5;
    if let Some(q) = below {
        level(scene, a, b, y, &words::dimension(q, asked.show));
    }
    for (p, name) in [(a, "0"), (b, "1")] {
        // Which end is which, beside the dimension's own ends.
        let side = if (p.x <= a.x.min(b.x)) == (a.x != b.x) {
            -1.0
        } else {
            1.0
        };
        let at = Place::new(p.x + side * 3.2, p.y - 1.25);
        let anchor = if side < 0.0 {
            Anchor::End
        } else {
            Anchor::Start
        };
        let text = Text::plain(at, LETTERS, format!("end {name}"));
        scene.text(Purpose::Sheet, text.anchored(anchor));
    }
    let Some(walk) = walk::walk(member) else {
        return;
    };
    let length = walk::length(&walk);
    let stations = (0..=400).map(|k| walk::station(&walk, length * f64::from(k) / 400.0).at);
    let lift = |p: &Pt3| (p - seat.origin).dot(&seat.y);
    let Some(crown) = stations.max_by(|p, q| lift(p).total_cmp(&lift(q))) else {
        return;
    };
    let top = spot(&crown);
    if let Some(rise) = line.rise.filter(|q| q.value > 1e-6) {
        let x = a.x.max(b.x) + LANE + 14.0;
        let chord_end = if a.x > b.x { a } else { b };
        upright(
            scene,
            chord_end,
            top,
            x.min(asked.width - 4.0),
            &words::dimension(rise, asked.show),
        );
    }
    let radii: Vec<_> = member
        .spans
        .iter()
        .filter_map(|s| match s {
            Span::Arc { radius, .. } => *radius,
            _ => None,
        })
        .collect();
    if let [radius] = radii.as_slice() {
        let words = format!(
            "R {} on the centreline",
            words::dimension(*radius, asked.show)
        );
        let at = top + Vector2::new(-16.0, -13.0);
        pointer(scene, top, at, &words);
    }
}

/// Centreline diameter of a ring, in words at its middle.
fn ring(
    scene: &mut Scene,
    member: &Member,
    seat: &Seat,
    spot: &dyn Fn(&Pt3) -> Place,
    asked: &Asked,
) {
    let Some(Span::Arc {
        radius: Some(r), ..
    }) = member.spans.first()
    else {
        return;
    };
    let at = spot(&seat.origin) - Vector2::new(0.0, 1.25);
    let words = format!("R {} on the centreline", words::dimension(*r, asked.show));
    scene.text(
        Purpose::Sheet,
        Text::plain(at, LETTERS, words).anchored(Anchor::Middle),
    );
}

/// The section with its outside sizes, lower left.
fn section(scene: &mut Scene, section: &Section, asked: &Asked) {
    let points = section.contours.iter().flatten();
    let (low, high) = bulge::around(points.map(|p| Place::from(*p)));
    let size = high - low;
    if !(size.x > 0.0 && size.y > 0.0 && size.x.is_finite()) {
        return;
    }
    let (scale, name) = scale(size, Vector2::new(44.0, 28.0));
    let corner = Place::new(22.0, 22.0);
    for contour in &section.contours {
        let corners: Vec<Corner> = contour
            .iter()
            .map(|p| Corner {
                at: corner + (Place::from(*p) - low) * scale,
                bulge: 0.0,
            })
            .collect();
        let shape = Shape::Path {
            corners,
            closed: true,
        };
        scene.stroke(Purpose::Sheet, EDGE, shape);
    }
    let far = corner + size * scale;
    let opposite = Place::new(far.x, corner.y);
    match section.diameter {
        Some(d) => {
            let middle = nalgebra::center(&corner, &far);
            let (a, b) = (Place::new(corner.x, middle.y), Place::new(far.x, middle.y));
            let words = format!("⌀{}", words::size(d, asked.show));
            level(scene, a, b, corner.y - LANE + 1.0, &words);
        }
        None => {
            if let Some(w) = section.width {
                level(
                    scene,
                    corner,
                    opposite,
                    corner.y - LANE + 1.0,
                    &words::size(w, asked.show),
                );
            }
            if let Some(h) = section.height {
                let top = Place::new(corner.x, far.y);
                upright(
                    scene,
                    corner,
                    top,
                    corner.x - LANE + 1.0,
                    &words::size(h, asked.show),
                );
            }
        }
    }
    let mut notes = vec![format!("section {name}")];
    notes.extend(
        section
            .wall
            .map(|q| format!("wall {}", words::size(q, asked.show))),
    );
    if let Some(r) = section.corner_radius.filter(|q| q.value > 0.05) {
        notes.push(format!("corner R {}", words::size(r, asked.show)));
    }
    if let Some(r) = section.inner_corner_radius.filter(|q| q.value > 0.05) {
        notes.push(format!("inside R {}", words::size(r, asked.show)));
    }
    let text = Text::plain(Place::new(2.0, 4.0), LETTERS, notes.join(", "));
    scene.text(Purpose::Sheet, text);
}

/// The part seen from above a corner, lower right.
fn corner_picture(scene: &mut Scene, body: &Body, seat: &Seat, asked: &Asked) {
    let room = Vector2::new(asked.width / 2.0 - 8.0, ROW - 8.0);
    let look = Look::isometric(&seat.x, &seat.y, &seat.z);
    let (seen, scale, _) = taken(body, look, room);
    let size = view::size(&seen) * scale;
    let at = Place::new(
        asked.width / 2.0 + 8.0 + (room.x - size.x) / 2.0,
        2.0 + (room.y - size.y) / 2.0,
    );
    view::draw(scene, &seen, NARROW, scale, at);
}

/// A plate: its flat with the overall sizes and its holes numbered, and from above a corner.
pub fn plate(
    part: &ReportedPart,
    plate: &Plate,
    body: Option<&Body>,
    asked: &Asked,
) -> Option<Block> {
    let mut scene = Scene::default();
    let base = if body.is_some() { ROW + 4.0 } else { 4.0 };
    let mut height = 0.0;
    if let Ok(flat) = flat_plate(plate, Hand::AsModelled) {
        let (low, high) = bulge::extent(&flat.outer);
        let room = Vector2::new(asked.width - 2.0 * LANE - 10.0, MAIN + 24.0);
        let (scale, name) = scale(high - low, room);
        let corner = Place::new(
            (asked.width - (high.x - low.x) * scale) / 2.0,
            base + LANE + 2.0,
        );
        let place = |p: Place| corner + (p - low) * scale;
        let far = place(high);
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
        let mut taken: Vec<[Place; 4]> = Vec::new();
        for (k, hole) in flat.holes.iter().enumerate() {
            let Some(contour) = hole.head.as_ref().or(hole.through.as_ref()) else {
                continue;
            };
            label(
                &mut scene,
                &mut taken,
                bulge::extent(&shape(contour)),
                (k + 1).to_string(),
            );
        }
        for (k, bend) in flat.bends.iter().enumerate() {
            let way = match bend.sense {
                Sense::Up => "up",
                Sense::Down => "down",
            };
            let at = nalgebra::center(&place(bend.from), &place(bend.to));
            label(
                &mut scene,
                &mut taken,
                (at, at),
                format!("bend {} {way}", k + 1),
            );
        }
        if let Some(q) = plate.flat.length {
            level(
                &mut scene,
                corner,
                Place::new(far.x, corner.y),
                corner.y - LANE + 1.5,
                &words::dimension(q, asked.show),
            );
        }
        if let Some(q) = plate.flat.width {
            upright(
                &mut scene,
                corner,
                Place::new(corner.x, far.y),
                corner.x - LANE + 1.5,
                &words::dimension(q, asked.show),
            );
        }
        let name = match plate.bends.is_empty() && plate.roll_axis.is_none() {
            true => format!("front face, {name}"),
            false => format!("flat, {name}"),
        };
        let at = Place::new(asked.width, base + LANE - 7.5);
        scene.text(
            Purpose::Sheet,
            Text::plain(at, LETTERS, name).anchored(Anchor::End),
        );
        height = far.y - base + 6.0;
    }
    if let Some(body) = body {
        corner_picture(&mut scene, body, &seat(part, body), asked);
        folded(&mut scene, plate, body, part, asked);
    }
    (height > 0.0 || body.is_some()).then_some(Block::Picture {
        scene,
        size: Vector2::new(asked.width, base + height),
    })
}

/// A bent or rolled plate as it stands, seen along its bends, lower left.
fn folded(scene: &mut Scene, plate: &Plate, body: &Body, part: &ReportedPart, asked: &Asked) {
    let axis = plate
        .bends
        .first()
        .map(|b| Vec3::from(b.axis))
        .or(plate.roll_axis.map(|a| Vec3::from(a[1])));
    let Some(axis) = axis.and_then(|a| a.try_normalize(1e-9)) else {
        return;
    };
    let seat = seat(part, body);
    let up = [seat.z, seat.y, seat.x]
        .into_iter()
        .find_map(|v| (v - axis * axis.dot(&v)).try_normalize(0.5));
    let Some(up) = up else { return };
    let room = Vector2::new(asked.width / 2.0 - 12.0, ROW - 14.0);
    let look = Look {
        right: up.cross(&axis),
        up,
    };
    let (seen, scale, name) = taken(body, look, room);
    let size = view::size(&seen) * scale;
    let at = Place::new((room.x - size.x) / 2.0 + 2.0, 8.0 + (room.y - size.y) / 2.0);
    view::draw(scene, &seen, EDGE, scale, at);
    let text = Text::plain(
        Place::new(2.0, 3.0),
        LETTERS,
        format!("seen along its bends, {name}"),
    );
    scene.text(Purpose::Sheet, text);
}

/// A piece that was not recognised: from the front and from above a corner, with its box.
pub fn other(part: &ReportedPart, body: &Body, asked: &Asked) -> Block {
    let seat = seat(part, body);
    let look = Look {
        right: seat.x,
        up: seat.y,
    };
    let room = Vector2::new(asked.width - 3.0 * LANE, MAIN);
    let (seen, scale, name) = taken(body, look, room);
    let mut scene = Scene::default();
    let size = view::size(&seen) * scale;
    let at = Place::new((asked.width - size.x) / 2.0, ROW + LANE + 6.0);
    view::draw(&mut scene, &seen, EDGE, scale, at);
    let far = at + size;
    let [w, h] = [size.x, size.y].map(|v| words::plain_length(v / scale, asked.show));
    level(
        &mut scene,
        at,
        Place::new(far.x, at.y),
        at.y - LANE + 1.5,
        &w,
    );
    upright(
        &mut scene,
        at,
        Place::new(at.x, far.y),
        at.x - LANE + 1.5,
        &h,
    );
    let text = Text::plain(Place::new(asked.width, ROW + 2.0), LETTERS, name);
    scene.text(Purpose::Sheet, text.anchored(Anchor::End));
    corner_picture(&mut scene, body, &seat, asked);
    Block::Picture {
        scene,
        size: Vector2::new(asked.width, far.y + 6.0),
    }
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

/// Words beside a box, where no other label stands.
fn label(
    scene: &mut Scene,
    taken: &mut Vec<[Place; 4]>,
    (low, high): (Place, Place),
    words: String,
) {
    let text = Text::plain(low, LETTERS, words);
    let width = text.width();
    let gap = 0.9;
    let middle = nalgebra::center(&low, &high);
    let down = LETTERS + gap;
    let places = [
        Place::new(high.x + gap, high.y + gap * 0.5),
        Place::new(high.x + gap, middle.y - LETTERS / 2.0),
        Place::new(low.x - gap - width, middle.y - LETTERS / 2.0),
        Place::new(middle.x - width / 2.0, high.y + gap),
        Place::new(middle.x - width / 2.0, low.y - down),
        Place::new(high.x + gap, low.y - down),
        Place::new(low.x - gap - width, high.y + gap),
        Place::new(low.x - gap - width, low.y - down),
    ];
    let free = |at: &Place| {
        let own = Text {
            at: *at,
            ..text.clone()
        }
        .outline();
        !taken.iter().any(|other| meet(&own, other))
    };
    let at = places.iter().find(|p| free(p)).unwrap_or(&places[0]);
    let text = Text { at: *at, ..text };
    taken.push(text.outline());
    scene.text(Purpose::Sheet, text);
}

/// True when two upright boxes overlap.
fn meet(a: &[Place; 4], b: &[Place; 4]) -> bool {
    a[0].x < b[2].x && b[0].x < a[2].x && a[0].y < b[2].y && b[0].y < a[2].y
}

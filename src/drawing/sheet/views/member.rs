//! Views of a member: from its side and from above, with its lengths.

use nalgebra::Vector2;

use super::super::Asked;
use super::{CAPTION, FINEST, Seat, caption, corner, main_height, seat, section, size_of};
use crate::body::Body;
use crate::drawing::clear;
use crate::drawing::dimension::{LANE, LETTERS, arrow, level, upright};
use crate::drawing::flow::{self, Block};
use crate::drawing::markout::layout::layout;
use crate::drawing::projection::Projection;
use crate::drawing::scale::scale;
use crate::drawing::scene::{
    CENTRE, Corner, EDGE, Extent, NARROW, Place, Purpose, Scene, Shape, Text,
};
use crate::drawing::view::{self, Look, picture};
use crate::drawing::walk::{self, Walk};
use crate::drawing::words;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::measure::quantity;
use crate::member::{Member, Span};
use crate::report::ReportedPart;

/// Room between the two views, for labels, mm.
const BETWEEN: f64 = 11.0;

/// The main views, the section, and the part from above a corner.
pub fn member(part: &ReportedPart, member: &Member, body: &Body, asked: &Asked) -> Vec<Block> {
    let seat = seat(part, body);
    let mut blocks = vec![main(member, body, &seat, asked)];
    blocks.extend(section::section(&member.section, asked));
    blocks.push(corner(body, &seat, asked));
    blocks
}

/// True for one straight piece.
pub fn is_straight(member: &Member) -> bool {
    matches!(member.spans.as_slice(), [Span::Straight { .. }])
}

/// The two views as they are drawn.
struct Front<'a> {
    look: Look,
    low: Place,
    scale: f64,
    at: Place,
    far: Place,
    seat: &'a Seat,
    room: Extent,
}

impl Front<'_> {
    /// Where a point of the model stands on the front view.
    fn spot(&self, p: &Pt3) -> Place {
        self.at + (self.look.place(p) - self.low) * self.scale
    }

    /// A direction of the model on paper.
    fn way(&self, v: &Vec3) -> Vector2<f64> {
        Vector2::new(self.look.right.dot(v), self.look.up.dot(v))
    }
}

fn main(member: &Member, body: &Body, seat: &Seat, asked: &Asked) -> Block {
    let front = Look {
        right: seat.x,
        up: seat.y,
    };
    let above = Look {
        right: seat.x,
        up: -seat.z,
    };
    let (a, b) = (size_of(body, &front), size_of(body, &above));
    let room = Vector2::new(asked.width - 2.0 * LANE - 24.0, main_height(asked));
    let (scale, name) = scale(Vector2::new(a.x.max(b.x), a.y + b.y), room);
    let base = CAPTION + 1.0;
    let (front_y, above_y) = match asked.projection {
        Projection::Third => {
            let y = base + LANE;
            (y, y + a.y * scale + BETWEEN)
        }
        Projection::First => (base + b.y * scale + LANE + BETWEEN, base),
    };
    let left = (asked.width - a.x * scale) / 2.0;
    let high = (front_y + a.y * scale).max(above_y + b.y * scale) + BETWEEN - 3.0;
    let mut scene = Scene::default();
    let finest = FINEST / scale;
    let seen = picture(&[body], front, finest);
    let at = Place::new(left, front_y);
    view::draw(&mut scene, &seen, EDGE, scale, at);
    let other = picture(&[body], above, finest);
    view::draw(&mut scene, &other, EDGE, scale, Place::new(left, above_y));
    let view = Front {
        look: front,
        low: seen.extent.0,
        scale,
        at,
        far: at + view::size(&seen) * scale,
        seat,
        room: (Place::origin(), Place::new(asked.width, high)),
    };
    let name = match asked.projection {
        Projection::Third => format!("from above, and below it from the front, {name}"),
        Projection::First => format!("from the front, and below it from above, {name}"),
    };
    caption(&mut scene, name.clone());
    dimensioned(&mut scene, member, &view, asked);
    flow::picture(name, scene, Vector2::new(asked.width, high))
}

/// Lengths first, then the labels where there is room.
fn dimensioned(scene: &mut Scene, member: &Member, view: &Front, asked: &Asked) {
    let line = &member.centreline;
    let below = view.at.y - LANE + 1.5;
    let walk = walk::walk(member);
    if !is_straight(member) {
        centreline(scene, member, walk.as_ref(), view);
    }
    let [first, last] = member.ends.as_slice() else {
        ring(scene, member, view, asked);
        return;
    };
    let (a, b) = (
        view.spot(&first.point.into()),
        view.spot(&last.point.into()),
    );
    match (is_straight(member), layout(member).ok().zip(line.length)) {
        // From long point to long point, whatever else the body is joined to.
        (true, Some((found, q))) => {
            let over_all = quantity(found.blank_centreline, q.plus_minus);
            let start = Place::new(a.x - found.before * view.scale, view.at.y);
            let end = Place::new(start.x + over_all.value * view.scale, view.at.y);
            let words = words::dimension(over_all, asked.show);
            level(scene, start, end, below, &words);
        }
        (true, None) => {
            if let Some(q) = line.length {
                let words = format!("{} on the axis", words::dimension(q, asked.show));
                level(scene, a, b, below, &words);
            }
        }
        (false, _) => {
            if let Some(q) = line.chord {
                let words = format!("{} chord", words::dimension(q, asked.show));
                level(scene, a, b, below, &words);
            }
        }
    }
    if let Some(walk) = &walk {
        rise(scene, member, walk, (a, b), view, asked);
        radius(scene, member, walk, view, asked);
        pieces(scene, member, walk, view);
    }
    holes(scene, member, view);
    for (end, at, name) in [(first, a, "end 0"), (last, b, "end 1")] {
        let out = view.way(&Vec3::from(end.tangent));
        beside(scene, at, out, 2.0, name, view.room);
    }
}

/// A label near a place, most willingly on the side `out` points to.
fn beside(scene: &mut Scene, at: Place, out: Vector2<f64>, gap: f64, words: &str, room: Extent) {
    let text = Text::plain(Place::origin(), LETTERS, words);
    let width = text.width();
    let first = out.try_normalize(1e-9).unwrap_or(Vector2::x());
    let mut places = Vec::new();
    for far in [gap, gap + 2.5, gap + 5.0, gap + 8.0, gap + 12.0] {
        for turn in [
            0.0, 40.0, -40.0, 80.0, -80.0, 120.0, -120.0, 160.0, -160.0_f64,
        ] {
            let u = nalgebra::Rotation2::new(turn.to_radians()) * first;
            let p = at + u * (far + 1.0);
            // The nearer edge of the words stands there.
            let x = p.x - width / 2.0 + u.x * width / 2.0;
            let y = p.y - LETTERS / 2.0 + u.y * LETTERS / 2.0;
            places.push(Place::new(x, y));
        }
    }
    clear::put(scene, text, &places, room);
}

/// The centreline as a chain line: its lengths are meant by chord, rise and radius.
fn centreline(scene: &mut Scene, member: &Member, walk: Option<&Walk>, view: &Front) {
    let (points, closed): (Vec<Pt3>, bool) = match (walk, member.spans.as_slice()) {
        (Some(walk), _) => {
            let length = walk::length(walk);
            let at = |k: i32| walk::station(walk, length * f64::from(k) / 200.0).at;
            ((0..=200).map(at).collect(), false)
        }
        (
            None,
            [
                Span::Arc {
                    centre,
                    axis,
                    radius: Some(r),
                    ..
                },
            ],
        ) => {
            let (u, v) = perpendicular_pair(&Vec3::from(*axis));
            let at = |k: i32| {
                let turn = f64::from(k).to_radians();
                Pt3::from(*centre) + (u * turn.cos() + v * turn.sin()) * r.value
            };
            ((0..360).map(at).collect(), true)
        }
        (None, [Span::Free { points, .. }]) => {
            (points.iter().map(|p| Pt3::from(*p)).collect(), false)
        }
        _ => return,
    };
    let corners = points.iter().map(|p| Corner {
        at: view.spot(p),
        bulge: 0.0,
    });
    let shape = Shape::Path {
        corners: corners.collect(),
        closed,
    };
    scene.stroke(Purpose::Sheet, CENTRE, shape);
}

/// From the chord up to the highest point of the centreline.
fn rise(
    scene: &mut Scene,
    member: &Member,
    walk: &Walk,
    (a, b): (Place, Place),
    view: &Front,
    asked: &Asked,
) {
    let Some(rise) = member.centreline.rise.filter(|q| q.value > 1e-6) else {
        return;
    };
    let length = walk::length(walk);
    let lift = |p: &Pt3| (p - view.seat.origin).dot(&view.seat.y);
    let crown = (0..=400)
        .map(|k| walk::station(walk, length * f64::from(k) / 400.0).at)
        .max_by(|p, q| lift(p).total_cmp(&lift(q)));
    if let Some(crown) = crown {
        let x = (view.far.x + LANE).min(view.room.1.x - 2.0);
        let chord_end = if a.x > b.x { a } else { b };
        let words = format!("{} rise", words::dimension(rise, asked.show));
        upright(scene, chord_end, view.spot(&crown), x, &words);
    }
}

/// The only radius of a member, pointed at where there is room.
fn radius(scene: &mut Scene, member: &Member, walk: &Walk, view: &Front, asked: &Asked) {
    let [stretch] = walk.stretches.as_slice() else {
        return;
    };
    let (
        Some((centre, ..)),
        [
            Span::Arc {
                radius: Some(r), ..
            },
        ],
    ) = (stretch.arc, member.spans.as_slice())
    else {
        return;
    };
    let words = format!("R {} on the centreline", words::dimension(*r, asked.show));
    let text = Text::plain(Place::origin(), LETTERS, words);
    let width = text.width();
    let half = member.section.height.or(member.section.diameter);
    let half = half.map_or(0.0, |q| q.value / 2.0) * view.scale;
    let mut best: Option<(usize, Place, Place)> = None;
    for share in [0.35, 0.65, 0.25, 0.75, 0.45, 0.55, 0.15, 0.85] {
        let to = view.spot(&walk::along(stretch, stretch.length * share).at);
        let Some(out) = (to - view.spot(&centre)).try_normalize(1e-9) else {
            continue;
        };
        for reach in [
            half + 5.0,
            half + 7.5,
            half + 10.0,
            -half - 8.0,
            -half - 13.0,
        ] {
            for side in [-1.0, 1.0] {
                let bend = to + out * reach;
                let x = if side < 0.0 { -1.0 - width } else { 1.0 };
                let at = bend + Vector2::new(x, -LETTERS / 2.0);
                let own = Text { at, ..text.clone() };
                let found = clear::in_the_way(scene, &own, view.room);
                if best.is_none_or(|(least, ..)| found < least) {
                    best = Some((found, to, at));
                }
            }
        }
    }
    let Some((_, to, at)) = best else { return };
    let left = at.x + width / 2.0 < to.x;
    let edge = at + Vector2::new(if left { width + 1.0 } else { -1.0 }, LETTERS / 2.0);
    if let Some(u) = (edge - to).try_normalize(1e-9) {
        scene.line(NARROW, to, edge);
        arrow(scene, to, u);
    }
    scene.text(Purpose::Sheet, Text { at, ..text });
}

/// Numbers of the pieces of the path, as in the table of bends.
fn pieces(scene: &mut Scene, member: &Member, walk: &Walk, view: &Front) {
    if walk.stretches.len() < 2 {
        return;
    }
    let half = member.section.height.or(member.section.diameter);
    let half = half.map_or(0.0, |q| q.value / 2.0) * view.scale;
    for (k, stretch) in walk.stretches.iter().enumerate() {
        let middle = walk::along(stretch, stretch.length / 2.0);
        let at = view.spot(&middle.at);
        let out = match stretch.arc {
            Some((centre, ..)) => at - view.spot(&centre),
            None => {
                let way = view.way(&middle.travel);
                Vector2::new(-way.y, way.x)
            }
        };
        let words = format!("({})", k + 1);
        beside(scene, at, out, half + 1.5, &words, view.room);
    }
}

/// Numbers of the holes, as in their table.
fn holes(scene: &mut Scene, member: &Member, view: &Front) {
    for (k, hole) in member.holes.iter().enumerate() {
        let at = view.spot(&hole.point.into());
        let size = hole.diameter.map_or(0.0, |q| q.value / 2.0) * view.scale;
        let words = format!("hole {}", k + 1);
        beside(scene, at, Vector2::y(), size + 1.0, &words, view.room);
    }
}

/// Centreline radius of a ring, in words at its middle.
fn ring(scene: &mut Scene, member: &Member, view: &Front, asked: &Asked) {
    let Some(Span::Arc {
        radius: Some(r),
        centre,
        ..
    }) = member.spans.first()
    else {
        return;
    };
    let words = format!("R {} on the centreline", words::dimension(*r, asked.show));
    let at = view.spot(&Pt3::from(*centre));
    beside(scene, at, Vector2::y(), 0.0, &words, view.room);
}

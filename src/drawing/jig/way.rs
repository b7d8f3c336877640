//! The path of a piece that bends in one plane, laid out flat: end 0 at the origin, end 1 on the x
//! axis, rising to +y.

use nalgebra::{Rotation2, Vector2};

use super::WhyNot;
use crate::drawing::bulge;
use crate::drawing::markout::layout::layout;
use crate::drawing::scene::{Corner, Place};
use crate::drawing::walk::{self, Walk};
use crate::geometry::{Pt3, Vec3};
use crate::measure::{Quantity, quantity};
use crate::member::{End, EndShape, Member};
use crate::plate::{Form, Plate};

/// One straight or arc.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Length on the centreline, mm.
    pub length: f64,
    /// One over its radius, positive to the left, 1/mm; 0 for a straight.
    pub curvature: f64,
}

/// Where a cut meets the plane of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct CutTrace {
    /// `end 0`, `end 1, cut 2`.
    pub name: String,
    /// A point on it.
    pub at: Place,
    /// Unit direction it runs in.
    pub along: Vector2<f64>,
    /// Station of its end on the centreline, mm.
    pub station: f64,
    /// How far the cut leans out of the plane, degrees.
    pub lean: f64,
}

/// The path.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Its pieces, from end 0.
    pub pieces: Vec<Piece>,
    /// Heading at end 0, radians.
    pub heading: f64,
    /// How far the section reaches to the right (negative) and to the left of the centreline, mm.
    pub sides: (f64, f64),
    /// How far the metal goes on beyond both ends of the centreline, mm.
    pub beyond: (f64, f64),
    /// Cuts of both ends.
    pub cuts: Vec<CutTrace>,
    /// Stations of holes along the centreline, mm, and their words.
    pub holes: Vec<(f64, String)>,
    /// Straight distance between the ends of the centreline.
    pub chord: Quantity,
    /// Rise over that chord.
    pub rise: Quantity,
    /// The line the chord and the rise are measured on.
    pub line: &'static str,
    /// The only radius, where there is one.
    pub radius: Option<Quantity>,
}

impl Way {
    /// Length of the centreline, mm.
    pub fn length(&self) -> f64 {
        self.pieces.iter().map(|p| p.length).sum()
    }

    /// Place and heading at a station; beyond the ends the first or last piece goes on.
    pub fn at(&self, station: f64) -> (Place, f64) {
        let (mut here, mut heading, mut left) = (Place::origin(), self.heading, station);
        let last = self.pieces.len().saturating_sub(1);
        for (k, piece) in self.pieces.iter().enumerate() {
            let whole = left >= piece.length && k < last;
            let by = if whole { piece.length } else { left };
            (here, heading) = moved(here, heading, by, piece.curvature);
            left -= by;
            if !whole {
                break;
            }
        }
        (here, heading)
    }

    /// A place beside the centreline, positive to the left.
    pub fn beside(&self, station: f64, by: f64) -> Place {
        let (here, heading) = self.at(station);
        here + left_of(heading) * by
    }

    /// Curvature at a station.
    pub fn curvature(&self, station: f64) -> f64 {
        let mut left = station;
        for piece in &self.pieces {
            if left <= piece.length {
                return piece.curvature;
            }
            left -= piece.length;
        }
        self.pieces.last().map_or(0.0, |p| p.curvature)
    }

    /// The line beside the centreline from one station to another, with its end.
    pub fn line(&self, from: f64, to: f64, by: f64) -> Vec<Corner> {
        let mut corners = Vec::new();
        let last = self.pieces.len().saturating_sub(1);
        let mut start = 0.0;
        for (k, piece) in self.pieces.iter().enumerate() {
            let end = start + piece.length;
            let a = if k == 0 { from } else { start.max(from) };
            let b = if k == last { to } else { end.min(to) };
            if b > a {
                let bulge = ((b - a) * piece.curvature / 4.0).tan();
                let at = self.beside(a, by);
                corners.push(Corner { at, bulge });
            }
            start = end;
        }
        let at = self.beside(to, by);
        corners.push(Corner { at, bulge: 0.0 });
        corners
    }
}

/// Unit vector to the left of a heading.
pub fn left_of(heading: f64) -> Vector2<f64> {
    Vector2::new(-heading.sin(), heading.cos())
}

fn moved(from: Place, heading: f64, by: f64, curvature: f64) -> (Place, f64) {
    let turn = by * curvature;
    let to = match turn.abs() < 1e-12 {
        true => from + Vector2::new(heading.cos(), heading.sin()) * by,
        false => {
            let centre = from + left_of(heading) / curvature;
            centre - left_of(heading + turn) / curvature
        }
    };
    (to, heading + turn)
}

/// The way of a member; why there is none otherwise.
pub fn of_member(member: &Member) -> Result<Way, WhyNot> {
    let [first, last] = member.ends.as_slice() else {
        return Err("it is closed and has no ends");
    };
    let walk =
        walk::walk(member).ok_or("its path is no chain of straights and arcs of known radius")?;
    let bend = walk.stretches.iter().find_map(|s| s.arc);
    let Some((_, axis, _)) = bend else {
        return Err("it is straight");
    };
    let (Some(chord), Some(rise)) = (member.centreline.chord, member.centreline.rise) else {
        return Err("it does not bend in one plane");
    };
    // Seen so that the first bend goes to the right: the piece then rises from end 0.
    let eye = -axis.normalize();
    let mut way = Way {
        pieces: pieces(&walk, &eye),
        heading: 0.0,
        sides: sides(member, first, &eye)?,
        beyond: beyond(member),
        cuts: Vec::new(),
        holes: Vec::new(),
        chord,
        rise,
        line: "centreline",
        radius: only_radius(member),
    };
    lie_down(&mut way);
    let length = way.length();
    for (index, end) in [(0, first), (1, last)] {
        way.cuts.extend(traces(&way, index, end, &eye, length));
    }
    way.holes = holes(member);
    // The path rebuilt from its pieces must span the chord that was measured.
    let off = ((way.at(length).0 - Place::origin()).norm() - chord.value).abs();
    match off <= chord.plus_minus + 0.05 {
        true => Ok(way),
        false => Err("the pieces of its path and its chord do not agree"),
    }
}

fn pieces(walk: &Walk, eye: &Vec3) -> Vec<Piece> {
    let one = |s: &walk::Stretch| Piece {
        length: s.length,
        curvature: s
            .arc
            .map_or(0.0, |(_, axis, radius)| axis.dot(eye).signum() / radius),
    };
    walk.stretches.iter().map(one).collect()
}

/// Turns the way so that its chord lies along x.
fn lie_down(way: &mut Way) {
    let end = way.at(way.length()).0;
    way.heading -= end.y.atan2(end.x);
}

fn only_radius(member: &Member) -> Option<Quantity> {
    let radii: Vec<Option<Quantity>> = member
        .spans
        .iter()
        .filter_map(|s| match s {
            crate::member::Span::Arc { radius, .. } => Some(*radius),
            _ => None,
        })
        .collect();
    match radii.as_slice() {
        [only] => *only,
        _ => None,
    }
}

/// How far the section reaches to the right and to the left.
fn sides(member: &Member, first: &End, eye: &Vec3) -> Result<(f64, f64), WhyNot> {
    let left = eye.cross(&-Vec3::from(first.tangent));
    let (w, h) = (
        Vec3::from(first.width_axis).dot(&left),
        Vec3::from(first.height_axis).dot(&left),
    );
    let section = &member.section;
    if let Some(d) = section.diameter {
        return Ok((-d.value / 2.0, d.value / 2.0));
    }
    let outer = section.contours.first().map_or(&[][..], |c| c.as_slice());
    let reach = |best: fn(f64, f64) -> f64, start: f64| {
        outer.iter().map(|p| p[0] * w + p[1] * h).fold(start, best)
    };
    let (low, high) = (
        reach(f64::min, f64::INFINITY),
        reach(f64::max, f64::NEG_INFINITY),
    );
    match low < high && low.is_finite() && high.is_finite() {
        true => Ok((low, high)),
        false => Err("the sizes of its section are not known"),
    }
}

fn beyond(member: &Member) -> (f64, f64) {
    match layout(member) {
        Ok(found) => {
            let after = found.blank_centreline - found.before - walk::length(&found.walk);
            (found.before.max(0.0), after.max(0.0))
        }
        Err(_) => (0.0, 0.0),
    }
}

/// Traces of the cuts of one end in the plane of the way.
fn traces(way: &Way, index: usize, end: &End, eye: &Vec3, length: f64) -> Vec<CutTrace> {
    let station = if index == 0 { 0.0 } else { length };
    let (here, heading) = way.at(station);
    // Travel and left of the end, in the file and on the drawing.
    let sign = if index == 0 { -1.0 } else { 1.0 };
    let travel = Vec3::from(end.tangent) * sign;
    let left = eye.cross(&travel);
    let flat = |v: &Vec3| {
        let own = Vector2::new(v.dot(&travel), v.dot(&left));
        Rotation2::new(heading) * own
    };
    if end.shape == EndShape::Saddle || end.cuts.is_empty() {
        let what = match end.shape {
            EndShape::Saddle => "cope: its axis ends here",
            _ => "the axis ends here",
        };
        return vec![CutTrace {
            name: format!("end {index}, {what}"),
            at: here,
            along: left_of(heading),
            station,
            lean: 0.0,
        }];
    }
    let mut list = Vec::new();
    for (k, cut) in end.cuts.iter().enumerate() {
        let normal = Vec3::from(cut.normal);
        let from = Pt3::from(cut.point) - Pt3::from(end.point);
        let (n, p) = (flat(&normal), flat(&from));
        let Some(unit) = n.try_normalize(0.05) else {
            continue;
        };
        // The plane of the way lies at no height; the cut's point may not.
        let shift = from.dot(eye) * normal.dot(eye) / n.norm();
        list.push(CutTrace {
            name: match end.cuts.len() {
                1 => format!("end {index}"),
                _ => format!("end {index}, cut {}", k + 1),
            },
            at: here + p + unit * shift,
            along: Vector2::new(-unit.y, unit.x),
            station,
            lean: normal.dot(eye).clamp(-1.0, 1.0).asin().to_degrees(),
        });
    }
    list
}

fn holes(member: &Member) -> Vec<(f64, String)> {
    member
        .holes
        .iter()
        .zip(1..)
        .filter_map(|(hole, n): (_, u32)| Some((hole.station?.value, format!("hole {n}"))))
        .collect()
}

/// The way of the edge of a plate rolled to a cylinder: its middle surface.
pub fn of_plate(plate: &Plate) -> Result<Way, WhyNot> {
    if plate.form != Form::Cylinder {
        return Err("it is not rolled to a cylinder");
    }
    let (Some(inside), Some(outside), Some(angle)) =
        (plate.inside_radius, plate.outside_radius, plate.arc_angle)
    else {
        return Err("its radius or its angle is not known");
    };
    let radius = quantity(
        (inside.value + outside.value) / 2.0,
        (inside.plus_minus + outside.plus_minus) / 2.0,
    );
    let turn = angle.value.to_radians();
    if turn > 6.2 {
        return Err("it is closed and has no ends");
    }
    let (r, half) = (radius.value, turn / 2.0);
    let doubt = angle.plus_minus.to_radians() / 2.0;
    let chord = quantity(
        2.0 * r * half.sin(),
        2.0 * (half.sin().abs() * radius.plus_minus + r * half.cos().abs() * doubt),
    );
    let rise = quantity(
        r * (1.0 - half.cos()),
        (1.0 - half.cos()) * radius.plus_minus + r * half.sin().abs() * doubt,
    );
    let thick = (outside.value - inside.value) / 2.0;
    let mut way = Way {
        pieces: vec![Piece {
            length: r * turn,
            curvature: -1.0 / r,
        }],
        heading: 0.0,
        sides: (-thick, thick),
        beyond: (0.0, 0.0),
        cuts: Vec::new(),
        holes: Vec::new(),
        chord,
        rise,
        line: "middle of the plate",
        radius: Some(radius),
    };
    lie_down(&mut way);
    for (k, station) in [0.0, way.length()].into_iter().enumerate() {
        let (at, heading) = way.at(station);
        way.cuts.push(CutTrace {
            name: format!("edge {k}"),
            at,
            along: left_of(heading),
            station,
            lean: 0.0,
        });
    }
    way.holes = plate_holes(plate, turn, way.length());
    Ok(way)
}

/// Stations of holes, where one side of the flat is the whole arc.
fn plate_holes(plate: &Plate, turn: f64, length: f64) -> Vec<(f64, String)> {
    let (Some(frame), Some([_, axis])) = (plate.frame, plate.roll_axis) else {
        return Vec::new();
    };
    let axis = Vec3::from(axis).normalize();
    let on_x = axis.dot(&Vec3::from(frame.x)).abs() < 0.02;
    let on_y = axis.dot(&Vec3::from(frame.y)).abs() < 0.02;
    let side = match (on_x, on_y) {
        (true, false) => plate.flat.length,
        (false, true) => plate.flat.width,
        _ => None,
    };
    // The side must be the arc, developed between the two faces.
    let faces = (plate.inside_radius, plate.outside_radius);
    let (Some(side), (Some(inside), Some(outside))) = (side, faces) else {
        return Vec::new();
    };
    if side.value < inside.value * turn || side.value > outside.value * turn {
        return Vec::new();
    }
    plate
        .holes
        .iter()
        .zip(1..)
        .filter_map(|(hole, n): (_, u32)| {
            let along = if on_x { hole.x } else { hole.y }?;
            Some((along.value / side.value * length, format!("hole {n}")))
        })
        .collect()
}

/// Closed contour of everything within `margin` of the piece's two sides, from `before` its first
/// end to `after` its last, anticlockwise.
pub fn band(way: &Way, margin: f64, before: f64, after: f64) -> Result<Vec<Corner>, WhyNot> {
    let (low, high) = (way.sides.0 - margin, way.sides.1 + margin);
    let tight = |p: &Piece| p.curvature * low >= 1.0 || p.curvature * high >= 1.0;
    if way.pieces.iter().any(tight) {
        return Err("one of its bends is tighter than half the pocket is wide");
    }
    let (from, to) = (-before, way.length() + after);
    let mut corners = way.line(from, to, low);
    let back = way.line(from, to, high);
    for k in (0..back.len()).rev() {
        let bulge = if k == 0 { 0.0 } else { -back[k - 1].bulge };
        corners.push(Corner {
            at: back[k].at,
            bulge,
        });
    }
    match bulge::area(&corners) > 0.0 {
        true => Ok(corners),
        false => Err("its path crosses itself"),
    }
}

//! Marks on the straight blank, before it is rolled.

use schemars::JsonSchema;
use serde::Serialize;

use super::Blank;
use crate::geometry::Vec3;
use crate::measure::{Quantity, quantity};
use crate::member::{HoleKind, Member, MemberHole, Span};
use crate::plate::{Form, Plate};
use crate::report::ReportedPart;
use crate::shop::curved::{Curve, sum};

/// What a mark is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MarkKind {
    /// Where the piece is cut off after rolling, on the centreline.
    Cut,
    /// Where an arc begins or ends.
    Tangent,
    /// Middle of an arc.
    Middle,
    /// Middle of a hole.
    Hole,
}

/// One mark. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Mark {
    /// From the end of the blank at end 0.
    pub at: Quantity,
    /// Across the blank of a rolled plate, from its lower edge.
    pub across: Option<Quantity>,
    /// What it is for.
    pub kind: MarkKind,
    /// The same in words.
    pub what: String,
}

/// Every mark, in order along the blank.
pub(super) fn marks(part: &ReportedPart, curves: &[Curve], blank: &Blank) -> Vec<Mark> {
    let before = quantity(blank.waste[0], 0.0);
    let mut marks = Vec::new();
    let mut add = |at: Quantity, kind, what: String, across| {
        marks.push(Mark {
            at: sum(before, at),
            across,
            kind,
            what,
        });
    };
    add(
        quantity(0.0, 0.0),
        MarkKind::Cut,
        "cut off here, end 0".into(),
        None,
    );
    add(
        blank.developed,
        MarkKind::Cut,
        "cut off here, end 1".into(),
        None,
    );
    for curve in curves.iter().filter(|curve| curve.edge.is_none()) {
        let name = curve.name(curves.len() == 1);
        add(
            curve.start,
            MarkKind::Tangent,
            format!("{name} begins"),
            None,
        );
        add(
            sum(curve.start, curve.length.scaled(0.5)),
            MarkKind::Middle,
            format!("middle of {name}"),
            None,
        );
        add(
            sum(curve.start, curve.length),
            MarkKind::Tangent,
            format!("{name} ends"),
            None,
        );
    }
    match (&part.member, &part.plate) {
        (Some(member), _) => {
            for (number, hole) in member.holes.iter().enumerate() {
                if let Some(station) = hole.station {
                    add(
                        station,
                        MarkKind::Hole,
                        hole_words(number + 1, hole, member, curves),
                        None,
                    );
                }
            }
        }
        (None, Some(plate)) => plate_holes(plate, curves, &mut add),
        (None, None) => {}
    }
    marks.sort_by(|a, b| a.at.value.total_cmp(&b.at.value).then(a.kind.cmp(&b.kind)));
    marks
}

fn hole_words(number: usize, hole: &MemberHole, member: &Member, curves: &[Curve]) -> String {
    let kind = match hole.kind {
        HoleKind::Round => "hole",
        HoleKind::Slot => "slot",
        HoleKind::Cutout => "cut-out",
    };
    let mut words = format!("{kind} {number}");
    if let Some(face) = face(hole, member, curves) {
        words.push_str(&format!(", {face}"));
    }
    words
}

/// Which face the hole is drilled into, told by the bend it lies in (or next to).
fn face(hole: &MemberHole, member: &Member, curves: &[Curve]) -> Option<&'static str> {
    let station = hole.station?.value;
    let apart = |c: &Curve| {
        let middle = c.start.value + c.length.value / 2.0;
        (station - middle).abs() - c.length.value / 2.0
    };
    let nearest = curves.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
    let mut arcs = member.spans.iter().filter_map(|span| match span {
        Span::Arc { centre, axis, .. } => Some((Vec3::from(*centre), Vec3::from(*axis))),
        _ => None,
    });
    let (centre, axis) = arcs.nth(nearest.number.checked_sub(1)? as usize)?;
    let into = Vec3::from(hole.axis);
    let to_centre = centre - Vec3::from(hole.point);
    let to_centre = to_centre - axis * to_centre.dot(&axis);
    let along = into.dot(&to_centre.try_normalize(0.0)?);
    let through = hole.walls > 1;
    Some(match along {
        a if a.abs() > 0.9 && through => "through outside and inside",
        a if a > 0.9 => "in the outside",
        a if a < -0.9 => "in the inside",
        a if a.abs() < 0.44 && through => "through both sides",
        a if a.abs() < 0.44 => "in a side",
        _ => return None,
    })
}

fn plate_holes(
    plate: &Plate,
    curves: &[Curve],
    add: &mut impl FnMut(Quantity, MarkKind, String, Option<Quantity>),
) {
    let (Some(curve), Form::Cylinder) = (curves.first(), plate.form) else {
        return;
    };
    // The rolled direction is the side of the rectangle that is as long as the arc.
    let off = |side: Option<Quantity>| {
        side.map_or(f64::INFINITY, |s| (s.value - curve.length.value).abs())
    };
    let along_length = off(plate.flat.length) <= off(plate.flat.width);
    for (number, hole) in plate.holes.iter().enumerate() {
        if let (Some(x), Some(y)) = (hole.x, hole.y) {
            let (along, across) = if along_length { (x, y) } else { (y, x) };
            add(
                along,
                MarkKind::Hole,
                format!("hole {}", number + 1),
                Some(across),
            );
        }
    }
}

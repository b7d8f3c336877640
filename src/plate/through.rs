//! Holes that go through the sheet: round, slotted, sunk, slanted, cut out.

use super::HoleKind;
use super::contour::{self, Form};
use super::face::Face;
use super::hole::{Drill, Hole, Made, Sink, place, plain};
use super::skin::Wall;
use super::unfold::Map;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::outline::{OutlineSegment, moments};
use crate::measure::Quantity;

/// Reads a hole with one contour on either face.
pub(super) fn through(
    face: &Face,
    wall: &Wall,
    piece: usize,
    made: &Made,
    front: &[OutlineSegment],
    back: &[OutlineSegment],
    findings: &mut Vec<Finding>,
) -> Option<Hole> {
    let tolerance = face.tolerance;
    let (f, b) = (
        contour::form(front, tolerance),
        contour::form(back, tolerance),
    );
    let mut hole = plain(face, HoleKind::Cutout, front, moments(front).centroid);
    let drilled = drill(face, wall, made);
    if let (Some(one), Map::Roll(_) | Map::Fan(_)) = (drilled, face.map(piece)) {
        return slanted(face, piece, one, hole, findings);
    }
    if let ([one], [sink], Map::Roll(_)) = (&made.cylinders[..], &made.cones[..], face.map(piece))
        && one.3.cross(&sink.2).norm() < 0.01
    {
        let hole = slanted(face, piece, *one, hole, findings)?;
        return sunk_in_roll(face, sink, hole);
    }
    if let Some(sigma) = face.patches.noise
        && drilled.is_none()
        && !alike(f, b, sigma)
    {
        // Rims of a scan fray; only a wall that is one cylinder tells a hole's size.
        findings.push(Finding::new(
            Code::HoleUnclear,
            Severity::Warning,
            "The scan is too rough to tell the size of an opening; only its place is given.",
            "Measure this opening on the piece itself.",
        ));
        place(face, piece, &mut hole);
        hole.rough = true;
        return Some(hole);
    }
    match (f, b) {
        (
            Form::Circle {
                centre: c,
                radius: r,
                plus_minus: u,
            },
            Form::Circle {
                centre: d,
                radius: s,
                plus_minus: v,
            },
        ) if (c - d).norm() <= 8.0 * tolerance + u + v => {
            let straight = (r - s).abs() <= 4.0 * tolerance + u + v;
            hole.centre = nalgebra::center(&c, &d);
            // On a rolled plate the wall of a hole cut before rolling is no cylinder, though bits of it
            // may pass for one.
            let rolled = !matches!(face.map(piece), Map::Flat { .. });
            let narrow = made
                .cylinders
                .iter()
                .filter(|y| !rolled && y.0 <= r.min(s) + 4.0 * tolerance)
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let (radius, plus_minus) = narrow.map_or_else(
                || {
                    if straight {
                        ((r + s) / 2.0, (u + v) / 2.0)
                    } else if r < s {
                        (r, u)
                    } else {
                        (s, v)
                    }
                },
                |y| (y.0, y.1),
            );
            hole.kind = HoleKind::Round;
            hole.diameter = Some(Quantity::new(
                2.0 * radius,
                2.0 * plus_minus + face.body.quantum,
            ));
            hole.area = std::f64::consts::PI * radius * radius;
            // A head's rim is no edge of this circle.
            let rim = if r <= s { r } else { s };
            hole.departure = edge(if r <= s { front } else { back });
            if (rim - radius).abs() <= 8.0 * tolerance + u + v {
                hole.departure += (rim - radius).abs();
            }
            if !straight || !made.cones.is_empty() && r > radius + 4.0 * tolerance {
                head(
                    face,
                    piece,
                    made,
                    &mut hole,
                    radius,
                    [(r, u), (s, v)],
                    findings,
                );
            }
            hole.contour = Vec::new();
        }
        (
            Form::Slot {
                centre: c,
                width: w,
                length: l,
                along,
                plus_minus: u,
            },
            Form::Slot {
                centre: d,
                width: x,
                length: m,
                plus_minus: v,
                ..
            },
        ) if (c - d).norm() <= 8.0 * tolerance + u + v
            && (w - x).abs() <= 8.0 * tolerance + 2.0 * (u + v)
            && (l - m).abs() <= 8.0 * tolerance + 2.0 * (u + v) =>
        {
            hole.kind = HoleKind::Slot;
            hole.centre = nalgebra::center(&c, &d);
            hole.diameter = Some(Quantity::new((w + x) / 2.0, u + v + face.body.quantum));
            hole.length = Some(Quantity::new(
                (l + m) / 2.0,
                u + v + 2.0 * face.body.quantum,
            ));
            hole.along = Some(along);
        }
        _ => {
            if let Some(one) = drilled {
                return slanted(face, piece, one, hole, findings);
            }
            let (a, b) = (moments(front).area, moments(back).area);
            let apart = contour::departure(front, back);
            if apart > 8.0 * tolerance + 1e-6 * face.size {
                hole.skew = apart;
                hole.area_plus_minus = (a - b).abs() / 4.0;
                findings.push(Finding::new(
                    Code::HoleUnclear,
                    Severity::Warning,
                    "A cut-out is not the same on both faces; the front is given.",
                    "Check whether its walls are meant to be square to the plate.",
                ));
            }
            hole.area = (a + b) / 2.0;
        }
    }
    place(face, piece, &mut hole);
    Some(hole)
}

/// A countersink or counterbore, on the face with the wider circle.
fn head(
    face: &Face,
    piece: usize,
    made: &Made,
    hole: &mut Hole,
    radius: f64,
    [front, back]: [(f64, f64); 2],
    findings: &mut Vec<Finding>,
) {
    use std::f64::consts::PI;
    let from_front = front.0 >= back.0;
    let (wide, plus_minus) = if from_front { front } else { back };
    hole.from_front = Some(from_front);
    hole.head = Some(Quantity::new(
        2.0 * wide,
        2.0 * plus_minus + face.body.quantum,
    ));
    if let Some((half, _, _)) = made.cones.first() {
        hole.kind = HoleKind::Countersunk;
        hole.head_angle = Some(Quantity::new(
            2.0 * half.to_degrees(),
            (2.0 * face.tolerance / (wide - radius).max(face.tolerance)).to_degrees(),
        ));
        add_sink(hole, wide, radius, *half);
        // Sunk from both faces: the wider one is given, the other still takes metal.
        let other = front.0.min(back.0);
        if other > radius + 4.0 * face.tolerance && made.cones.len() > 1 {
            if wide - other <= 4.0 * face.tolerance {
                hole.from_front = None;
            }
            add_sink(hole, other, radius, made.cones[1].0);
            findings.push(Finding::new(
                Code::HoleUnclear,
                Severity::Note,
                format!(
                    "A hole of {:.1} mm is countersunk on both faces, on the other to {:.1} mm.",
                    2.0 * radius,
                    2.0 * other
                ),
                "Sink it from the other face too.",
            ));
        }
        return;
    }
    hole.kind = HoleKind::Counterbored;
    if let Some(floor) = made.floors.first() {
        let depth = face.depth(piece, floor, from_front);
        hole.depth = Some(Quantity::new(depth, 2.0 * face.body.quantum));
        hole.extra_volume = PI * (wide * wide - radius * radius) * depth;
        hole.extra_surface = 2.0 * PI * (wide - radius) * depth;
    }
}

/// Metal and surface of a head from `wide` down to `radius`.
fn add_sink(hole: &mut Hole, wide: f64, radius: f64, half: f64) {
    use std::f64::consts::PI;
    let deep = (wide - radius) / half.tan();
    hole.extra_volume += PI * deep / 3.0 * (wide * wide + wide * radius + radius * radius)
        - PI * radius * radius * deep;
    hole.extra_surface += PI * (wide + radius) * (wide - radius).hypot(deep)
        - PI * (wide * wide - radius * radius)
        - 2.0 * PI * radius * deep;
}

/// A countersink in a rolled plate: its head is measured where its axis meets the face.
fn sunk_in_roll(face: &Face, (half, apex, axis): &Sink, mut hole: Hole) -> Option<Hole> {
    let radius = hole.diameter?.value / 2.0;
    // The cone opens away from its tip, towards the face it is sunk from.
    let from_front = axis.dot(&hole.axis) < 0.0;
    let at = if from_front {
        hole.point
    } else {
        hole.point + hole.axis * hole.through
    };
    let wide = (at - apex).dot(axis) * half.tan();
    if wide <= radius {
        return Some(hole);
    }
    hole.kind = HoleKind::Countersunk;
    hole.from_front = Some(from_front);
    if !from_front {
        (hole.point, hole.axis) = (at, -hole.axis);
    }
    hole.head = Some(Quantity::new(2.0 * wide, 8.0 * face.tolerance));
    hole.head_angle = Some(Quantity::new(
        2.0 * half.to_degrees(),
        (4.0 * face.tolerance / (wide - radius)).to_degrees(),
    ));
    add_sink(&mut hole, wide, radius, *half);
    Some(hole)
}

/// A straight round hole that is not square to the plate.
fn slanted(
    face: &Face,
    piece: usize,
    (radius, plus_minus, point, axis): Drill,
    mut hole: Hole,
    findings: &mut Vec<Finding>,
) -> Option<Hole> {
    hole.kind = HoleKind::Round;
    hole.diameter = Some(Quantity::new(
        2.0 * radius,
        2.0 * plus_minus + face.body.quantum,
    ));
    let on_front = face.pierce(piece, &point, &axis)?;
    let normal = face.normal(piece, &on_front);
    hole.axis = if axis.dot(&normal) > 0.0 { -axis } else { axis };
    hole.point = on_front;
    hole.contour = Vec::new();
    let lean = hole.axis.dot(&-normal).clamp(-1.0, 1.0).acos();
    if lean > 0.002 {
        findings.push(Finding::new(
            Code::HoleUnclear,
            Severity::Note,
            format!("A hole of {:.1} mm is drilled {:.1}° off square to the face; its place is that of its axis amid the plate.", 2.0 * radius, lean.to_degrees()),
            "Drill it at that angle after cutting.",
        ));
    }
    let t = face.thickness;
    hole.through = t / hole.axis.dot(&-normal).max(0.1);
    let amid = hole.point + hole.axis * (hole.through / 2.0);
    hole.centre = face.map(piece).flat(&amid);
    hole.area = std::f64::consts::PI * radius * radius / lean.cos().max(0.1);
    hole.departure = radius / lean.cos().max(0.1) - radius;
    if let Map::Roll(roll) = face.map(piece) {
        hole.area = drilled_area(radius, roll.neutral);
        let half_width = roll.neutral * (radius / roll.neutral).min(1.0).asin();
        hole.departure = hole.departure.max(half_width - radius);
    }
    Some(hole)
}

/// Area a radial drill takes from the developed surface of radius `about`: ∫ 2R·asin(√(r² − z²)/R) dz
/// over the drill, by Gauss–Chebyshev's second rule (z = r·cos φ).
fn drilled_area(radius: f64, about: f64) -> f64 {
    let steps = 64;
    let step = std::f64::consts::PI / f64::from(steps + 1);
    (1..=steps)
        .map(|k| (f64::from(k) * step).sin())
        .map(|sine| 2.0 * about * (radius * sine / about).min(1.0).asin() * radius * sine * step)
        .sum()
}

/// How far the corners of a contour leave its lines and arcs at most, mm.
fn edge(contour: &[OutlineSegment]) -> f64 {
    contour.iter().map(|s| s.residual).fold(0.0, f64::max)
}

/// The one drill that left the whole wall, if there is one.
fn drill(face: &Face, wall: &Wall, made: &Made) -> Option<Drill> {
    made.cylinders
        .iter()
        .copied()
        .find(|(radius, _, point, axis)| {
            wall.facets
                .iter()
                .flat_map(|&f| face.body.facets[f as usize])
                .all(|v| {
                    let d = face.body.vertices[v as usize] - point;
                    ((d - axis * d.dot(axis)).norm() - radius).abs() <= 3.0 * face.patches.tolerance
                })
        })
}

/// True when both rims of an opening are circles of one size, or slots.
fn alike(front: Form, back: Form, sigma: f64) -> bool {
    match (front, back) {
        (
            Form::Circle {
                radius: r,
                plus_minus: u,
                ..
            },
            Form::Circle {
                radius: s,
                plus_minus: v,
                ..
            },
        ) => (r - s).abs() <= 2.0 * sigma + u + v,
        (Form::Slot { .. }, Form::Slot { .. }) => true,
        _ => false,
    }
}

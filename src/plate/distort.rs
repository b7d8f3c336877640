//! Holes that do not keep their shape when the plate is rolled or folded.

use nalgebra::{Point2, Vector2};

use super::{Bend, HoleKind, PlateHole, Segment};
use crate::finding::{Code, Finding, Severity};

/// A hole that loses less than this across is as round as a cutting table makes it, mm (common
/// practice, no source).
const ROUND_ENOUGH: f64 = 0.1;
/// A hole whose edge is nearer to where a bend begins than this many thicknesses is drawn out of
/// shape (common practice, no source).
const CLEAR_OF_BEND: f64 = 2.0;

/// Holes cut round in the flat that are no longer round on the rolled plate. `radius_at` is the radius
/// of curvature amid the thickness at a hole, mm.
///
/// A hole of radius r cut in the flat spans r/R of the roll, R amid the thickness t; a straight pin
/// meets its edges on the inside, 2·(R − t/2)·sin(r/R) apart.
pub(super) fn rolled(
    holes: &[PlateHole],
    thickness: f64,
    radius_at: impl Fn(&PlateHole) -> f64,
) -> Vec<Finding> {
    // Diameter, width left, places.
    let mut sizes: Vec<(f64, f64, Vec<String>)> = Vec::new();
    for hole in holes {
        let drilled = matches!(
            hole.kind,
            HoleKind::Round | HoleKind::Countersunk | HoleKind::Counterbored
        );
        let Some(diameter) = hole.diameter.filter(|_| drilled).map(|d| d.value) else {
            continue;
        };
        let about = radius_at(hole);
        let left = 2.0 * (about - thickness / 2.0) * (diameter / 2.0 / about).sin();
        if diameter - left <= ROUND_ENOUGH || !left.is_finite() {
            continue;
        }
        match sizes
            .iter_mut()
            .find(|s| (s.0 - diameter).abs() < 0.05 && (s.1 - left).abs() < 0.05)
        {
            Some(size) => size.2.push(place(hole)),
            None => sizes.push((diameter, left, vec![place(hole)])),
        }
    }
    sizes
        .into_iter()
        .map(|(diameter, left, places)| {
            Finding::new(
                Code::HoleDistorts,
                Severity::Warning,
                format!(
                    "{} {} not stay round: cut round in the flat, {} a straight pin of {left:.1} mm only once the plate is rolled.",
                    holes_at(&places, &format!(" of {diameter:.1} mm")),
                    if places.len() == 1 { "does" } else { "do" },
                    if places.len() == 1 { "it passes" } else { "they pass" },
                ),
                "Drill to size after rolling (--pilot cuts them small), or cut them longer round the roll.",
            )
        })
        .collect()
}

/// Holes in a bend, across it, or too near to it to keep their shape.
pub(super) fn folded(holes: &[PlateHole], bends: &[Bend], thickness: f64) -> Vec<Finding> {
    let mut inside: Vec<String> = Vec::new();
    let mut near: Vec<String> = Vec::new();
    for hole in holes {
        let gaps = bends.iter().filter_map(|b| gap(hole, b, thickness));
        let gap = gaps.fold(f64::INFINITY, f64::min);
        if gap < -1e-6 * thickness {
            inside.push(place(hole));
        } else if gap < CLEAR_OF_BEND * thickness {
            near.push(place(hole));
        }
    }
    let mut findings = Vec::new();
    if !inside.is_empty() {
        findings.push(Finding::new(
            Code::HoleDistorts,
            Severity::Warning,
            format!(
                "{} in or across a bend; the shape is not kept when the plate is folded.",
                match inside.len() {
                    1 => format!("{} lies", holes_at(&inside, "")),
                    _ => format!("{} lie", holes_at(&inside, "")),
                }
            ),
            "Cut it after folding, or allow for the stretch.",
        ));
    }
    if !near.is_empty() {
        findings.push(Finding::new(
            Code::HoleDistorts,
            Severity::Note,
            format!(
                "{} nearer than {CLEAR_OF_BEND:.0} thicknesses to where a bend begins and may be drawn out of round.",
                match near.len() {
                    1 => format!("{} is", holes_at(&near, "")),
                    _ => format!("{} are", holes_at(&near, "")),
                }
            ),
            "Cut them small and drill to size after folding (--pilot), or move them if the design allows.",
        ));
    }
    findings
}

/// From the edge of a hole to where a bend begins, mm on the flat, negative inside the bend; `None`
/// where the bend passes the hole by or the hole's place is not known.
fn gap(hole: &PlateHole, bend: &Bend, thickness: f64) -> Option<f64> {
    let [from, to] = bend.line.map(Point2::from);
    let along = (to - from).try_normalize(1e-9)?;
    let across = Vector2::new(-along.y, along.x);
    let half = bend.angle.value.to_radians() / 2.0
        * (bend.inside_radius.value + bend.k_factor * thickness);
    let length = (to - from).norm();
    let points: Vec<(Point2<f64>, f64)> = if hole.outline.is_empty() {
        let centre = Point2::new(hole.x?.value, hole.y?.value);
        vec![(centre, hole.diameter?.value / 2.0)]
    } else {
        hole.outline.iter().flat_map(reach).collect()
    };
    let least = |f: Measure| points.iter().map(f).fold(f64::INFINITY, f64::min);
    let most = |f: Measure| points.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
    let beyond = most(&|p| (p.0 - from).dot(&along) + p.1) < 0.0
        || least(&|p| (p.0 - from).dot(&along) - p.1) > length;
    if beyond {
        return None;
    }
    let low = least(&|p| (p.0 - from).dot(&across) - p.1);
    let high = most(&|p| (p.0 - from).dot(&across) + p.1);
    Some(if low > 0.0 {
        low - half
    } else if high < 0.0 {
        -high - half
    } else {
        -half
    })
}

/// A measure of a disc: its centre and radius.
type Measure<'a> = &'a dyn Fn(&(Point2<f64>, f64)) -> f64;

/// Points of a segment, each with a radius about it, that together reach as far as it does.
fn reach(segment: &Segment) -> Vec<(Point2<f64>, f64)> {
    match segment {
        Segment::Line { start, end, .. } => vec![((*start).into(), 0.0), ((*end).into(), 0.0)],
        Segment::Arc {
            start,
            centre,
            radius,
            angle,
            ..
        } => {
            let centre = Point2::from(*centre);
            let from = Point2::from(*start) - centre;
            const STEPS: u32 = 16;
            let slack =
                radius.value * (1.0 - (angle.value.to_radians() / f64::from(2 * STEPS)).cos());
            (0..=STEPS)
                .map(|k| angle.value.to_radians() * f64::from(k) / f64::from(STEPS))
                .map(|turn| (centre + nalgebra::Rotation2::new(turn) * from, slack))
                .collect()
        }
    }
}

fn place(hole: &PlateHole) -> String {
    match (hole.x, hole.y) {
        (Some(x), Some(y)) => format!("x {:.1}, y {:.1}", x.value, y.value),
        _ => "a place not known".to_owned(),
    }
}

/// `A hole of 16.0 mm (at x 10.0, y 20.0 mm on the flat)`, or several with as many places as can be
/// read.
fn holes_at(places: &[String], size: &str) -> String {
    const NAMED: usize = 4;
    let named = places
        .iter()
        .take(NAMED)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    let more = match places.len().checked_sub(NAMED) {
        Some(more) if more > 0 => format!(" and {more} more"),
        _ => String::new(),
    };
    match places.len() {
        1 => format!("A hole{size} (at {named} mm on the flat)"),
        n => format!("{n} holes{size} (at {named}{more}, mm on the flat)"),
    }
}

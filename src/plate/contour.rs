//! What a closed contour of lines and arcs is: circle, slot, or something else.

use std::f64::consts::PI;

use nalgebra::{Point2, Vector2};

use crate::finding::{Code, Finding, Severity};
use crate::geometry::outline::{Arc, OutlineSegment, moments};

/// Form of a closed contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Form {
    /// A circle.
    Circle {
        centre: Point2<f64>,
        radius: f64,
        plus_minus: f64,
    },
    /// A straight slot with round ends; `along` is its unit direction, `length` is over the ends.
    Slot {
        centre: Point2<f64>,
        width: f64,
        length: f64,
        along: Vector2<f64>,
        plus_minus: f64,
    },
    /// Anything else.
    Other,
}

/// Form of a closed contour; `tolerance` as for the outline.
pub(super) fn form(contour: &[OutlineSegment], tolerance: f64) -> Form {
    if let [one] = contour
        && let Some(arc) = one.arc
        && one.is_circle()
    {
        return Form::Circle {
            centre: arc.centre,
            radius: arc.radius,
            plus_minus: arc.radius_plus_minus,
        };
    }
    let arcs: Vec<&Arc> = contour.iter().filter_map(|s| s.arc.as_ref()).collect();
    let lines: Vec<&OutlineSegment> = contour.iter().filter(|s| s.arc.is_none()).collect();
    if let ([a, b], [_, _], 4) = (&arcs[..], &lines[..], contour.len()) {
        let slack = (a.radius_plus_minus + b.radius_plus_minus).max(4.0 * tolerance);
        let half = |arc: &Arc| (arc.angle.abs() - PI).abs() * arc.radius <= 8.0 * slack;
        let apart = b.centre - a.centre;
        if (a.radius - b.radius).abs() <= 2.0 * slack
            && half(a)
            && half(b)
            && a.angle * b.angle > 0.0
            && apart.norm() > 4.0 * tolerance
        {
            let width = a.radius + b.radius;
            return Form::Slot {
                centre: nalgebra::center(&a.centre, &b.centre),
                width,
                length: apart.norm() + width,
                along: apart.normalize(),
                plus_minus: slack,
            };
        }
    }
    Form::Other
}

/// The contour run through the other way.
pub(super) fn reversed(contour: &[OutlineSegment]) -> Vec<OutlineSegment> {
    let turn = |s: &OutlineSegment| OutlineSegment {
        start: s.end,
        end: s.start,
        first: s.last,
        last: s.first,
        arc: s.arc.map(|a| Arc {
            angle: -a.angle,
            tangent_start: a.tangent_end,
            tangent_end: a.tangent_start,
            ..a
        }),
        ..s.clone()
    };
    contour.iter().rev().map(turn).collect()
}

/// The contour turned to run anticlockwise.
pub(super) fn anticlockwise(contour: Vec<OutlineSegment>) -> Vec<OutlineSegment> {
    if moments(&contour).area < 0.0 {
        reversed(&contour)
    } else {
        contour
    }
}

/// Largest distance of the corners of two contours from each other's lines and arcs.
pub(super) fn departure(a: &[OutlineSegment], b: &[OutlineSegment]) -> f64 {
    let one_way = |from: &[OutlineSegment], to: &[OutlineSegment]| {
        from.iter()
            .map(|s| crate::geometry::outline::distance(to, &s.start))
            .fold(0.0, f64::max)
    };
    one_way(a, b).max(one_way(b, a))
}

/// The corner of either contour that lies farthest from the other's lines and arcs.
pub(super) fn farthest(a: &[OutlineSegment], b: &[OutlineSegment]) -> Point2<f64> {
    let corners = |from: &[OutlineSegment], to: &[OutlineSegment]| -> Vec<(f64, Point2<f64>)> {
        from.iter()
            .map(|s| (crate::geometry::outline::distance(to, &s.start), s.start))
            .collect()
    };
    let mut all = corners(a, b);
    all.extend(corners(b, a));
    all.into_iter()
        .max_by(|x, y| x.0.total_cmp(&y.0))
        .map_or(Point2::origin(), |far| far.1)
}

/// Straight bevels that could each be one chord of an arc: the neighbours turn off alike at both
/// ends, by no more than an exporter's coarsest half step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Doubt {
    /// Number of such bevels.
    pub count: usize,
    /// By how much arcs would be longer, mm.
    pub length: f64,
    /// Area between such arcs and their chords, mm².
    pub area: f64,
}

/// What single chords leave unsure about a closed contour.
pub(super) fn single_chords(contour: &[OutlineSegment], tolerance: f64) -> Doubt {
    let n = contour.len();
    let mut doubt = Doubt::default();
    if n < 4 {
        return doubt;
    }
    for k in 0..n {
        let (before, here, after) = (
            &contour[(k + n - 1) % n],
            &contour[k],
            &contour[(k + 1) % n],
        );
        let chord = here.end - here.start;
        if here.arc.is_some()
            || before.arc.is_some()
            || after.arc.is_some()
            || chord.norm() >= (before.length()).min(after.length())
        {
            continue;
        }
        let turn = |a: Vector2<f64>, b: Vector2<f64>| a.perp(&b).atan2(a.dot(&b));
        let (first, second) = (
            turn(before.end - before.start, chord),
            turn(chord, after.end - after.start),
        );
        let angle = (first + second).abs();
        let alike = (first - second).abs() * chord.norm() <= 8.0 * tolerance;
        if alike && first * second > 0.0 && (0.02..0.9).contains(&angle) {
            let radius = chord.norm() / (2.0 * (angle / 2.0).sin());
            doubt.count += 1;
            doubt.length += radius * angle - chord.norm();
            doubt.area += radius * radius / 2.0 * (angle - angle.sin());
        }
    }
    doubt
}

/// A word about bevels that could be arcs.
pub(super) fn note(doubt: &Doubt) -> Option<Finding> {
    let many = if doubt.count == 1 {
        "1 short bevel".into()
    } else {
        format!("{} short bevels", doubt.count)
    };
    (doubt.count > 0).then(|| {
        Finding::new(
            Code::ArcUnclear,
            Severity::Note,
            format!("{many} of the outline could as well be a rounded corner exported in one chord; it is given straight, the perimeter could be {:.2} mm longer.", doubt.length),
            "Export the model with finer facets to tell them apart.",
        )
    })
}

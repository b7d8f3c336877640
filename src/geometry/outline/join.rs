//! Lines and circles fitted to the split corners, joined where they meet.

use std::f64::consts::TAU;

use nalgebra::{Point2, Vector2};

use super::arcs::{run, turning};
use super::circle::Circle;
use super::meet::{At, meet, on_circle};
use super::piece_fit::{Fitted, fit_piece};
use super::{Arc, OutlineSegment, Piece};

/// A contour whose corners all lie on `circle`, as one arc.
pub(super) fn full_circle(
    points: &[Point2<f64>],
    kept: &[usize],
    circle: &Circle,
    tolerance: f64,
) -> OutlineSegment {
    let first = kept.iter().copied().min().unwrap_or(0);
    let corners: Vec<Point2<f64>> = kept.iter().map(|&i| points[i]).collect();
    let left = turning(&(corners[1] - corners[0]), &(corners[2] - corners[1])) > 0.0;
    let start = on_circle(circle, &points[first]);
    let scatter = circle.scatter(tolerance / 4.0);
    let radius_plus_minus = 2.0 * scatter * circle.cofactor[(2, 2)].max(0.0).sqrt();
    OutlineSegment {
        start,
        end: start,
        arc: Some(Arc {
            centre: circle.centre,
            radius: circle.radius,
            angle: if left { TAU } else { -TAU },
            radius_plus_minus,
            angle_plus_minus: 0.0,
            tangent_start: true,
            tangent_end: true,
        }),
        first,
        last: first,
        residual: circle.largest,
        length_plus_minus: TAU * radius_plus_minus,
    }
}

/// The segments of the pieces, each joint on both of its neighbours.
pub(super) fn segments(
    points: &[Point2<f64>],
    kept: &[usize],
    closed: bool,
    tolerance: f64,
    pieces: &[Piece],
) -> Vec<OutlineSegment> {
    let corners: Vec<Point2<f64>> = kept.iter().map(|&i| points[i]).collect();
    let n = corners.len();
    let fitted: Vec<Fitted> = (0..pieces.len())
        .map(|k| fit_piece(points, kept, &corners, closed, tolerance, pieces, k))
        .collect();
    let count = pieces.len();
    let joint = |k: usize| -> Point2<f64> {
        // Joint before piece k; k = count is the end of the last piece.
        let i = if k < count {
            pieces[k].first
        } else {
            pieces[count - 1].last
        };
        let corner = corners[i % n];
        // Refining may not carry a joint past the corners beside it.
        let reach = 0.5
            * (corners[(i + n - 1) % n] - corner)
                .norm()
                .min((corners[(i + 1) % n] - corner).norm());
        let (a, b) = if closed {
            ((k + count - 1) % count, k % count)
        } else {
            (k.wrapping_sub(1), k)
        };
        match (fitted.get(a), fitted.get(b)) {
            (Some(a), Some(b)) if count > 1 => meet(
                a,
                b,
                &At {
                    corner,
                    tolerance,
                    reach,
                },
            ),
            (Some(Fitted::Circle { circle, .. }), None)
            | (None, Some(Fitted::Circle { circle, .. })) => on_circle(circle, &corner),
            _ => corner,
        }
    };
    let joints: Vec<Point2<f64>> = (0..=count).map(joint).collect();
    let mut out: Vec<OutlineSegment> = (0..count)
        .map(|k| {
            let piece = &pieces[k];
            let (start, end) = (
                joints[k],
                if closed && k + 1 == count {
                    joints[0]
                } else {
                    joints[k + 1]
                },
            );
            let (first, last) = (kept[piece.first % n], kept[piece.last % n]);
            let mut segment = OutlineSegment {
                start,
                end,
                arc: None,
                first,
                last,
                residual: 0.0,
                length_plus_minus: 0.0,
            };
            match &fitted[k] {
                Fitted::Line {
                    direction,
                    plus_minus,
                    ..
                } => {
                    let before = if k > 0 || closed {
                        fitted.get((k + count - 1) % count)
                    } else {
                        None
                    };
                    let after = if k + 1 < count || closed {
                        fitted.get((k + 1) % count)
                    } else {
                        None
                    };
                    let ends = touch_point_error(before, 1, direction, tolerance)
                        + touch_point_error(after, 0, direction, tolerance);
                    segment.length_plus_minus = (plus_minus * plus_minus + ends).sqrt();
                }
                Fitted::Circle {
                    circle,
                    left,
                    tangent,
                } => set_arc(&mut segment, circle, *left, *tangent, tolerance),
            }
            segment
        })
        .collect();
    // Joints slide along shallow meetings: a corner may end up on the neighbour.
    let residuals: Vec<f64> = (0..count)
        .map(|k| {
            let before = k.checked_sub(1).or(closed.then_some(count - 1));
            let after = if closed { (k + 1) % count } else { k + 1 };
            let near: Vec<OutlineSegment> = before
                .into_iter()
                .chain([k, after])
                .filter_map(|j| out.get(j).cloned())
                .collect();
            run(&corners, pieces[k].first, pieces[k].last - pieces[k].first)
                .iter()
                .map(|p| super::distance(&near, p))
                .fold(0.0, f64::max)
        })
        .collect();
    for (segment, residual) in out.iter_mut().zip(residuals) {
        segment.residual = residual;
    }
    if closed && let Some(lowest) = (0..out.len()).min_by_key(|&k| out[k].first) {
        out.rotate_left(lowest);
    }
    out
}

/// Squared 95 % half-width along a line of the place where a tangent circle touches it.
fn touch_point_error(
    beside: Option<&Fitted>,
    side: usize,
    direction: &Vector2<f64>,
    tolerance: f64,
) -> f64 {
    match beside {
        Some(Fitted::Circle {
            circle, tangent, ..
        }) if tangent[side] => {
            let variance =
                (direction.transpose() * circle.cofactor.fixed_view::<2, 2>(0, 0) * direction)[0];
            (2.0 * circle.scatter(tolerance / 4.0)).powi(2) * variance.max(0.0)
        }
        _ => 0.0,
    }
}

fn set_arc(
    segment: &mut OutlineSegment,
    circle: &Circle,
    left: bool,
    tangent: [bool; 2],
    tolerance: f64,
) {
    let (u, v) = (segment.start - circle.centre, segment.end - circle.centre);
    let mut angle = turning(&u, &v);
    if left && angle <= 0.0 {
        angle += TAU;
    } else if !left && angle >= 0.0 {
        angle -= TAU;
    }
    let scatter = circle.scatter(tolerance / 4.0);
    let radius_plus_minus = 2.0 * scatter * circle.cofactor[(2, 2)].max(0.0).sqrt();
    // d(angle)/d(centre) from the directions to both ends, and the ends' own scatter.
    let by_centre =
        Vector2::new(u.y, -u.x) / u.norm_squared() - Vector2::new(v.y, -v.x) / v.norm_squared();
    let centre = circle.cofactor.fixed_view::<2, 2>(0, 0);
    let variance =
        (by_centre.transpose() * centre * by_centre)[0].max(0.0) + 2.0 / circle.radius.powi(2);
    let angle_plus_minus = 2.0 * scatter * variance.sqrt();
    segment.arc = Some(Arc {
        centre: circle.centre,
        radius: circle.radius,
        angle,
        radius_plus_minus,
        angle_plus_minus,
        tangent_start: tangent[0],
        tangent_end: tangent[1],
    });
    segment.length_plus_minus =
        2.0 * std::f64::consts::SQRT_2 * scatter + radius_plus_minus * angle.abs();
}

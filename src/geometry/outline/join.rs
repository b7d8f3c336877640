//! Lines and circles fitted to the split corners, joined where they meet.

use std::f64::consts::TAU;

use nalgebra::{Matrix2, Point2, Vector2};

use super::arcs::{run, turning};
use super::circle::{self, Circle, Touch};
use super::{Arc, OutlineSegment, Piece, beside, corner_arcs};

/// What a piece was fitted to.
enum Fitted {
    Line {
        point: Point2<f64>,
        direction: Vector2<f64>,
        plus_minus: f64,
    },
    Circle {
        circle: Circle,
        left: bool,
        tangent: [bool; 2],
    },
}

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
    let scatter = circle.scatter(tolerance / 6.0);
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
        let corner = corners[if k < count {
            pieces[k].first
        } else {
            pieces[count - 1].last
        } % n];
        let (a, b) = if closed {
            ((k + count - 1) % count, k % count)
        } else {
            (k.wrapping_sub(1), k)
        };
        match (fitted.get(a), fitted.get(b)) {
            (Some(a), Some(b)) if count > 1 => meet(a, b, &corner, tolerance),
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
                Fitted::Line { plus_minus, .. } => segment.length_plus_minus = *plus_minus,
                Fitted::Circle {
                    circle,
                    left,
                    tangent,
                } => set_arc(&mut segment, circle, *left, *tangent, tolerance),
            }
            segment.residual = run(&corners, piece.first, piece.last - piece.first)
                .iter()
                .map(|p| super::distance(std::slice::from_ref(&segment), p))
                .fold(0.0, f64::max);
            segment
        })
        .collect();
    if closed && let Some(lowest) = (0..out.len()).min_by_key(|&k| out[k].first) {
        out.rotate_left(lowest);
    }
    out
}

fn fit_piece(
    points: &[Point2<f64>],
    kept: &[usize],
    corners: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    pieces: &[Piece],
    k: usize,
) -> Fitted {
    let piece = &pieces[k];
    let stands_for = given(points, kept, piece);
    let line = || fit_line(&stands_for, tolerance);
    if !piece.arc {
        return line();
    }
    let own = run(corners, piece.first, piece.last - piece.first);
    let Some(first) = circle::fit(&own, &[]) else {
        return line();
    };
    let left = turning(&(own[1] - own[0]), &(own[2] - own[1])) > 0.0;
    let mut tangent = [false; 2];
    let mut touch: Vec<Touch> = Vec::new();
    for (side, is_tangent) in [-1, 1].into_iter().zip(&mut tangent) {
        let Some(other) = beside(pieces, k, side, closed) else {
            continue;
        };
        if !corner_arcs::touches(corners, &first, piece, other, side, tolerance) {
            continue;
        }
        *is_tangent = true;
        if !other.arc
            && let (Fitted::Line { point, .. }, Some(t)) = (
                fit_line(&given(points, kept, other), tolerance),
                corner_arcs::touch(corners, other, &first),
            )
        {
            touch.push(Touch { point, ..t });
        }
    }
    // Points left out as lying on a chord belong to the arc only where they could be on it.
    let observed: Vec<Point2<f64>> = stands_for
        .into_iter()
        .filter(|p| ((p - first.centre).norm() - first.radius).abs() <= tolerance)
        .collect();
    let circle = circle::fit(
        if observed.len() > own.len() {
            &observed
        } else {
            &own
        },
        &touch,
    )
    .unwrap_or(first);
    Fitted::Circle {
        circle,
        left,
        tangent,
    }
}

/// All given points from the first to the last corner of a piece.
fn given(points: &[Point2<f64>], kept: &[usize], piece: &Piece) -> Vec<Point2<f64>> {
    let (n, m) = (points.len(), kept.len());
    let (first, last) = (kept[piece.first % m], kept[piece.last % m]);
    let count = if last > first || piece.last == piece.first {
        last - first
    } else {
        last + n - first
    };
    (0..=count).map(|i| points[(first + i) % n]).collect()
}

fn fit_line(points: &[Point2<f64>], tolerance: f64) -> Fitted {
    let (a, b) = (points[0], points[points.len() - 1]);
    let chord = b - a;
    let mut point = a;
    let mut direction = chord.try_normalize(0.0).unwrap_or(Vector2::x());
    let mut scatter = tolerance / 6.0;
    if points.len() > 4 {
        let mean = Point2::from(
            points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / points.len() as f64,
        );
        let spread: Matrix2<f64> = points
            .iter()
            .map(|p| (p - mean) * (p - mean).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let long = if eigen.eigenvalues[0] > eigen.eigenvalues[1] {
            0
        } else {
            1
        };
        let d: Vector2<f64> = eigen.eigenvectors.column(long).into_owned();
        direction = if d.dot(&chord) < 0.0 { -d } else { d };
        point = mean;
        scatter =
            scatter.max((eigen.eigenvalues[1 - long].max(0.0) / (points.len() - 2) as f64).sqrt());
    }
    Fitted::Line {
        point,
        direction,
        plus_minus: 2.0 * std::f64::consts::SQRT_2 * scatter,
    }
}

fn on_circle(circle: &Circle, p: &Point2<f64>) -> Point2<f64> {
    match (p - circle.centre).try_normalize(0.0) {
        Some(u) => circle.centre + u * circle.radius,
        None => *p,
    }
}

/// The common point of two neighbours nearest their shared corner.
fn meet(a: &Fitted, b: &Fitted, corner: &Point2<f64>, tolerance: f64) -> Point2<f64> {
    match (a, b) {
        (
            Fitted::Line {
                point: p,
                direction: d,
                ..
            },
            Fitted::Line {
                point: q,
                direction: e,
                ..
            },
        ) => {
            let cross = d.perp(e);
            let x = p + d * ((q - p).perp(e) / cross);
            if cross.abs() > 1e-6 && (x - corner).norm() <= 2.0 * tolerance / cross.abs() {
                x
            } else {
                *corner
            }
        }
        (
            Fitted::Line {
                point, direction, ..
            },
            Fitted::Circle {
                circle, tangent, ..
            },
        ) => line_circle(point, direction, circle, tangent[0], corner, tolerance),
        (
            Fitted::Circle {
                circle, tangent, ..
            },
            Fitted::Line {
                point, direction, ..
            },
        ) => line_circle(point, direction, circle, tangent[1], corner, tolerance),
        (
            Fitted::Circle {
                circle: c, tangent, ..
            },
            Fitted::Circle { circle: d, .. },
        ) => two_circles(c, d, tangent[1], corner, tolerance),
    }
}

fn line_circle(
    point: &Point2<f64>,
    direction: &Vector2<f64>,
    circle: &Circle,
    tangent: bool,
    corner: &Point2<f64>,
    tolerance: f64,
) -> Point2<f64> {
    let foot = point + direction * (circle.centre - point).dot(direction);
    let gap = (circle.centre - foot).norm();
    if tangent {
        // Along the line a tangent point is known to about √(R·tolerance) only.
        let slack = (8.0 * circle.radius * tolerance).sqrt() + 4.0 * tolerance;
        let p = on_circle(circle, &foot);
        return if (p - corner).norm() <= slack {
            p
        } else {
            on_circle(circle, corner)
        };
    }
    let half = (circle.radius.powi(2) - gap * gap).max(0.0).sqrt();
    let x = [foot + direction * half, foot - direction * half]
        .into_iter()
        .min_by(|a, b| (a - corner).norm().total_cmp(&(b - corner).norm()));
    let sine = (half / circle.radius).max(1e-3);
    match x {
        Some(x) if (x - corner).norm() <= 4.0 * tolerance / sine => x,
        _ => on_circle(circle, corner),
    }
}

fn two_circles(
    a: &Circle,
    b: &Circle,
    tangent: bool,
    corner: &Point2<f64>,
    tolerance: f64,
) -> Point2<f64> {
    let between = b.centre - a.centre;
    let distance = between.norm();
    let plain = nalgebra::center(&on_circle(a, corner), &on_circle(b, corner));
    if distance <= tolerance {
        return plain;
    }
    let u = between / distance;
    if tangent {
        let side = if u.dot(&(corner - a.centre)) < 0.0 {
            -u
        } else {
            u
        };
        let p = nalgebra::center(
            &(a.centre + side * a.radius),
            &on_circle(b, &(a.centre + side * a.radius)),
        );
        let slack = (8.0 * a.radius.min(b.radius) * tolerance).sqrt() + 4.0 * tolerance;
        return if (p - corner).norm() <= slack {
            p
        } else {
            plain
        };
    }
    let along = (distance * distance + a.radius.powi(2) - b.radius.powi(2)) / (2.0 * distance);
    let height = (a.radius.powi(2) - along * along).max(0.0).sqrt();
    let v = Vector2::new(-u.y, u.x);
    let x = a.centre
        + u * along
        + v * if v.dot(&(corner - a.centre)) < 0.0 {
            -height
        } else {
            height
        };
    if (x - corner).norm() <= 20.0 * tolerance {
        x
    } else {
        plain
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
    let scatter = circle.scatter(tolerance / 6.0);
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
    // Radius and angle of one arc are bound the other way round: its ends hold its length.
    segment.length_plus_minus = (2.0 * std::f64::consts::SQRT_2 * scatter)
        .max((radius_plus_minus * angle.abs() - angle_plus_minus * circle.radius).abs());
}

//! Where two neighbouring pieces meet.

use nalgebra::{Point2, Vector2};

use super::circle::Circle;
use super::piece_fit::Fitted;

/// The corner two pieces share, and how far their joint may stray from it.
pub(super) struct At {
    pub corner: Point2<f64>,
    pub tolerance: f64,
    pub reach: f64,
}

/// The common point of two neighbours nearest their shared corner.
pub(super) fn meet(a: &Fitted, b: &Fitted, at: &At) -> Point2<f64> {
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
            at.accept(x, 2.0 * at.tolerance / cross.abs().max(1e-6))
                .unwrap_or(at.corner)
        }
        (
            Fitted::Line {
                point, direction, ..
            },
            Fitted::Circle {
                circle, tangent, ..
            },
        ) => line_circle(point, direction, circle, tangent[0], at),
        (
            Fitted::Circle {
                circle, tangent, ..
            },
            Fitted::Line {
                point, direction, ..
            },
        ) => line_circle(point, direction, circle, tangent[1], at),
        // Where two arcs touch is known from the corner better than from their circles.
        (Fitted::Circle { circle: c, .. }, Fitted::Circle { circle: d, .. }) => {
            nalgebra::center(&on_circle(c, &at.corner), &on_circle(d, &at.corner))
        }
    }
}

impl At {
    /// `x`, if it is a number within `far` (and the corner's own reach) of the corner.
    fn accept(&self, x: Point2<f64>, far: f64) -> Option<Point2<f64>> {
        ((x - self.corner).norm() <= far.min(self.reach)).then_some(x)
    }
}

fn line_circle(
    point: &Point2<f64>,
    direction: &Vector2<f64>,
    circle: &Circle,
    tangent: bool,
    at: &At,
) -> Point2<f64> {
    let foot = point + direction * (circle.centre - point).dot(direction);
    let gap = (circle.centre - foot).norm();
    if tangent {
        // Along the line a tangent point is known to about √(R·tolerance) only.
        let slack = (8.0 * circle.radius * at.tolerance).sqrt() + 4.0 * at.tolerance;
        return at
            .accept(on_circle(circle, &foot), slack)
            .unwrap_or_else(|| on_circle(circle, &at.corner));
    }
    let half = (circle.radius.powi(2) - gap * gap).max(0.0).sqrt();
    let far = |x: &Point2<f64>| (x - at.corner).norm();
    let (x, y) = (foot + direction * half, foot - direction * half);
    let nearer = if far(&x) <= far(&y) { x } else { y };
    at.accept(
        nearer,
        4.0 * at.tolerance / (half / circle.radius).max(1e-3),
    )
    .unwrap_or_else(|| on_circle(circle, &at.corner))
}

/// The point of the circle beside `p`.
pub(super) fn on_circle(circle: &Circle, p: &Point2<f64>) -> Point2<f64> {
    match (p - circle.centre).try_normalize(0.0) {
        Some(u) => circle.centre + u * circle.radius,
        None => *p,
    }
}

//! Smallest-area rectangle around a contour of lines and arcs.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{Point2, Vector2};

use super::hull::convex_hull;
use super::outline::{OutlineSegment, polyline, support};

/// A rectangle around a contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// Corner from which `along` runs to the right and the width to the left of it.
    pub corner: Point2<f64>,
    /// Unit direction of the longer side.
    pub along: Vector2<f64>,
    /// Longer side.
    pub length: f64,
    /// Shorter side.
    pub width: f64,
}

/// The rectangle of smallest area around a closed contour, extents taken on the arcs themselves.
///
/// One side of a smallest rectangle lies along a side of the convex hull ("Determining the
/// minimum-area encasing rectangle for an arbitrary closed curve", Communications of the ACM 18
/// (1975)); where that side is a bit of an arc the direction is refined between its neighbours.
/// Where several directions give the same area within `tolerance` times the perimeter, the one
/// with the longest straight hull side along it wins. `None` for an empty or flat contour.
pub fn min_rectangle(contour: &[OutlineSegment], tolerance: f64) -> Option<Rectangle> {
    let size = contour.iter().map(|s| s.length()).sum::<f64>();
    let points = polyline(contour, (size * 1e-6).max(tolerance));
    let hull = convex_hull(&points);
    if hull.len() < 3 {
        return None;
    }
    let area = |angle: f64| {
        let (u, v) = axes(angle);
        (support(contour, &u) + support(contour, &-u))
            * (support(contour, &v) + support(contour, &-v))
    };
    let mut tries: Vec<(f64, f64, f64)> = (0..hull.len())
        .map(|i| {
            let side = hull[(i + 1) % hull.len()] - hull[i];
            let angle = side.y.atan2(side.x).rem_euclid(FRAC_PI_2);
            (angle, area(angle), side.norm())
        })
        .collect();
    tries.sort_by(|a, b| a.1.total_cmp(&b.1));
    let best = tries.first().copied()?;
    let slack = tolerance * size;
    let (mut angle, mut least, _) = tries
        .iter()
        .filter(|t| t.1 <= best.1 + slack)
        .copied()
        .fold(best, |a, b| if b.2 > a.2 * (1.0 + 1e-9) { b } else { a });
    let refined = golden(&area, angle, 0.5f64.to_radians());
    if area(refined) < least - slack {
        (angle, least) = (refined, area(refined));
    }
    (least > 0.0).then(|| rectangle(contour, angle))
}

fn axes(angle: f64) -> (Vector2<f64>, Vector2<f64>) {
    let u = Vector2::new(angle.cos(), angle.sin());
    (u, Vector2::new(-u.y, u.x))
}

/// The rectangle along `angle`, turned so that its longer side comes first.
fn rectangle(contour: &[OutlineSegment], angle: f64) -> Rectangle {
    let (u, v) = axes(angle);
    let extent = |d: &Vector2<f64>| support(contour, d) + support(contour, &-d);
    let (u, v) = if extent(&u) >= extent(&v) {
        (u, v)
    } else {
        (v, -u)
    };
    let corner = Point2::from(-u * support(contour, &-u) - v * support(contour, &-v));
    Rectangle {
        corner,
        along: u,
        length: extent(&u),
        width: extent(&v),
    }
}

/// Golden-section search of a minimum within `reach` of `start`.
fn golden(f: &impl Fn(f64) -> f64, start: f64, reach: f64) -> f64 {
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (start - reach, start + reach);
    for _ in 0..60 {
        let (c, d) = (b - ratio * (b - a), a + ratio * (b - a));
        if f(c) < f(d) { b = d } else { a = c }
    }
    (a + b) / 2.0
}

//! Corners that stay when points on a straight line between others are taken out.

use nalgebra::{Point2, Vector2};

/// Indices of the points that are corners: every point left out lies within `tolerance` of the
/// chord that replaces it, in order along it. A closed contour is entered at the point farthest
/// from its middle, which is a corner whatever the shape; the indices start at that point.
pub(super) fn corners(points: &[Point2<f64>], closed: bool, tolerance: f64) -> Vec<usize> {
    let n = points.len();
    if n < 2 {
        return (0..n).collect();
    }
    let start = if closed {
        farthest_from_middle(points)
    } else {
        0
    };
    let count = if closed { n + 1 } else { n };
    let at = |k: usize| (start + k) % n;
    let mut kept = vec![0];
    let mut from = 0;
    while from + 1 < count {
        let to = reach(points, from, count, &at, tolerance);
        kept.push(to);
        from = to;
    }
    let mut indices: Vec<usize> = kept.into_iter().map(at).collect();
    if closed {
        indices.pop();
    }
    with_inflections(points, indices, closed, tolerance)
}

/// Puts back a corner that alone lies on a chord between turns of opposite sign: where two evenly
/// cut arcs of an S meet, their last and first chord lie on one line.
fn with_inflections(
    points: &[Point2<f64>],
    kept: Vec<usize>,
    closed: bool,
    tolerance: f64,
) -> Vec<usize> {
    let (n, m) = (points.len(), kept.len());
    if m < 4 {
        return kept;
    }
    let at = |k: usize| points[kept[k % m]];
    let turn = |k: usize| (at(k) - at(k + m - 1)).perp(&(at(k + 1) - at(k)));
    let mut out = Vec::with_capacity(m);
    for k in 0..m {
        out.push(kept[k]);
        if !closed && (k == 0 || k + 2 >= m) {
            continue;
        }
        let left_out: Vec<usize> = (1..)
            .map(|i| (kept[k] + i) % n)
            .take_while(|&i| i != kept[(k + 1) % m])
            .collect();
        if let [single] = left_out[..]
            && turn(k) * turn(k + 1) < 0.0
            && (points[single] - at(k)).norm() > 4.0 * tolerance
            && (points[single] - at(k + 1)).norm() > 4.0 * tolerance
        {
            out.push(single);
        }
    }
    out
}

fn farthest_from_middle(points: &[Point2<f64>]) -> usize {
    let middle = points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / points.len() as f64;
    let mut best = 0;
    let mut far = -1.0;
    for (i, p) in points.iter().enumerate() {
        let d = (p.coords - middle).norm_squared();
        if d > far {
            (best, far) = (i, d);
        }
    }
    best
}

/// Farthest point that can follow `from` directly: each point between stays within `tolerance` of
/// the chord (kept as the cone of directions that pass every disc), none runs back along it.
fn reach(
    points: &[Point2<f64>],
    from: usize,
    count: usize,
    at: &impl Fn(usize) -> usize,
    tolerance: f64,
) -> usize {
    let origin = points[at(from)];
    let mut best = from + 1;
    let mut axis: Option<Vector2<f64>> = None;
    let (mut low, mut high) = (-std::f64::consts::FRAC_PI_2, std::f64::consts::FRAC_PI_2);
    let mut travelled: f64 = 0.0;
    for k in from + 1..count {
        let d = points[at(k)] - origin;
        let r = d.norm();
        if r <= tolerance && axis.is_none() {
            best = k;
            continue;
        }
        let u = *axis.get_or_insert_with(|| d / r.max(f64::MIN_POSITIVE));
        let angle = (u.x * d.y - u.y * d.x).atan2(u.dot(&d));
        if r < travelled - tolerance || angle < low || angle > high {
            break;
        }
        travelled = travelled.max(r);
        best = k;
        let half = if r > tolerance {
            (tolerance / r).asin()
        } else {
            std::f64::consts::FRAC_PI_2
        };
        low = low.max(angle - half);
        high = high.min(angle + half);
    }
    best
}

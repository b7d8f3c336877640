//! Arcs of two chords: three corners lie on some circle always, so tangency has to prove them.

use nalgebra::{Point2, Vector2};

use super::arcs::{run, turning};
use super::circle::{self, Circle, Touch};
use super::{Piece, beside};

/// Merges neighbouring lines into an arc of two chords where the circle through their three corners
/// touches the pieces before and after it.
pub(super) fn merge(
    corners: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    pieces: &mut Vec<Piece>,
) {
    let n = pieces.len();
    if n < 4 {
        return;
    }
    let mut found: Vec<(f64, usize)> = Vec::new();
    for k in 0..if closed { n } else { n - 1 } {
        let (a, b) = (pieces[k], pieces[(k + 1) % n]);
        if a.arc || b.arc {
            continue;
        }
        let piece = Piece {
            first: a.first,
            last: a.first + 2,
            arc: true,
        };
        let (Some(before), Some(after)) = (
            beside(pieces, k, -1, closed),
            beside(pieces, (k + 1) % n, 1, closed),
        ) else {
            continue;
        };
        if let Some(worst) = two_chords(corners, &piece, before, after, tolerance) {
            found.push((worst, k));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut taken = vec![false; n];
    let mut merged = vec![false; n];
    for (_, k) in found {
        let next = (k + 1) % n;
        if !taken[k] && !taken[next] {
            (taken[k], taken[next], merged[k]) = (true, true, true);
        }
    }
    let mut out = Vec::with_capacity(n);
    let wraps = closed && merged[n - 1];
    for k in 0..n {
        if merged[k] {
            out.push(Piece {
                first: pieces[k].first,
                last: pieces[k].first + 2,
                arc: true,
            });
        } else if !(taken[k] && (k == 0 && wraps || k > 0 && merged[k - 1])) {
            out.push(pieces[k]);
        }
    }
    *pieces = out;
}

/// How far the circle through three corners misses its two neighbours, in units of what it may
/// (at most 1), or `None` where it is no arc.
fn two_chords(
    corners: &[Point2<f64>],
    piece: &Piece,
    before: &Piece,
    after: &Piece,
    tolerance: f64,
) -> Option<f64> {
    let points = run(corners, piece.first, 2);
    let (a, b) = (points[1] - points[0], points[2] - points[1]);
    let turn = turning(&a, &b);
    let (short, long) = (a.norm().min(b.norm()), a.norm().max(b.norm()));
    // Equal chords, the middle corner well clear of the straight line.
    let rise = (turn / 2.0).sin().abs() * short;
    if turn.abs() > 50f64.to_radians()
        || long - short > (4.0 * tolerance).max(0.02 * long)
        || rise < 4.0 * tolerance
    {
        return None;
    }
    let circle = circle::fit(&points, &[])?;
    let first = miss(corners, &circle, piece, before, -1, tolerance)?;
    let second = miss(corners, &circle, piece, after, 1, tolerance)?;
    let worst = first.max(second);
    (worst <= 1.0).then_some(worst)
}

/// True when the circle of `piece` touches its neighbour on that side within what the corners'
/// tolerance allows.
pub(super) fn touches(
    corners: &[Point2<f64>],
    circle: &Circle,
    piece: &Piece,
    other: &Piece,
    side: isize,
    tolerance: f64,
) -> bool {
    miss(corners, circle, piece, other, side, tolerance).is_some_and(|m| m <= 1.0)
}

/// Gap between the circle of `piece` and its neighbour before (`side` −1) or after (1) it, over the
/// gap the tolerance allows. `None` where the neighbour runs the other way.
fn miss(
    corners: &[Point2<f64>],
    circle: &Circle,
    piece: &Piece,
    other: &Piece,
    side: isize,
    tolerance: f64,
) -> Option<f64> {
    let scatter = circle.scatter(tolerance / 3.0);
    let joint = if side < 0 { piece.first } else { piece.last };
    if other.arc {
        let neighbour = circle::fit(&run(corners, other.first, other.last - other.first), &[])?;
        let p = corners[joint % corners.len()];
        let (u, v) = (
            (p - circle.centre) / circle.radius,
            (p - neighbour.centre) / neighbour.radius,
        );
        // Tangent circles have both centres on one line with the joint, on either side of it.
        let kink = u.perp(&v).abs();
        return Some(
            kink / (3.0 * scatter * (turn_uncertainty(circle) + turn_uncertainty(&neighbour))),
        );
    }
    let touch = touch(corners, other, circle)?;
    let along = if side < 0 { 1.0 } else { -1.0 };
    let line = line_direction(corners, other)? * along;
    // Travel along the line towards the joint, then along the arc, must not reverse.
    let p = corners[joint % corners.len()];
    let q = corners[(if side < 0 {
        piece.first + 1
    } else {
        piece.last - 1
    }) % corners.len()];
    if line.dot(&(q - p)) <= 0.0 {
        return None;
    }
    let gap = (touch.normal.dot(&(circle.centre - touch.point)) - circle.radius).abs();
    // The line is known to the tolerance at its ends only; the foot may lie beyond them.
    let (start, end) = ends(corners, other);
    let length = (end - start).norm();
    let beyond = 1.0
        + (circle.centre - start)
            .dot(&(end - start))
            .abs()
            .max((circle.centre - end).dot(&(end - start)).abs())
            / (length * length)
            * 0.5;
    Some(gap / (3.0 * circle.touch_uncertainty(&touch.normal, scatter) * beyond))
}

/// Standard uncertainty of the tangent's direction at a joint for corners of unit scatter, radians.
fn turn_uncertainty(circle: &Circle) -> f64 {
    (1.0 + circle.cofactor[(0, 0)]
        .max(circle.cofactor[(1, 1)])
        .max(0.0)
        .sqrt())
        / circle.radius
}

fn ends(corners: &[Point2<f64>], line: &Piece) -> (Point2<f64>, Point2<f64>) {
    (
        corners[line.first % corners.len()],
        corners[line.last % corners.len()],
    )
}

fn line_direction(corners: &[Point2<f64>], line: &Piece) -> Option<Vector2<f64>> {
    let (a, b) = ends(corners, line);
    (b - a).try_normalize(0.0)
}

/// The line through a straight piece, its normal towards the centre of the circle.
pub(super) fn touch(corners: &[Point2<f64>], line: &Piece, circle: &Circle) -> Option<Touch> {
    let (a, _) = ends(corners, line);
    let d = line_direction(corners, line)?;
    let n = Vector2::new(-d.y, d.x);
    let normal = if n.dot(&(circle.centre - a)) < 0.0 {
        -n
    } else {
        n
    };
    Some(Touch { point: a, normal })
}

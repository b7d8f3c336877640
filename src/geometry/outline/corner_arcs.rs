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
    // Equal chords, and a turn known well enough for half of it at either end to mean something: a
    // smooth curve drawn in short lines comes near by accident where it hardly turns.
    let doubt = 1.5 * tolerance * (1.0 / short + 1.0 / long) / turn.abs();
    let accident = if turn.abs() > 10f64.to_radians() {
        0.3
    } else {
        0.03
    };
    if turn.abs() > 50f64.to_radians()
        || long - short > (4.0 * tolerance).max(0.002 * long)
        || doubt > accident
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
/// tolerance allows: by its direction at the joint, or, where a loose tolerance leaves the joint
/// itself unsure, by its distance from the neighbour's line.
pub(super) fn touches(
    corners: &[Point2<f64>],
    circle: &Circle,
    piece: &Piece,
    other: &Piece,
    side: isize,
    tolerance: f64,
) -> bool {
    let Some(m) = miss(corners, circle, piece, other, side, tolerance) else {
        return false;
    };
    let gap = |t: Touch| (t.normal.dot(&(circle.centre - t.point)) - circle.radius).abs();
    m <= 1.0
        || m.is_finite()
            && !other.arc
            && touch(corners, other, circle).is_some_and(|t| gap(t) <= 2.0 * tolerance)
}

/// Kink between the circle of `piece` and its neighbour before (`side` −1) or after (1) it, over the
/// kink the tolerance allows. `None` where there is no telling.
fn miss(
    corners: &[Point2<f64>],
    circle: &Circle,
    piece: &Piece,
    other: &Piece,
    side: isize,
    tolerance: f64,
) -> Option<f64> {
    let joint = corners[(if side < 0 { piece.first } else { piece.last }) % corners.len()];
    let own = heading(corners, piece, Some(circle), &joint, tolerance)?;
    let next = if other.arc {
        let neighbour = circle::fit(&run(corners, other.first, other.last - other.first), &[])?;
        heading(corners, other, Some(&neighbour), &joint, tolerance)?
    } else {
        heading(corners, other, None, &joint, tolerance)?
    };
    let kink = turning(&own.0, &next.0).abs();
    Some(if kink > LARGEST_KINK {
        f64::INFINITY
    } else {
        kink / (3.0 * (own.1 + next.1))
    })
}

/// No uncertainty makes a corner of more than this (radians, about 20°) a tangent joint.
const LARGEST_KINK: f64 = 0.35;

/// Direction of travel of a piece at one of its ends, and its standard uncertainty, radians.
fn heading(
    corners: &[Point2<f64>],
    piece: &Piece,
    circle: Option<&Circle>,
    at: &Point2<f64>,
    tolerance: f64,
) -> Option<(Vector2<f64>, f64)> {
    let corner = |k: usize| corners[k % corners.len()];
    let Some(circle) = circle else {
        let chord = corner(piece.last) - corner(piece.first);
        return Some((
            chord.try_normalize(0.0)?,
            tolerance / 3.0 * std::f64::consts::SQRT_2 / chord.norm(),
        ));
    };
    let (a, b, c) = (
        corner(piece.first),
        corner(piece.first + 1),
        corner(piece.first + 2),
    );
    let left = turning(&(b - a), &(c - b)) > 0.0;
    let u = (at - circle.centre).try_normalize(0.0)?;
    let tangent = if left {
        Vector2::new(-u.y, u.x)
    } else {
        Vector2::new(u.y, -u.x)
    };
    // A shift of the centre along the tangent turns it.
    let shift = (tangent.transpose() * circle.cofactor.fixed_view::<2, 2>(0, 0) * tangent)[0]
        .max(0.0)
        .sqrt();
    Some((
        tangent,
        circle.scatter(tolerance / 3.0) * (shift + 1.0) / circle.radius,
    ))
}

fn ends(corners: &[Point2<f64>], line: &Piece) -> (Point2<f64>, Point2<f64>) {
    (
        corners[line.first % corners.len()],
        corners[line.last % corners.len()],
    )
}

/// The line through a straight piece, its normal towards the centre of the circle.
pub(super) fn touch(corners: &[Point2<f64>], line: &Piece, circle: &Circle) -> Option<Touch> {
    let (a, b) = ends(corners, line);
    let d = (b - a).try_normalize(0.0)?;
    let n = Vector2::new(-d.y, d.x);
    let normal = if n.dot(&(circle.centre - a)) < 0.0 {
        -n
    } else {
        n
    };
    Some(Touch { point: a, normal })
}

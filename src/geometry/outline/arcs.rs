//! Which runs of corners are arcs: fewest segments that keep every corner.

use nalgebra::{Point2, Vector2};

use super::circle::{self, Circle};
use super::{Piece, beside, corner_arcs};

/// Fewest chords that make an arc by their corners lying on one circle.
const CHORDS: usize = 3;
/// Fewest corners of a full circle: a hexagon is a hexagon.
const CIRCLE_CORNERS: usize = 8;
/// Coarsest chord of an arc, radians of its circle: eight chords to the turn, and a little.
const CHORD_ANGLE: f64 = 50.0 * std::f64::consts::PI / 180.0;
/// Chords of one arc are alike: longest to shortest, the two end chords not counted.
const CHORD_RATIO: f64 = 2.5;
/// Above this chord angle (twelve to the turn, and a little) evenly turned straight edges are as
/// likely as an arc, so both ends have to be tangent.
const COARSE_ANGLE: f64 = 31.0 * std::f64::consts::PI / 180.0;

/// The circle of a closed polygon whose corners all lie on it.
pub(super) fn whole_circle(corners: &[Point2<f64>], tolerance: f64) -> Option<Circle> {
    if corners.len() < CIRCLE_CORNERS || run_end(corners, true, 0) < corners.len() {
        return None;
    }
    let circle = circle::fit(corners, &[])?;
    let chords: Vec<f64> = (0..corners.len())
        .map(|i| (corners[(i + 1) % corners.len()] - corners[i]).norm())
        .collect();
    (circle.largest <= tolerance && chords_fit(&chords, circle.radius)).then_some(circle)
}

/// Splits the corners into lines and arcs with the least number of parameters (a line two, an arc
/// three), by dynamic programming over where segments begin.
pub(super) fn split(corners: &[Point2<f64>], closed: bool, tolerance: f64) -> Vec<Piece> {
    let n = corners.len();
    let reach = reaches(corners, closed, tolerance);
    // A closed contour is walked three times; the middle lap no longer knows where it began.
    let last = if closed { 3 * n } else { n - 1 };
    let arc_to = |i: usize| {
        if closed {
            i + reach[i % n]
        } else {
            i + reach[i]
        }
    };
    let mut cost = vec![u32::MAX; last + 1];
    let mut from = vec![0usize; last + 1];
    cost[0] = 0;
    for i in 0..last {
        let so_far = cost[i];
        if so_far + 2 < cost[i + 1] {
            (cost[i + 1], from[i + 1]) = (so_far + 2, i);
        }
        for j in i + CHORDS..=arc_to(i).min(last) {
            if so_far + 3 < cost[j] {
                (cost[j], from[j]) = (so_far + 3, i);
            }
        }
    }
    let mut joints = vec![last];
    while joints[joints.len() - 1] > 0 {
        joints.push(from[joints[joints.len() - 1]]);
    }
    joints.reverse();
    if closed {
        joints = middle_lap(&joints, n);
    }
    joints
        .windows(2)
        .map(|w| Piece {
            first: w[0],
            last: w[1],
            arc: w[1] - w[0] >= CHORDS,
        })
        .collect()
}

/// One lap between two visits of the same corner; `first` of the first piece is below `n`.
fn middle_lap(joints: &[usize], n: usize) -> Vec<usize> {
    for (k, &j) in joints.iter().enumerate() {
        if j >= n
            && j < 2 * n
            && let Some(end) = joints[k..].iter().position(|&x| x == j + n)
        {
            return joints[k..=k + end].iter().map(|x| x - n).collect();
        }
    }
    // No corner is met twice only where one arc covers nearly all: cut at the lap itself.
    let mut lap: Vec<usize> = joints
        .iter()
        .copied()
        .filter(|&j| j > n && j < 2 * n)
        .map(|j| j - n)
        .collect();
    lap.insert(0, 0);
    lap.push(n);
    lap
}

/// For each corner the number of chords of the longest arc that starts there (0: none).
fn reaches(corners: &[Point2<f64>], closed: bool, tolerance: f64) -> Vec<usize> {
    let n = corners.len();
    let mut out = vec![0; n];
    let mut known = 0usize;
    for (i, longest) in out.iter_mut().enumerate() {
        let limit = run_end(corners, closed, i)
            .saturating_sub(i)
            .min(if closed { n - 1 } else { n - 1 - i });
        let fits = |chords: usize| is_arc(&run(corners, i, chords), tolerance);
        let mut good = known.saturating_sub(1).max(CHORDS);
        known = 0;
        if good > limit || !fits(good) {
            if good <= CHORDS || limit < CHORDS || !fits(CHORDS) {
                continue;
            }
            good = CHORDS;
        }
        let mut step = 1;
        while good + step <= limit && fits(good + step) {
            good += step;
            step *= 2;
        }
        while step > 0 {
            if good + step <= limit && fits(good + step) {
                good += step;
            }
            step /= 2;
        }
        *longest = good;
        known = good;
    }
    out
}

/// Corners `first ..= first + chords`, round the end of a closed contour if need be.
pub(super) fn run(corners: &[Point2<f64>], first: usize, chords: usize) -> Vec<Point2<f64>> {
    (first..=first + chords)
        .map(|k| corners[k % corners.len()])
        .collect()
}

/// Last corner reached from `first` while the contour keeps turning the same way, no more than a
/// chord's worth at a time.
fn run_end(corners: &[Point2<f64>], closed: bool, first: usize) -> usize {
    let n = corners.len();
    let last = if closed { first + n } else { n - 1 };
    let mut sign = 0.0;
    for k in first + 1..last {
        let (a, b, c) = (corners[(k - 1) % n], corners[k % n], corners[(k + 1) % n]);
        let turn = turning(&(b - a), &(c - b));
        if turn.abs() > CHORD_ANGLE || turn * sign < 0.0 || turn == 0.0 {
            return k;
        }
        sign = turn;
    }
    last
}

/// Angle from direction `a` to `b`, radians in (−π, π].
pub(super) fn turning(a: &Vector2<f64>, b: &Vector2<f64>) -> f64 {
    a.perp(b).atan2(a.dot(b))
}

fn is_arc(points: &[Point2<f64>], tolerance: f64) -> bool {
    let Some(circle) = circle::fit(points, &[]) else {
        return false;
    };
    let chords: Vec<f64> = points.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
    // The middle of the run has to stand clear of a straight line, or any corner would do.
    let span = (points[points.len() - 1] - points[0])
        .norm()
        .min(2.0 * circle.radius);
    let rise = circle.radius - (circle.radius.powi(2) - span * span / 4.0).max(0.0).sqrt();
    circle.largest <= tolerance && rise > 3.0 * tolerance && chords_fit(&chords, circle.radius)
}

fn chords_fit(chords: &[f64], radius: f64) -> bool {
    let longest = chords.iter().copied().fold(0.0, f64::max);
    let inner = if chords.len() > CHORDS {
        &chords[1..chords.len() - 1]
    } else {
        chords
    };
    let shortest = inner.iter().copied().fold(f64::INFINITY, f64::min);
    // Five corners on one circle are no accident however the chords differ.
    let alike = chords.len() > 5 || longest <= CHORD_RATIO * shortest;
    alike && longest <= 2.0 * radius * (CHORD_ANGLE / 2.0).sin()
}

/// Turns doubtful arcs back into lines. Half an octagon is no arc: coarse chords have to be tangent
/// at both ends. Four corners lie on one circle by accident where many lines follow a curve: three
/// chords have to be equal, or tangent at both ends.
pub(super) fn drop_doubtful(
    corners: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    pieces: &mut Vec<Piece>,
) {
    let doubtful = |k: usize| {
        let piece = pieces[k];
        let chords = piece.last - piece.first;
        if !piece.arc || !(CHORDS..=5).contains(&chords) {
            return false;
        }
        let points = run(corners, piece.first, chords);
        let Some(circle) = circle::fit(&points, &[]) else {
            return true;
        };
        let lengths = points.windows(2).map(|w| (w[1] - w[0]).norm());
        let (shortest, longest) = (
            lengths.clone().fold(f64::INFINITY, f64::min),
            lengths.fold(0.0, f64::max),
        );
        let meets = |side: isize| {
            beside(pieces, k, side, closed).is_none_or(|other| {
                corner_arcs::touches(corners, &circle, &piece, other, side, tolerance)
            })
        };
        let uneven = chords == CHORDS && longest - shortest > 4.0 * tolerance;
        let coarse = longest > 2.0 * circle.radius * (COARSE_ANGLE / 2.0).sin();
        (coarse || uneven) && !(meets(-1) && meets(1))
    };
    let back: Vec<bool> = (0..pieces.len()).map(doubtful).collect();
    let old = std::mem::take(pieces);
    for (piece, back) in old.into_iter().zip(back) {
        if back {
            pieces.extend((piece.first..piece.last).map(|i| Piece {
                first: i,
                last: i + 1,
                arc: false,
            }));
        } else {
            pieces.push(piece);
        }
    }
}

/// Joins neighbouring lines that run on straight.
pub(super) fn join_straight(
    corners: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    pieces: &mut Vec<Piece>,
) {
    let n = corners.len();
    let straight = |a: &Piece, b: &Piece| {
        let (p, q, r) = (
            corners[a.first % n],
            corners[b.first % n],
            corners[b.last % n],
        );
        let chord = r - p;
        !a.arc
            && !b.arc
            && chord.dot(&(q - p)) > 0.0
            && chord.dot(&(r - q)) > 0.0
            && chord.perp(&(q - p)).abs() <= tolerance * chord.norm()
    };
    let mut out: Vec<Piece> = Vec::with_capacity(pieces.len());
    for piece in pieces.drain(..) {
        match out.last_mut() {
            Some(last) if straight(last, &piece) => {
                last.last = last.last.max(last.first) + (piece.last - piece.first)
            }
            _ => out.push(piece),
        }
    }
    if closed && out.len() > 2 && straight(&out[out.len() - 1], &out[0]) {
        let first = out.remove(0);
        if let Some(last) = out.last_mut() {
            last.last += first.last - first.first;
        }
    }
    *pieces = out;
}

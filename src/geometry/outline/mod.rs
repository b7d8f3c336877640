//! A polygon whose corners lie on a drawn outline, turned back into the lines and arcs drawn.
//!
//! Corners are data, chords are not: a straight edge of the polygon is either a drawn line or one
//! chord of an arc. Four or more corners on one circle, evenly turned, make an arc; two chords do
//! when the circle through their three corners touches both neighbours; one chord never does.

mod arcs;
mod circle;
mod corner_arcs;
mod join;
mod measure;
mod meet;
mod piece_fit;
mod simplify;
mod window;

use nalgebra::Point2;

pub use measure::{Moments, bounds, contains, distance, length, moments, polyline, support};
pub use window::{Window, window};

/// One drawn segment of an outline, in the unit of the points.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlineSegment {
    /// Where it starts.
    pub start: Point2<f64>,
    /// Where it ends; the next segment starts at the very same point.
    pub end: Point2<f64>,
    /// The arc, or `None` for a straight line.
    pub arc: Option<Arc>,
    /// Index of the given point at which it starts.
    pub first: usize,
    /// Index of the given point at which it ends.
    pub last: usize,
    /// Largest distance from the segment of a given point it stands for.
    pub residual: f64,
    /// 95 % half-width of its length.
    pub length_plus_minus: f64,
}

/// The circle under an arc segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Centre.
    pub centre: Point2<f64>,
    /// Radius.
    pub radius: f64,
    /// Angle turned from start to end, radians, positive anticlockwise; ±2π for a full circle.
    pub angle: f64,
    /// 95 % half-width of the radius.
    pub radius_plus_minus: f64,
    /// 95 % half-width of the angle, radians.
    pub angle_plus_minus: f64,
    /// True when it meets the segment before it without a corner.
    pub tangent_start: bool,
    /// True when it meets the segment after it without a corner.
    pub tangent_end: bool,
}

impl OutlineSegment {
    /// Length along the segment.
    pub fn length(&self) -> f64 {
        match &self.arc {
            Some(arc) => arc.radius * arc.angle.abs(),
            None => (self.end - self.start).norm(),
        }
    }

    /// True for a full circle.
    pub fn is_circle(&self) -> bool {
        self.arc
            .is_some_and(|arc| arc.angle.abs() > std::f64::consts::TAU - 1e-9)
    }
}

/// Lines and arcs through the corners of a polygon.
///
/// `tolerance` is how far a corner may lie from the outline it was taken from: the rounding of its
/// coordinates (some multiples of a scan's noise for a scan). Corners on a straight line between
/// their neighbours are taken as such. The segments come in the order of the points, join end to
/// start, and start at a joint near the first point; a contour of eight or more corners on one
/// circle is one arc of ±2π. Empty for fewer than two different points (three when closed).
///
/// Half-widths follow from the scatter of the corners about the segments, never taken below a
/// quarter of `tolerance` (JCGM 100:2008, 5.1.2).
pub fn lines_and_arcs(points: &[Point2<f64>], closed: bool, tolerance: f64) -> Vec<OutlineSegment> {
    if !tolerance.is_finite()
        || points
            .iter()
            .any(|p| !p.coords.iter().all(|x| x.is_finite()))
    {
        return Vec::new();
    }
    let tolerance = tolerance.max(f64::MIN_POSITIVE);
    let kept = simplify::corners(points, closed, tolerance);
    if kept.len() < if closed { 3 } else { 2 } {
        return Vec::new();
    }
    let corners: Vec<Point2<f64>> = kept.iter().map(|&i| points[i]).collect();
    if closed && let Some(circle) = arcs::whole_circle(&corners, tolerance) {
        return vec![join::full_circle(points, &kept, &circle, tolerance)];
    }
    let mut pieces = arcs::split(&corners, closed, tolerance);
    corner_arcs::merge(&corners, closed, tolerance, &mut pieces);
    arcs::drop_doubtful(&corners, closed, tolerance, &mut pieces);
    arcs::join_straight(&corners, closed, tolerance, &mut pieces);
    join::segments(points, &kept, closed, tolerance, &pieces)
}

/// The closed contour with every corner kept and every side straight; otherwise as
/// [`lines_and_arcs`].
pub fn straight_lines(points: &[Point2<f64>], tolerance: f64) -> Vec<OutlineSegment> {
    let kept = simplify::corners(points, true, tolerance);
    if kept.len() < 3 {
        return Vec::new();
    }
    let pieces: Vec<Piece> = (0..kept.len())
        .map(|i| Piece {
            first: i,
            last: i + 1,
            arc: false,
        })
        .collect();
    join::segments(points, &kept, true, tolerance, &pieces)
}

/// A run of corners that one line or arc stands for; `last` may run past the end of a closed
/// contour (take it modulo the number of corners).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Piece {
    first: usize,
    last: usize,
    arc: bool,
}

/// The piece before (`-1`) or after (`1`) piece `k`, if there is one.
fn beside(pieces: &[Piece], k: usize, step: isize, closed: bool) -> Option<&Piece> {
    let n = pieces.len() as isize;
    let j = k as isize + step;
    if (0..n).contains(&j) {
        pieces.get(j as usize)
    } else if closed && n > 1 {
        pieces.get(j.rem_euclid(n) as usize)
    } else {
        None
    }
}

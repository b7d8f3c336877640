//! Length, area, centroid and extents of contours of lines and arcs, without facets.

use nalgebra::{Point2, Vector2};

use super::OutlineSegment;

/// Signed area (positive anticlockwise) and centroid of the inside of a closed contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// Signed area.
    pub area: f64,
    /// Centroid of the area.
    pub centroid: Point2<f64>,
}

/// Length along all segments.
pub fn length(contour: &[OutlineSegment]) -> f64 {
    contour.iter().map(OutlineSegment::length).sum()
}

/// Area and centroid: Green's theorem over the chords, plus the circle segment beyond each chord.
pub fn moments(contour: &[OutlineSegment]) -> Moments {
    let origin = contour.first().map_or(Point2::origin(), |s| s.start);
    let (mut area, mut first) = (0.0, Vector2::zeros());
    for s in contour {
        let (p, q) = (s.start - origin, s.end - origin);
        let cross = p.perp(&q);
        area += cross / 2.0;
        first += (p + q) * cross / 6.0;
        if let Some(arc) = &s.arc {
            let (half, r) = (arc.angle / 2.0, arc.radius);
            let part = r * r * (half - half.sin() * half.cos());
            // Centroid of a circle segment: 2r sin³(a)/(3(a − sin a cos a)) from the centre.
            let towards = middle_direction(s);
            let from_centre =
                towards * (2.0 / 3.0 * r * r * r * half.sin().abs().powi(3)) * half.signum();
            area += part;
            first += (arc.centre - origin) * part + from_centre;
        }
    }
    let centroid = if area == 0.0 {
        origin
    } else {
        origin + first / area
    };
    Moments { area, centroid }
}

/// Unit direction from the centre of an arc to its middle.
fn middle_direction(s: &OutlineSegment) -> Vector2<f64> {
    let Some(arc) = &s.arc else {
        return Vector2::zeros();
    };
    let u = (s.start - arc.centre) / arc.radius;
    nalgebra::Rotation2::new(arc.angle / 2.0) * u
}

/// Farthest reach of the contour along unit direction `u`.
pub fn support(contour: &[OutlineSegment], u: &Vector2<f64>) -> f64 {
    let mut best = f64::NEG_INFINITY;
    for s in contour {
        best = best.max(s.start.coords.dot(u)).max(s.end.coords.dot(u));
        if let Some(arc) = &s.arc
            && within(s, u)
        {
            best = best.max(arc.centre.coords.dot(u) + arc.radius);
        }
    }
    best
}

/// True when direction `u` from the centre of the arc falls inside its angle.
fn within(s: &OutlineSegment, u: &Vector2<f64>) -> bool {
    let Some(arc) = &s.arc else { return false };
    if s.is_circle() {
        return true;
    }
    let half = arc.angle.abs() / 2.0;
    let m = middle_direction(s);
    m.perp(u).atan2(m.dot(u)).abs() <= half
}

/// Lower-left and upper-right corners of the upright box around the contour.
pub fn bounds(contour: &[OutlineSegment]) -> (Point2<f64>, Point2<f64>) {
    let reach = |x: f64, y: f64| support(contour, &Vector2::new(x, y));
    (
        Point2::new(-reach(-1.0, 0.0), -reach(0.0, -1.0)),
        Point2::new(reach(1.0, 0.0), reach(0.0, 1.0)),
    )
}

/// Distance from `p` to the nearest point of the contour.
pub fn distance(contour: &[OutlineSegment], p: &Point2<f64>) -> f64 {
    let to_ends = |s: &OutlineSegment| (p - s.start).norm().min((p - s.end).norm());
    contour
        .iter()
        .map(|s| match &s.arc {
            Some(arc) => match (p - arc.centre).try_normalize(0.0) {
                Some(u) if within(s, &u) => ((p - arc.centre).norm() - arc.radius).abs(),
                _ => to_ends(s),
            },
            None => {
                let d = s.end - s.start;
                let along = (p - s.start).dot(&d) / d.norm_squared();
                if along > 0.0 && along < 1.0 {
                    (p - (s.start + d * along)).norm()
                } else {
                    to_ends(s)
                }
            }
        })
        .fold(f64::INFINITY, f64::min)
}

/// True when `p` lies inside the closed contour (by the angle its segments turn about `p`).
pub fn contains(contour: &[OutlineSegment], p: &Point2<f64>) -> bool {
    let mut turned = 0.0;
    for s in contour {
        let points = std::iter::once(s.start).chain(steps(s, 16));
        let mut last: Option<Vector2<f64>> = None;
        for q in points {
            let d = q - p;
            if let Some(before) = last {
                turned += before.perp(&d).atan2(before.dot(&d));
            }
            last = Some(d);
        }
    }
    // A point between an arc and its steps is decided by the circle itself.
    let mut inside = turned.abs() > std::f64::consts::PI;
    for s in contour {
        if let Some(arc) = &s.arc {
            let d = p - arc.centre;
            if d.norm() < arc.radius
                && d.try_normalize(0.0).is_some_and(|u| within(s, &u))
                && beyond_steps(s, p)
            {
                inside = arc.angle > 0.0;
            }
        }
    }
    inside
}

/// Points along a segment after its start, its end among them, `per_turn` (at least 4) to the turn.
fn steps(s: &OutlineSegment, per_turn: usize) -> Vec<Point2<f64>> {
    let Some(arc) = &s.arc else {
        return vec![s.end];
    };
    let n = ((arc.angle.abs() / std::f64::consts::TAU * per_turn as f64).ceil() as usize).max(1);
    let u = s.start - arc.centre;
    (1..=n)
        .map(|k| {
            if k == n {
                s.end
            } else {
                arc.centre + nalgebra::Rotation2::new(arc.angle * k as f64 / n as f64) * u
            }
        })
        .collect()
}

/// True when `p` lies between the arc and the chords [`contains`] steps along.
fn beyond_steps(s: &OutlineSegment, p: &Point2<f64>) -> bool {
    let Some(arc) = &s.arc else { return false };
    let mut from = s.start;
    for to in steps(s, 16) {
        let side = (to - from).perp(&(p - from)) * arc.angle.signum();
        let (a, b) = (
            (from - arc.centre).perp(&(p - arc.centre)),
            (p - arc.centre).perp(&(to - arc.centre)),
        );
        if side < 0.0 && a * arc.angle >= 0.0 && b * arc.angle >= 0.0 {
            return true;
        }
        from = to;
    }
    false
}

/// The contour as points no farther than `chord` from it, each segment's end once (the start of the
/// first segment is the end of the last when it is closed).
pub fn polyline(contour: &[OutlineSegment], chord: f64) -> Vec<Point2<f64>> {
    let mut out = Vec::new();
    for s in contour {
        let per_turn = s.arc.map_or(1.0, |arc| {
            std::f64::consts::PI / (1.0 - (chord / arc.radius).min(0.5)).acos()
        });
        out.extend(steps(s, (per_turn.ceil() as usize).clamp(8, 100_000)));
    }
    out
}

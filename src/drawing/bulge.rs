//! Arcs between two corners, told by their bulge: the tangent of a quarter of the angle turned.

use std::f64::consts::{PI, TAU};

use nalgebra::Vector2;

use super::scene::{Corner, Extent, Place, Shape};

/// The circle an arc runs on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArcOf {
    /// Centre.
    pub centre: Place,
    /// Radius, mm.
    pub radius: f64,
    /// Direction of the start from the centre, radians.
    pub start: f64,
    /// Angle turned, radians, positive anticlockwise.
    pub sweep: f64,
}

/// The arc from `from` to `to`; `None` for a straight line.
pub fn arc(from: Place, to: Place, bulge: f64) -> Option<ArcOf> {
    let chord = to - from;
    let length = chord.norm();
    if bulge == 0.0 || length == 0.0 || !bulge.is_finite() {
        return None;
    }
    let sweep = 4.0 * bulge.atan();
    // Centre from the middle of the chord, to the left: (1 − b²)/(4b) chords.
    let left = Vector2::new(-chord.y, chord.x);
    let centre = from + chord / 2.0 + left * ((1.0 - bulge * bulge) / (4.0 * bulge));
    let radius = length * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
    let out = from - centre;
    Some(ArcOf {
        centre,
        radius,
        start: out.y.atan2(out.x),
        sweep,
    })
}

/// Corners that stand for an arc from `from` about `centre` turning by `sweep` radians, without its
/// end. An arc of much more than half a turn is told in equal parts: near a full turn the bulge
/// grows without limit and the digits of a file no longer hold the centre.
pub fn corners_of(from: Place, to: Place, centre: Place, sweep: f64) -> Vec<Corner> {
    let parts = (sweep.abs() / (1.2 * PI)).ceil().max(1.0) as usize;
    let bulge = (sweep / parts as f64 / 4.0).tan();
    let out = from - centre;
    // The radius is taken from both ends: they may differ in the last digits.
    let radius = (out.norm() + (to - centre).norm()) / 2.0;
    let start = out.y.atan2(out.x);
    (0..parts)
        .map(|k| {
            let turn = start + sweep * k as f64 / parts as f64;
            let at = if k == 0 {
                from
            } else {
                centre + Vector2::new(turn.cos(), turn.sin()) * radius
            };
            Corner { at, bulge }
        })
        .collect()
}

/// Each piece of a path: start, end, bulge.
pub fn pieces(corners: &[Corner], closed: bool) -> impl Iterator<Item = (Place, Place, f64)> + '_ {
    let n = corners.len();
    let count = if closed { n } else { n.saturating_sub(1) };
    (0..count).filter_map(move |k| {
        let (a, b) = (corners.get(k)?, corners.get((k + 1) % n)?);
        Some((a.at, b.at, a.bulge))
    })
}

/// Length of a path, mm.
pub fn length(corners: &[Corner], closed: bool) -> f64 {
    pieces(corners, closed)
        .map(|(a, b, bulge)| arc(a, b, bulge).map_or((b - a).norm(), |o| o.radius * o.sweep.abs()))
        .sum()
}

/// Signed area inside a closed path, mm², positive anticlockwise.
pub fn area(corners: &[Corner]) -> f64 {
    let chords: f64 = pieces(corners, true)
        .map(|(a, b, _)| a.coords.perp(&b.coords) / 2.0)
        .sum();
    let caps: f64 = pieces(corners, true)
        .filter_map(|(a, b, bulge)| arc(a, b, bulge))
        .map(|o| o.radius * o.radius * (o.sweep - o.sweep.sin()) / 2.0)
        .sum();
    chords + caps
}

/// The box around a shape's lines; text counts with its measured box.
pub fn extent(shape: &Shape) -> Extent {
    let mut points: Vec<Place> = Vec::new();
    match shape {
        Shape::Line { from, to } => points.extend([*from, *to]),
        Shape::Circle { centre, radius } => {
            let r = Vector2::new(*radius, *radius);
            points.extend([centre - r, centre + r]);
        }
        Shape::Arc {
            centre,
            radius,
            start,
            sweep,
        } => arc_reach(
            &ArcOf {
                centre: *centre,
                radius: *radius,
                start: *start,
                sweep: *sweep,
            },
            &mut points,
        ),
        Shape::Path { corners, closed } => {
            points.extend(corners.iter().map(|c| c.at));
            for (a, b, bulge) in pieces(corners, *closed) {
                if let Some(o) = arc(a, b, bulge) {
                    arc_reach(&o, &mut points);
                }
            }
        }
        Shape::Text(text) => points.extend(text.outline()),
    }
    around(points)
}

/// The box around points; an empty one, turned inside out, for none.
pub fn around(points: impl IntoIterator<Item = Place>) -> Extent {
    let empty = (
        Place::new(f64::INFINITY, f64::INFINITY),
        Place::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
    );
    points
        .into_iter()
        .fold(empty, |(low, high), p| (low.inf(&p), high.sup(&p)))
}

/// Ends of an arc and those of its quarter points that lie on it.
fn arc_reach(o: &ArcOf, points: &mut Vec<Place>) {
    let at = |turn: f64| o.centre + Vector2::new(turn.cos(), turn.sin()) * o.radius;
    points.extend([at(o.start), at(o.start + o.sweep)]);
    for quarter in 0..4 {
        let turn = f64::from(quarter) * PI / 2.0;
        let ahead = if o.sweep >= 0.0 {
            turn - o.start
        } else {
            o.start - turn
        };
        if ahead.rem_euclid(TAU) <= o.sweep.abs() {
            points.push(at(turn));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    #[test]
    fn a_circle_in_parts_keeps_its_length_and_area() {
        let (centre, from) = (Place::new(3.0, 4.0), Place::new(13.0, 4.0));
        for sweep in [TAU, -TAU] {
            let corners = corners_of(from, from, centre, sweep);
            assert_eq!(corners.len(), 2);
            assert!(near(length(&corners, true), TAU * 10.0));
            assert!(near(area(&corners), sweep.signum() * PI * 100.0));
            let (low, high) = extent(&Shape::Path {
                corners,
                closed: true,
            });
            assert!(near(low.x, -7.0) && near(high.y, 14.0));
        }
    }

    #[test]
    fn half_turns_are_one_piece() {
        let corners = corners_of(
            Place::new(1.0, 0.0),
            Place::new(-1.0, 0.0),
            Place::origin(),
            PI,
        );
        assert_eq!(corners.len(), 1);
        assert!(near(corners[0].bulge, 1.0));
    }
}

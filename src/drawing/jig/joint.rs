//! Joints between the pieces of a jig: a narrow slot across both rails, with a dovetail in each, so
//! that pieces key into one another.

use nalgebra::Vector2;

use super::way::{Way, left_of};
use crate::drawing::scene::{Corner, Place};

/// Air between two pieces at a joint, mm (common practice, no source).
pub const AIR: f64 = 0.2;

/// The slot at a station, a closed contour; `pocket` is how far the pocket goes beyond the two sides
/// of the piece, `width` that of the rails.
pub fn slot(way: &Way, station: f64, pocket: f64, width: f64) -> Vec<Corner> {
    let (here, heading) = way.at(station);
    let (left, ahead) = (left_of(heading), Vector2::new(heading.cos(), heading.sin()));
    let at = |across: f64, along: f64| here + left * across + ahead * along;
    let (low, high) = (way.sides.0 - pocket, way.sides.1 + pocket);
    let mut path = vec![at(low - width - 1.0, 0.0)];
    for middle in [low - width / 2.0, high + width / 2.0] {
        let (neck, head, deep) = (width * 0.13, width * 0.2, width * 0.32);
        path.extend([
            at(middle - neck, 0.0),
            at(middle - head, deep),
            at(middle + head, deep),
            at(middle + neck, 0.0),
        ]);
    }
    path.push(at(high + width + 1.0, 0.0));
    thickened(&path, AIR / 2.0)
}

/// A closed contour `by` to both sides of an open line, its corners mitred.
fn thickened(path: &[Place], by: f64) -> Vec<Corner> {
    let side = |sign: f64| {
        (0..path.len()).filter_map(move |k| {
            let before = (k > 0).then(|| path[k] - path[k - 1]);
            let after = (k + 1 < path.len()).then(|| path[k + 1] - path[k]);
            let normal = |v: Vector2<f64>| Vector2::new(-v.y, v.x).normalize() * sign;
            let out = match (before, after) {
                (Some(a), Some(b)) => {
                    let (m, n) = (normal(a), normal(b));
                    (m + n) / (1.0 + m.dot(&n))
                }
                (Some(v), None) | (None, Some(v)) => normal(v),
                (None, None) => return None,
            };
            Some(path[k] + out * by)
        })
    };
    let mut back: Vec<Place> = side(1.0).collect();
    back.reverse();
    side(-1.0)
        .chain(back)
        .map(|at| Corner { at, bulge: 0.0 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::bulge;

    #[test]
    fn a_line_with_a_corner_keeps_its_width() {
        let path = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)].map(|(x, y)| Place::new(x, y));
        let area = bulge::area(&thickened(&path, 0.5));
        assert!((area - 20.0).abs() < 1e-9, "{area}");
    }
}

//! A closed contour moved in or out by a constant distance.

use cavalier_contours::polyline::{PlineSource, PlineSourceMut, PlineVertex, Polyline};

use super::bulge;
use super::scene::Corner;

/// The contour `by` mm inside an anticlockwise one (outside it when negative), sharp corners kept
/// inside and rounded outside. `None` where nothing or more than one piece is left.
pub fn inset(corners: &[Corner], by: f64) -> Option<Vec<Corner>> {
    let finite = |c: &Corner| c.at.coords.iter().all(|v| v.is_finite()) && c.bulge.is_finite();
    if by == 0.0 {
        return Some(corners.to_vec());
    }
    if !by.is_finite() || corners.len() < 2 || !corners.iter().all(finite) {
        return None;
    }
    let mut line = Polyline::new_closed();
    for (from, to, turn) in bulge::pieces(corners, true) {
        // The library takes arcs of at most half a turn.
        match bulge::arc(from, to, turn) {
            Some(arc) if turn.abs() > 1.0 => {
                let middle = arc.start + arc.sweep / 2.0;
                let at =
                    arc.centre + nalgebra::Vector2::new(middle.cos(), middle.sin()) * arc.radius;
                let half = (arc.sweep / 8.0).tan();
                line.add_vertex(PlineVertex::new(from.x, from.y, half));
                line.add_vertex(PlineVertex::new(at.x, at.y, half));
            }
            _ => line.add_vertex(PlineVertex::new(from.x, from.y, turn)),
        }
    }
    let found: Vec<Polyline<f64>> = line.parallel_offset(by);
    let [only] = found.as_slice() else {
        return None;
    };
    let corners = only.iter_vertexes().map(|v| Corner {
        at: nalgebra::Point2::new(v.x, v.y),
        bulge: v.bulge,
    });
    Some(corners.collect())
}

#[cfg(test)]
mod tests {
    use super::super::scene::Place;
    use super::*;

    #[test]
    fn a_square_keeps_its_corners_inside_and_rounds_them_outside() {
        let square: Vec<Corner> = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
            .map(|(x, y)| Corner {
                at: Place::new(x, y),
                bulge: 0.0,
            })
            .to_vec();
        let inside = inset(&square, 1.0).expect("a smaller square");
        assert!((bulge::area(&inside) - 64.0).abs() < 1e-9);
        let outside = inset(&square, -1.0).expect("a larger one");
        let want = 100.0 + 40.0 + std::f64::consts::PI;
        assert!((bulge::area(&outside) - want).abs() < 1e-9);
        assert!(inset(&square, 6.0).is_none());
    }
}

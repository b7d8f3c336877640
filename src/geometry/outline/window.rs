//! How large a closed contour is over all, and whether it is a rectangle with like corners.

use std::f64::consts::PI;

use nalgebra::Vector2;

use super::{Arc, OutlineSegment, moments};
use crate::geometry::min_rectangle::{Rectangle, min_rectangle};

/// Size of a contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// The smallest rectangle around it.
    pub rectangle: Rectangle,
    /// Radius of its corners and the 95 % half-width of that, 0 where they are sharp; `None` where it
    /// is no rectangle with four like corners.
    pub corner: Option<(f64, f64)>,
    /// 95 % half-width of a side of the rectangle by the scatter of its points, to be added to that
    /// of their places.
    pub plus_minus: f64,
}

/// Size of a closed contour; `tolerance` is how far its points may lie from what was drawn. `None` for
/// one without an inside.
pub fn window(contour: &[OutlineSegment], tolerance: f64) -> Option<Window> {
    let rectangle = min_rectangle(contour, tolerance)?;
    let residual = contour.iter().map(|s| s.residual).fold(0.0, f64::max);
    Some(Window {
        rectangle,
        corner: corner(contour, &rectangle, tolerance),
        plus_minus: residual,
    })
}

/// The corner radius of a rectangle; see [`Window::corner`].
fn corner(contour: &[OutlineSegment], around: &Rectangle, tolerance: f64) -> Option<(f64, f64)> {
    let lines = contour.iter().filter(|s| s.arc.is_none());
    if lines.clone().count() != 4 || !lines.clone().all(|s| lies_square(s, around, tolerance)) {
        return None;
    }
    let arcs: Vec<&Arc> = contour.iter().filter_map(|s| s.arc.as_ref()).collect();
    let (sum, worst) = arcs.iter().fold((0.0f64, 0.0f64), |(sum, worst), a| {
        (sum + a.radius, worst.max(a.radius_plus_minus))
    });
    let sense = moments(contour).area.signum();
    let (radius, doubt) = match arcs.len() {
        0 => (0.0, tolerance),
        4 => (sum / 4.0, worst.max(tolerance)),
        _ => return None,
    };
    let like = arcs.iter().all(|a| {
        (a.radius - radius).abs() <= 2.0 * doubt + 4.0 * tolerance
            && (a.angle * sense - PI / 2.0).abs() * a.radius <= 8.0 * (doubt + tolerance)
    });
    // What four corners take off the rectangle leaves no room for another shape.
    let area = around.length * around.width - (4.0 - PI) * radius * radius;
    let room = (around.length + around.width) * 4.0 * (tolerance + doubt);
    (like && (area - moments(contour).area.abs()).abs() <= room).then_some((radius, doubt))
}

fn lies_square(s: &OutlineSegment, around: &Rectangle, tolerance: f64) -> bool {
    let d: Vector2<f64> = s.end - s.start;
    let off = d.dot(&around.along).abs().min(d.perp(&around.along).abs());
    off <= 8.0 * tolerance
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::outline::lines_and_arcs;
    use nalgebra::Point2;

    /// A rectangle with rounded corners, turned, each corner of so many chords.
    fn points(w: f64, h: f64, r: f64, chords: usize, turn: f64) -> Vec<Point2<f64>> {
        let middles = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)];
        let mut out = Vec::new();
        for (k, (x, y)) in middles.into_iter().enumerate() {
            for j in 0..=chords {
                let a = PI / 2.0 * (k as f64 + j as f64 / chords.max(1) as f64);
                let p = Vector2::new(
                    x * (w / 2.0 - r) + r * a.cos(),
                    y * (h / 2.0 - r) + r * a.sin(),
                );
                out.push(Point2::from(nalgebra::Rotation2::new(turn) * p));
            }
        }
        out
    }

    #[test]
    fn a_turned_window_has_its_sides_and_corners() {
        let drawn = points(60.0, 40.0, 5.0, 6, 0.3);
        let found = window(&lines_and_arcs(&drawn, true, 1e-4), 1e-4).unwrap();
        assert!((found.rectangle.length - 60.0).abs() < 1e-3);
        assert!((found.rectangle.width - 40.0).abs() < 1e-3);
        let (radius, doubt) = found.corner.unwrap();
        assert!((radius - 5.0).abs() <= doubt.max(1e-3), "{radius} {doubt}");
    }

    #[test]
    fn sharp_corners_and_other_shapes() {
        let sharp = points(60.0, 40.0, 0.0, 0, 0.0);
        let found = window(&lines_and_arcs(&sharp, true, 1e-4), 1e-4).unwrap();
        assert_eq!(found.corner.map(|c| c.0), Some(0.0));
        let house = [
            [0.0, 0.0],
            [40.0, 0.0],
            [40.0, 30.0],
            [20.0, 50.0],
            [0.0, 30.0],
        ];
        let house: Vec<Point2<f64>> = house.into_iter().map(Point2::from).collect();
        let found = window(&lines_and_arcs(&house, true, 1e-4), 1e-4).unwrap();
        assert_eq!(found.corner, None);
    }
}

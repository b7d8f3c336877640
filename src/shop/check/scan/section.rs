//! The section of a member as a line the scan is held against.

use nalgebra::{Point2, Vector2};

use crate::member::{Section, Shape};

/// One contour of a section, in the section's own axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Contour {
    /// A circle about the centreline.
    Circle(f64),
    /// A rectangle about the centreline: half sizes and corner radius.
    Rounded([f64; 2], f64),
    /// Corners in order.
    Polygon(Vec<Point2<f64>>),
}

/// Where a point stands against a contour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Beside {
    /// Distance, positive away from the middle of the contour.
    pub distance: f64,
    /// Unit normal of the contour there, away from the middle.
    pub normal: Vector2<f64>,
}

/// The contours of a section, the outer one first.
pub(super) fn contours(section: &Section) -> Vec<Contour> {
    let value = |q: Option<crate::measure::Quantity>| q.map(|q| q.value);
    let hollow = section.contours.len() > 1;
    let wall = value(section.wall);
    match section.shape {
        Shape::Round | Shape::RoundBar => {
            if let (Some(d), false) = (value(section.diameter), hollow && wall.is_none()) {
                let mut all = vec![Contour::Circle(d / 2.0)];
                all.extend(
                    wall.filter(|_| hollow)
                        .map(|t| Contour::Circle(d / 2.0 - t)),
                );
                return all;
            }
        }
        Shape::Square | Shape::Rect | Shape::SquareBar | Shape::FlatBar => {
            let outer = value(section.width).zip(value(section.height));
            if let (Some((w, h)), Some(r), false) = (
                outer,
                value(section.corner_radius),
                hollow && (wall.is_none() || section.inner_corner_radius.is_none()),
            ) {
                let half = [w / 2.0, h / 2.0];
                let mut all = vec![Contour::Rounded(half, r)];
                if let (true, Some(t)) = (hollow, wall) {
                    let inner = value(section.inner_corner_radius).unwrap_or(0.0);
                    all.push(Contour::Rounded(half.map(|a| a - t), inner));
                }
                return all;
            }
        }
        _ => {}
    }
    let polygon = |points: &Vec<[f64; 2]>| {
        Contour::Polygon(points.iter().map(|p| Point2::new(p[0], p[1])).collect())
    };
    section.contours.iter().map(polygon).collect()
}

/// Where `p` stands against the contour; among the sides of a polygon those that look along
/// `towards` are meant.
pub(super) fn beside(contour: &Contour, p: Point2<f64>, towards: Vector2<f64>) -> Beside {
    match contour {
        Contour::Circle(radius) => {
            let normal = p.coords.try_normalize(1e-12).unwrap_or(Vector2::x());
            Beside {
                distance: p.coords.norm() - radius,
                normal,
            }
        }
        Contour::Rounded(half, radius) => rounded(*half, *radius, p, towards),
        Contour::Polygon(corners) => polygon(corners, p, towards),
    }
}

fn rounded(half: [f64; 2], radius: f64, p: Point2<f64>, towards: Vector2<f64>) -> Beside {
    let sign = |v: f64| if v < 0.0 { -1.0 } else { 1.0 };
    let beyond = [
        p.x.abs() - (half[0] - radius),
        p.y.abs() - (half[1] - radius),
    ];
    if radius > 0.0 && beyond[0] > 0.0 && beyond[1] > 0.0 {
        let out = Vector2::new(beyond[0], beyond[1]);
        return Beside {
            distance: out.norm() - radius,
            normal: Vector2::new(out.x * sign(p.x), out.y * sign(p.y)) / out.norm(),
        };
    }
    // On a flat side: the one the scanned surface looks along, at a corner both are near.
    let flats = [
        (p.x.abs() - half[0], Vector2::new(sign(p.x), 0.0)),
        (p.y.abs() - half[1], Vector2::new(0.0, sign(p.y))),
    ];
    // Facets across a small corner may lean by half a right angle: nearness counts as well.
    let lean = 0.3 * half[0].min(half[1]);
    let cost = |f: &(f64, Vector2<f64>)| f.0.abs() + lean * (1.0 - f.1.dot(&towards));
    let (distance, normal) = if cost(&flats[0]) < cost(&flats[1]) {
        flats[0]
    } else {
        flats[1]
    };
    Beside { distance, normal }
}

fn polygon(corners: &[Point2<f64>], p: Point2<f64>, towards: Vector2<f64>) -> Beside {
    let area: f64 = (0..corners.len())
        .map(|k| {
            corners[k]
                .coords
                .perp(&corners[(k + 1) % corners.len()].coords)
        })
        .sum();
    let turn = if area < 0.0 { -1.0 } else { 1.0 };
    let reach = corners.iter().map(|c| c.coords.norm()).fold(0.0, f64::max);
    let mut best: Option<(f64, Beside)> = None;
    for k in 0..corners.len() {
        let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
        let Some(way) = (b - a).try_normalize(1e-12) else {
            continue;
        };
        let normal = Vector2::new(way.y, -way.x) * turn;
        let along = (p - a).dot(&way).clamp(0.0, (b - a).norm());
        let gap = (p - (a + way * along)).norm() + 0.1 * reach * (1.0 - normal.dot(&towards));
        if best.as_ref().is_none_or(|(least, _)| gap < *least) {
            let distance = normal.dot(&(p - a));
            best = Some((gap, Beside { distance, normal }));
        }
    }
    best.map_or(
        Beside {
            distance: f64::NAN,
            normal: Vector2::x(),
        },
        |(_, beside)| beside,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flats_corners_and_circles() {
        let tube = Contour::Rounded([20.0, 10.0], 5.0);
        let x = Vector2::x();
        let flat = beside(&tube, Point2::new(21.0, 3.0), x);
        assert!((flat.distance - 1.0).abs() < 1e-12 && flat.normal == x);
        let corner = beside(&tube, Point2::new(15.0 + 6.0, 5.0 + 8.0), x);
        assert!((corner.distance - 5.0).abs() < 1e-12);
        let round = beside(&Contour::Circle(7.0), Point2::new(0.0, -6.5), x);
        assert!((round.distance + 0.5).abs() < 1e-12 && round.normal.y < -0.99);
        // Near the corner of an L the direction of the scanned surface tells which leg is meant.
        let ell = [
            [0., 0.],
            [50., 0.],
            [50., 5.],
            [5., 5.],
            [5., 50.],
            [0., 50.],
        ];
        let ell = Contour::Polygon(ell.iter().map(|p| Point2::new(p[0], p[1])).collect());
        let leg = beside(&ell, Point2::new(0.4, 0.1), -Vector2::y());
        assert!((leg.distance + 0.1).abs() < 1e-12, "{leg:?}");
        let leg = beside(&ell, Point2::new(30.0, 5.2), Vector2::y());
        assert!((leg.distance - 0.2).abs() < 1e-12, "{leg:?}");
    }
}

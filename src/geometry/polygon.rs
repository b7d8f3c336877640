//! Area, centroid and inside of plain polygons.

use nalgebra::{Point2, Vector2};

/// Signed area, positive anticlockwise; relative to the first corner, so that far-off coordinates
/// cost no digits.
pub fn signed_area(polygon: &[Point2<f64>]) -> f64 {
    let Some(&o) = polygon.first() else {
        return 0.0;
    };
    pairs(polygon)
        .map(|(a, b)| (a - o).perp(&(b - o)))
        .sum::<f64>()
        / 2.0
}

/// Centroid of the area inside; the mean of the corners where that area is nothing.
pub fn centroid(polygon: &[Point2<f64>]) -> Point2<f64> {
    let Some(&o) = polygon.first() else {
        return Point2::origin();
    };
    let area = signed_area(polygon);
    if area == 0.0 {
        return Point2::from(
            polygon.iter().map(|p| p.coords).sum::<Vector2<f64>>() / polygon.len() as f64,
        );
    }
    o + pairs(polygon)
        .map(|(a, b)| ((a - o) + (b - o)) * (a - o).perp(&(b - o)))
        .sum::<Vector2<f64>>()
        / (6.0 * area)
}

/// Length round the polygon.
pub fn perimeter(polygon: &[Point2<f64>]) -> f64 {
    pairs(polygon).map(|(a, b)| (b - a).norm()).sum()
}

/// True when `p` is inside (even–odd rule; a point on an edge may fall either way).
pub fn contains(polygon: &[Point2<f64>], p: &Point2<f64>) -> bool {
    pairs(polygon).fold(false, |inside, (a, b)| {
        let crosses =
            (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x;
        inside != crosses
    })
}

fn pairs(polygon: &[Point2<f64>]) -> impl Iterator<Item = (Point2<f64>, Point2<f64>)> + '_ {
    (0..polygon.len()).map(|i| (polygon[i], polygon[(i + 1) % polygon.len()]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn l_shape() {
        let l: Vec<Point2<f64>> = [
            (0., 0.),
            (160., 0.),
            (160., 40.),
            (50., 40.),
            (50., 140.),
            (0., 140.),
        ]
        .into_iter()
        .map(|(x, y)| Point2::new(x, y))
        .collect();
        assert_eq!(signed_area(&l), 11400.0, "two rectangles");
        let c = centroid(&l);
        // Σ A x / Σ A of the rectangles 160 × 40 and 50 × 100.
        assert!(
            (c.x - (6400.0 * 80.0 + 5000.0 * 25.0) / 11400.0).abs() < 1e-9
                && (c.y - (6400.0 * 20.0 + 5000.0 * 90.0) / 11400.0).abs() < 1e-9,
            "centroid of two rectangles"
        );
        assert_eq!(perimeter(&l), 600.0, "sum of the sides");
        assert!(
            contains(&l, &Point2::new(25.0, 100.0)) && !contains(&l, &Point2::new(100.0, 100.0)),
            "inside and outside"
        );
    }
}

//! Convex hull of points in the plane.

use nalgebra::Point2;

/// Corners of the smallest convex polygon around `points`, anticlockwise, points on its sides left
/// out (monotone chain, "Another efficient algorithm for convex hulls in two dimensions",
/// Information Processing Letters 9 (1979)). Fewer than three for points on one line.
pub fn convex_hull(points: &[Point2<f64>]) -> Vec<Point2<f64>> {
    let mut sorted: Vec<Point2<f64>> = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut hull = half(sorted.iter());
    hull.pop();
    let mut upper = half(sorted.iter().rev());
    upper.pop();
    hull.append(&mut upper);
    hull
}

fn half<'a>(points: impl Iterator<Item = &'a Point2<f64>>) -> Vec<Point2<f64>> {
    let mut chain: Vec<Point2<f64>> = Vec::new();
    for p in points {
        while let [.., a, b] = chain[..]
            && (b - a).perp(&(p - a)) <= 0.0
        {
            chain.pop();
        }
        chain.push(*p);
    }
    chain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn square_with_points_inside_and_on_its_sides() {
        let points: Vec<Point2<f64>> = (0..5)
            .flat_map(|i| (0..5).map(move |j| Point2::new(f64::from(i), f64::from(j))))
            .collect();
        let hull = convex_hull(&points);
        assert_eq!(
            hull,
            [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)].map(|(x, y)| Point2::new(x, y)),
            "the four corners"
        );
    }
}

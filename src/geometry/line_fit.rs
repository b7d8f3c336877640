//! Straight line through points in the plane or in space, orthogonal least squares.

use nalgebra::{Const, OPoint, SVector};

use super::principal_axes::principal_axes;

/// A fitted line. Lengths in the unit of the points.
#[derive(Clone, Debug)]
pub struct LineFit<const D: usize> {
    /// Weighted centroid of the points; lies on the line.
    pub point: OPoint<f64, Const<D>>,
    /// Unit direction; its sign is that of the travel from the first to the last point.
    pub direction: SVector<f64, D>,
    /// Weighted sum of squared distances from the line.
    pub sum_sq: f64,
    /// Root mean square distance from the line.
    pub rms: f64,
    /// Standard deviation of one point across the line, per direction; `None` when the points
    /// leave nothing to judge it by.
    pub sigma: Option<f64>,
    /// Sum of weights.
    pub weight: f64,
    /// Weighted sum of squares along the line.
    pub spread: f64,
}

impl<const D: usize> LineFit<D> {
    /// Standard uncertainty of the direction, radians (any one sideways direction), with one
    /// point's standard deviation not taken below `floor`.
    pub fn direction_uncertainty(&self, floor: f64) -> f64 {
        self.sigma.unwrap_or(0.0).max(floor) / self.spread.sqrt()
    }

    /// Standard uncertainty of the line's place at distance `along` from its centroid.
    pub fn place_uncertainty(&self, along: f64, floor: f64) -> f64 {
        self.sigma.unwrap_or(0.0).max(floor)
            * (1.0 / self.weight + along * along / self.spread).sqrt()
    }

    /// Distance of a point from the line.
    pub fn distance(&self, p: &OPoint<f64, Const<D>>) -> f64 {
        let d = p - self.point;
        (d - self.direction * d.dot(&self.direction)).norm()
    }
}

/// Line by orthogonal least squares; `None` for fewer than two different points.
pub fn fit_line<const D: usize>(
    points: &[OPoint<f64, Const<D>>],
    weights: Option<&[f64]>,
) -> Option<LineFit<D>> {
    let axes = principal_axes(points, weights)?;
    let weight = weights.map_or(points.len() as f64, |w| w.iter().map(|v| v.max(0.0)).sum());
    let used = weights.map_or(points.len(), |w| w.iter().filter(|v| **v > 0.0).count());
    let spread = axes.sums[0];
    if used < 2 || spread <= 0.0 {
        return None;
    }
    let mut direction = axes.directions[0];
    if let [first, .., last] = points
        && direction.dot(&(last - first)) < 0.0
    {
        direction = -direction;
    }
    let sum_sq: f64 = axes.sums[1..].iter().sum();
    let freedom = (used - 2) as f64 * (D - 1) as f64;
    Some(LineFit {
        point: axes.centroid,
        direction,
        sum_sq,
        rms: (sum_sq / weight).sqrt(),
        sigma: (freedom > 0.0).then(|| (sum_sq / freedom).sqrt()),
        weight,
        spread,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Point2, Point3, Vector3};

    #[test]
    fn exact_line_far_from_the_origin() {
        let d = Vector3::new(1.0, 2.0, 2.0) / 3.0;
        let points: Vec<_> = (0..9)
            .map(|k| Point3::new(1e6, -1e6, 5e5) + d * (30.0 * k as f64))
            .collect();
        let line = fit_line(&points, None).unwrap();
        assert!((line.direction - d).norm() < 1e-11);
        assert!(line.rms < 1e-9);
        assert!(line.distance(&points[4]) < 1e-9);
    }

    #[test]
    fn uncertainty_is_that_of_a_regression_line() {
        // Alternating ±e across the line: s² = n e²/(n − 2), u(direction) = s/√Sxx.
        let points: Vec<_> = (0..10)
            .map(|k| Point2::new(k as f64 * 10.0, if (k / 2) % 2 == 0 { 0.1 } else { -0.1 }))
            .collect();
        let line = fit_line(&points, None).unwrap();
        let s = line.sigma.unwrap();
        assert!((s - (line.sum_sq / 8.0).sqrt()).abs() < 1e-12);
        assert!((line.direction_uncertainty(0.0) - s / 8250.0_f64.sqrt()).abs() < 1e-4 * s);
    }

    #[test]
    fn too_little_to_go_on() {
        assert!(fit_line(&[Point2::new(1.0, 1.0)], None).is_none());
        assert!(fit_line(&[Point2::new(1.0, 1.0); 3], None).is_none());
        let two = fit_line(&[Point2::new(0.0, 0.0), Point2::new(0.0, 2.0)], None).unwrap();
        assert!(two.sigma.is_none());
        assert!((two.direction.y - 1.0).abs() < 1e-15);
        assert!((two.place_uncertainty(1.0, 0.1) - 0.1).abs() < 1e-12);
    }
}

//! Plane through points, orthogonal least squares.

use nalgebra::{Point3, Vector3};

use super::principal_axes::principal_axes;

/// A fitted plane. Lengths in the unit of the points.
#[derive(Clone, Debug)]
pub struct PlaneFit {
    /// Weighted centroid of the points; lies on the plane.
    pub point: Point3<f64>,
    /// Unit normal; its largest component is positive.
    pub normal: Vector3<f64>,
    /// Unit directions in the plane, greatest spread of the points first.
    pub axes: [Vector3<f64>; 2],
    /// Weighted sums of squares along `axes`.
    pub spread: [f64; 2],
    /// Weighted sum of squared distances from the plane.
    pub sum_sq: f64,
    /// Root mean square distance from the plane.
    pub rms: f64,
    /// Largest distance of a point from the plane.
    pub largest: f64,
    /// Standard deviation of one point; `None` for three points.
    pub sigma: Option<f64>,
    /// Sum of weights.
    pub weight: f64,
}

impl PlaneFit {
    /// Signed distance of a point, positive on the side of the normal.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        (p - self.point).dot(&self.normal)
    }

    /// Standard uncertainty of the plane's place at its centroid, one point's standard deviation
    /// not taken below `floor`.
    pub fn place_uncertainty(&self, floor: f64) -> f64 {
        self.sigma.unwrap_or(0.0).max(floor) / self.weight.sqrt()
    }

    /// Standard uncertainties of the normal's tilt towards each of `axes`, radians.
    pub fn tilt_uncertainty(&self, floor: f64) -> [f64; 2] {
        self.spread
            .map(|s| self.sigma.unwrap_or(0.0).max(floor) / s.sqrt())
    }
}

/// Plane by orthogonal least squares; `None` for fewer than three points, or when they lie on one
/// line to within rounding of their coordinates.
pub fn fit_plane(points: &[Point3<f64>], weights: Option<&[f64]>) -> Option<PlaneFit> {
    let axes = principal_axes(points, weights)?;
    let weight = weights.map_or(points.len() as f64, |w| w.iter().map(|v| v.max(0.0)).sum());
    let used = weights.map_or(points.len(), |w| w.iter().filter(|v| **v > 0.0).count());
    let size = points.iter().map(|p| p.coords.amax()).fold(0.0, f64::max);
    let rounding = size * f64::EPSILON;
    if used < 3 || axes.sums[1] <= weight * rounding * rounding * 16.0 {
        return None;
    }
    let mut normal = axes.directions[2];
    if normal[normal.iamax()] < 0.0 {
        normal = -normal;
    }
    let sum_sq = axes.sums[2];
    let mut fit = PlaneFit {
        point: axes.centroid,
        normal,
        axes: [axes.directions[0], axes.directions[1]],
        spread: [axes.sums[0], axes.sums[1]],
        sum_sq,
        rms: (sum_sq / weight).sqrt(),
        largest: 0.0,
        sigma: (used > 3).then(|| (sum_sq / (used - 3) as f64).sqrt()),
        weight,
    };
    fit.largest = points
        .iter()
        .enumerate()
        .filter(|(i, _)| weights.is_none_or(|w| w[*i] > 0.0))
        .map(|(_, p)| fit.distance(p).abs())
        .fold(0.0, f64::max);
    Some(fit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_plane_far_from_the_origin() {
        let n = Vector3::new(2.0, -3.0, 6.0) / 7.0;
        let u = n.cross(&Vector3::x()).normalize();
        let v = n.cross(&u);
        let points: Vec<_> = (0..20)
            .map(|k| Point3::new(1e6, 1e6, -1e6) + u * (k as f64 * 7.0) + v * ((k * k % 11) as f64))
            .collect();
        let plane = fit_plane(&points, None).unwrap();
        assert!((plane.normal - n).norm() < 1e-9, "{}", plane.normal);
        assert!(plane.largest < 1e-8);
    }

    #[test]
    fn tilt_uncertainty_is_scatter_over_spread() {
        let mut points = Vec::new();
        for i in 0..5 {
            for j in 0..5 {
                let e = if (i + j) % 2 == 0 { 0.05 } else { -0.05 };
                points.push(Point3::new(i as f64 * 20.0, j as f64 * 5.0, e));
            }
        }
        let plane = fit_plane(&points, None).unwrap();
        let s = (plane.sum_sq / 22.0).sqrt();
        let [wide, narrow] = plane.tilt_uncertainty(0.0);
        assert!((wide - s / 20_000.0_f64.sqrt()).abs() < 1e-6);
        assert!((narrow - s / 1250.0_f64.sqrt()).abs() < 1e-6);
        assert!((plane.place_uncertainty(1.0) - 0.2).abs() < 1e-12);
    }

    #[test]
    fn points_on_one_line_have_no_plane() {
        let points: Vec<_> = (0..9)
            .map(|k| Point3::new(k as f64, 2.0 * k as f64, 3.0))
            .collect();
        assert!(fit_plane(&points, None).is_none());
        assert!(fit_plane(&points[..2], None).is_none());
    }

    #[test]
    fn weight_nought_is_left_out() {
        let mut points = vec![
            Point3::new(0.0, 0.0, 1.0),
            Point3::new(4.0, 0.0, 1.0),
            Point3::new(0.0, 4.0, 1.0),
            Point3::new(4.0, 4.0, 1.0),
        ];
        points.push(Point3::new(2.0, 2.0, 90.0));
        let plane = fit_plane(&points, Some(&[1.0, 1.0, 1.0, 1.0, 0.0])).unwrap();
        assert!((plane.normal.z - 1.0).abs() < 1e-12 && plane.largest < 1e-12);
    }
}

//! Algebraic circle: Taubin's fit by singular values.
//!
//! "Estimation of planar curves, surfaces, and nonplanar space curves defined by implicit
//! equations", IEEE Trans. PAMI 13 (1991); solved as in "Error analysis for circle fitting
//! algorithms", Electronic Journal of Statistics 3 (2009).

use nalgebra::{DMatrix, Point2, Vector2};

use super::principal_axes::principal_axes;

/// Taubin's algebraic circle: centre and radius. `None` for fewer than three points or a straight
/// line.
pub fn taubin(points: &[Point2<f64>], weights: Option<&[f64]>) -> Option<(Point2<f64>, f64)> {
    let a = algebraic(points, weights)?;
    let centre = a.mean - a.linear * (a.size / (2.0 * a.square));
    let radius = a.size * a.root / (2.0 * a.square.abs());
    (radius.is_finite()).then_some((centre, radius))
}

/// square·|q|² + linear·q + constant = 0 with q = (p − mean)/size.
pub(super) struct Algebraic {
    mean: Point2<f64>,
    pub(super) size: f64,
    square: f64,
    linear: Vector2<f64>,
    constant: f64,
    /// √(|linear|² − 4·square·constant), the length of the gradient on the circle.
    root: f64,
}

pub(super) fn algebraic(points: &[Point2<f64>], weights: Option<&[f64]>) -> Option<Algebraic> {
    let weight = |i: usize| weights.map_or(1.0, |w| w[i].max(0.0));
    let used = (0..points.len())
        .filter(|i| weights.is_none_or(|w| w.get(*i).is_some_and(|v| *v > 0.0)))
        .count();
    if used < 3 || weights.is_some_and(|w| w.len() != points.len()) {
        return None;
    }
    let axes = principal_axes(points, weights)?;
    let total: f64 = (0..points.len()).map(weight).sum();
    let size = ((axes.sums[0] + axes.sums[1]) / total).sqrt();
    if size <= 0.0 || !size.is_finite() {
        return None;
    }
    let mut rows = DMatrix::zeros(points.len(), 3);
    // In these coordinates the mean of |q|² is 1, so Taubin's norm 4·square² + |linear|² = 1
    // becomes the plain one on (2·square, linear).
    for (i, p) in points.iter().enumerate() {
        let q = (p - axes.centroid) / size;
        let root = weight(i).sqrt();
        rows[(i, 0)] = root * (q.norm_squared() - 1.0) / 2.0;
        rows[(i, 1)] = root * q.x;
        rows[(i, 2)] = root * q.y;
    }
    let svd = rows.qr().unpack_r().svd(false, true);
    let v = svd.v_t?.row(svd.singular_values.imin()).into_owned();
    let (square, linear) = (v[0] / 2.0, Vector2::new(v[1], v[2]));
    Some(Algebraic {
        mean: axes.centroid,
        size,
        square,
        linear,
        constant: -square,
        root: (linear.norm_squared() + 4.0 * square * square).sqrt(),
    })
}

impl Algebraic {
    /// A point of the circle near the middle of the points, the unit direction from there to the
    /// centre, and the curvature (0 for a straight line).
    pub(super) fn foot(&self, points: &[Point2<f64>]) -> Option<(Point2<f64>, Vector2<f64>, f64)> {
        let curvature = 2.0 * self.square.abs() / (self.root * self.size);
        let gradient = self.linear.norm();
        if gradient > 1e-3 * self.root {
            let toward = self.linear * (-self.square.signum() / gradient);
            let back = -2.0 * self.square.signum() * self.constant / (self.root + gradient);
            return Some((self.mean - toward * (back * self.size), toward, curvature));
        }
        // The mean is the centre: the arc has no middle, any of its points will do.
        let centre = self.mean - self.linear * (self.size / (2.0 * self.square));
        let toward = points
            .iter()
            .find_map(|p| (centre - p).try_normalize(self.size * 1e-6))?;
        Some((centre - toward / curvature, toward, curvature))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_foot_lies_on_the_circle_and_looks_at_its_centre() {
        for turn in [0.3_f64, 2.0, 6.0] {
            let points: Vec<_> = (0..20)
                .map(|k| turn * k as f64 / 19.0)
                .map(|a| Point2::new(4.0 + 9.0 * a.cos(), 5.0 + 9.0 * a.sin()))
                .collect();
            let (centre, radius) = taubin(&points, None).unwrap();
            assert!((radius - 9.0).abs() < 1e-9 && (centre - Point2::new(4.0, 5.0)).norm() < 1e-9);
            let (foot, toward, curvature) =
                algebraic(&points, None).unwrap().foot(&points).unwrap();
            assert!((foot + toward / curvature - centre).norm() < 1e-8);
            assert!(((foot - centre).norm() - 9.0).abs() < 1e-8);
        }
    }

    #[test]
    fn a_straight_line_has_no_circle_but_a_foot() {
        let points: Vec<_> = (0..5).map(|k| Point2::new(k as f64, 0.0)).collect();
        let (foot, toward, curvature) = algebraic(&points, None).unwrap().foot(&points).unwrap();
        assert!(curvature < 1e-12 && foot.y.abs() < 1e-9 && toward.x.abs() < 1e-9);
    }
}

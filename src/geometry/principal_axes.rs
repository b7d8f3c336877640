//! Centre and principal directions of a point set, by singular values of the centred coordinates.

use nalgebra::{Const, DMatrix, OPoint, SVector};

/// Weighted centroid, directions and extents of a point set.
#[derive(Clone, Debug)]
pub struct PrincipalAxes<const D: usize> {
    /// Weighted centroid.
    pub centroid: OPoint<f64, Const<D>>,
    /// Unit directions, greatest spread first.
    pub directions: [SVector<f64, D>; D],
    /// Weighted sums of squared distances from the centroid along each direction, same order.
    pub sums: [f64; D],
}

/// Principal axes; `None` without points of positive weight or when a coordinate is not finite.
///
/// The centred coordinates are factored, not their products, so a direction is right to rounding
/// of the coordinates even for a thin set far from the origin.
pub fn principal_axes<const D: usize>(
    points: &[OPoint<f64, Const<D>>],
    weights: Option<&[f64]>,
) -> Option<PrincipalAxes<D>> {
    let first = points.first()?.coords;
    let weight = |i: usize| weights.map_or(1.0, |w| w[i].max(0.0));
    if weights.is_some_and(|w| w.len() != points.len()) {
        return None;
    }
    let mut total = 0.0;
    let mut sum = SVector::<f64, D>::zeros();
    for (i, p) in points.iter().enumerate() {
        total += weight(i);
        sum += (p.coords - first) * weight(i);
    }
    let mean = first + sum / total;
    if total <= 0.0 || !mean.iter().all(|v| v.is_finite()) {
        return None;
    }
    let mut centred = DMatrix::zeros(points.len().max(D), D);
    for (i, p) in points.iter().enumerate() {
        let d = (p.coords - mean) * weight(i).sqrt();
        for k in 0..D {
            centred[(i, k)] = d[k];
        }
    }
    let r = centred.qr().unpack_r();
    // Squares of huge coordinates overflow, and the search for singular values then never ends.
    if !r.iter().all(|x| x.is_finite()) {
        return None;
    }
    let svd = r.svd(false, true);
    let v_t = svd.v_t?;
    let mut order: Vec<usize> = (0..D).collect();
    order.sort_by(|&a, &b| svd.singular_values[b].total_cmp(&svd.singular_values[a]));
    let mut axes = PrincipalAxes {
        centroid: OPoint::from(mean),
        directions: [SVector::zeros(); D],
        sums: [0.0; D],
    };
    for (to, &from) in order.iter().enumerate() {
        axes.sums[to] = svd.singular_values[from].powi(2);
        for k in 0..D {
            axes.directions[to][k] = v_t[(from, k)];
        }
    }
    Some(axes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Point2, Point3};

    #[test]
    fn what_overflows_has_no_axes() {
        let points = [-1e200, 1e200, 3e200, 5e200].map(|x| Point3::new(x, x / 2.0, 1.0));
        assert!(principal_axes::<3>(&points, None).is_none());
    }

    #[test]
    fn a_box_of_eight_corners() {
        let mut points = Vec::new();
        for x in [-3.0, 3.0] {
            for y in [-2.0, 2.0] {
                for z in [-1.0, 1.0] {
                    points.push(Point3::new(x + 1e6, y, z));
                }
            }
        }
        let axes = principal_axes(&points, None).unwrap();
        assert!((axes.centroid - Point3::new(1e6, 0.0, 0.0)).norm() < 1e-9);
        for (sum, expected) in axes.sums.iter().zip([72.0, 32.0, 8.0]) {
            assert!((sum - expected).abs() < 1e-6);
        }
        assert!((axes.directions[0].x.abs() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn two_points_in_the_plane() {
        let axes = principal_axes(&[Point2::new(0.0, 0.0), Point2::new(3.0, 4.0)], None).unwrap();
        assert!((axes.sums[0] - 12.5).abs() < 1e-12 && axes.sums[1] < 1e-20);
        assert!(principal_axes::<2>(&[], None).is_none());
        assert!(principal_axes(&[Point2::new(f64::NAN, 0.0)], None).is_none());
    }
}

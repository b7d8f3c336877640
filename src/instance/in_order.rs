//! Copies that a file writes out facet for facet in the same order.

use nalgebra::{Matrix3, Point3, Vector3};

use super::frames::Placement;
use crate::body::Body;

/// How `moved` is laid on `onto`, every vertex on the one of the same number within `rounding`, mm;
/// `None` where the facets are not the same or no motion does it.
///
/// The rotation is that of least squares between points in pairs (Kabsch, "A solution for the best
/// rotation to relate two sets of vectors", Acta Crystallographica A32, 1976).
pub fn laid(moved: &Body, onto: &Body, rounding: f64) -> Option<Placement> {
    if moved.facets != onto.facets || moved.vertices.len() != onto.vertices.len() {
        return None;
    }
    let (from, to) = (middle(&moved.vertices)?, middle(&onto.vertices)?);
    let spread: Matrix3<f64> = (moved.vertices.iter().zip(&onto.vertices))
        .map(|(p, q)| (q - to) * (p - from).transpose())
        .sum();
    let svd = spread.svd(true, true);
    let (u, v) = (svd.u?, svd.v_t?);
    let mut keep = Matrix3::identity();
    keep[(2, 2)] = (u * v).determinant().signum();
    let placement = Placement {
        linear: u * keep * v,
        from,
        to,
    };
    (moved.vertices.iter().zip(&onto.vertices))
        .all(|(p, q)| (placement.apply(p) - q).norm() <= rounding)
        .then_some(placement)
}

fn middle(vertices: &[Point3<f64>]) -> Option<Point3<f64>> {
    let first = vertices.first()?;
    let sum: Vector3<f64> = vertices.iter().map(|p| p - first).sum();
    Some(first + sum / vertices.len() as f64)
}

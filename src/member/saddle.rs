//! A cope: end vertices that lie on another tube.

use super::ends::Cylinder;
use super::path::Path;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};

/// Distances of points from a cylinder given as (axis tilt a, b; axis offset a, b; radius) in the
/// frame `base`.
fn distances(points: &[Pt3], base: &(Pt3, Vec3, Vec3, Vec3), x: &[f64; 5]) -> Vec<f64> {
    let (o, u, v, axis) = base;
    let direction = (axis + u * x[0] + v * x[1]).normalize();
    let at = o + u * x[2] + v * x[3];
    points
        .iter()
        .map(|p| {
            let d = p - at;
            (d - direction * d.dot(&direction)).norm() - x[4]
        })
        .collect()
}

/// Gauss–Newton from a starting axis; returns the cylinder and its residuals' root mean square, mm.
fn refine(points: &[Pt3], base: (Pt3, Vec3, Vec3, Vec3), radius: f64) -> Option<(Cylinder, f64)> {
    let mut x = [0.0, 0.0, 0.0, 0.0, radius];
    let mut r = distances(points, &base, &x);
    let cost = |r: &[f64]| r.iter().map(|e| e * e).sum::<f64>();
    let mut damping = 1e-3;
    let mut normal = nalgebra::SMatrix::<f64, 5, 5>::zeros();
    for _ in 0..60 {
        let step = [1e-6, 1e-6, 1e-5, 1e-5, 1e-5];
        let mut j = nalgebra::DMatrix::zeros(points.len(), 5);
        for k in 0..5 {
            let (mut up, mut down) = (x, x);
            up[k] += step[k];
            down[k] -= step[k];
            let (a, b) = (
                distances(points, &base, &up),
                distances(points, &base, &down),
            );
            for i in 0..points.len() {
                j[(i, k)] = (a[i] - b[i]) / (2.0 * step[k]);
            }
        }
        let jt = j.transpose();
        let full = &jt * &j;
        normal = nalgebra::SMatrix::from_fn(|a, b| full[(a, b)]);
        let g = &jt * nalgebra::DVector::from_column_slice(&r);
        let before = cost(&r);
        let mut gained = 0.0;
        for _ in 0..10 {
            let mut damped = normal;
            for k in 0..5 {
                damped[(k, k)] *= 1.0 + damping;
                damped[(k, k)] += 1e-14;
            }
            let by = damped
                .cholesky()?
                .solve(&-nalgebra::SVector::<f64, 5>::from_fn(|k, _| g[k]));
            let next: [f64; 5] = std::array::from_fn(|k| x[k] + by[k]);
            let rr = distances(points, &base, &next);
            let after = cost(&rr);
            if after.is_finite() && after <= before {
                gained = before - after;
                x = next;
                r = rr;
                damping = (damping * 0.1).max(1e-13);
                break;
            }
            damping *= 8.0;
        }
        if gained <= 1e-9 * before {
            break;
        }
    }
    let (o, u, v, axis) = base;
    let n = points.len() as f64;
    let rms = (cost(&r) / n).sqrt();
    let inverse = normal.try_inverse()?;
    Some((
        Cylinder {
            point: o + u * x[2] + v * x[3],
            axis: (axis + u * x[0] + v * x[1]).normalize(),
            radius: x[4].abs(),
            plus_minus: 2.0
                * rms
                * inverse[(4, 4)].max(0.0).sqrt()
                * (n / (n - 5.0).max(1.0)).sqrt(),
        },
        rms,
    ))
}

/// The cylinder through the vertices of an end, when they all lie on one.
/// `side` is −1 at the start of the path and +1 at its far end.
pub fn cylinder_through(
    points: &[Pt3],
    quantum: f64,
    path: &Path,
    side: f64,
    tolerance: f64,
) -> Option<Cylinder> {
    if points.len() < 8 {
        return None;
    }
    let mean =
        Pt3::from(points.iter().fold(Vec3::zeros(), |s, p| s + p.coords) / points.len() as f64);
    let end = path.at(if side < 0.0 { 0.0 } else { path.length() });
    let (a, b) = perpendicular_pair(&end.t);
    let size = points.iter().map(|p| (p - mean).norm()).fold(0.0, f64::max);
    let mut best: Option<(Cylinder, f64)> = None;
    for k in 0..12 {
        for lean in [-0.6, 0.0, 0.6] {
            let angle = std::f64::consts::PI * k as f64 / 12.0;
            let axis = (a * angle.cos() + b * angle.sin() + end.t * lean).normalize();
            let (u, v) = perpendicular_pair(&axis);
            for radius in [0.6 * size, 1.5 * size, 4.0 * size] {
                let centre = mean + end.t * side * radius;
                if let Some((c, rms)) = refine(points, (centre, u, v, axis), radius)
                    && c.radius < 200.0 * size
                    && best.as_ref().is_none_or(|(_, r)| rms < *r)
                {
                    best = Some((c, rms));
                }
            }
        }
    }
    let (mut cylinder, rms) = best?;
    if rms > 0.5 * tolerance {
        return None;
    }
    let d = mean - cylinder.point;
    cylinder.point += cylinder.axis * d.dot(&cylinder.axis);
    cylinder.plus_minus = cylinder.plus_minus.max(quantum);
    Some(cylinder)
}

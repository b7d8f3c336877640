//! First guesses of a curved surface from a few neighbouring flat groups.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

use super::flat::Flats;
use super::revolved::{self, Revolved};
use crate::body::Body;

/// Largest angle between neighbouring facets of one curved surface, as its cosine: eight facets to
/// the turn, and a little.
pub(super) const SMOOTH: f64 = 0.64;

/// Small regions round a flat group, the narrowest first: three strips in a row, five, a patch.
pub(super) fn regions(flats: &Flats, free: &[bool], flat: u32) -> Vec<Vec<u32>> {
    let next = |of: u32, taken: &[u32]| -> Vec<u32> {
        let mut list: Vec<(u32, f64)> = smooth(flats, of)
            .filter(|(g, _)| free[*g as usize] && !taken.contains(g))
            .collect();
        list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        list.into_iter().map(|e| e.0).collect()
    };
    let beside = next(flat, &[flat]);
    let [g, h, ..] = beside[..] else {
        return Vec::new();
    };
    let mut out = vec![vec![g, flat, h]];
    let mut five = vec![g, flat, h];
    for end in [g, h] {
        if let Some(&further) = next(end, &five).first() {
            five.push(further);
        }
    }
    if five.len() > 3 {
        out.push(five);
    }
    let patch = around(flats, free, flat, 14);
    if patch.len() > 5 {
        out.push(patch);
    }
    out
}

/// Groups across smooth edges of `of`.
fn smooth(flats: &Flats, of: u32) -> impl Iterator<Item = (u32, f64)> + '_ {
    let flat = &flats.list[of as usize];
    flat.beside
        .iter()
        .copied()
        .filter(move |(g, _)| flats.list[*g as usize].normal.dot(&flat.normal) > SMOOTH)
}

fn around(flats: &Flats, free: &[bool], flat: u32, count: usize) -> Vec<u32> {
    let area = flats.list[flat as usize].area;
    let mut out = vec![flat];
    let mut next = 0;
    while next < out.len() && out.len() < count {
        let of = out[next];
        next += 1;
        for (g, _) in smooth(flats, of) {
            let other = flats.list[g as usize].area;
            if free[g as usize]
                && !out.contains(&g)
                && other < 25.0 * area
                && area < 25.0 * other
                && out.len() < count
            {
                out.push(g);
            }
        }
    }
    out
}

/// A cylinder or else a cone through all vertices of a region, if one keeps them within `tolerance`.
pub(super) fn surface(
    body: &Body,
    flats: &Flats,
    region: &[u32],
    tolerance: f64,
) -> Option<Revolved> {
    let points = points_of(body, flats, region);
    let normals: Vec<Vector3<f64>> = region
        .iter()
        .map(|&f| flats.list[f as usize].normal)
        .collect();
    let about = |origin: Vector3<f64>| -> Vector3<f64> {
        let spread: Matrix3<f64> = normals
            .iter()
            .map(|n| (n - origin) * (n - origin).transpose())
            .sum();
        let eigen = SymmetricEigen::new(spread);
        let least = eigen.eigenvalues.imin();
        eigen.eigenvectors.column(least).into_owned()
    };
    let good = |fit: &Revolved, parameters: usize| {
        let reach = points
            .iter()
            .map(|p| (p - points[0]).cross(&fit.axis).norm())
            .fold(0.0, f64::max)
            .min(2.0 * fit.radius);
        let rise = fit.radius - (fit.radius.powi(2) - reach * reach / 4.0).max(0.0).sqrt();
        fit.largest <= tolerance && points.len() > parameters && rise > 5.0 * tolerance
    };
    let axis = about(Vector3::zeros());
    if normals.iter().all(|n| n.dot(&axis).abs() < 0.35)
        && let Some(fit) = revolved::fit(&points, &axis, None, 8)
        && good(&fit, 5)
    {
        return Some(fit);
    }
    // Normals of a cone lie on a small circle of the sphere of directions.
    let mean = normals.iter().sum::<Vector3<f64>>() / normals.len() as f64;
    let axis = about(mean);
    let lean = mean.dot(&axis).clamp(-1.0, 1.0).asin();
    if !(0.02..1.53).contains(&lean.abs()) {
        return None;
    }
    [lean, -lean]
        .into_iter()
        .filter_map(|slope| revolved::fit(&points, &axis, Some(slope), 10))
        .find(|fit| good(fit, 6))
}

/// Vertices of some flat groups, each once.
pub(super) fn points_of(body: &Body, flats: &Flats, region: &[u32]) -> Vec<Point3<f64>> {
    let mut vertices: Vec<u32> = region
        .iter()
        .flat_map(|&f| flats.list[f as usize].vertices.iter().copied())
        .collect();
    vertices.sort_unstable();
    vertices.dedup();
    vertices
        .into_iter()
        .map(|v| body.vertices[v as usize])
        .collect()
}

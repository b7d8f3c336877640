//! Flat groups: neighbouring facets whose corners lie on one plane.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

use super::facets::{Shape, across, corners, vertices_of};
use crate::body::Body;

/// A facet that is in no flat group.
pub(super) const LOOSE: u32 = u32::MAX;

/// One flat group.
pub(super) struct Flat {
    pub facets: Vec<u32>,
    pub vertices: Vec<u32>,
    pub point: Point3<f64>,
    pub normal: Vector3<f64>,
    pub area: f64,
    /// Groups across its edges with the length of the common edge, in ascending order.
    pub beside: Vec<(u32, f64)>,
}

/// All flat groups of a body.
pub(super) struct Flats {
    pub list: Vec<Flat>,
}

/// Grows flat groups from the largest facets. Facets lower than the tolerance have no direction of
/// their own and join any group their corners lie in.
pub(super) fn group(body: &Body, shape: &Shape, tolerance: f64) -> Flats {
    let n = body.facets.len();
    let mut order: Vec<u32> = (0..n as u32)
        .filter(|&f| shape.height[f as usize] > tolerance)
        .collect();
    order.sort_by(|&a, &b| {
        shape.area[b as usize]
            .total_cmp(&shape.area[a as usize])
            .then(a.cmp(&b))
    });
    let mut of_facet = vec![LOOSE; n];
    let mut list = Vec::new();
    for seed in order {
        if of_facet[seed as usize] != LOOSE {
            continue;
        }
        let id = list.len() as u32;
        let facets = grow(body, shape, tolerance, seed, id, &mut of_facet);
        let vertices = vertices_of(body, &facets);
        let seed_normal = shape.normal[seed as usize];
        let (point, normal) = plane_through(body, &vertices, &seed_normal)
            .unwrap_or((corners(body, seed)[0], seed_normal));
        let area = facets.iter().map(|&f| shape.area[f as usize]).sum();
        list.push(Flat {
            facets,
            vertices,
            point,
            normal,
            area,
            beside: Vec::new(),
        });
    }
    link(body, &of_facet, &mut list);
    Flats { list }
}

fn grow(
    body: &Body,
    shape: &Shape,
    tolerance: f64,
    seed: u32,
    id: u32,
    of_facet: &mut [u32],
) -> Vec<u32> {
    let mut normal = shape.normal[seed as usize];
    let mut point = corners(body, seed)[0];
    let mut facets = vec![seed];
    of_facet[seed as usize] = id;
    let mut refit_at = 8;
    let mut next = 0;
    while next < facets.len() {
        let f = facets[next];
        next += 1;
        for g in across(body, f) {
            let flat = of_facet[g as usize] == LOOSE
                && (shape.height[g as usize] <= tolerance
                    || shape.normal[g as usize].dot(&normal) > 0.5)
                && corners(body, g)
                    .iter()
                    .all(|p| (p - point).dot(&normal).abs() <= tolerance);
            if flat {
                of_facet[g as usize] = id;
                facets.push(g);
            }
        }
        if facets.len() >= refit_at {
            refit_at *= 2;
            if let Some((p, n)) = plane_through(body, &vertices_of(body, &facets), &normal) {
                (point, normal) = (p, n);
            }
        }
    }
    facets
}

/// Least-squares plane through vertices, its normal on the side of `towards`.
pub(super) fn plane_through(
    body: &Body,
    vertices: &[u32],
    towards: &Vector3<f64>,
) -> Option<(Point3<f64>, Vector3<f64>)> {
    let at = |v: &u32| body.vertices[*v as usize];
    let first = vertices.first().map(at)?;
    let mean = first
        + vertices.iter().map(|v| at(v) - first).sum::<Vector3<f64>>() / vertices.len() as f64;
    let spread: Matrix3<f64> = vertices
        .iter()
        .map(|v| (at(v) - mean) * (at(v) - mean).transpose())
        .sum();
    let eigen = SymmetricEigen::new(spread);
    let least = eigen.eigenvalues.imin();
    let normal: Vector3<f64> = eigen.eigenvectors.column(least).into_owned();
    (vertices.len() >= 3 && normal.iter().all(|x| x.is_finite())).then(|| {
        (
            mean,
            if normal.dot(towards) < 0.0 {
                -normal
            } else {
                normal
            },
        )
    })
}

/// Notes for each group which groups it meets, and along what length.
pub(super) fn link(body: &Body, of_facet: &[u32], list: &mut [Flat]) {
    for (id, flat) in list.iter_mut().enumerate() {
        let mut edges: Vec<(u32, f64)> = Vec::new();
        for &f in &flat.facets {
            let corner = body.facets[f as usize];
            for k in 0..3 {
                let g = body.neighbours[f as usize][k];
                if g == crate::weld::NONE
                    || of_facet[g as usize] == LOOSE
                    || of_facet[g as usize] == id as u32
                {
                    continue;
                }
                let length = (body.vertices[corner[(k + 1) % 3] as usize]
                    - body.vertices[corner[k] as usize])
                    .norm();
                edges.push((of_facet[g as usize], length));
            }
        }
        edges.sort_by_key(|e| e.0);
        for (other, length) in edges {
            match flat.beside.last_mut() {
                Some(last) if last.0 == other => last.1 += length,
                _ => flat.beside.push((other, length)),
            }
        }
    }
}

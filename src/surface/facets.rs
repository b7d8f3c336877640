//! Normals, areas and heights of facets.

use nalgebra::{Point3, Vector3};

use crate::body::Body;

/// Shape of every facet.
pub(super) struct Shape {
    /// Unit normals out of the metal; zero for a facet without area.
    pub normal: Vec<Vector3<f64>>,
    /// Areas, mm².
    pub area: Vec<f64>,
    /// Smallest height of the triangle, mm.
    pub height: Vec<f64>,
    /// Diagonal of the box around the body, mm.
    pub size: f64,
}

impl Shape {
    pub fn of(body: &Body) -> Shape {
        let n = body.facets.len();
        let mut shape = Shape {
            normal: Vec::with_capacity(n),
            area: Vec::with_capacity(n),
            height: Vec::with_capacity(n),
            size: size(body),
        };
        for f in 0..n {
            let [a, b, c] = corners(body, f as u32);
            let (u, v, w) = (b - a, c - a, c - b);
            let cross = u.cross(&v);
            let twice = cross.norm();
            let longest = u.norm().max(v.norm()).max(w.norm());
            shape
                .normal
                .push(cross.try_normalize(0.0).unwrap_or_else(Vector3::zeros));
            shape.area.push(twice / 2.0);
            shape
                .height
                .push(if longest > 0.0 { twice / longest } else { 0.0 });
        }
        shape
    }
}

fn size(body: &Body) -> f64 {
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = Vector3::repeat(f64::NEG_INFINITY);
    for v in &body.vertices {
        low = low.inf(&v.coords);
        high = high.sup(&v.coords);
    }
    if body.vertices.is_empty() {
        0.0
    } else {
        (high - low).norm()
    }
}

/// Corners of a facet.
pub(super) fn corners(body: &Body, f: u32) -> [Point3<f64>; 3] {
    body.facets[f as usize].map(|v| body.vertices[v as usize])
}

/// Vertex numbers of some facets, ascending, each once.
pub(super) fn vertices_of(body: &Body, facets: &[u32]) -> Vec<u32> {
    let mut out: Vec<u32> = facets
        .iter()
        .flat_map(|&f| body.facets[f as usize])
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// Facets across the edges of `f`.
pub(super) fn across(body: &Body, f: u32) -> impl Iterator<Item = u32> + '_ {
    body.neighbours[f as usize]
        .into_iter()
        .filter(|&g| g != crate::weld::NONE)
}

//! Shells of a mesh to bodies with a numbering of their own.

use nalgebra::{Point3, Vector3};

use super::Body;
use super::shells::Sums;
use crate::weld::{Mesh, NONE};

/// The only body of a mesh, nothing copied.
pub fn whole(mesh: Mesh, sums: &Sums, names: &[Option<String>]) -> Body {
    let all: Vec<u32> = (0..mesh.facets.len() as u32).collect();
    let part = [(&all[..], sums, false)];
    let total = total(&part);
    Body {
        index: 0,
        name: name(&mesh, &part, names),
        vertices: mesh.vertices,
        facets: mesh.facets,
        neighbours: mesh.neighbours,
        quantum: mesh.quantum,
        volume: total.volume,
        area: total.area,
        centroid: total.centroid,
        closed: total.closed,
    }
}

/// Copies shells of a mesh into bodies with their own numbering.
pub struct Copier<'a> {
    mesh: &'a Mesh,
    /// Number in the body being copied of each vertex and facet; stale unless set by it.
    vertex: Vec<u32>,
    facet: Vec<u32>,
}

impl<'a> Copier<'a> {
    /// For copies out of this mesh.
    pub fn new(mesh: &'a Mesh) -> Self {
        Copier {
            mesh,
            vertex: vec![NONE; mesh.vertices.len()],
            facet: vec![NONE; mesh.facets.len()],
        }
    }

    /// One body out of shells (facets, sums, whether to turn them over).
    pub fn copy(&mut self, parts: &[(&[u32], &Sums, bool)], names: &[Option<String>]) -> Body {
        let mesh = self.mesh;
        let n: usize = parts.iter().map(|p| p.0.len()).sum();
        let mut vertices: Vec<Point3<f64>> = Vec::with_capacity(n / 2 + 2);
        let mut source: Vec<u32> = Vec::with_capacity(n / 2 + 2);
        let mut facets = Vec::with_capacity(n);
        for &(list, _, turn) in parts {
            for &f in list {
                self.facet[f as usize] = facets.len() as u32;
                let mut own = mesh.facets[f as usize].map(|v| {
                    let at = self.vertex[v as usize];
                    // A stale number from an earlier body points at another vertex's source.
                    if source.get(at as usize) == Some(&v) {
                        return at;
                    }
                    self.vertex[v as usize] = vertices.len() as u32;
                    vertices.push(mesh.vertices[v as usize]);
                    source.push(v);
                    vertices.len() as u32 - 1
                });
                if turn {
                    own.swap(1, 2);
                }
                facets.push(own);
            }
        }
        let mut neighbours = Vec::with_capacity(n);
        for &(list, _, turn) in parts {
            for &f in list {
                let mut own = mesh.neighbours[f as usize].map(|g| {
                    if g == NONE {
                        NONE
                    } else {
                        self.facet[g as usize]
                    }
                });
                if turn {
                    own.swap(0, 2);
                }
                neighbours.push(own);
            }
        }
        vertices.shrink_to_fit();
        let total = total(parts);
        Body {
            index: 0,
            vertices,
            facets,
            neighbours,
            quantum: mesh.quantum,
            name: name(mesh, parts, names),
            volume: total.volume,
            area: total.area,
            centroid: total.centroid,
            closed: total.closed,
        }
    }
}

struct Total {
    volume: f64,
    area: f64,
    centroid: Point3<f64>,
    closed: bool,
}

/// Adds up shells.
fn total(parts: &[(&[u32], &Sums, bool)]) -> Total {
    let origin = parts.first().map_or(Point3::origin(), |p| p.1.origin);
    let (mut volume, mut area) = (0.0, 0.0);
    let (mut volume_moment, mut area_moment) = (Vector3::zeros(), Vector3::zeros());
    for (_, s, turn) in parts {
        let sign = if *turn { -1.0 } else { 1.0 };
        let shift = s.origin - origin;
        volume += sign * s.volume;
        area += s.area;
        volume_moment += (s.volume_moment + shift * s.volume) * sign;
        area_moment += s.area_moment + shift * s.area;
    }
    let closed = parts.iter().all(|p| p.1.closed);
    let centroid = if closed && volume.abs() > f64::EPSILON * area.powf(1.5) {
        origin + volume_moment / volume
    } else if area > 0.0 {
        origin + area_moment / area
    } else {
        origin
    };
    Total {
        volume,
        area,
        centroid,
        closed,
    }
}

/// The name of the group that most facets come from.
fn name(mesh: &Mesh, parts: &[(&[u32], &Sums, bool)], names: &[Option<String>]) -> Option<String> {
    if names.is_empty() {
        return None;
    }
    let mut counts = std::collections::BTreeMap::new();
    for &f in parts.iter().flat_map(|p| p.0) {
        *counts.entry(mesh.group[f as usize]).or_insert(0usize) += 1;
    }
    let (group, _) = counts
        .into_iter()
        .max_by_key(|&(g, n)| (n, std::cmp::Reverse(g)))?;
    names.get(group as usize).cloned().flatten()
}

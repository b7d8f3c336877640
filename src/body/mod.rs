//! One mesh to separate bodies, each closed shell with the inner shells that belong to it.

mod nesting;
mod order;
mod shells;

use nalgebra::{Point3, Vector3};

use crate::finding::{Code, Finding, Severity};
use crate::weld::{Mesh, NONE, check_topology};
use shells::{Shells, Sums};

/// One body: an outer shell with the inner shells (cavities) inside it, in millimetres,
/// with vertices and facets numbered of its own.
#[derive(Clone, Debug)]
pub struct Body {
    /// Number of the body in the file: by volume (largest first), then by centroid.
    pub index: u32,
    /// Vertex positions, mm.
    pub vertices: Vec<Point3<f64>>,
    /// Corner indices, counter-clockwise seen from outside the metal.
    pub facets: Vec<[u32; 3]>,
    /// Facet across edge (corner k, corner k+1), or [`crate::weld::NONE`].
    pub neighbours: Vec<[u32; 3]>,
    /// 95 % half-width of a coordinate's rounding in the file, mm.
    pub quantum: f64,
    /// Name from the file.
    pub name: Option<String>,
    /// Volume of the facets, mm³ (divergence sum; only meaningful when `closed`).
    pub volume: f64,
    /// Area of the facets, mm².
    pub area: f64,
    /// Centroid of the volume (of the area when open), mm.
    pub centroid: Point3<f64>,
    /// True when every edge has exactly one neighbour.
    pub closed: bool,
}

impl Body {
    /// Checks what other stages rely on; the error names the first thing found wrong.
    pub fn check(&self) -> Result<(), String> {
        check_topology(self.vertices.len(), &self.facets, &self.neighbours)?;
        if self.facets.is_empty() {
            return Err("no facets".into());
        }
        let closed = !self.neighbours.iter().flatten().any(|&n| n == NONE);
        if closed != self.closed {
            return Err(format!("closed is {}, the edges say {closed}", self.closed));
        }
        if self.closed && self.volume < 0.0 {
            return Err(format!("volume {}", self.volume));
        }
        let finite = self.volume.is_finite()
            && self.area.is_finite()
            && self.centroid.iter().all(|x| x.is_finite());
        let mut used = vec![false; self.vertices.len()];
        for &v in self.facets.iter().flatten() {
            used[v as usize] = true;
        }
        match (finite, used.iter().all(|u| *u)) {
            (true, true) => Ok(()),
            (false, _) => Err("a sum is not finite".into()),
            (_, false) => Err("a vertex is not used".into()),
        }
    }
}

/// Takes a mesh apart into bodies, largest volume first.
///
/// Shells are what is connected across edges; a cavity goes with the shell around it; shells that
/// touch, overlap or stand in one another stay separate. A body given inside out is turned.
/// Takes the mesh by value: a mesh of one body is moved, not copied. `names` are those of the mesh's groups; a body has a name when most of its area is of one
/// group that has one.
pub fn separate(mesh: Mesh, names: &[Option<String>]) -> (Vec<Body>, Vec<Finding>) {
    let shells = Shells::find(&mesh);
    let sums: Vec<Sums> = (0..shells.len())
        .map(|i| Sums::over(&mesh, shells.of(i)))
        .collect();
    let places = nesting::places(&mesh, &shells, &sums);
    let mut members: Vec<(u32, u32)> = places
        .iter()
        .zip(0u32..)
        .map(|(p, i)| (p.owner, i))
        .collect();
    members.sort_unstable();

    let turned = places
        .iter()
        .enumerate()
        .filter(|(i, p)| p.turn && p.owner == *i as u32)
        .count();
    if shells.len() == 1 && turned == 0 {
        return (vec![whole(mesh, &sums[0], names)], Vec::new());
    }
    let mut copier = Copier::new(&mesh);
    let mut bodies: Vec<Body> = members
        .chunk_by(|p, q| p.0 == q.0)
        .map(|own| {
            let parts: Vec<_> = own
                .iter()
                .map(|&(_, i)| {
                    (
                        shells.of(i as usize),
                        &sums[i as usize],
                        places[i as usize].turn,
                    )
                })
                .collect();
            copier.copy(&parts, names)
        })
        .collect();
    order::number(&mut bodies);

    let mut findings = Vec::new();
    if turned > 0 {
        let what = if turned == 1 {
            "1 body was".into()
        } else {
            format!("{turned} bodies were")
        };
        findings.push(Finding::new(
            Code::FlippedFacets,
            Severity::Note,
            format!("{what} given inside out and turned right side out."),
            "Nothing to do.",
        ));
    }
    (bodies, findings)
}

/// The only body of a mesh, nothing copied.
fn whole(mesh: Mesh, sums: &Sums, names: &[Option<String>]) -> Body {
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
struct Copier<'a> {
    mesh: &'a Mesh,
    /// Number in the body being copied of each vertex and facet; stale unless set by it.
    vertex: Vec<u32>,
    facet: Vec<u32>,
}

impl<'a> Copier<'a> {
    fn new(mesh: &'a Mesh) -> Self {
        Copier {
            mesh,
            vertex: vec![NONE; mesh.vertices.len()],
            facet: vec![NONE; mesh.facets.len()],
        }
    }

    /// One body out of shells (facets, sums, whether to turn them over).
    fn copy(&mut self, parts: &[(&[u32], &Sums, bool)], names: &[Option<String>]) -> Body {
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

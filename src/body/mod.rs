//! One mesh to separate bodies, each closed shell with the inner shells that belong to it.

mod copy;
mod nesting;
mod order;
mod shells;
pub mod split;

use nalgebra::Point3;

use crate::finding::{Code, Finding, Severity};
use crate::weld::{Mesh, NONE, check_topology};
use copy::{Copier, whole};
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

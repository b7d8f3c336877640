//! Edges of the metal: borders of patches where the surface turns a corner.

use std::collections::BTreeSet;

use super::Edge;
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::surface;
use crate::weld::NONE;

/// Two patches that meet at less than this, degrees, run on into each other for the eye: a coarse
/// model of a round has facets turned by 30°.
const CORNER: f64 = 32.0;

/// Several bodies as one mesh, with the normals of its facets and where it is smooth.
pub(super) struct Solid {
    pub vertices: Vec<Pt3>,
    pub facets: Vec<[u32; 3]>,
    /// Unit normals; zero for facets without area.
    pub normals: Vec<Vec3>,
    /// True for the edge (corner k, corner k+1) of a facet where the surface turns a corner.
    pub sharp: Vec<[bool; 3]>,
    pub neighbours: Vec<[u32; 3]>,
}

impl Solid {
    pub fn of(bodies: &[&Body]) -> Solid {
        let mut solid = Solid {
            vertices: Vec::new(),
            facets: Vec::new(),
            normals: Vec::new(),
            sharp: Vec::new(),
            neighbours: Vec::new(),
        };
        for body in bodies {
            solid.add(body);
        }
        solid
    }

    fn add(&mut self, body: &Body) {
        let patches = surface::segment(body);
        let (v0, f0) = (self.vertices.len() as u32, self.facets.len() as u32);
        self.vertices.extend(&body.vertices);
        self.facets
            .extend(body.facets.iter().map(|f| f.map(|v| v + v0)));
        self.neighbours.extend(
            body.neighbours
                .iter()
                .map(|n| n.map(|g| if g == NONE { NONE } else { g + f0 })),
        );
        let normal = |f: &[u32; 3]| {
            let corner = |k: usize| body.vertices.get(f[k] as usize).copied();
            match (corner(0), corner(1), corner(2)) {
                (Some(a), Some(b), Some(c)) => (b - a)
                    .cross(&(c - a))
                    .try_normalize(0.0)
                    .unwrap_or_default(),
                _ => Vec3::zeros(),
            }
        };
        let own: Vec<Vec3> = body.facets.iter().map(normal).collect();
        let limit = CORNER.to_radians().cos();
        let sharp = body.neighbours.iter().enumerate().map(|(f, around)| {
            around.map(|g| {
                if g == NONE {
                    return true;
                }
                let (a, b) = (own.get(f), own.get(g as usize));
                let patch = |f: usize| patches.of_facet.get(f);
                match (a, b) {
                    (Some(a), Some(b)) => {
                        patch(f) != patch(g as usize) && a.dot(b) < limit && a != b
                    }
                    _ => true,
                }
            })
        });
        self.sharp.extend(sharp);
        self.normals.extend(own);
    }

    /// Every edge where the surface turns a corner, once.
    pub fn creases(&self) -> Vec<Edge> {
        let mut done: BTreeSet<(u32, u32)> = BTreeSet::new();
        let mut edges = Vec::new();
        for (facet, sharp) in self.facets.iter().zip(&self.sharp) {
            for k in 0..3 {
                let (a, b) = (facet[k], facet[(k + 1) % 3]);
                if sharp[k]
                    && done.insert((a.min(b), a.max(b)))
                    && let (Some(p), Some(q)) =
                        (self.vertices.get(a as usize), self.vertices.get(b as usize))
                {
                    edges.push([*p, *q]);
                }
            }
        }
        edges
    }

    /// Diagonal of the box around everything, mm.
    pub fn size(&self) -> f64 {
        let start = (
            Pt3::from([f64::INFINITY; 3]),
            Pt3::from([f64::NEG_INFINITY; 3]),
        );
        let (low, high) = self
            .vertices
            .iter()
            .fold(start, |(low, high), v| (low.inf(v), high.sup(v)));
        let size = (high - low).norm();
        if size.is_finite() { size } else { 0.0 }
    }
}

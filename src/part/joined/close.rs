//! What a cut left open, closed again.

use nalgebra::Vector3;

use super::seams::{STANDS, normal};
use crate::body::Body;
use crate::body::split::piece;
use crate::geometry::Pt3;
use crate::geometry::face::{newell, triangulate};
use crate::surface::{HalfEdge, rings};
use crate::weld::NONE;

/// Facets of a body as a body of its own, faces put in where other facets were cut off.
///
/// Rings in one plane bound one face: the foot of a tube, or the ring of plate under it. Rings on no
/// plane are closed where they are the end of this piece (a cope): its face runs from the outer ring
/// to the inner ones. The skin under a coped branch stays open. `None` where a face can't be put in.
pub fn closed(
    body: &Body,
    facets: &[u32],
    inside: &impl Fn(u32) -> bool,
    tolerance: f64,
) -> Option<Body> {
    let (mut flat, mut curved): (Vec<Ring>, Vec<Ring>) = rings(body, facets, inside)
        .into_iter()
        .filter_map(|ring| open_ring(body, &ring))
        .partition(|r| r.lies_on(body, r.middle, r.plane, tolerance));
    let mut fill = Vec::new();
    flat.sort_by(|a, b| b.doubled.total_cmp(&a.doubled));
    while let Some(first) = flat.first() {
        let (point, plane) = (first.middle, first.plane);
        let (own, others): (Vec<Ring>, Vec<Ring>) = flat
            .into_iter()
            .partition(|r| r.lies_on(body, point, plane, tolerance));
        let group: Vec<Vec<u32>> = own.into_iter().map(|r| r.vertices).collect();
        fill.extend(triangulate(&body.vertices, &group)?);
        flat = others;
    }
    curved.retain(|r| r.across.norm() > STANDS);
    let (outer, inner): (Vec<Ring>, Vec<Ring>) = curved
        .into_iter()
        .partition(|r| r.plane.dot(&r.across) < 0.0);
    let mut ends: Vec<Vec<Vec<u32>>> = outer.iter().map(|r| vec![r.vertices.clone()]).collect();
    for r in inner {
        let (_, nearest) = (0..outer.len())
            .map(|o| ((outer[o].middle - r.middle).norm(), o))
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        ends[nearest].push(r.vertices);
    }
    for end in ends {
        fill.extend(triangulate(&body.vertices, &end)?);
    }
    Some(piece(body, facets, &fill))
}

/// A ring to be closed, running as the new facets do.
struct Ring {
    vertices: Vec<u32>,
    middle: Pt3,
    /// Unit normal of its plane, twice its area.
    plane: Vector3<f64>,
    doubled: f64,
    /// Mean normal of the facets across.
    across: Vector3<f64>,
}

impl Ring {
    fn lies_on(&self, body: &Body, point: Pt3, plane: Vector3<f64>, tolerance: f64) -> bool {
        self.vertices
            .iter()
            .all(|&v| (body.vertices[v as usize] - point).dot(&plane).abs() <= tolerance)
    }
}

/// `None` where the file itself is open.
fn open_ring(body: &Body, ring: &[HalfEdge]) -> Option<Ring> {
    if ring.iter().any(|e| e.across(body) == NONE) {
        return None;
    }
    let vertices: Vec<u32> = ring
        .iter()
        .rev()
        .map(|e| body.facets[e.facet as usize][(usize::from(e.corner) + 1) % 3])
        .collect();
    let at = |v: u32| body.vertices[v as usize];
    let first = at(*vertices.first()?);
    let (mut across, mut length) = (Vector3::zeros(), 0.0);
    for (i, &v) in vertices.iter().rev().enumerate() {
        let e = ring[i];
        let size = (at(v) - at(e.start(body))).norm();
        across += normal(body, e.across(body)) * size;
        length += size;
    }
    let area = newell(&body.vertices, &vertices);
    Some(Ring {
        middle: first
            + vertices
                .iter()
                .map(|&v| at(v) - first)
                .sum::<Vector3<f64>>()
                / vertices.len() as f64,
        plane: area.try_normalize(0.0)?,
        doubled: area.norm(),
        across: across / length.max(f64::MIN_POSITIVE),
        vertices,
    })
}

//! What a cut left open, closed again where it is flat.

use nalgebra::Vector3;

use crate::body::Body;
use crate::body::split::piece;
use crate::geometry::face::{newell, triangulate};
use crate::surface::{HalfEdge, rings};
use crate::weld::NONE;

/// Facets of a body as a body of its own, flat faces put in where other facets were cut off.
///
/// Rings in one plane bound one face: the foot of a tube, or the ring of plate under it. Rings on no
/// plane (a cope, the skin under a branch) stay open. `None` where a flat face can't be put in.
pub fn closed(
    body: &Body,
    facets: &[u32],
    inside: &impl Fn(u32) -> bool,
    tolerance: f64,
) -> Option<Body> {
    let mut open: Vec<(Vec<u32>, Plane)> = Vec::new();
    for ring in rings(body, facets, inside) {
        if ring.iter().any(|e| e.across(body) == NONE) {
            continue;
        }
        // the new facets run against the old ones
        let vertices: Vec<u32> = ring
            .iter()
            .rev()
            .map(|e: &HalfEdge| end(body, *e))
            .collect();
        if let Some(plane) = plane_of(body, &vertices, tolerance) {
            open.push((vertices, plane));
        }
    }
    let mut fill = Vec::new();
    let mut left: Vec<usize> = (0..open.len()).collect();
    left.sort_by(|&a, &b| {
        open[b]
            .1
            .doubled
            .total_cmp(&open[a].1.doubled)
            .then(a.cmp(&b))
    });
    while let Some(&first) = left.first() {
        let plane = &open[first].1;
        let (own, others): (Vec<usize>, Vec<usize>) = left.iter().partition(|&&i| {
            open[i].0.iter().all(|&v| {
                (body.vertices[v as usize] - plane.point)
                    .dot(&plane.normal)
                    .abs()
                    <= tolerance
            })
        });
        let group: Vec<Vec<u32>> = own.iter().map(|&i| open[i].0.clone()).collect();
        fill.extend(triangulate(&body.vertices, &group)?);
        left = others;
    }
    Some(piece(body, facets, &fill))
}

struct Plane {
    point: crate::geometry::Pt3,
    normal: Vector3<f64>,
    doubled: f64,
}

fn plane_of(body: &Body, ring: &[u32], tolerance: f64) -> Option<Plane> {
    let area = newell(&body.vertices, ring);
    let normal = area.try_normalize(0.0)?;
    let first = body.vertices[*ring.first()? as usize];
    let mean = first
        + ring
            .iter()
            .map(|&v| body.vertices[v as usize] - first)
            .sum::<Vector3<f64>>()
            / ring.len() as f64;
    ring.iter()
        .all(|&v| (body.vertices[v as usize] - mean).dot(&normal).abs() <= tolerance)
        .then_some(Plane {
            point: mean,
            normal,
            doubled: area.norm(),
        })
}

fn end(body: &Body, e: HalfEdge) -> u32 {
    body.facets[e.facet as usize][(usize::from(e.corner) + 1) % 3]
}

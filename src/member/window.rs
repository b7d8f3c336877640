//! Openings that are neither round nor slots: their size, seen along their axis.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use super::caps::Cap;
use crate::body::Body;
use crate::geometry::outline::{lines_and_arcs, moments, window};
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::measure::Quantity;

/// An opening of any shape.
pub struct Seen {
    /// Centre of its area, as deep in the wall as its rim lies on the average.
    pub centre: Pt3,
    /// Sides of the smallest rectangle around it, the longer first, mm.
    pub sides: [Quantity; 2],
    /// Unit direction of the longer side.
    pub along: Vec3,
    /// Corner radius where it is a rectangle, mm.
    pub corner: Option<Quantity>,
}

/// Closed runs of edges between the facets of a cap and the rest of the body. A hole through a wall
/// has two, a notch has one.
pub fn rims(body: &Body, cap: &Cap) -> Vec<Vec<u32>> {
    let mut next: BTreeMap<u32, u32> = BTreeMap::new();
    for &f in &cap.facets {
        let corner = body.facets[f as usize];
        for k in 0..3 {
            let g = body.neighbours[f as usize][k];
            if cap.facets.binary_search(&g).is_err() {
                next.insert(corner[k], corner[(k + 1) % 3]);
            }
        }
    }
    let mut loops = Vec::new();
    while let Some((first, mut at)) = next.pop_first() {
        let mut run = vec![first];
        while at != first {
            run.push(at);
            match next.remove(&at) {
                Some(onward) => at = onward,
                None => return Vec::new(),
            }
        }
        loops.push(run);
    }
    loops
}

/// Measures an opening with walls along `axis`; `tolerance` is how far a vertex of its rim may lie from
/// what was drawn, mm.
pub fn seen(body: &Body, cap: &Cap, axis: &Vec3, tolerance: f64) -> Option<Seen> {
    let rims = rims(body, cap);
    let (u, v) = perpendicular_pair(axis);
    let rim = rims.iter().max_by_key(|r| r.len())?;
    let points: Vec<Pt3> = rim.iter().map(|&i| body.vertices[i as usize]).collect();
    let origin = *points.first()?;
    let flat: Vec<nalgebra::Point2<f64>> = points
        .iter()
        .map(|p| nalgebra::Point2::new((p - origin).dot(&u), (p - origin).dot(&v)))
        .collect();
    let contour = lines_and_arcs(&flat, true, tolerance);
    let found = window(&contour, tolerance)?;
    let middle = moments(&contour).centroid;
    let depth = points.iter().map(|p| (p - origin).dot(axis)).sum::<f64>() / points.len() as f64;
    let side = found.plus_minus + 2.0 * tolerance;
    Some(Seen {
        centre: origin + u * middle.x + v * middle.y + axis * depth,
        along: u * found.rectangle.along.x + v * found.rectangle.along.y,
        sides: [found.rectangle.length, found.rectangle.width].map(|x| Quantity::new(x, side)),
        corner: found
            .corner
            .map(|(r, doubt)| Quantity::new(r, doubt.max(tolerance))),
    })
}

/// Area and length round of a rectangle with rounded corners, mm² and mm.
pub fn rounded_rectangle(length: f64, width: f64, corner: f64) -> (f64, f64) {
    (
        length * width - (4.0 - PI) * corner * corner,
        2.0 * (length + width) - (8.0 - 2.0 * PI) * corner,
    )
}

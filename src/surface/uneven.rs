//! Drawn models whose vertices are less true than their coordinates are fine.

use super::facets::Shape;
use super::flat::{Flats, plane_through};
use super::grow::Curved;
use crate::body::Body;

/// Planes this close in direction (cosine; a quarter of a degree) are looked at as one.
const ALIKE: f64 = 1.0 - 1e-5;
/// A model is no worse than this share of its size, or its planes are meant to differ.
const WORST: f64 = 1e-4;

/// How far vertices of what was drawn as one plane stray from it, mm: the largest departure of two
/// neighbouring large flats, all but parallel, from one plane through both. `None` where no such flats
/// are, or they are the chords of a gentle curve.
pub(super) fn estimate(
    body: &Body,
    shape: &Shape,
    flats: &Flats,
    curved: &[Curved],
    tolerance: f64,
) -> Option<f64> {
    let total: f64 = flats.list.iter().map(|f| f.area).sum();
    let mut large: Vec<bool> = flats.list.iter().map(|f| f.area > 0.005 * total).collect();
    for &f in curved.iter().flat_map(|c| &c.flats) {
        large[f as usize] = false;
    }
    // Dozens of large flats side by side are a curve in chords.
    if large.iter().filter(|l| **l).count() > 40 {
        return None;
    }
    let mut worst: Option<f64> = None;
    for (f, flat) in flats.list.iter().enumerate().filter(|(f, _)| large[*f]) {
        for &(g, _) in flat
            .beside
            .iter()
            .filter(|(g, _)| large[*g as usize] && *g as usize > f)
        {
            let other = &flats.list[g as usize];
            if flat.normal.dot(&other.normal) < ALIKE {
                continue;
            }
            let mut vertices = flat.vertices.clone();
            vertices.extend(&other.vertices);
            let (point, normal) = plane_through(body, &vertices, &flat.normal)?;
            let off = vertices
                .iter()
                .map(|&v| (body.vertices[v as usize] - point).dot(&normal).abs())
                .fold(0.0, f64::max);
            if off <= WORST * shape.size {
                worst = Some(worst.unwrap_or(0.0).max(off));
            }
        }
    }
    worst.filter(|w| *w > tolerance)
}

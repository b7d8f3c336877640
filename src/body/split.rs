//! Part of a body as a body of its own.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::Body;
use crate::weld::NONE;

/// The given facets of a body, with `fill` (facets over the body's vertices that close what the cut
/// left open), as a body with numbering of its own. Name, number and rounding stay the body's.
pub fn piece(body: &Body, facets: &[u32], fill: &[[u32; 3]]) -> Body {
    let mut own: HashMap<u32, u32> = HashMap::new();
    let mut vertices: Vec<Point3<f64>> = Vec::new();
    let mut renumber = |v: u32| {
        *own.entry(v).or_insert_with(|| {
            vertices.push(body.vertices[v as usize]);
            vertices.len() as u32 - 1
        })
    };
    let place: HashMap<u32, u32> = facets.iter().copied().zip(0..).collect();
    let mut kept: Vec<[u32; 3]> = facets
        .iter()
        .map(|&f| body.facets[f as usize].map(&mut renumber))
        .collect();
    let mut neighbours: Vec<[u32; 3]> = facets
        .iter()
        .map(|&f| body.neighbours[f as usize].map(|g| place.get(&g).copied().unwrap_or(NONE)))
        .collect();
    let first = kept.len();
    kept.extend(fill.iter().map(|f| f.map(&mut renumber)));
    link(&kept, &mut neighbours, first);
    let mut piece = Body {
        index: body.index,
        vertices,
        facets: kept,
        closed: !neighbours.iter().flatten().any(|&n| n == NONE),
        neighbours,
        quantum: body.quantum,
        name: body.name.clone(),
        volume: 0.0,
        area: 0.0,
        centroid: Point3::origin(),
    };
    sum_up(&mut piece);
    piece
}

/// Links the facets from `first` on with each other and with the open edges before them.
fn link(facets: &[[u32; 3]], neighbours: &mut Vec<[u32; 3]>, first: usize) {
    neighbours.resize(facets.len(), [NONE; 3]);
    let edge = |f: usize, k: usize| (facets[f][k], facets[f][(k + 1) % 3]);
    let mut open: HashMap<(u32, u32), (u32, usize)> = HashMap::new();
    for (f, own) in neighbours.iter().enumerate() {
        for k in (0..3).filter(|&k| own[k] == NONE) {
            open.insert(edge(f, k), (f as u32, k));
        }
    }
    for f in first..facets.len() {
        for k in 0..3 {
            let (a, b) = edge(f, k);
            if let Some(&(g, m)) = open.get(&(b, a)) {
                neighbours[f][k] = g;
                neighbours[g as usize][m] = f as u32;
            }
        }
    }
}

fn sum_up(body: &mut Body) {
    let Some(&origin) = body.vertices.first() else {
        return;
    };
    let (mut volume, mut moment) = (0.0, Vector3::zeros());
    let (mut area, mut area_moment) = (0.0, Vector3::zeros());
    for f in &body.facets {
        let [a, b, c] = f.map(|v| body.vertices[v as usize] - origin);
        let six = a.dot(&b.cross(&c));
        let share = (b - a).cross(&(c - a)).norm() / 2.0;
        volume += six / 6.0;
        moment += (a + b + c) * (six / 24.0);
        area += share;
        area_moment += (a + b + c) * (share / 3.0);
    }
    body.volume = volume;
    body.area = area;
    body.centroid = if body.closed && volume.abs() > f64::EPSILON * area.powf(1.5) {
        origin + moment / volume
    } else if area > 0.0 {
        origin + area_moment / area
    } else {
        origin
    };
}

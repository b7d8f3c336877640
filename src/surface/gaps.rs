//! Small gaps in a mesh closed again, where the facets round them say how.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::rings::{HalfEdge, rings};
use crate::body::Body;
use crate::weld::NONE;

/// Gaps of more edges than this are openings, not lost facets.
const MOST_EDGES: usize = 16;

/// The body with its small gaps filled, or `None` where there are none to fill.
///
/// A gap of three edges takes one facet. A larger one is triangulated so that as many new facets as
/// possible lie flush with the facet across an edge of the gap, then with the least area. Facets keep
/// their numbers; new ones come after them. `closed` and the sums are brought up to date.
pub fn fill_gaps(body: &Body) -> Option<Body> {
    if body.closed {
        return None;
    }
    let all: Vec<u32> = (0..body.facets.len() as u32).collect();
    let mut fresh: Vec<[u32; 3]> = Vec::new();
    for ring in rings(body, &all, &|_| true) {
        for gap in simple(body, &ring) {
            if (3..=MOST_EDGES).contains(&gap.len()) {
                fresh.extend(triangulate(body, &gap));
            }
        }
    }
    // A body that lacks more than a tenth of its facets is not known well enough to mend.
    if fresh.is_empty() || fresh.len() * 10 > body.facets.len() {
        return None;
    }
    let mut filled = body.clone();
    filled.facets.extend(&fresh);
    link(&mut filled, body.facets.len());
    let (mut volume, mut area, mut moment) = (0.0, 0.0, Vector3::zeros());
    let o = body.centroid;
    for f in &filled.facets {
        let [a, b, c] = f.map(|v| body.vertices[v as usize] - o);
        let six = a.cross(&b).dot(&c);
        volume += six / 6.0;
        moment += (a + b + c) * six / 24.0;
        area += (b - a).cross(&(c - a)).norm() / 2.0;
    }
    filled.closed = filled.neighbours.iter().flatten().all(|&g| g != NONE);
    filled.area = area;
    if filled.closed && volume > 0.0 {
        filled.volume = volume;
        filled.centroid = o + moment / volume;
    }
    Some(filled)
}

/// A ring cut at vertices it passes twice, each part with the edges' facets.
fn simple(body: &Body, ring: &[HalfEdge]) -> Vec<Vec<HalfEdge>> {
    let mut out = Vec::new();
    let mut open: Vec<HalfEdge> = Vec::new();
    for &edge in ring {
        let start = edge.start(body);
        if let Some(at) = open.iter().position(|e| e.start(body) == start) {
            out.push(open.split_off(at));
        }
        open.push(edge);
    }
    out.push(open);
    out
}

/// Facets over a gap. The gap's edges run with the mesh on their left, so the facets run the other way.
fn triangulate(body: &Body, gap: &[HalfEdge]) -> Vec<[u32; 3]> {
    let n = gap.len();
    let vertex: Vec<u32> = gap.iter().map(|e| e.start(body)).collect();
    let at = |i: usize| body.vertices[vertex[i] as usize];
    let beside: Vec<Vector3<f64>> = gap
        .iter()
        .map(|e| normal(&body.facets[e.facet as usize].map(|v| body.vertices[v as usize])))
        .collect();
    // Cost of the facet i < k < j: edges of the gap it is not flush with, then its area.
    let cost = |i: usize, k: usize, j: usize| -> (usize, f64) {
        let corners = [at(i), at(j), at(k)];
        let own = normal(&corners);
        let flush = |edge: usize| own.dot(&beside[edge]) > 0.9999;
        let edges = [(i, k), (k, j), (j, i)]
            .into_iter()
            .filter(|&(a, b)| (a + 1) % n == b);
        let bent = edges.filter(|&(a, _)| !flush(a)).count();
        (
            bent,
            (corners[1] - corners[0])
                .cross(&(corners[2] - corners[0]))
                .norm()
                / 2.0,
        )
    };
    let mut best: Vec<Vec<((usize, f64), usize)>> = vec![vec![((0, 0.0), 0); n]; n];
    for span in 2..n {
        for i in 0..n - span {
            let j = i + span;
            best[i][j] = (i + 1..j)
                .map(|k| {
                    let (a, b, c) = (best[i][k].0, best[k][j].0, cost(i, k, j));
                    ((a.0 + b.0 + c.0, a.1 + b.1 + c.1), k)
                })
                .min_by(|a, b| a.0.0.cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)))
                .unwrap_or(((0, 0.0), i + 1));
        }
    }
    let mut out = Vec::new();
    let mut spans = vec![(0, n - 1)];
    while let Some((i, j)) = spans.pop() {
        if j - i >= 2 {
            let k = best[i][j].1;
            out.push([vertex[i], vertex[j], vertex[k]]);
            spans.extend([(i, k), (k, j)]);
        }
    }
    out
}

fn normal(corners: &[Point3<f64>; 3]) -> Vector3<f64> {
    (corners[1] - corners[0])
        .cross(&(corners[2] - corners[0]))
        .try_normalize(0.0)
        .unwrap_or_else(Vector3::zeros)
}

/// Links the facets from `first` on to what they meet across open edges.
fn link(body: &mut Body, first: usize) {
    body.neighbours.resize(body.facets.len(), [NONE; 3]);
    let mut open: HashMap<(u32, u32), (u32, usize)> = HashMap::new();
    for (f, neighbours) in body.neighbours.iter().enumerate() {
        for k in (0..3).filter(|&k| neighbours[k] == NONE) {
            open.insert(
                (body.facets[f][k], body.facets[f][(k + 1) % 3]),
                (f as u32, k),
            );
        }
    }
    for f in first..body.facets.len() {
        for k in 0..3 {
            let (a, b) = (body.facets[f][k], body.facets[f][(k + 1) % 3]);
            if let Some(&(g, m)) = open.get(&(b, a)) {
                body.neighbours[f][k] = g;
                body.neighbours[g as usize][m] = f as u32;
            }
        }
    }
}

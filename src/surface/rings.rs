//! Border edges of a set of facets, chained to closed rings.

use std::collections::HashSet;

use crate::body::Body;
use crate::weld::NONE;

/// The edge of `facet` from its corner `corner` to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct HalfEdge {
    /// Facet on the left.
    pub facet: u32,
    /// Corner of the facet at which it starts: 0, 1 or 2.
    pub corner: u8,
}

impl HalfEdge {
    /// Vertex at which it starts.
    pub fn start(self, body: &Body) -> u32 {
        body.facets[self.facet as usize][self.corner as usize]
    }

    /// Facet on the right, or [`NONE`].
    pub fn across(self, body: &Body) -> u32 {
        body.neighbours[self.facet as usize][self.corner as usize]
    }
}

/// Rings of edges round the facets for which `inside` holds, these facets on the left. Rings that
/// touch in a vertex stay apart. `facets` are all facets inside.
pub fn rings(body: &Body, facets: &[u32], inside: &impl Fn(u32) -> bool) -> Vec<Vec<HalfEdge>> {
    let is_border = |e: HalfEdge| {
        let g = e.across(body);
        g == NONE || !inside(g)
    };
    let open: Vec<HalfEdge> = facets
        .iter()
        .flat_map(|&facet| (0..3u8).map(move |corner| HalfEdge { facet, corner }))
        .filter(|&e| is_border(e))
        .collect();
    let mut left: HashSet<HalfEdge> = open.iter().copied().collect();
    let mut out = Vec::new();
    for &start in &open {
        if !left.remove(&start) {
            continue;
        }
        let mut ring = vec![start];
        let mut edge = following(body, &is_border, start);
        while edge != start && left.remove(&edge) {
            ring.push(edge);
            edge = following(body, &is_border, edge);
        }
        out.push(ring);
    }
    out
}

/// The border edge that starts where `edge` ends, turning about that vertex inside the region.
fn following(body: &Body, is_border: &impl Fn(HalfEdge) -> bool, edge: HalfEdge) -> HalfEdge {
    let turn = |e: HalfEdge| HalfEdge {
        facet: e.facet,
        corner: (e.corner + 1) % 3,
    };
    let mut next = turn(edge);
    let pivot = next.start(body);
    for _ in 0..body.facets.len() {
        if is_border(next) {
            return next;
        }
        let facet = next.across(body);
        match body.facets[facet as usize].iter().position(|&v| v == pivot) {
            Some(corner) => {
                next = HalfEdge {
                    facet,
                    corner: corner as u8,
                }
            }
            None => break,
        }
    }
    edge
}

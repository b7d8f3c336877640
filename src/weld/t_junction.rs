//! Open edges that a vertex of the other side stands on.

use nalgebra::Point3;

use super::edges::{self, HalfEdge};
use super::pairing::{opposite_corner, pair};

/// Splits the facets of open edges at the vertices of other open edges that stand on them
/// (within `reach`, mm), so that both sides match. Adds no surface. Returns the number of splits.
pub fn split(
    vertices: &[Point3<f64>],
    facets: &mut Vec<[u32; 3]>,
    group: &mut Vec<u32>,
    open: &[HalfEdge],
    reach: f64,
) -> usize {
    let mut open = open.to_vec();
    let mut total = 0;
    loop {
        let splits = pass(vertices, facets, group, &open, reach);
        total += splits;
        if splits == 0 {
            return total;
        }
        let fewer = pair(facets, vertices.len()).open;
        // Every split closes an edge; should rounding ever fool that, stop here.
        if fewer.len() >= open.len() {
            return total;
        }
        open = fewer;
    }
}

/// One edge at most is cut per facet, and every open edge is leant on once.
fn pass(
    vertices: &[Point3<f64>],
    facets: &mut Vec<[u32; 3]>,
    group: &mut Vec<u32>,
    open: &[HalfEdge],
    reach: f64,
) -> usize {
    let mut rim = OpenEdges::new(vertices, facets, open, reach);
    let mut cut: Vec<(HalfEdge, Vec<u32>)> = Vec::new();
    for i in 0..rim.edges.len() {
        let h = rim.edges[i];
        // A second edge of the same facet waits for the next pass.
        if rim.used[i] || cut.last().is_some_and(|c| c.0 / 3 == h / 3) {
            continue;
        }
        let chain = rim.chain_on(h);
        if !chain.is_empty() {
            rim.used[i] = true;
            cut.push((h, chain));
        }
    }
    let mut splits = 0;
    for (h, chain) in cut {
        splits += chain.len();
        let (a, b) = edges::ends(facets, h);
        let apex = opposite_corner(facets, h);
        let g = group[(h / 3) as usize];
        facets[(h / 3) as usize] = [a, chain[0], apex];
        let stops: Vec<u32> = chain.into_iter().chain([b]).collect();
        for piece in stops.windows(2) {
            facets.push([piece[0], piece[1], apex]);
            group.push(g);
        }
    }
    splits
}

/// Open edges and who meets at their ends.
struct OpenEdges<'a> {
    vertices: &'a [Point3<f64>],
    facets: &'a [[u32; 3]],
    reach: f64,
    /// Open half-edges, ascending.
    edges: Vec<HalfEdge>,
    /// True for those already cut or matched.
    used: Vec<bool>,
    /// (vertex, place in `edges`), ascending.
    at_vertex: Vec<(u32, u32)>,
}

/// No more open edges than this are looked at around one vertex.
const MANY: usize = 64;

impl<'a> OpenEdges<'a> {
    fn new(
        vertices: &'a [Point3<f64>],
        facets: &'a [[u32; 3]],
        open: &[HalfEdge],
        reach: f64,
    ) -> Self {
        let mut edges = open.to_vec();
        edges.sort_unstable();
        let mut at_vertex: Vec<(u32, u32)> = edges
            .iter()
            .zip(0..)
            .flat_map(|(&h, i)| {
                let (a, b) = edges::ends(facets, h);
                [(a, i), (b, i)]
            })
            .collect();
        at_vertex.sort_unstable();
        OpenEdges {
            used: vec![false; edges.len()],
            vertices,
            facets,
            reach,
            edges,
            at_vertex,
        }
    }

    /// Vertices of other open edges that stand on h one after the other, from its start on; if
    /// there are none, from its end on. In the order along h; the edges between them are used up.
    fn chain_on(&mut self, h: HalfEdge) -> Vec<u32> {
        let (a, b) = edges::ends(self.facets, h);
        let chain = self.walk(h, a, b);
        if !chain.is_empty() {
            return chain;
        }
        let mut chain = self.walk(h, b, a);
        chain.reverse();
        chain
    }

    fn walk(&mut self, h: HalfEdge, a: u32, b: u32) -> Vec<u32> {
        let apex = opposite_corner(self.facets, h);
        let mut chain = Vec::new();
        let (mut here, mut done) = (a, 0.0);
        loop {
            let from = self.at_vertex.partition_point(|e| e.0 < here);
            let next = self.at_vertex[from..]
                .iter()
                .take(MANY)
                .take_while(|e| e.0 == here)
                .filter(|e| !self.used[e.1 as usize] && self.edges[e.1 as usize] / 3 != h / 3)
                .filter_map(|&(_, i)| {
                    let (p, q) = edges::ends(self.facets, self.edges[i as usize]);
                    let n = if p == here { q } else { p };
                    let along = stands_on(self.vertices, a, b, n, self.reach)?;
                    (along > done && n != apex && n != b).then_some((along, n, i))
                })
                .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
            let Some((along, n, i)) = next else {
                return chain;
            };
            self.used[i as usize] = true;
            chain.push(n);
            done = along;
            here = n;
        }
    }
}

/// Where along a→b (0 to 1) vertex n stands, if it does and is clear of both ends.
fn stands_on(vertices: &[Point3<f64>], a: u32, b: u32, n: u32, reach: f64) -> Option<f64> {
    let [a, b, n] = [a, b, n].map(|v| vertices[v as usize]);
    let d = b - a;
    let length = d.norm();
    let along = (n - a).dot(&d) / (length * length);
    let off = ((n - a) - d * along).norm();
    let clear = reach / length;
    (off <= reach && along > clear && along < 1.0 - clear).then_some(along)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_side_cut_into_three_on_one_face_only() {
        // Two facets meet on edge 0-1; the lower one is given as three with vertices 4 and 5 on it.
        let vertices = [
            [0., 0., 0.],
            [3., 0., 0.],
            [0., 2., 0.],
            [1., -2., 0.],
            [1., 0., 0.],
            [2., 0., 0.],
        ]
        .map(Point3::from);
        let mut facets = vec![[0, 1, 2], [4, 0, 3], [5, 4, 3], [1, 5, 3]];
        let mut group = vec![7, 1, 1, 1];
        let open = pair(&facets, 6).open;
        assert_eq!(split(&vertices, &mut facets, &mut group, &open, 1e-6), 2);
        assert_eq!(pair(&facets, 6).open.len(), 4);
        assert_eq!(group, vec![7, 1, 1, 1, 7, 7]);
    }
}

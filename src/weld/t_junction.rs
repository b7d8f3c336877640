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

/// One split at most per facet, and every open edge is leant on once.
fn pass(
    vertices: &[Point3<f64>],
    facets: &mut Vec<[u32; 3]>,
    group: &mut Vec<u32>,
    open: &[HalfEdge],
    reach: f64,
) -> usize {
    let mut at_vertex: Vec<(u32, HalfEdge)> = open
        .iter()
        .flat_map(|&h| {
            let (a, b) = edges::ends(facets, h);
            [(a, h), (b, h)]
        })
        .collect();
    at_vertex.sort_unstable();
    let mut cut: Vec<(HalfEdge, Vec<u32>)> = Vec::new();
    let mut touched: Vec<u32> = Vec::new();
    let mut sorted_open = open.to_vec();
    sorted_open.sort_unstable();
    let mut used = vec![false; sorted_open.len()];
    let place = |h: HalfEdge| sorted_open.binary_search(&h).unwrap_or(0);
    for &h in &sorted_open {
        let f = h / 3;
        if used[place(h)] || touched.last() == Some(&f) {
            continue;
        }
        let (a, b) = edges::ends(facets, h);
        let apex = opposite_corner(facets, h);
        let mut chain = Vec::new();
        let mut leaning = Vec::new();
        let mut here = a;
        let mut done = 0.0;
        loop {
            let from = at_vertex.partition_point(|e| e.0 < here);
            let next = at_vertex[from..]
                .iter()
                .take_while(|e| e.0 == here)
                .filter(|e| e.1 / 3 != f && !used[place(e.1)])
                .filter_map(|&(_, g)| {
                    let (p, q) = edges::ends(facets, g);
                    let n = if p == here { q } else { p };
                    let along = stands_on(vertices, a, b, n, reach)?;
                    (along > done && n != apex && n != b).then_some((along, n, g))
                })
                .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
            let Some((along, n, g)) = next else {
                break;
            };
            chain.push(n);
            leaning.push(g);
            done = along;
            here = n;
        }
        if !chain.is_empty() {
            for g in leaning {
                used[place(g)] = true;
                touched.push(g / 3);
            }
            touched.sort_unstable();
            used[place(h)] = true;
            touched.push(f);
            cut.push((h, chain));
        }
    }
    let mut splits = 0;
    let mut cut_facets = std::collections::HashSet::new();
    for (h, chain) in cut {
        // An edge of this facet that another facet was cut to fit must stay.
        if !cut_facets.insert(h / 3) {
            continue;
        }
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

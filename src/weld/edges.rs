//! Which facets meet at which edge.

/// A half-edge: 3 × facet + corner; it runs from that corner to the next.
pub type HalfEdge = u32;

/// Start and end vertex of a half-edge.
pub fn ends(facets: &[[u32; 3]], h: HalfEdge) -> (u32, u32) {
    let f = facets[(h / 3) as usize];
    let k = (h % 3) as usize;
    (f[k], f[(k + 1) % 3])
}

/// Calls `visit` once for every edge with all half-edges on it (either direction), in the order
/// of the lower, then of the higher vertex; half-edges in the order of facets.
///
/// A counting sort by the lower vertex, then a small sort per vertex: O(n) for meshes.
pub fn for_each(facets: &[[u32; 3]], vertex_count: usize, mut visit: impl FnMut(&[HalfEdge])) {
    let mut start = vec![0u32; vertex_count + 1];
    for [a, b, c] in facets {
        for lower in [a.min(b), b.min(c), c.min(a)] {
            start[*lower as usize] += 1;
        }
    }
    let mut sum = 0;
    for s in &mut start {
        sum += *s;
        *s = sum;
    }
    // The higher vertex above the half-edge, in runs of one lower vertex; `start[v]` counts down to
    // the beginning of v's run while it is filled from the back.
    let mut sorted = vec![0u64; sum as usize];
    for (f, [a, b, c]) in facets.iter().enumerate().rev() {
        for (k, (from, to)) in [(a, b), (b, c), (c, a)].into_iter().enumerate().rev() {
            let s = &mut start[*from.min(to) as usize];
            *s -= 1;
            sorted[*s as usize] = u64::from(*from.max(to)) << 32 | (3 * f + k) as u64;
        }
    }
    let mut edge = Vec::new();
    for v in 0..vertex_count {
        let run = &mut sorted[start[v] as usize..start[v + 1] as usize];
        if run.len() > 1 {
            run.sort_unstable();
        }
        for same in run.chunk_by(|x, y| x >> 32 == y >> 32) {
            edge.clear();
            edge.extend(same.iter().map(|x| *x as HalfEdge));
            visit(&edge);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tetrahedron_has_six_edges_of_two() {
        let facets = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
        let mut seen = Vec::new();
        for_each(&facets, 4, |run| seen.push(run.len()));
        assert_eq!(seen, vec![2; 6]);
    }
}

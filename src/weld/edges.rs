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
    let half_edges = 0..(facets.len() as u32) * 3;
    for h in half_edges.clone() {
        let (a, b) = ends(facets, h);
        start[a.min(b) as usize] += 1;
    }
    let mut sum = 0;
    for s in &mut start {
        sum += *s;
        *s = sum;
    }
    // `start[v]` counts down to the beginning of v's run while it is filled from the back.
    let mut sorted = vec![0u32; sum as usize];
    for h in half_edges.rev() {
        let (a, b) = ends(facets, h);
        let s = &mut start[a.min(b) as usize];
        *s -= 1;
        sorted[*s as usize] = h;
    }
    let high = |h: HalfEdge| {
        let (a, b) = ends(facets, h);
        a.max(b)
    };
    for v in 0..vertex_count {
        let run = &mut sorted[start[v] as usize..start[v + 1] as usize];
        if run.len() > 1 {
            run.sort_unstable_by_key(|&h| (high(h), h));
        }
        let mut rest = &run[..];
        while let Some(&first) = rest.first() {
            let n = rest.iter().take_while(|&&h| high(h) == high(first)).count();
            visit(&rest[..n]);
            rest = &rest[n..];
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

//! Disjoint sets of numbered things.

/// Disjoint sets over 0..n with path halving; the root is always the lowest member.
pub struct UnionFind {
    parent: Vec<u32>,
}

impl UnionFind {
    /// n sets of one.
    pub fn new(n: usize) -> Self {
        UnionFind {
            parent: (0..n as u32).collect(),
        }
    }

    /// Lowest member of the set of `i`.
    pub fn root(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let up = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = up;
            i = up;
        }
        i
    }

    /// Makes the sets of `a` and `b` one.
    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        let (low, high) = (a.min(b), a.max(b));
        self.parent[high as usize] = low;
    }
}

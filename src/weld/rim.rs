//! The vertices on open edges, and which of them lie together.

use nalgebra::Point3;

use super::NONE;
use super::edges::{self, HalfEdge};
use crate::geometry::near_pairs;
use crate::geometry::union_find::UnionFind;

/// Vertices never join further than this share of the shortest open edge at either of them.
const SHARE_OF_EDGE: f64 = 0.4;

/// What was joined.
pub struct Joined {
    /// Vertices that became part of another.
    pub count: usize,
    /// Reach of the join, mm; 0 where it stayed within rounding.
    pub gap: f64,
    /// 95 % half-width of a joined vertex's coordinate, mm, from the spread of its members.
    pub half_width: f64,
}

/// The vertices on open edges, numbered on their own.
pub struct Rim {
    /// Mesh vertex of each.
    vertex: Vec<u32>,
    /// Where they are, mm.
    pub points: Vec<Point3<f64>>,
    /// Open edges as pairs of rim numbers.
    pub edges: Vec<(u32, u32)>,
    /// Length of the shortest open edge at each, mm.
    shortest: Vec<f64>,
    /// Facets with two or three corners on the rim, [`NONE`] for a corner that is not.
    facets: Vec<[u32; 3]>,
    /// Rim number of each mesh vertex, [`NONE`] for those not on the rim.
    number: Vec<u32>,
}

impl Rim {
    /// Gathers them from the open half-edges.
    pub fn new(vertices: &[Point3<f64>], facets: &[[u32; 3]], open: &[HalfEdge]) -> Self {
        let mut vertex: Vec<u32> = open
            .iter()
            .flat_map(|&h| {
                let (a, b) = edges::ends(facets, h);
                [a, b]
            })
            .collect();
        vertex.sort_unstable();
        vertex.dedup();
        let mut number = vec![NONE; vertices.len()];
        for (i, &v) in vertex.iter().enumerate() {
            number[v as usize] = i as u32;
        }
        let points: Vec<_> = vertex.iter().map(|&v| vertices[v as usize]).collect();
        let mut shortest = vec![f64::INFINITY; vertex.len()];
        let edges: Vec<_> = open
            .iter()
            .map(|&h| {
                let (a, b) = edges::ends(facets, h);
                let length = (vertices[b as usize] - vertices[a as usize]).norm();
                let (a, b) = (number[a as usize], number[b as usize]);
                for v in [a, b] {
                    shortest[v as usize] = shortest[v as usize].min(length);
                }
                (a, b)
            })
            .collect();
        let rim_facets = facets
            .iter()
            .map(|f| f.map(|v| number[v as usize]))
            .filter(|f| f.iter().filter(|&&v| v != NONE).count() >= 2)
            .collect();
        Rim {
            vertex,
            points,
            edges,
            shortest,
            facets: rim_facets,
            number,
        }
    }

    /// Open half-edges with both ends in a slab about the middle, square to the longest side, that
    /// holds about `count` vertices.
    pub fn slab(&self, open: &[HalfEdge], count: usize) -> Vec<HalfEdge> {
        let (low, high) = extent(&self.points);
        let axis = (high - low).imax();
        let mut along: Vec<f64> = self.points.iter().map(|p| p[axis]).collect();
        along.sort_unstable_by(f64::total_cmp);
        let middle = along.len() / 2;
        let (from, to) = (
            along[middle.saturating_sub(count / 2)],
            along[(middle + count / 2).min(along.len() - 1)],
        );
        let within = |v: u32| (from..=to).contains(&self.points[v as usize][axis]);
        let edges = open.iter().zip(&self.edges);
        edges
            .filter(|(_, e)| within(e.0) && within(e.1))
            .map(|(&h, _)| h)
            .collect()
    }

    /// Clusters of vertices within reach; `None` when there are far too many pairs for it to
    /// mean anything. Clusters that would take in two corners of one facet are built again with
    /// half the reach until they do not.
    pub fn clusters(&self, reach: f64) -> Option<UnionFind> {
        let mut pairs = Vec::new();
        let most = 64 * self.points.len() + 1024;
        near_pairs::for_each(&self.points, reach, |i, j, distance| {
            let edge = self.shortest[i as usize].min(self.shortest[j as usize]);
            if distance <= SHARE_OF_EDGE * edge && pairs.len() <= most {
                pairs.push((i, j, distance));
            }
        });
        if pairs.len() > most {
            return None;
        }
        let mut limit = vec![reach; self.points.len()];
        loop {
            let mut clusters = UnionFind::new(self.points.len());
            for &(i, j, d) in &pairs {
                if d <= limit[i as usize].min(limit[j as usize]) {
                    clusters.join(i, j);
                }
            }
            let wrong = self.collapsing(&mut clusters);
            if wrong.is_empty() {
                return Some(clusters);
            }
            let mut bad = vec![false; self.points.len()];
            for root in wrong {
                bad[root as usize] = true;
            }
            for i in 0..self.points.len() {
                if bad[clusters.root(i as u32) as usize] {
                    limit[i] = if limit[i] < reach / 512.0 {
                        -1.0
                    } else {
                        limit[i] / 2.0
                    };
                }
            }
        }
    }

    /// Clusters that hold two corners of a facet.
    fn collapsing(&self, clusters: &mut UnionFind) -> Vec<u32> {
        let mut wrong = Vec::new();
        for f in &self.facets {
            for k in 0..3 {
                let (a, b) = (f[k], f[(k + 1) % 3]);
                if a != NONE && b != NONE && clusters.root(a) == clusters.root(b) {
                    wrong.push(clusters.root(a));
                }
            }
        }
        wrong
    }

    /// How many open half-edges do not find exactly one partner.
    pub fn cost(&self, clusters: &mut UnionFind) -> usize {
        let mut keys: Vec<(u32, u32)> = self
            .edges
            .iter()
            .map(|&(a, b)| {
                let (a, b) = (clusters.root(a), clusters.root(b));
                (a.min(b), a.max(b))
            })
            .collect();
        keys.sort_unstable();
        keys.chunk_by(|p, q| p == q)
            .map(|run| if run.len() == 1 { 1 } else { run.len() - 2 })
            .sum()
    }

    /// Makes each cluster one vertex, renumbers `facets`, and says what the spread of the members
    /// tells of the file. `gap` is the reach beyond rounding, 0 within it.
    pub fn apply(
        &self,
        mut clusters: UnionFind,
        vertices: &mut [Point3<f64>],
        facets: &mut [[u32; 3]],
        gap: f64,
    ) -> Joined {
        let mut sums = vec![(nalgebra::Vector3::zeros(), 0.0); self.points.len()];
        let mut count = 0;
        for i in 0..self.points.len() as u32 {
            let root = clusters.root(i);
            count += usize::from(root != i);
            let sum = &mut sums[root as usize];
            sum.0 += self.points[i as usize] - self.points[root as usize];
            sum.1 += 1.0;
        }
        let mean = |root: u32| {
            let (sum, n): (nalgebra::Vector3<f64>, f64) = sums[root as usize];
            (self.points[root as usize] + sum / n, n)
        };
        let (mut squares, mut freedom, mut inverse_size, mut n_clusters) = (0.0, 0.0, 0.0, 0.0);
        for i in 0..self.points.len() as u32 {
            let root = clusters.root(i);
            let (centre, n) = mean(root);
            if n > 1.0 {
                squares += (self.points[i as usize] - centre).norm_squared();
                freedom += 3.0 * (n - 1.0) / n;
                inverse_size += 1.0 / (n * n);
                n_clusters += 1.0 / n;
            }
            // Within rounding any member will do; beyond it the mean is the better guess.
            if gap > 0.0 && root == i {
                vertices[self.vertex[root as usize] as usize] = centre;
            }
        }
        for corner in facets.iter_mut().flatten() {
            let i = self.number[*corner as usize];
            if i != NONE {
                *corner = self.vertex[clusters.root(i) as usize];
            }
        }
        let half_width = if gap > 0.0 && freedom > 0.0 {
            1.96 * (squares / freedom * inverse_size / n_clusters).sqrt()
        } else {
            0.0
        };
        Joined {
            count,
            gap,
            half_width,
        }
    }
}

/// Lowest and highest corner of the box around the points.
fn extent(points: &[Point3<f64>]) -> (Point3<f64>, Point3<f64>) {
    let first = points.first().copied().unwrap_or_else(Point3::origin);
    points
        .iter()
        .fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)))
}

/// Diagonal of that box, mm.
pub fn diagonal(points: &[Point3<f64>]) -> f64 {
    let (low, high) = extent(points);
    (high - low).norm()
}

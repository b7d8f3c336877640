//! Plane sections of a mesh, chained through facet adjacency.

use super::{Pt3, Vec3};

/// One piece of a plane section: the chord across one facet.
#[derive(Clone, Copy, Debug)]
pub struct Chord {
    /// The facet cut.
    pub facet: u32,
    /// Where the plane enters the facet.
    pub from: Pt3,
    /// Where it leaves it.
    pub to: Pt3,
}

/// A chain of chords. With facets wound outward, metal lies on the left seen against the normal,
/// so outer contours run anticlockwise about the plane normal.
#[derive(Clone, Debug)]
pub struct Chain {
    /// Chords in order.
    pub chords: Vec<Chord>,
    /// True when the last chord meets the first.
    pub closed: bool,
}

impl Chain {
    /// Area vector of the chain closed by a straight line, mm²: direction is the normal about which
    /// it runs anticlockwise.
    pub fn area_vector(&self) -> Vec3 {
        let Some(first) = self.chords.first() else {
            return Vec3::zeros();
        };
        let o = first.from;
        0.5 * self
            .chords
            .iter()
            .map(|c| (c.from - o).cross(&(c.to - o)))
            .sum::<Vec3>()
    }

    /// Length, mm.
    pub fn length(&self) -> f64 {
        self.chords.iter().map(|c| (c.to - c.from).norm()).sum()
    }
}

/// Cuts the facets of `candidates` with the plane through `point` with unit normal `normal` and
/// chains the chords across shared edges. Vertices that lie on the plane count as being above it,
/// which keeps chains whole. Runs in time linear in the number of candidates.
pub fn slice(
    vertices: &[Pt3],
    facets: &[[u32; 3]],
    neighbours: &[[u32; 3]],
    candidates: impl Iterator<Item = u32>,
    point: &Pt3,
    normal: &Vec3,
) -> Vec<Chain> {
    let height = |v: u32| (vertices[v as usize] - point).dot(normal);
    // facet → (edge entered, chord, edge left)
    let mut cut: std::collections::BTreeMap<u32, (Chord, usize)> = Default::default();
    for f in candidates {
        let corner = facets[f as usize];
        let h = corner.map(height);
        let above = h.map(|x| x >= 0.0);
        if above[0] == above[1] && above[1] == above[2] {
            continue;
        }
        let mut enter = None;
        let mut leave = None;
        for k in 0..3 {
            let l = (k + 1) % 3;
            if above[k] == above[l] {
                continue;
            }
            let (a, b) = (vertices[corner[k] as usize], vertices[corner[l] as usize]);
            let p = a + (b - a) * (h[k] / (h[k] - h[l]));
            // seen against the normal, an outward facet's section runs with the metal on the left
            // when it enters over the edge that goes down
            if above[k] {
                enter = Some(p)
            } else {
                leave = Some((p, k))
            }
        }
        if let (Some(from), Some((to, edge))) = (enter, leave) {
            // orientation is settled below from the facet normal
            cut.insert(f, (Chord { facet: f, from, to }, edge));
        }
    }
    let mut chains = Vec::new();
    let mut used: std::collections::BTreeSet<u32> = Default::default();
    // predecessors, so that open chains start at their beginning
    let mut has_previous: std::collections::BTreeSet<u32> = Default::default();
    for (&f, &(_, edge)) in &cut {
        let next = neighbours[f as usize][edge];
        if cut.contains_key(&next) {
            has_previous.insert(next);
        }
    }
    let starts: Vec<u32> = cut
        .keys()
        .copied()
        .filter(|f| !has_previous.contains(f))
        .chain(cut.keys().copied())
        .collect();
    for start in starts {
        if used.contains(&start) {
            continue;
        }
        let mut chords = Vec::new();
        let mut f = start;
        let mut closed = false;
        while let Some(&(chord, edge)) = cut.get(&f) {
            if !used.insert(f) {
                closed = f == start;
                break;
            }
            chords.push(chord);
            f = neighbours[f as usize][edge];
        }
        chains.push(Chain { chords, closed });
    }
    chains
}

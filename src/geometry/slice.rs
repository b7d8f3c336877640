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
/// which keeps chains whole. Each facet may be given once, in any order.
pub fn slice(
    vertices: &[Pt3],
    facets: &[[u32; 3]],
    neighbours: &[[u32; 3]],
    candidates: impl Iterator<Item = u32>,
    point: &Pt3,
    normal: &Vec3,
) -> Vec<Chain> {
    let height = |v: u32| (vertices[v as usize] - point).dot(normal);
    let mut cut: Vec<Cut> = Vec::new();
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
            cut.push(Cut {
                chord: Chord { facet: f, from, to },
                next: neighbours[f as usize][edge],
            });
        }
    }
    cut.sort_unstable_by_key(|c| c.chord.facet);
    let place = |f: u32| cut.binary_search_by_key(&f, |c| c.chord.facet).ok();
    let next: Vec<Option<usize>> = cut.iter().map(|c| place(c.next)).collect();
    // open chains start at their beginning
    let mut has_previous = vec![false; cut.len()];
    for &n in next.iter().flatten() {
        has_previous[n] = true;
    }
    let beginnings = (0..cut.len()).filter(|&i| !has_previous[i]);
    let mut used = vec![false; cut.len()];
    let mut chains = Vec::new();
    for start in beginnings.chain(0..cut.len()) {
        if used[start] {
            continue;
        }
        let mut chords = Vec::new();
        let mut here = Some(start);
        let mut closed = false;
        while let Some(i) = here {
            if used[i] {
                closed = i == start;
                break;
            }
            used[i] = true;
            chords.push(cut[i].chord);
            here = next[i];
        }
        chains.push(Chain { chords, closed });
    }
    chains
}

/// A chord and the facet beyond the edge it leaves by.
struct Cut {
    chord: Chord,
    next: u32,
}

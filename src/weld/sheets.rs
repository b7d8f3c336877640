//! Facets with the same three corners, and the sheets they make.

use super::pairing::opposite_corner;
use super::{NONE, edges};
use crate::geometry::union_find::UnionFind;

/// Sets of two or more facets with the same corners.
pub struct Sets {
    /// Facets of the sets, set after set, ascending within each.
    members: Vec<u32>,
    /// Where each set ends in `members`.
    ends: Vec<u32>,
    /// Set of each facet, [`NONE`] for single ones.
    of_facet: Vec<u32>,
}

impl Sets {
    /// Finds them.
    pub fn find(vertex_count: usize, facets: &[[u32; 3]]) -> Self {
        let mut candidates = Vec::new();
        let mut far: Vec<(u32, u32)> = Vec::new();
        edges::for_each(facets, vertex_count, |run| {
            far.clear();
            far.extend(run.iter().map(|&h| (opposite_corner(facets, h), h / 3)));
            far.sort_unstable();
            for pair in far.windows(2).filter(|p| p[0].0 == p[1].0) {
                candidates.extend([pair[0].1, pair[1].1]);
            }
        });
        let key = |f: u32| {
            let mut c = facets[f as usize];
            c.sort_unstable();
            c
        };
        candidates.sort_unstable_by_key(|&f| (key(f), f));
        candidates.dedup();
        let mut sets = Sets {
            members: Vec::new(),
            ends: Vec::new(),
            of_facet: vec![NONE; facets.len()],
        };
        for same in candidates
            .chunk_by(|&f, &g| key(f) == key(g))
            .filter(|s| s.len() > 1)
        {
            for &f in same {
                sets.of_facet[f as usize] = sets.ends.len() as u32;
            }
            sets.members.extend_from_slice(same);
            sets.ends.push(sets.members.len() as u32);
        }
        sets
    }

    /// Facets of each set.
    pub fn lists(&self) -> impl Iterator<Item = &[u32]> {
        let mut from = 0;
        self.ends.iter().map(move |&to| {
            let list = &self.members[from..to as usize];
            from = to as usize;
            list
        })
    }
}

/// What a sheet of facets with the same corners is.
#[derive(Clone, Copy, PartialEq)]
pub enum Kind {
    /// Given again.
    Repeat,
    /// Where two bodies touch.
    Common,
    /// Given once for each side.
    TwoSided,
}

/// Sets joined across edges where nothing else meets, with what they were judged to be.
pub struct Sheets {
    root: Vec<u32>,
    kind: Vec<Kind>,
}

impl Sheets {
    /// Finds them.
    pub fn find(vertex_count: usize, facets: &[[u32; 3]], sets: &Sets) -> Self {
        let mut join = UnionFind::new(sets.ends.len());
        let mut borders = Borders::default();
        let mut here: Vec<u32> = Vec::new();
        edges::for_each(facets, vertex_count, |run| {
            here.clear();
            here.extend(run.iter().map(|&h| sets.of_facet[(h / 3) as usize]));
            here.sort_unstable();
            let singles = here.iter().filter(|&&s| s == NONE).count();
            here.dedup();
            here.retain(|&s| s != NONE);
            match (&here[..], singles) {
                ([], _) => {}
                (&[p, q], 0) => join.join(p, q),
                (list, _) => borders.push(list, singles as u32),
            }
        });
        let root: Vec<u32> = (0..sets.ends.len() as u32).map(|s| join.root(s)).collect();
        let mut sides = vec![0; sets.ends.len()];
        for (i, members) in sets.lists().enumerate() {
            let first = is_even(facets[members[0] as usize]);
            let both = members
                .iter()
                .any(|&f| is_even(facets[f as usize]) != first);
            sides[root[i] as usize] += if both { 1 } else { -1 };
        }
        let kind = borders.judge(&root, &sides);
        Sheets { root, kind }
    }

    /// What the sheet of a set is.
    pub fn kind(&self, set: u32) -> Kind {
        self.kind[self.root[set as usize] as usize]
    }
}

/// Edges on which sets meet other facets.
#[derive(Default)]
struct Borders {
    /// Sets on each edge, edge after edge.
    sets: Vec<u32>,
    /// Where each edge ends in `sets`.
    ends: Vec<u32>,
    /// Single facets on each edge.
    singles: Vec<u32>,
}

impl Borders {
    fn push(&mut self, sets: &[u32], singles: u32) {
        self.sets.extend_from_slice(sets);
        self.ends.push(self.sets.len() as u32);
        self.singles.push(singles);
    }

    /// What each sheet (root of its sets) is.
    ///
    /// Around an edge of closed bodies stands an even number of facets, a repeat counted once and
    /// a common face twice. So an edge with one sheet still open tells what it is: one less than
    /// even is a repeat. Sheets told this way tell others. Those never told are common faces
    /// where most of their sets (`sides`) have both windings, or two-sided at a free border.
    fn judge(&self, root: &[u32], sides: &[i32]) -> Vec<Kind> {
        let mut kind: Vec<Option<Kind>> = vec![None; root.len()];
        let mut free = vec![false; root.len()];
        loop {
            let mut votes: Vec<(u32, bool)> = Vec::new();
            let mut from = 0;
            for (&to, &singles) in self.ends.iter().zip(&self.singles) {
                let here = &self.sets[from..to as usize];
                from = to as usize;
                if let Some((sheet, others)) = one_open(here, root, &kind, singles) {
                    free[sheet as usize] |= others == 0;
                    if others > 0 {
                        votes.push((sheet, others % 2 == 1));
                    }
                }
            }
            if votes.is_empty() {
                break;
            }
            votes.sort_unstable();
            for of_sheet in votes.chunk_by(|p, q| p.0 == q.0) {
                let repeats = of_sheet.iter().filter(|v| v.1).count();
                let sheet = of_sheet[0].0 as usize;
                kind[sheet] = Some(if 2 * repeats >= of_sheet.len() {
                    Kind::Repeat
                } else if free[sheet] {
                    Kind::TwoSided
                } else {
                    Kind::Common
                });
            }
        }
        let met: std::collections::HashSet<u32> =
            self.sets.iter().map(|&s| root[s as usize]).collect();
        (0..root.len())
            .map(|s| {
                kind[s].unwrap_or(if free[s] || !met.contains(&(s as u32)) {
                    Kind::TwoSided
                } else if sides[s] >= 0 {
                    Kind::Common
                } else {
                    Kind::Repeat
                })
            })
            .collect()
    }
}

/// The one sheet on an edge not judged yet, and how many facets the others there count for.
fn one_open(here: &[u32], root: &[u32], kind: &[Option<Kind>], singles: u32) -> Option<(u32, u32)> {
    let mut open = None;
    let mut others = singles;
    for &s in here {
        let sheet = root[s as usize];
        match kind[sheet as usize] {
            Some(Kind::Common) => others += 2,
            Some(_) => others += 1,
            None if open.is_some() => return None,
            None => open = Some(sheet),
        }
    }
    Some((open?, others))
}

/// True when the corners, read from the lowest on, ascend.
pub fn is_even(f: [u32; 3]) -> bool {
    let lowest = (0..3).min_by_key(|&k| f[k]).unwrap_or(0);
    f[(lowest + 1) % 3] < f[(lowest + 2) % 3]
}

//! Facets given more than once: repeats, two-sided sheets, and the common faces of two bodies.

use nalgebra::Point3;

use super::edges;
use super::pairing::opposite_corner;
use crate::geometry::union_find::UnionFind;

/// What to do with facets that have the same three corners as others.
#[derive(Default)]
pub struct Verdict {
    /// True for facets to leave out.
    pub drop: Vec<bool>,
    /// True for kept facets that were given for both sides, so that their winding says nothing.
    pub two_sided: Vec<bool>,
    /// Facets given again with the same winding, or turned over within a sound surface.
    pub repeats: usize,
    /// Facets given once for each side of a sheet.
    pub backs: usize,
    /// Pairs kept because they are the common face of two bodies.
    pub common: usize,
}

/// Judges sets of facets with the same three corners, sheet by sheet.
///
/// Where such sets border on a single facet they are repeats and one of each is kept; where
/// they border on two, both sides carry on: the common face of two bodies, and one of each
/// winding is kept; where they border on nothing the sheet was given for both sides. Flat pairs
/// without area are left out.
pub fn judge(vertices: &[Point3<f64>], facets: &[[u32; 3]], flat_height: f64) -> Verdict {
    let sets = Sets::find(vertices.len(), facets);
    let sheets = Sheets::find(vertices.len(), facets, &sets);
    let mut v = Verdict {
        drop: vec![false; facets.len()],
        two_sided: vec![false; facets.len()],
        ..Verdict::default()
    };
    for (i, members) in sets.lists().enumerate() {
        let forward = is_even(facets[members[0] as usize]);
        let (same, other): (Vec<u32>, Vec<u32>) = members
            .iter()
            .partition(|&&f| is_even(facets[f as usize]) == forward);
        let flat = height(vertices, facets[members[0] as usize]) <= flat_height;
        if flat && !other.is_empty() {
            let pairs = same.len().min(other.len());
            for &f in same.iter().take(pairs).chain(other.iter().take(pairs)) {
                v.drop[f as usize] = true;
            }
            for &f in same
                .iter()
                .skip(pairs.max(1))
                .chain(other.iter().skip(pairs.max(1)))
            {
                v.drop[f as usize] = true;
            }
            v.repeats += 2 * pairs;
            continue;
        }
        match sheets.kind(i as u32) {
            Kind::Common if !other.is_empty() => {
                for &f in same.iter().skip(1).chain(other.iter().skip(1)) {
                    v.drop[f as usize] = true;
                    v.repeats += 1;
                }
                v.common += 1;
            }
            kind => {
                for &f in &members[1..] {
                    v.drop[f as usize] = true;
                }
                if kind == Kind::TwoSided && !other.is_empty() {
                    v.backs += members.len() - 1;
                    v.two_sided[members[0] as usize] = true;
                } else {
                    v.repeats += members.len() - 1;
                }
            }
        }
    }
    v
}

/// Sets of two or more facets with the same corners.
struct Sets {
    /// Facets of the sets, set after set, ascending within each.
    members: Vec<u32>,
    /// Where each set ends in `members`.
    ends: Vec<u32>,
    /// Set of each facet, [`super::NONE`] for single ones.
    of_facet: Vec<u32>,
}

impl Sets {
    fn find(vertex_count: usize, facets: &[[u32; 3]]) -> Self {
        let mut candidates = Vec::new();
        edges::for_each(facets, vertex_count, |run| {
            if run.len() < 2 {
                return;
            }
            let mut far: Vec<(u32, u32)> = run
                .iter()
                .map(|&h| (opposite_corner(facets, h), h / 3))
                .collect();
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
            of_facet: vec![super::NONE; facets.len()],
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

    fn lists(&self) -> impl Iterator<Item = &[u32]> {
        let mut from = 0;
        self.ends.iter().map(move |&to| {
            let list = &self.members[from..to as usize];
            from = to as usize;
            list
        })
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Repeat,
    Common,
    TwoSided,
}

/// Sets joined across edges, with what they border on.
struct Sheets {
    root: Vec<u32>,
    /// Border edges of each sheet with one single facet, with two or more, with none.
    borders: Vec<[u32; 3]>,
}

impl Sheets {
    fn find(vertex_count: usize, facets: &[[u32; 3]], sets: &Sets) -> Self {
        let mut join = UnionFind::new(sets.ends.len());
        let mut borders = Vec::new();
        edges::for_each(facets, vertex_count, |run| {
            let mut here: Vec<u32> = run
                .iter()
                .map(|&h| sets.of_facet[(h / 3) as usize])
                .collect();
            here.sort_unstable();
            let singles = here.iter().filter(|&&s| s == super::NONE).count();
            here.dedup();
            here.retain(|&s| s != super::NONE);
            match here[..] {
                [] => {}
                [s] => borders.push((s, singles)),
                _ => here.windows(2).for_each(|p| join.join(p[0], p[1])),
            }
        });
        let root: Vec<u32> = (0..sets.ends.len() as u32).map(|s| join.root(s)).collect();
        let mut counts = vec![[0; 3]; sets.ends.len()];
        for (s, singles) in borders {
            let slot = match singles {
                1 => 0,
                0 => 2,
                _ => 1,
            };
            counts[root[s as usize] as usize][slot] += 1;
        }
        Sheets {
            root,
            borders: counts,
        }
    }

    fn kind(&self, set: u32) -> Kind {
        let [one, two, none] = self.borders[self.root[set as usize] as usize];
        if one > 0 && one >= two.max(none) {
            Kind::Repeat
        } else if two > 0 && none == 0 {
            Kind::Common
        } else {
            // A free border, or no border at all.
            Kind::TwoSided
        }
    }
}

/// True when the corners, read from the lowest on, ascend.
fn is_even(f: [u32; 3]) -> bool {
    let lowest = (0..3).min_by_key(|&k| f[k]).unwrap_or(0);
    f[(lowest + 1) % 3] < f[(lowest + 2) % 3]
}

/// Least height of a facet, mm.
pub fn height(vertices: &[Point3<f64>], f: [u32; 3]) -> f64 {
    let [a, b, c] = f.map(|v| vertices[v as usize]);
    let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
    if longest == 0.0 {
        return 0.0;
    }
    (b - a).cross(&(c - a)).norm() / longest
}

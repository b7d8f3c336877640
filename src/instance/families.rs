//! Parts sorted into families of like sizes, so that copies are looked for in each by itself.

use std::collections::BTreeMap;

use super::size::Size;
use crate::body::Body;
use crate::geometry::union_find::UnionFind;
use crate::measure::Quantity;
use crate::part::Part;

/// A part whose copies are looked for.
pub struct Candidate<'a> {
    pub part: Part,
    /// Its volume, else that of its body's facets.
    pub volume: Option<Quantity>,
    /// `None` where the part is not its whole body.
    pub size: Option<Size>,
    /// Its body, where the part is all of it.
    pub body: Option<&'a Body>,
}

/// Parts, by their numbers, in lists of which no two hold copies of each other, each list in order.
pub fn families(candidates: &[Candidate]) -> Vec<Vec<usize>> {
    let mut cells: BTreeMap<[i64; 2], Vec<usize>> = BTreeMap::new();
    for (i, c) in candidates.iter().enumerate() {
        match c.size {
            Some(size) => cells.entry(size.step()).or_default().push(i),
            // it may be a copy of any other
            None => return vec![(0..candidates.len()).collect()],
        }
    }
    let numbers: BTreeMap<[i64; 2], u32> = cells.keys().copied().zip(0..).collect();
    let mut sets = UnionFind::new(numbers.len());
    for (&[a, s], &own) in &numbers {
        for near in neighbours([a, s]) {
            if let Some(&other) = numbers.get(&near) {
                sets.join(own, other);
            }
        }
    }
    let mut families: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (members, own) in cells.into_values().zip(0..) {
        families.entry(sets.root(own)).or_default().extend(members);
    }
    let mut families: Vec<Vec<usize>> = families.into_values().collect();
    families.iter_mut().for_each(|f| f.sort_unstable());
    families
}

/// A step of sizes and those beside it.
pub fn neighbours([a, s]: [i64; 2]) -> impl Iterator<Item = [i64; 2]> {
    (-1..=1).flat_map(move |i| (-1..=1).map(move |j| [a + i, s + j]))
}

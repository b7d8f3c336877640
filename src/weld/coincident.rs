//! Facets given more than once: repeats, two-sided sheets, and the common faces of two bodies.

use nalgebra::Point3;

use super::sheets::{Kind, Sets, Sheets, is_even};

/// What to do with facets that have the same three corners as others.
#[derive(Default)]
pub struct Verdict {
    /// True for facets to leave out.
    pub drop: Vec<bool>,
    /// True for kept facets that were given for both sides, so that their winding says nothing.
    pub two_sided: Vec<bool>,
    /// Kept facets to turn over: both of a common face were wound the same way.
    pub turn: Vec<u32>,
    /// Facets given again with the same winding, or turned over within a sound surface.
    pub repeats: usize,
    /// Facets given once for each side of a sheet.
    pub backs: usize,
    /// Pairs kept because they are the common face of two bodies.
    pub common: usize,
}

/// Judges sets of facets with the same three corners, sheet by sheet.
///
/// Where a sheet of such sets goes on as a single facet they are repeats and one of each is kept;
/// where two or more facets go on from its border it is the common face of two bodies, and one
/// for each side is kept; where nothing goes on the sheet was given for both sides. Flat pairs
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
            Kind::Common => {
                let back = other.first().or(same.get(1)).copied();
                for &f in members
                    .iter()
                    .filter(|f| **f != same[0] && Some(**f) != back)
                {
                    v.drop[f as usize] = true;
                    v.repeats += 1;
                }
                if other.is_empty() {
                    v.turn.extend(back);
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

/// True when a facet is no higher than this, mm.
pub fn is_flat(vertices: &[Point3<f64>], f: [u32; 3], flat: f64) -> bool {
    let [a, b, c] = f.map(|v| vertices[v as usize]);
    let longest = [b - a, c - b, a - c]
        .map(|e| e.norm_squared())
        .into_iter()
        .fold(0.0, f64::max);
    (b - a).cross(&(c - a)).norm_squared() <= flat * flat * longest
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

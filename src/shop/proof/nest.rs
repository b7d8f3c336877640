//! Which contour lies in which: pieces with their holes.

use super::contours::Contour;
use super::piece::{Place, extent, holds};

/// One piece that falls out of the sheet: numbers of contours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cutting {
    /// Its outside.
    pub outer: usize,
    /// Its holes.
    pub holes: Vec<usize>,
}

/// Parts contours into pieces, in the order their outsides are cut. A contour in a hole is a piece of its
/// own.
pub fn pieces(contours: &[Contour]) -> Vec<Cutting> {
    let boxes: Vec<Option<(Place, Place)>> = contours.iter().map(|c| extent(&c.ring)).collect();
    let mut largest: Vec<usize> = (0..contours.len()).collect();
    largest.sort_by(|a, b| {
        let area = |k: &usize| contours.get(*k).map_or(0.0, |c| c.area.abs());
        area(b).total_cmp(&area(a)).then(a.cmp(b))
    });
    let mut depth = vec![0usize; contours.len()];
    let mut parent: Vec<Option<usize>> = vec![None; contours.len()];
    for (rank, &k) in largest.iter().enumerate() {
        // In falling order of area, so that the first from behind is the smallest that holds it.
        parent[k] = largest
            .iter()
            .take(rank)
            .rev()
            .copied()
            .find(|&outer| inside(&contours[k], boxes[k], &contours[outer], boxes[outer]));
        depth[k] = parent[k].map_or(0, |p| depth[p] + 1);
    }
    (0..contours.len())
        .filter(|&k| depth[k].is_multiple_of(2))
        .map(|k| Cutting {
            outer: k,
            holes: (0..contours.len())
                .filter(|&h| parent[h] == Some(k) && depth[h] == depth[k] + 1)
                .collect(),
        })
        .collect()
}

fn inside(
    small: &Contour,
    small_box: Option<(Place, Place)>,
    large: &Contour,
    large_box: Option<(Place, Place)>,
) -> bool {
    let (Some((low, high)), Some((least, most))) = (small_box, large_box) else {
        return false;
    };
    let overlap = low.x <= most.x && high.x >= least.x && low.y <= most.y && high.y >= least.y;
    if !overlap {
        return false;
    }
    // Three places around it: one may lie on the other contour.
    let n = small.ring.len();
    let votes = [0, n / 3, 2 * n / 3]
        .iter()
        .filter_map(|k| small.ring.get(*k))
        .filter(|p| holds(&large.ring, **p))
        .count();
    votes >= 2
}

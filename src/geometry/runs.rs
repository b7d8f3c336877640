//! Facets in runs that lie close together, each with a box round it: a plane looks into few of them.

use super::{Pt3, Vec3};

/// Facets in a run: a box is tested for as many corners.
const RUN: usize = 32;

/// The facets of a mesh in runs.
pub struct Runs {
    /// Facets in order of place; empty where the order of the file is as good.
    order: Vec<u32>,
    count: u32,
    /// Middle and half sides of each run's box.
    boxes: Vec<(Pt3, Vec3)>,
}

impl Runs {
    /// Sorts the facets into runs.
    pub fn new(vertices: &[Pt3], facets: &[[u32; 3]]) -> Runs {
        let count = facets.len() as u32;
        let (boxes, crowding) = boxed(vertices, facets, 0..count);
        // Neighbours in the file are mostly neighbours in place. A run that follows a strip is about
        // a quarter as large as its facets together; one of facets from anywhere, many times that.
        if crowding < 1.0 || facets.len() <= RUN {
            return Runs {
                order: Vec::new(),
                count,
                boxes,
            };
        }
        let order = by_place(vertices, facets);
        let (boxes, _) = boxed(vertices, facets, order.iter().copied());
        Runs {
            order,
            count,
            boxes,
        }
    }

    /// All facets that the plane through `point` with normal `normal` may cut, and some around them.
    pub fn near_plane(&self, point: &Pt3, normal: &Vec3) -> impl Iterator<Item = u32> {
        let (point, normal, across) = (*point, *normal, normal.abs());
        self.boxes
            .iter()
            .enumerate()
            .filter(move |(_, (middle, half))| {
                let away = (middle - point).dot(&normal).abs();
                let reach = half.dot(&across);
                away <= reach + 1e-12 * (middle.coords.norm() + point.coords.norm())
            })
            .flat_map(|(i, _)| i * RUN..((i + 1) * RUN).min(self.count as usize))
            .map(|k| self.order.get(k).copied().unwrap_or(k as u32))
    }
}

/// Boxes of the runs, and how large they are beside the boxes of their facets together.
fn boxed(
    vertices: &[Pt3],
    facets: &[[u32; 3]],
    order: impl Iterator<Item = u32>,
) -> (Vec<(Pt3, Vec3)>, f64) {
    let nothing = (
        Pt3::from([f64::INFINITY; 3]),
        Pt3::from([f64::NEG_INFINITY; 3]),
    );
    let mut boxes = Vec::with_capacity(facets.len().div_ceil(RUN));
    let (mut runs, mut singly) = (0.0, 0.0);
    let mut run = nothing;
    let mut inside = 0;
    let mut close = |run: (Pt3, Pt3)| {
        let size = run.1 - run.0;
        runs += size.sum();
        boxes.push((run.0 + 0.5 * size, 0.5 * size));
    };
    for f in order {
        let [a, b, c] = facets[f as usize].map(|v| vertices[v as usize]);
        let (low, high) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
        singly += (high - low).sum();
        run = (run.0.inf(&low), run.1.sup(&high));
        inside += 1;
        if inside == RUN {
            close(run);
            (run, inside) = (nothing, 0);
        }
    }
    if inside > 0 {
        close(run);
    }
    (boxes, runs / f64::max(singly, f64::MIN_POSITIVE))
}

/// Facets along Morton's curve through their middles.
fn by_place(vertices: &[Pt3], facets: &[[u32; 3]]) -> Vec<u32> {
    let middle = |f: &[u32; 3]| {
        let [a, b, c] = f.map(|v| vertices[v as usize].coords);
        (a + b + c) / 3.0
    };
    let (low, high) = vertices
        .iter()
        .fold((vertices[0], vertices[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let side = (high - low).max().max(f64::MIN_POSITIVE);
    let code = |f: &[u32; 3]| {
        let m = (middle(f) - low.coords) * (1023.0 / side);
        spread(m.x as u32) | spread(m.y as u32) << 1 | spread(m.z as u32) << 2
    };
    let mut keyed: Vec<(u32, u32)> = facets.iter().map(code).zip(0..).collect();
    keyed.sort_unstable();
    keyed.into_iter().map(|(_, f)| f).collect()
}

/// Ten bits, two blanks after each.
fn spread(x: u32) -> u32 {
    (0..10).map(|k| (x >> k & 1) << (3 * k)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 2 x `n` x `n` facets, its rows far apart in the file when `mixed`.
    fn square(n: u32, mixed: bool) -> (Vec<Pt3>, Vec<[u32; 3]>) {
        let vertices = (0..=n)
            .flat_map(|i| (0..=n).map(move |j| Pt3::new(f64::from(i), f64::from(j), 0.0)))
            .collect();
        let at = |i: u32, j: u32| i * (n + 1) + j;
        let mut facets = Vec::new();
        for k in 0..n * n {
            let k = if mixed { k * 1009 % (n * n) } else { k };
            let (i, j) = (k / n, k % n);
            facets.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
            facets.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
        (vertices, facets)
    }

    #[test]
    fn every_facet_cut_is_among_few() {
        for mixed in [false, true] {
            let (vertices, facets) = square(200, mixed);
            let runs = Runs::new(&vertices, &facets);
            let (point, normal) = (Pt3::new(80.3, 80.3, 0.0), Vec3::new(0.6, 0.8, 0.0));
            let mut near: Vec<u32> = runs.near_plane(&point, &normal).collect();
            near.sort_unstable();
            for (f, corners) in facets.iter().enumerate() {
                let above = corners.map(|v| (vertices[v as usize] - point).dot(&normal) >= 0.0);
                let cut = above.iter().any(|a| *a) && above.iter().any(|a| !*a);
                assert!(!cut || near.binary_search(&(f as u32)).is_ok(), "facet {f}");
            }
            assert!(near.len() * 3 < facets.len(), "{} looked at", near.len());
            near.dedup();
            assert!(near.len() <= facets.len());
        }
    }
}

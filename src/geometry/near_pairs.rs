//! All pairs of points within a reach of each other.

use nalgebra::Point3;

/// Calls `visit(i, j, distance)` for every pair i < j no further apart than `reach`.
///
/// A grid of cells as wide as the reach, sorted; each cell looks at itself and at half of its
/// neighbours. O(n log n) plus the number of pairs tried.
pub fn for_each(points: &[Point3<f64>], reach: f64, mut visit: impl FnMut(u32, u32, f64)) {
    let Some(&first) = points.first() else {
        return;
    };
    let low = points.iter().fold(first, |l, p| l.inf(p));
    // Cells narrower than f64 can count would overflow; wider ones only cost time.
    let far = points.iter().fold(0.0_f64, |m, p| m.max((p - low).amax()));
    let width = reach.max(far * 1e-12).max(f64::MIN_POSITIVE);
    let cell = |p: &Point3<f64>| {
        let d = (p - low) / width;
        [d.x as i64, d.y as i64, d.z as i64]
    };
    let mut order: Vec<([i64; 3], u32)> = points
        .iter()
        .zip(0u32..)
        .map(|(p, i)| (cell(p), i))
        .collect();
    order.sort_unstable();
    let mut try_pair = |a: u32, b: u32| {
        let d = (points[a as usize] - points[b as usize]).norm();
        if d <= reach {
            visit(a.min(b), a.max(b), d);
        }
    };
    let mut from = 0;
    while from < order.len() {
        let [x, y, z] = order[from].0;
        let to = from + order[from..].partition_point(|o| o.0 == [x, y, z]);
        for (k, a) in order[from..to].iter().enumerate() {
            order[from + k + 1..to]
                .iter()
                .for_each(|b| try_pair(a.1, b.1));
        }
        // Cells that come later in the order: the next in z, then rows of three.
        let rows = [([x, y, z + 1], [x, y, z + 1])].into_iter().chain(
            [[x, y + 1], [x + 1, y - 1], [x + 1, y], [x + 1, y + 1]]
                .map(|[u, v]| ([u, v, z - 1], [u, v, z + 1])),
        );
        for (least, most) in rows {
            let start = to + order[to..].partition_point(|o| o.0 < least);
            for b in order[start..].iter().take_while(|o| o.0 <= most) {
                order[from..to].iter().for_each(|a| try_pair(a.1, b.1));
            }
        }
        from = to;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn same_as_trying_all(
            raw in prop::collection::vec((-2.0..2.0_f64, -2.0..2.0_f64, -2.0..2.0_f64), 0..60),
            reach in 0.01..3.0_f64,
        ) {
            let points: Vec<_> = raw.iter().map(|p| Point3::new(p.0, p.1, p.2)).collect();
            let mut found = Vec::new();
            for_each(&points, reach, |i, j, _| found.push((i, j)));
            found.sort_unstable();
            let mut all = Vec::new();
            for i in 0..points.len() {
                for j in i + 1..points.len() {
                    if (points[i] - points[j]).norm() <= reach {
                        all.push((i as u32, j as u32));
                    }
                }
            }
            prop_assert_eq!(found, all);
        }
    }
}

//! A face of many corners to triangles that use every corner and add none.
//!
//! A corner on the straight line between its neighbours stays a corner of some triangle with area, so
//! the faces beside it still match edge for edge.

use crate::geometry::ears::{Scratch, cross, dot, sub};

/// Faces with more corners are refused: ear clipping is quadratic.
pub(super) const MOST_CORNERS: usize = 32_768;
/// The square of a face's corners, summed over all faces of a file: one face of the largest size, or a
/// quarter of a million of sixty corners.
pub(super) const MOST_WORK: u64 = 1 << 30;
/// What had to be mended in a ring of corners.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Mended {
    /// Corners that repeated the one before.
    pub repeated: usize,
    /// How often the ring went round, when more than once.
    pub rounds: usize,
}

/// Drops corners that repeat their neighbour and rounds after the first.
pub(super) fn mend(ring: &mut Vec<u32>) -> Mended {
    let before = ring.len();
    ring.dedup();
    while ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    let mut mended = Mended {
        repeated: before - ring.len(),
        rounds: 1,
    };
    let n = ring.len();
    // A smaller period needs the first corner again, so rings without repeats leave at once.
    let period = (3..=n / 2).filter(|p| n.is_multiple_of(*p) && ring[*p] == ring[0]);
    let period = period
        .into_iter()
        .find(|p| ring.iter().zip(&ring[*p..]).all(|(a, b)| a == b));
    if let Some(period) = period {
        mended.rounds = n / period;
        ring.truncate(period);
    }
    mended
}

/// Appends `ring.len() − 2` triangles to `out`, wound like the ring.
///
/// Corners are indices into `points`; fewer than three give nothing. A ring that crosses itself still
/// gives that many triangles, of which some overlap.
pub(super) fn triangulate(
    points: &[[f64; 3]],
    ring: &[u32],
    scratch: &mut Scratch,
    out: &mut Vec<[u32; 3]>,
) {
    match *ring {
        [] | [_] | [_, _] => {}
        [a, b, c] => out.push([a, b, c]),
        [a, b, c, d] => out.extend(quad(points, [a, b, c, d])),
        _ => scratch.clip(points, ring, out),
    }
}

/// Two triangles: along the shorter diagonal, unless that leaves a much thinner triangle or one on the
/// wrong side.
fn quad(points: &[[f64; 3]], [a, b, c, d]: [u32; 4]) -> [[u32; 3]; 2] {
    let p = |i: u32| points[i as usize];
    let (ac, bd) = (sub(p(c), p(a)), sub(p(d), p(b)));
    let normal = cross(ac, bd);
    // Area on the right side over the longest side squared, of the worse triangle.
    let worth = |triangles: [[u32; 3]; 2]| {
        let one = |t: [u32; 3]| {
            let (u, v) = (sub(p(t[1]), p(t[0])), sub(p(t[2]), p(t[0])));
            let w = sub(v, u);
            dot(normal, cross(u, v)) / dot(u, u).max(dot(v, v)).max(dot(w, w))
        };
        one(triangles[0]).min(one(triangles[1]))
    };
    let (along_ac, along_bd) = ([[a, b, c], [a, c, d]], [[b, c, d], [b, d, a]]);
    let (worth_ac, worth_bd) = (worth(along_ac), worth(along_bd));
    // Rounding must not decide between equal diagonals: the first wins by a hair.
    let ac_shorter = dot(ac, ac) <= dot(bd, bd) * (1.0 + 1e-6);
    let take_ac = if worth_ac > 0.5 * worth_bd && worth_bd > 0.5 * worth_ac {
        ac_shorter
    } else {
        worth_ac >= worth_bd
    };
    if take_ac { along_ac } else { along_bd }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cut(flat: &[[f64; 2]]) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
        // An oblique plane, so that the projection is exercised.
        let points: Vec<[f64; 3]> = flat
            .iter()
            .map(|p| [p[0], 0.6 * p[1], 0.8 * p[1]])
            .collect();
        let ring: Vec<u32> = (0..points.len() as u32).collect();
        let mut out = Vec::new();
        triangulate(&points, &ring, &mut Scratch::default(), &mut out);
        (points, out)
    }

    fn areas(points: &[[f64; 3]], triangles: &[[u32; 3]]) -> Vec<f64> {
        let up = [0.0, -0.8, 0.6];
        let area = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|i| points[i as usize]);
            0.5 * dot(up, cross(sub(b, a), sub(c, a)))
        };
        triangles.iter().map(area).collect()
    }

    fn shoelace(flat: &[[f64; 2]]) -> f64 {
        let n = flat.len();
        let term = |i: usize| flat[i][0] * flat[(i + 1) % n][1] - flat[(i + 1) % n][0] * flat[i][1];
        0.5 * (0..n).map(term).sum::<f64>()
    }

    /// All triangles have area on the right side and together make up the polygon; every edge of the
    /// ring is an edge of exactly one of them.
    fn check(flat: &[[f64; 2]], least_share: f64) {
        let (points, triangles) = cut(flat);
        assert_eq!(triangles.len(), flat.len() - 2);
        let areas = areas(&points, &triangles);
        let whole = shoelace(flat);
        assert!(
            (areas.iter().sum::<f64>() - whole).abs() < 1e-9 * whole,
            "{areas:?} {whole}"
        );
        assert!(areas.iter().all(|a| *a > least_share * whole), "{areas:?}");
        for i in 0..flat.len() as u32 {
            let edge = [i, (i + 1) % flat.len() as u32];
            let uses = |t: &&[u32; 3]| (0..3).any(|k| [t[k], t[(k + 1) % 3]] == edge);
            assert_eq!(triangles.iter().filter(uses).count(), 1, "edge {i}");
        }
    }

    #[test]
    fn concave_quad_is_cut_inside() {
        check(&[[0.0, 0.0], [2.0, -2.0], [1.0, 0.0], [2.0, 2.0]], 1e-3);
        check(&[[2.0, 2.0], [0.0, 0.0], [2.0, -2.0], [1.0, 0.0]], 1e-3);
    }

    #[test]
    fn quad_with_a_straight_corner_has_no_flat_triangle() {
        for shift in 0..4 {
            let mut ring = vec![[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [1.0, 1.0]];
            ring.rotate_left(shift);
            check(&ring, 1e-3);
        }
    }

    #[test]
    fn comb_and_straight_corners() {
        let l_shape = [
            [0.0, 0.0],
            [3.0, 0.0],
            [3.0, 1.0],
            [1.0, 1.0],
            [1.0, 3.0],
            [0.0, 3.0],
        ];
        check(&l_shape, 1e-3);
        let halves: Vec<[f64; 2]> = (0..6)
            .flat_map(|i| {
                let (a, b) = (l_shape[i], l_shape[(i + 1) % 6]);
                [a, [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]]
            })
            .collect();
        check(&halves, 1e-3);
        let comb: Vec<[f64; 2]> = (0..20)
            .map(|i| [f64::from(i), 0.0])
            .chain(
                (0..20)
                    .rev()
                    .map(|i| [f64::from(i), if i % 2 == 0 { 5.0 } else { 0.5 }]),
            )
            .collect();
        check(&comb, 1e-6);
    }

    #[test]
    fn a_slit_to_a_hole_is_respected() {
        let ring = [
            [0.0, 0.0],
            [4.0, 0.0],
            [4.0, 4.0],
            [0.0, 4.0],
            [0.0, 0.0],
            [1.0, 1.0],
            [1.0, 3.0],
            [3.0, 3.0],
            [3.0, 1.0],
            [1.0, 1.0],
        ];
        check(&ring, 1e-3);
    }

    #[test]
    fn plate_with_slit_to_a_round_hole() {
        let circle = |n: usize, r: f64| {
            (0..=n).map(move |i| {
                let a = -std::f64::consts::TAU * i as f64 / n as f64;
                [10.0 + r * a.cos(), 8.0 + r * a.sin()]
            })
        };
        let ring: Vec<[f64; 2]> = [
            [20.0, 8.0],
            [20.0, 16.0],
            [0.0, 16.0],
            [0.0, 0.0],
            [20.0, 0.0],
            [20.0, 8.0],
        ]
        .into_iter()
        .chain(circle(48, 5.0))
        .collect();
        check(&ring, 1e-6);
    }

    #[test]
    fn rounds_and_repeats_are_dropped() {
        let mut ring = [1, 2, 3, 4].repeat(5);
        assert_eq!(
            mend(&mut ring),
            Mended {
                repeated: 0,
                rounds: 5
            }
        );
        assert_eq!(ring, [1, 2, 3, 4]);
        let mut ring = vec![5, 8, 8, 1, 5];
        assert_eq!(
            mend(&mut ring),
            Mended {
                repeated: 2,
                rounds: 1
            }
        );
        assert_eq!(ring, [5, 8, 1]);
    }

    #[test]
    fn a_corner_that_rounding_moved_off_the_line_leaves_no_sliver() {
        for off in [1e-9, -1e-9, 1e-7, -1e-7] {
            for shift in 0..6 {
                let mut ring = vec![
                    [0.0, 0.0],
                    [5.0, -off],
                    [10.0, 0.0],
                    [5.0 + off, 5.0],
                    [0.0, 10.0],
                    [-off, 5.0],
                ];
                ring.rotate_left(shift);
                check(&ring, 0.05);
                let mut ring = vec![[0.0, 0.0], [5.0, off], [10.0, 0.0], [0.0, 10.0]];
                ring.rotate_left(shift % 4);
                check(&ring, 0.05);
            }
        }
    }

    proptest! {
        #[test]
        fn star_shaped_rings_are_filled(radii in proptest::collection::vec(0.2f64..1.0, 5..60)) {
            let n = radii.len() as f64;
            let place = |(i, r): (usize, &f64)| {
                let a = std::f64::consts::TAU * i as f64 / n;
                [r * a.cos(), r * a.sin()]
            };
            check(&radii.iter().enumerate().map(place).collect::<Vec<_>>(), 0.0);
        }

        #[test]
        fn any_ring_gives_its_triangles(corners in proptest::collection::vec(0u32..8, 3..30)) {
            let points: Vec<[f64; 3]> = (0..8).map(|i| [f64::from(i % 2), f64::from(i / 2 % 2), f64::from(i / 4)]).collect();
            let mut out = Vec::new();
            triangulate(&points, &corners, &mut Scratch::default(), &mut out);
            prop_assert_eq!(out.len(), corners.len() - 2);
        }
    }
}

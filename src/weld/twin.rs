//! Quadrilaterals given for both sides, cut along different diagonals.

use nalgebra::Point3;

use super::NONE;
use super::pairing::{Pairing, opposite_corner};

/// Two facets over one diagonal of a quadrilateral.
struct Quad {
    corners: [u32; 4],
    diagonal: (u32, u32),
    /// Half-edge of the first facet on the diagonal, and the second facet.
    half_edge: u32,
    second: u32,
}

/// Cuts the second of two quadrilaterals with the same four corners along the diagonal of the
/// first, where they are flat within `flat` mm and all sides are crowded; afterwards their
/// facets have the same corners. Returns how many were cut anew.
pub fn align(
    vertices: &[Point3<f64>],
    facets: &mut [[u32; 3]],
    pairing: &Pairing,
    flat: f64,
) -> usize {
    let mut quads = Vec::new();
    let crowded: std::collections::HashSet<u32> = pairing.crowded.iter().copied().collect();
    let rim_is_crowded = |f: u32, k: u32| (1..3).all(|j| crowded.contains(&(3 * f + (k + j) % 3)));
    for f in 0..facets.len() as u32 {
        for k in 0..3 {
            let g = pairing.neighbours[f as usize][k as usize];
            if g == NONE || g < f || !rim_is_crowded(f, k) {
                continue;
            }
            let Some(m) = (0..3).find(|&m| pairing.neighbours[g as usize][m as usize] == f) else {
                continue;
            };
            if rim_is_crowded(g, m) {
                let (a, b) = super::edges::ends(facets, 3 * f + k);
                let mut corners = [
                    a,
                    b,
                    opposite_corner(facets, 3 * f + k),
                    opposite_corner(facets, 3 * g + m),
                ];
                corners.sort_unstable();
                quads.push(Quad {
                    corners,
                    diagonal: (a.min(b), a.max(b)),
                    half_edge: 3 * f + k,
                    second: 3 * g + m,
                });
            }
        }
    }
    quads.sort_by_key(|q| (q.corners, q.diagonal));
    let mut count = 0;
    for same in quads.chunk_by(|p, q| p.corners == q.corners) {
        let Some((first, rest)) = same.split_first() else {
            continue;
        };
        for q in rest
            .iter()
            .filter(|q| q.diagonal != first.diagonal && is_flat(vertices, q.corners, flat))
        {
            let (x, y) = super::edges::ends(facets, q.half_edge);
            let z = opposite_corner(facets, q.half_edge);
            let w = opposite_corner(facets, q.second);
            facets[(q.half_edge / 3) as usize] = [x, w, z];
            facets[(q.second / 3) as usize] = [w, y, z];
            count += 1;
        }
    }
    count
}

/// True when the four points lie in a plane within `flat` mm.
fn is_flat(vertices: &[Point3<f64>], corners: [u32; 4], flat: f64) -> bool {
    let [a, b, c, d] = corners.map(|v| vertices[v as usize]);
    let (u, v, w) = (b - a, c - a, d - a);
    let largest = [
        u.cross(&v),
        v.cross(&w),
        w.cross(&u),
        (c - b).cross(&(d - b)),
    ]
    .iter()
    .map(|n| n.norm())
    .fold(0.0, f64::max);
    u.dot(&v.cross(&w)).abs() <= flat * largest
}

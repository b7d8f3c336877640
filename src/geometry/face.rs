//! A flat face between rings, as triangles that use every corner and add none.

use nalgebra::{Point2, Vector3};

use super::ears::Scratch;
use super::polygon::{contains, signed_area};
use super::{Pt3, perpendicular_pair};

/// Triangles (numbers into `points`) over the face that `rings` bound, wound like them: outer rings
/// anticlockwise seen against the normal, rings of holes clockwise. `None` where a hole has no ring
/// around it or can't be reached from it.
///
/// A hole is joined to its outer ring by the shortest slit that crosses nothing; what is left is one
/// ring, cut by its ears. Quadratic in the corners of one outer ring and its holes.
pub fn triangulate(points: &[Pt3], rings: &[Vec<u32>]) -> Option<Vec<[u32; 3]>> {
    let normal = rings
        .iter()
        .map(|r| newell(points, r))
        .sum::<Vector3<f64>>();
    let (u, v) = perpendicular_pair(&normal.try_normalize(0.0)?);
    let origin = points.get(*rings.first()?.first()? as usize)?;
    let flat = |&i: &u32| {
        let d = points[i as usize] - origin;
        Point2::new(d.dot(&u), d.dot(&v))
    };
    let flats: Vec<Vec<Point2<f64>>> = rings.iter().map(|r| r.iter().map(flat).collect()).collect();
    let areas: Vec<f64> = flats.iter().map(|f| signed_area(f)).collect();
    let mut holes_of: Vec<Vec<usize>> = vec![Vec::new(); rings.len()];
    for hole in (0..rings.len()).filter(|&i| areas[i] <= 0.0) {
        let outer = (0..rings.len())
            .filter(|&o| areas[o] > -areas[hole] && contains(&flats[o], &flats[hole][0]))
            .min_by(|&a, &b| areas[a].total_cmp(&areas[b]))?;
        holes_of[outer].push(hole);
    }
    let corners: Vec<[f64; 3]> = points.iter().map(|p| [p.x, p.y, p.z]).collect();
    let mut scratch = Scratch::default();
    let mut out = Vec::new();
    for outer in (0..rings.len()).filter(|&i| areas[i] > 0.0) {
        let mut ring = rings[outer].clone();
        let mut left = holes_of[outer].clone();
        while !left.is_empty() {
            let (k, (at, from)) = left
                .iter()
                .enumerate()
                .filter_map(|(k, &h)| {
                    let others: Vec<&Vec<u32>> = left.iter().map(|&o| &rings[o]).collect();
                    Some((k, slit(&ring, &rings[h], &others, &flat)?))
                })
                .next()?;
            let hole = &rings[left.swap_remove(k)];
            let mut slit_ring = ring[..=at].to_vec();
            slit_ring.extend(hole[from..].iter().chain(&hole[..=from]));
            slit_ring.extend(&ring[at..]);
            ring = slit_ring;
        }
        match *ring {
            [a, b, c] => out.push([a, b, c]),
            [_, _, _, _, ..] => scratch.clip(&corners, &ring, &mut out),
            _ => return None,
        }
    }
    Some(out)
}

/// Twice the area vector of a ring.
pub fn newell(points: &[Pt3], ring: &[u32]) -> Vector3<f64> {
    let Some(&first) = ring.first() else {
        return Vector3::zeros();
    };
    let o = points[first as usize];
    ring[1..]
        .windows(2)
        .map(|w| (points[w[0] as usize] - o).cross(&(points[w[1] as usize] - o)))
        .sum()
}

/// Places in the ring and in the hole of the shortest slit between them that crosses no edge.
fn slit(
    ring: &[u32],
    hole: &[u32],
    others: &[&Vec<u32>],
    flat: &impl Fn(&u32) -> Point2<f64>,
) -> Option<(usize, usize)> {
    let outer: Vec<Point2<f64>> = ring.iter().map(flat).collect();
    let mut ways: Vec<(f64, usize, usize)> = hole
        .iter()
        .enumerate()
        .filter_map(|(h, v)| {
            let p = flat(v);
            (0..outer.len())
                .map(|o| ((outer[o] - p).norm_squared(), o, h))
                .min_by(|a, b| a.0.total_cmp(&b.0))
        })
        .collect();
    ways.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    ways.into_iter()
        .find(|&(_, o, h)| {
            let (p, q) = (outer[o], flat(&hole[h]));
            let free = |r: &[u32]| {
                (0..r.len()).all(|i| !cross(&p, &q, &flat(&r[i]), &flat(&r[(i + 1) % r.len()])))
            };
            free(ring) && others.iter().all(|r| free(r))
        })
        .map(|(_, o, h)| (o, h))
}

/// True when two segments cross inside both.
fn cross(a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>, d: &Point2<f64>) -> bool {
    let side = |p: &Point2<f64>, q: &Point2<f64>, r: &Point2<f64>| (q - p).perp(&(r - p));
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(n: u32, first: u32, turn: f64) -> Vec<u32> {
        let all: Vec<u32> = (first..first + n).collect();
        if turn > 0.0 {
            all
        } else {
            all.into_iter().rev().collect()
        }
    }

    fn circle(n: u32, r: f64, x: f64) -> impl Iterator<Item = Pt3> {
        (0..n).map(move |i| {
            let a = std::f64::consts::TAU * f64::from(i) / f64::from(n);
            Pt3::new(x + r * a.cos(), 0.6 * r * a.sin(), 0.8 * r * a.sin())
        })
    }

    #[test]
    fn plate_with_two_rings_inside_is_filled() {
        let points: Vec<Pt3> = circle(24, 100.0, 0.0)
            .chain(circle(32, 20.0, 40.0))
            .chain(circle(7, 10.0, -30.0))
            .collect();
        let rings = [ring(24, 0, 1.0), ring(32, 24, -1.0), ring(7, 56, -1.0)];
        let triangles = triangulate(&points, &rings).unwrap();
        assert_eq!(triangles.len(), 24 + 32 + 7 + 2);
        let up = Vector3::new(0.0, -0.8, 0.6);
        let doubled = |t: &[u32; 3]| newell(&points, t).dot(&up);
        assert!(triangles.iter().all(|t| doubled(t) > 0.0));
        let sum: f64 = triangles.iter().map(doubled).sum();
        let expected: f64 = rings.iter().map(|r| newell(&points, r).dot(&up)).sum();
        assert!((sum - expected).abs() < 1e-9 * expected);
    }

    #[test]
    fn a_hole_outside_every_ring_is_refused() {
        let points: Vec<Pt3> = circle(8, 10.0, 0.0).chain(circle(8, 5.0, 50.0)).collect();
        assert_eq!(
            triangulate(&points, &[ring(8, 0, 1.0), ring(8, 8, -1.0)]),
            None
        );
    }
}

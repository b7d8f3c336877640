//! A face of many corners to triangles that use every corner and add none.
//!
//! Ear clipping in the plane of the polygon (Meisters, "Polygons have ears", 1975), best-shaped ear
//! first. A corner on the straight line between its neighbours stays a corner of some triangle with
//! area, so the faces beside it still match edge for edge.

use std::collections::BinaryHeap;

/// Faces with more corners are refused: ear clipping is quadratic.
pub(super) const MOST_CORNERS: usize = 32_768;
/// Sine below which three corners count as straight: a few roundings of binary64.
const STRAIGHT: f64 = 1e-12;

/// Working arrays, kept from face to face.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    plane: Vec<[f64; 2]>,
    next: Vec<u32>,
    previous: Vec<u32>,
    version: Vec<u32>,
    clipped: Vec<bool>,
    /// Corners that turn inwards or run straight, by their first coordinate.
    blockers: Vec<u32>,
    ears: BinaryHeap<Ear>,
}

#[derive(Debug, Clone, Copy)]
struct Ear {
    quality: f64,
    corner: u32,
    version: u32,
}

impl Ord for Ear {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.quality
            .total_cmp(&other.quality)
            .then(other.corner.cmp(&self.corner))
    }
}
impl PartialOrd for Ear {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl PartialEq for Ear {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Ear {}

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

fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn scaled(a: [f64; 3], factor: f64) -> [f64; 3] {
    a.map(|x| x * factor)
}

/// Two triangles along the shorter diagonal that leaves both with area on the right side.
fn quad(points: &[[f64; 3]], [a, b, c, d]: [u32; 4]) -> [[u32; 3]; 2] {
    let p = |i: u32| points[i as usize];
    let diagonals = (sub(p(c), p(a)), sub(p(d), p(b)));
    let normal = cross(diagonals.0, diagonals.1);
    // The smallest height over the diagonal, against its length: 0 or less where the split fails.
    let worth = |triangles: [[u32; 3]; 2], diagonal: [f64; 3]| {
        let area = |t: [u32; 3]| dot(normal, cross(sub(p(t[1]), p(t[0])), sub(p(t[2]), p(t[0]))));
        area(triangles[0]).min(area(triangles[1])) / dot(diagonal, diagonal)
    };
    let from_a = [[a, b, c], [a, c, d]];
    let from_b = [[b, c, d], [b, d, a]];
    let (worth_a, worth_b) = (worth(from_a, diagonals.0), worth(from_b, diagonals.1));
    let least = STRAIGHT * dot(normal, normal).sqrt();
    let shorter_a = dot(diagonals.0, diagonals.0) <= dot(diagonals.1, diagonals.1);
    let take_a = match (worth_a > least, worth_b > least) {
        (true, true) => shorter_a,
        (false, false) => worth_a >= worth_b,
        (a_fits, _) => a_fits,
    };
    if take_a { from_a } else { from_b }
}

/// Newell's normal: the sum of cross products round the ring, twice the area in length (Sutherland,
/// Sproull, Schumacker, "A characterization of ten hidden-surface algorithms", 1974).
fn newell(points: &[[f64; 3]], ring: &[u32]) -> [f64; 3] {
    let p = |i: u32| points[i as usize];
    let origin = p(ring[0]);
    let mut sum = [0.0; 3];
    for pair in ring[1..].windows(2) {
        let term = cross(sub(p(pair[0]), origin), sub(p(pair[1]), origin));
        sum = [sum[0] + term[0], sum[1] + term[1], sum[2] + term[2]];
    }
    sum
}

fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn distance_squared(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

impl Scratch {
    fn clip(&mut self, points: &[[f64; 3]], ring: &[u32], out: &mut Vec<[u32; 3]>) {
        self.start(points, ring);
        let mut left = ring.len();
        let mut anchor = 0u32;
        while left > 3 {
            let corner = self.best_ear().unwrap_or_else(|| self.least_bad(anchor));
            let (before, after) = (self.previous[corner as usize], self.next[corner as usize]);
            out.push([before, corner, after].map(|i| ring[i as usize]));
            self.clipped[corner as usize] = true;
            self.next[before as usize] = after;
            self.previous[after as usize] = before;
            for neighbour in [before, after] {
                self.version[neighbour as usize] += 1;
                self.offer(neighbour);
            }
            anchor = before;
            left -= 1;
        }
        let (before, after) = (self.previous[anchor as usize], self.next[anchor as usize]);
        out.push([before, anchor, after].map(|i| ring[i as usize]));
    }

    fn start(&mut self, points: &[[f64; 3]], ring: &[u32]) {
        let n = ring.len() as u32;
        let normal = newell(points, ring);
        let size = dot(normal, normal).sqrt();
        let normal = if size > 0.0 {
            scaled(normal, 1.0 / size)
        } else {
            [0.0, 0.0, 1.0]
        };
        // Across the normal, starting from the axis least along it.
        let least = (0..3)
            .min_by(|a, b| normal[*a].abs().total_cmp(&normal[*b].abs()))
            .unwrap_or(0);
        let mut axis = [0.0; 3];
        axis[least] = 1.0;
        let u = cross(axis, normal);
        let u = scaled(u, 1.0 / dot(u, u).sqrt());
        let v = cross(normal, u);
        let origin = points[ring[0] as usize];
        let flat = |i: &u32| {
            let p = sub(points[*i as usize], origin);
            [dot(p, u), dot(p, v)]
        };
        self.plane.clear();
        self.plane.extend(ring.iter().map(flat));
        self.next.clear();
        self.next.extend((1..n).chain([0]));
        self.previous.clear();
        self.previous.extend([n - 1].into_iter().chain(0..n - 1));
        self.version.clear();
        self.version.resize(ring.len(), 0);
        self.clipped.clear();
        self.clipped.resize(ring.len(), false);
        self.blockers.clear();
        let turning: Vec<u32> = (0..n).filter(|i| self.sine(*i) <= STRAIGHT).collect();
        self.blockers.extend(turning);
        let plane = &self.plane;
        self.blockers
            .sort_by(|a, b| plane[*a as usize][0].total_cmp(&plane[*b as usize][0]));
        self.ears.clear();
        for corner in 0..n {
            self.offer(corner);
        }
    }

    fn triangle(&self, corner: u32) -> [u32; 3] {
        [
            self.previous[corner as usize],
            corner,
            self.next[corner as usize],
        ]
    }

    fn places(&self, corner: u32) -> [[f64; 2]; 3] {
        self.triangle(corner).map(|i| self.plane[i as usize])
    }

    /// Sine of the turn at a corner; positive where the ring turns outwards.
    fn sine(&self, corner: u32) -> f64 {
        let [a, b, c] = self.places(corner);
        let lengths = distance_squared(a, b) * distance_squared(b, c);
        if lengths > 0.0 {
            turn(a, b, c) / lengths.sqrt()
        } else {
            0.0
        }
    }

    /// Puts a corner on the heap when it is an ear.
    fn offer(&mut self, corner: u32) {
        let [a, b, c] = self.places(corner);
        if self.sine(corner) <= STRAIGHT {
            return;
        }
        // Area over the longest side squared: small for needles.
        let longest = distance_squared(a, b)
            .max(distance_squared(b, c))
            .max(distance_squared(c, a));
        let quality = turn(a, b, c) / longest;
        if quality > STRAIGHT && !self.blocked(corner) {
            let version = self.version[corner as usize];
            self.ears.push(Ear {
                quality,
                corner,
                version,
            });
        }
    }

    fn best_ear(&mut self) -> Option<u32> {
        while let Some(ear) = self.ears.pop() {
            let corner = ear.corner as usize;
            if !self.clipped[corner] && self.version[corner] == ear.version {
                return Some(ear.corner);
            }
        }
        None
    }

    /// For rings that cross or only touch themselves: the corner that turns outwards most.
    fn least_bad(&self, anchor: u32) -> u32 {
        let (mut best, mut corner) = ((f64::NEG_INFINITY, anchor), anchor);
        loop {
            let sine = self.sine(corner);
            if sine > best.0 {
                best = (sine, corner);
            }
            corner = self.next[corner as usize];
            if corner == anchor {
                return best.1;
            }
        }
    }

    /// True when another corner lies in the triangle at `corner` or on its cut.
    fn blocked(&self, corner: u32) -> bool {
        let triangle = self.triangle(corner);
        let places = self.places(corner);
        let xs = places.map(|p| p[0]);
        let lowest = xs[0].min(xs[1]).min(xs[2]);
        let highest = xs[0].max(xs[1]).max(xs[2]);
        let from = self
            .blockers
            .partition_point(|i| self.plane[*i as usize][0] < lowest);
        let near = self.blockers[from..]
            .iter()
            .take_while(|i| self.plane[**i as usize][0] <= highest);
        near.copied().any(|other| {
            !self.clipped[other as usize]
                && !triangle.contains(&other)
                && self.blocks(other, triangle, places)
        })
    }

    fn blocks(&self, other: u32, triangle: [u32; 3], places: [[f64; 2]; 3]) -> bool {
        let [a, b, c] = places;
        let p = self.plane[other as usize];
        // A second corner at the same place (a slit to a hole): does its ring enter the triangle there?
        for (k, place) in places.into_iter().enumerate() {
            if p == place && triangle[k] != other {
                let (from, to) = (places[(k + 1) % 3], places[(k + 2) % 3]);
                let inside = |q: [f64; 2]| turn(place, from, q) > 0.0 && turn(place, q, to) > 0.0;
                let beside = [self.next[other as usize], self.previous[other as usize]];
                return beside.iter().any(|i| inside(self.plane[*i as usize]));
            }
        }
        // On the cut between the neighbours counts as inside, within rounding.
        let rounding = STRAIGHT * distance_squared(c, a);
        turn(a, b, p) >= 0.0 && turn(b, c, p) >= 0.0 && turn(c, a, p) >= -rounding
    }
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

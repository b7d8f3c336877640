//! Ear clipping (Meisters, "Polygons have ears", 1975) in the plane of the polygon, best ear first.

use std::collections::BinaryHeap;

/// Sine below which three corners count as straight: a few roundings of binary64.
const STRAIGHT: f64 = 1e-12;

/// Corners that turn less than this are watched as if they were straight: rounding may have moved them.
const NEARLY_STRAIGHT: f64 = 1e-3;

/// Working arrays, kept from face to face.
#[derive(Debug, Default)]
pub struct Scratch {
    plane: Vec<[f64; 2]>,
    next: Vec<u32>,
    previous: Vec<u32>,
    version: Vec<u32>,
    clipped: Vec<bool>,
    /// Corners that turn inwards or run nearly straight, by their first coordinate.
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

/// a − b.
pub fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// a × b.
pub fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// a · b.
pub fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Newell's normal: the sum of cross products round the ring, twice the area in length (Sutherland,
/// Sproull, Schumacker, "A characterization of ten hidden-surface algorithms", 1974).
pub fn newell(points: &[[f64; 3]], ring: &[u32]) -> [f64; 3] {
    let p = |i: u32| points[i as usize];
    let origin = p(ring[0]);
    let mut sum = [0.0; 3];
    for pair in ring[1..].windows(2) {
        let term = cross(sub(p(pair[0]), origin), sub(p(pair[1]), origin));
        sum = [sum[0] + term[0], sum[1] + term[1], sum[2] + term[2]];
    }
    sum
}

fn scaled(a: [f64; 3], factor: f64) -> [f64; 3] {
    a.map(|x| x * factor)
}

fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn distance_squared(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

impl Scratch {
    /// Appends the triangles of a ring of four corners or more.
    pub fn clip(&mut self, points: &[[f64; 3]], ring: &[u32], out: &mut Vec<[u32; 3]>) {
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
            if left.is_power_of_two() {
                let clipped = &self.clipped;
                self.blockers.retain(|i| !clipped[*i as usize]);
            }
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
        let turning: Vec<u32> = (0..n)
            .filter(|i| self.sine(*i) <= NEARLY_STRAIGHT)
            .collect();
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
        let quality = self.clearance(corner).min(turn(a, b, c) / longest);
        if quality > STRAIGHT {
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

    /// How far the nearest other corner stays beyond the cut between the neighbours, over the length of
    /// the cut. Zero when one lies in the triangle or on the cut. A small clearance would leave a sliver,
    /// so it counts against the ear.
    fn clearance(&self, corner: u32) -> f64 {
        let triangle = self.triangle(corner);
        let places = self.places(corner);
        let xs = places.map(|p| p[0]);
        let slack = 0.01 * distance_squared(places[2], places[0]).sqrt();
        let lowest = xs[0].min(xs[1]).min(xs[2]) - slack;
        let highest = xs[0].max(xs[1]).max(xs[2]) + slack;
        let from = self
            .blockers
            .partition_point(|i| self.plane[*i as usize][0] < lowest);
        let mut least = f64::INFINITY;
        for &other in &self.blockers[from..] {
            if self.plane[other as usize][0] > highest || least <= 0.0 {
                break;
            }
            if !self.clipped[other as usize] && !triangle.contains(&other) {
                least = least.min(self.beyond(other, places));
            }
        }
        least
    }

    fn beyond(&self, other: u32, places: [[f64; 2]; 3]) -> f64 {
        let [a, b, c] = places;
        let p = self.plane[other as usize];
        // A second corner at the same place (a slit to a hole): does its ring enter the triangle there?
        if let Some(k) = places.iter().position(|place| *place == p) {
            let (from, to) = (places[(k + 1) % 3], places[(k + 2) % 3]);
            let inside = |q: [f64; 2]| turn(p, from, q) > 0.0 && turn(p, q, to) > 0.0;
            let beside = [self.next[other as usize], self.previous[other as usize]];
            let enters = beside.iter().any(|i| inside(self.plane[*i as usize]));
            return if enters { 0.0 } else { f64::INFINITY };
        }
        if turn(a, b, p) < 0.0 || turn(b, c, p) < 0.0 {
            return f64::INFINITY;
        }
        let beyond = -turn(c, a, p) / distance_squared(c, a);
        if beyond > STRAIGHT { beyond } else { 0.0 }
    }
}

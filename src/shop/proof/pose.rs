//! Where a ring of the program may lie on a ring of the plate.

use nalgebra::{Complex, Vector2};

use super::piece::Place;

/// A turn, a scale and a shift: p goes to `turn`·p + `shift`, as complex numbers. It takes a place of the
/// program to the plate; the length of `turn` is design size ÷ program size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Turn and scale.
    pub turn: Complex<f64>,
    /// Shift, mm on the plate.
    pub shift: Complex<f64>,
}

impl Pose {
    /// Place on the plate.
    pub fn to_plate(self, p: Place) -> Place {
        let z = self.turn * Complex::new(p.x, p.y) + self.shift;
        Place::new(z.re, z.im)
    }

    /// Place in the program.
    pub fn to_program(self, p: Place) -> Place {
        let z = (Complex::new(p.x, p.y) - self.shift) / self.turn;
        Place::new(z.re, z.im)
    }

    /// Program size ÷ design size.
    pub fn scale(&self) -> f64 {
        1.0 / self.turn.norm()
    }

    /// The same with another scale, about the place `about` of the program.
    pub fn scaled_to(&self, scale: f64, about: Place) -> Pose {
        let here = self.to_plate(about);
        let turn = self.turn / self.turn.norm() / scale;
        let moved = turn * Complex::new(about.x, about.y);
        Pose {
            turn,
            shift: Complex::new(here.x, here.y) - moved,
        }
    }

    /// The same turned by `angle` radians about a place of the plate.
    pub fn turned(&self, angle: f64, about: Place) -> Pose {
        let by = Complex::from_polar(1.0, angle);
        let about = Complex::new(about.x, about.y);
        Pose {
            turn: self.turn * by,
            shift: (self.shift - about) * by + about,
        }
    }
}

/// Points taken around a ring.
const SAMPLES: usize = 240;

/// Points at equal steps along a ring.
pub fn along(ring: &[Place], count: usize) -> Vec<Place> {
    let next = ring.iter().skip(1).chain(ring.first());
    let steps: Vec<(Place, Vector2<f64>, f64)> = ring
        .iter()
        .zip(next)
        .map(|(a, b)| (*a, b - a, (b - a).norm()))
        .collect();
    let total: f64 = steps.iter().map(|s| s.2).sum();
    let mut points = Vec::with_capacity(count);
    let (mut k, mut passed) = (0, 0.0);
    for n in 0..count {
        let want = total * (n as f64 + 0.5) / count as f64;
        while let Some(step) = steps.get(k)
            && passed + step.2 < want
            && k + 1 < steps.len()
        {
            passed += step.2;
            k += 1;
        }
        if let Some((from, step, length)) = steps.get(k) {
            let share = if *length > 0.0 {
                (want - passed) / length
            } else {
                0.0
            };
            points.push(from + step * share.clamp(0.0, 1.0));
        }
    }
    points
}

/// Likely poses of `program` on `plate`, both anticlockwise, best first: point after point at equal steps
/// along both, for every step one may be ahead of the other. Each is the least-squares turn, scale and
/// shift. `round` is true where every turn is as good.
pub struct Likely {
    /// The poses.
    pub poses: Vec<Pose>,
    /// True where the outline does not tell the turn.
    pub round: bool,
}

/// See [`Likely`].
pub fn likely(program: &[Place], plate: &[Place], most: usize) -> Likely {
    let centred = |ring: &[Place]| {
        let points = along(ring, SAMPLES);
        let n = points.len().max(1) as f64;
        let sum: Vector2<f64> = points.iter().map(|p| p.coords).sum();
        let mean = Complex::new(sum.x, sum.y) / n;
        let list: Vec<Complex<f64>> = points
            .iter()
            .map(|p| Complex::new(p.x, p.y) - mean)
            .collect();
        (list, mean)
    };
    let ((z, z_mean), (w, w_mean)) = (centred(program), centred(plate));
    let none = Likely {
        poses: Vec::new(),
        round: false,
    };
    let n = z.len();
    let (zz, ww): (f64, f64) = (
        z.iter().map(|v| v.norm_sqr()).sum(),
        w.iter().map(|v| v.norm_sqr()).sum(),
    );
    if n == 0 || w.len() != n || !(zz > 0.0 && ww > 0.0 && zz.is_finite() && ww.is_finite()) {
        return none;
    }
    let turn_of = |ahead: usize| {
        let sum: Complex<f64> = z
            .iter()
            .zip(w.iter().cycle().skip(ahead))
            .map(|(z, w)| z.conj() * w)
            .sum();
        sum / zz
    };
    let turns: Vec<Complex<f64>> = (0..n).map(turn_of).collect();
    // What is left over as a share of the plate's own spread.
    let left: Vec<f64> = turns.iter().map(|t| 1.0 - t.norm_sqr() * zz / ww).collect();
    let least = left.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = left.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let round = largest - least < 1e-4;
    let at = |k: usize| left.get(k % n).copied().unwrap_or(f64::INFINITY);
    let mut dips: Vec<usize> = (0..n)
        .filter(|&k| at(k) <= at(k + 1) && at(k) < at(k + n - 1))
        .filter(|&k| at(k) <= 3.0 * least + 0.02)
        .collect();
    if round || dips.is_empty() {
        dips = (0..n).filter(|&k| at(k) == least).take(1).collect();
    }
    dips.sort_by(|a, b| at(*a).total_cmp(&at(*b)));
    dips.truncate(most);
    let poses = dips
        .into_iter()
        .filter_map(|k| turns.get(k))
        .filter(|turn| turn.norm() > 0.0)
        .map(|turn| Pose {
            turn: *turn,
            shift: w_mean - turn * z_mean,
        });
    Likely {
        poses: poses.collect(),
        round,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turned_and_shifted_ring_is_found() {
        let plate: Vec<Place> = [(0., 0.), (90., 0.), (90., 30.), (40., 70.), (0., 70.)]
            .map(|(x, y)| Place::new(x, y))
            .to_vec();
        let pose = Pose {
            turn: Complex::from_polar(0.5, 0.7),
            shift: Complex::new(11.0, -400.0),
        };
        let mut program: Vec<Place> = plate.iter().map(|p| pose.to_program(*p)).collect();
        program.rotate_left(2);
        let found = likely(&program, &plate, 5);
        let best = found.poses[0];
        assert!(!found.round);
        // A step along the ring is about a millimetre.
        assert!((best.turn - pose.turn).norm() < 0.02, "{best:?}");
        assert!((best.scale() - 2.0).abs() < 0.05);
        let p = Place::new(7.0, 8.0);
        assert!((pose.to_program(pose.to_plate(p)) - p).norm() < 1e-9);
    }
}

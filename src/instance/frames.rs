//! Ways to lay one body on another that are worth trying.

use nalgebra::{Matrix3, Point3, Rotation3, Vector3};

use super::moments::{Principal, Turning, principal, turnings};
use crate::body::Body;

/// p ↦ linear · (p − from) + to.
#[derive(Clone, Copy, Debug)]
pub struct Placement {
    /// A rotation, or a rotation and a mirror.
    pub linear: Matrix3<f64>,
    /// A point of the moved body, mm.
    pub from: Point3<f64>,
    /// Where it goes, mm.
    pub to: Point3<f64>,
}

impl Placement {
    /// Where a point goes.
    pub fn apply(&self, p: &Point3<f64>) -> Point3<f64> {
        self.to + self.linear * (p - self.from)
    }

    /// Leaves everything where it is.
    pub fn stay() -> Placement {
        Placement {
            linear: Matrix3::identity(),
            from: Point3::origin(),
            to: Point3::origin(),
        }
    }

    /// This one first, then the other.
    pub fn then(&self, next: &Placement) -> Placement {
        Placement {
            linear: next.linear * self.linear,
            from: self.from,
            to: next.apply(&self.to),
        }
    }

    /// The way back.
    pub fn inverse(&self) -> Placement {
        Placement {
            linear: self.linear.transpose(),
            from: self.to,
            to: self.from,
        }
    }
}

/// What a body's surface says about how it lies.
pub struct Pose<'a> {
    body: &'a Body,
    principal: Principal,
    /// Directions in which much area faces, heaviest first, with their share of the area.
    facings: Vec<(Vector3<f64>, f64)>,
    /// Root mean square distance from the centre, mm.
    pub size: f64,
}

/// Spreads nearer than this share leave the axes between them to chance and tessellation.
const ALIKE: f64 = 0.06;
/// Moments weaker than this are rounding.
const FAINT: f64 = 1e-7;

impl<'a> Pose<'a> {
    /// Reads a body's pose. O(facets).
    pub fn new(body: &'a Body) -> Self {
        let principal = principal(body);
        let size = principal
            .spread
            .iter()
            .sum::<f64>()
            .sqrt()
            .max(f64::MIN_POSITIVE);
        Pose {
            facings: facings(body),
            body,
            principal,
            size,
        }
    }

    /// Largest difference of the spreads of two bodies along their axes, mm.
    pub fn apart(&self, other: &Pose) -> f64 {
        let (a, b) = (self.principal.spread, other.principal.spread);
        (0..3)
            .map(|i| (a[i].sqrt() - b[i].sqrt()).abs())
            .fold(0.0, f64::max)
    }

    /// Placements of this body on `onto`, best guesses first; all of one hand.
    pub fn placements(&self, onto: &Pose, mirrored: bool) -> Vec<Placement> {
        let hand = if mirrored { -1.0 } else { 1.0 };
        let mut list = Vec::new();
        let mut push = |linear: Matrix3<f64>| {
            list.push(Placement {
                linear,
                from: self.principal.centre,
                to: onto.principal.centre,
            });
        };
        let target = Matrix3::from_columns(&onto.principal.axes);
        for (sx, sy) in [(1.0, 1.0), (-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0)] {
            let [x, y, z] = self.principal.axes;
            push(
                target * Matrix3::from_columns(&[x * sx, y * sy, z * (sx * sy * hand)]).transpose(),
            );
        }
        for (mine, theirs) in self.axis_pairs(onto) {
            self.about_axis(onto, mine, theirs, hand, &mut push);
        }
        list
    }

    /// Axes of this body and of the other that may correspond where principal axes do not tell.
    fn axis_pairs(&self, onto: &Pose) -> Vec<(Vector3<f64>, Vector3<f64>)> {
        let [a, b, c] = onto.principal.spread;
        let (low, high) = (b - a < ALIKE * b, c - b < ALIKE * c);
        let mut pairs = Vec::new();
        if low {
            pairs.push((self.principal.axes[2], onto.principal.axes[2]));
        }
        if high {
            pairs.push((self.principal.axes[0], onto.principal.axes[0]));
        }
        if low
            && high
            && let Some(&(theirs, share)) = onto.facings.first()
        {
            let alike = self
                .facings
                .iter()
                .filter(|f| (f.1 - share).abs() < 0.2 * share);
            pairs.extend(alike.take(12).map(|f| (f.0, theirs)));
        }
        pairs
    }

    /// Placements that lay one axis on the other, turned so that patterns about it agree.
    fn about_axis(
        &self,
        onto: &Pose,
        mine: Vector3<f64>,
        theirs: Vector3<f64>,
        hand: f64,
        push: &mut impl FnMut(Matrix3<f64>),
    ) {
        let their_frame = frame_about(theirs, 1.0);
        let their_turnings = turnings(onto.body, onto.principal.centre, &their_frame, onto.size);
        let mut order: Vec<usize> = (0..their_turnings.len())
            .filter(|&i| their_turnings[i].strength() > FAINT)
            .collect();
        order.sort_by(|&i, &j| rank(&their_turnings[j]).total_cmp(&rank(&their_turnings[i])));
        let target = Matrix3::from_columns(&their_frame);
        for sign in [1.0, -1.0] {
            let frame = frame_about(mine * sign, hand);
            let own = Matrix3::from_columns(&frame).transpose();
            let my_turnings = turnings(self.body, self.principal.centre, &frame, self.size);
            for &i in order.iter().take(3) {
                let (t, m) = (their_turnings[i], my_turnings[i]);
                if m.strength() < FAINT {
                    continue;
                }
                for step in 0..t.fold {
                    let turn = t.angle() - m.angle()
                        + std::f64::consts::TAU * f64::from(step) / f64::from(t.fold);
                    push(target * about_z(turn) * own);
                }
            }
            // A regular outline has no pattern of low order: lay farthest corner on farthest corner.
            if let (Some(t), Some(m)) = (onto.farthest(&their_frame), self.farthest(&frame)) {
                push(target * about_z(t - m) * own);
            }
        }
    }

    /// Angle about the frame's z at which a vertex lies farthest from it, radians.
    fn farthest(&self, frame: &[Vector3<f64>; 3]) -> Option<f64> {
        self.body
            .vertices
            .iter()
            .map(|p| {
                let d = p - self.principal.centre;
                (frame[0].dot(&d), frame[1].dot(&d))
            })
            .max_by(|a, b| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)))
            .map(|(x, y)| y.atan2(x))
    }
}

/// Strong patterns of low fold first.
fn rank(t: &Turning) -> f64 {
    t.strength() / f64::from(t.fold)
}

fn about_z(angle: f64) -> Matrix3<f64> {
    *Rotation3::from_axis_angle(&Vector3::z_axis(), angle).matrix()
}

/// A frame with the given z; right-handed for hand 1, left-handed for −1.
fn frame_about(z: Vector3<f64>, hand: f64) -> [Vector3<f64>; 3] {
    let z = z.try_normalize(0.0).unwrap_or_else(Vector3::z);
    let other = if z.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    let x = other.cross(&z).normalize();
    [x, z.cross(&x) * hand, z]
}

/// Directions in which much area faces, as shares of the area, heaviest first.
fn facings(body: &Body) -> Vec<(Vector3<f64>, f64)> {
    const STEPS: f64 = 24.0;
    let mut bins: std::collections::BTreeMap<[i8; 3], Vector3<f64>> =
        std::collections::BTreeMap::new();
    let mut total = 0.0;
    for f in &body.facets {
        let [a, b, c] = f.map(|v| body.vertices[v as usize]);
        let n = (b - a).cross(&(c - a));
        let area = n.norm();
        if area > 0.0 {
            total += area;
            let u = n / area;
            let bin = [u.x, u.y, u.z].map(|x| (x * STEPS).round() as i8);
            *bins.entry(bin).or_insert_with(Vector3::zeros) += n;
        }
    }
    let mut list: Vec<(Vector3<f64>, f64)> = bins
        .into_values()
        .filter_map(|n| Some((n.try_normalize(0.0)?, n.norm() / total)))
        .collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1));
    list.truncate(24);
    list
}

//! Lays one body on another and looks how far apart they are.

use std::cell::OnceCell;

use nalgebra::{Matrix3, Matrix6, Point3, Rotation3, Vector3, Vector6};

use super::frames::{Placement, Pose};
use super::sag::sag;
use crate::body::Body;
use crate::geometry::bvh::TriangleTree;

/// How one body lies on another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// A copy, or its own mirror image.
    Same,
    /// Only the mirror image fits.
    Opposite,
}

/// How well a placement fits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Fit {
    /// Some vertex is farther off than facets can explain.
    None,
    /// Within what facets cut off their surface.
    Sag,
    /// Within rounding of the coordinates.
    Exact,
}

/// A body compared with many; what that takes is worked out when it is first asked for.
pub struct Master<'a> {
    /// The body.
    pub body: &'a Body,
    pose: OnceCell<Pose<'a>>,
    tree: OnceCell<TriangleTree<'a>>,
    sag: OnceCell<Vec<f32>>,
    /// Standard deviation of a scan's noise, mm; 0 for a drawn model.
    noise: OnceCell<f64>,
}

/// Rounding moves two copies of a vertex apart by at most a step in three directions each, and
/// the placement by as much again.
const ROUNDINGS: f64 = 4.0;
/// Parts that differ by less than this share of their size, and in no measured number, are one
/// part to a shop (0.1 mm on a metre); models that were moved in low precision differ as much.
const SHOP_SHARE: f64 = 1e-4;
/// Two scans of one surface are nowhere farther apart than this many standard deviations: the
/// largest of some ten thousand.
const NOISE_REACH: f64 = 4.5;
/// Two surfaces that lie within some reach of each other spread by no more than a few times as much
/// differently about their centres.
const SPREAD_REACHES: f64 = 8.0;
/// Refinement of a placement stops after this many rounds.
const ROUNDS: usize = 8;

impl<'a> Master<'a> {
    /// A body that is to be compared.
    pub fn new(body: &'a Body) -> Self {
        Master {
            body,
            pose: OnceCell::new(),
            tree: OnceCell::new(),
            sag: OnceCell::new(),
            noise: OnceCell::new(),
        }
    }

    fn pose(&self) -> &Pose<'a> {
        self.pose.get_or_init(|| Pose::new(self.body))
    }

    fn tree(&self) -> &TriangleTree<'a> {
        let body = self.body;
        self.tree
            .get_or_init(|| TriangleTree::new(&body.vertices, &body.facets))
    }

    fn sag(&self) -> &[f32] {
        self.sag.get_or_init(|| sag(self.body))
    }

    fn noise(&self) -> f64 {
        *self
            .noise
            .get_or_init(|| crate::surface::noise(self.body).unwrap_or(0.0))
    }

    /// How `other` is a copy of this body, if it is one, and how it is laid on it.
    ///
    /// `loose` says whether the two have the same parameters, so that a difference no larger than
    /// what facets cut off counts as none. Copies of either hand that fit both ways are the same.
    pub fn hand_of(
        &self,
        other: &Master,
        loose: impl FnOnce() -> bool,
    ) -> Option<(Hand, Placement)> {
        let rounding = self.rounding(other);
        if let Some(laid) = super::in_order::laid(other.body, self.body, rounding) {
            return Some((Hand::Same, laid));
        }
        let loose = loose();
        if !loose && self.plainly_differs(other, rounding)
            || self.pose().apart(other.pose()) > SPREAD_REACHES * self.reach(other)
        {
            return None;
        }
        let (same, laid) = self.best(other, false);
        if same == Fit::Exact || same == Fit::Sag && loose {
            return Some((Hand::Same, laid?));
        }
        let (mirrored, turned) = self.best(other, true);
        let opposite = mirrored == Fit::Exact || mirrored == Fit::Sag && loose;
        opposite.then_some((Hand::Opposite, turned?))
    }

    /// True when two surfaces can't lie within `rounding` of each other: there would be no room for
    /// the difference of their volumes, or they spread differently.
    fn plainly_differs(&self, other: &Master, rounding: f64) -> bool {
        let (a, b) = (self.body, other.body);
        let room = 4.0 * rounding * a.area;
        a.closed && b.closed && (a.volume - b.volume).abs() > room
            || self.pose().apart(other.pose()) > 8.0 * rounding + 1e-6 * self.pose().size
    }

    /// How far rounding of coordinates moves two copies of a vertex apart, mm.
    fn rounding(&self, other: &Master) -> f64 {
        let far = self.body.vertices.first().map_or(0.0, |p| p.coords.norm());
        ROUNDINGS * (self.body.quantum + other.body.quantum) + 1e-12 * far
    }

    /// Differences between two bodies that a shop would not see, or that noise makes, mm.
    fn shop(&self, other: &Master) -> f64 {
        SHOP_SHARE * self.pose().size + NOISE_REACH * self.noise().hypot(other.noise())
    }

    /// No vertex of a copy lies farther off than this, mm.
    fn reach(&self, other: &Master) -> f64 {
        let deepest = |list: &[f32]| f64::from(list.iter().copied().fold(0.0, f32::max));
        let cut_off = 2.0 * (deepest(self.sag()) + deepest(other.sag()));
        1.01 * (self.rounding(other) + self.shop(other) + cut_off)
    }

    fn best(&self, other: &Master, mirrored: bool) -> (Fit, Option<Placement>) {
        let alike = self.body.vertices.len() == other.body.vertices.len();
        let (mut best, mut laid) = (Fit::None, None);
        for placement in other.pose().placements(self.pose(), mirrored) {
            let Some(placement) = self.refine(other.body, placement) else {
                continue;
            };
            let there = self.one_way(other, &placement);
            if there > best {
                let both = there.min(other.one_way(self, &placement.inverse()));
                if both > best {
                    (best, laid) = (both, Some(placement));
                }
            }
            // two divisions of one curved surface lie no nearer to each other any other way
            if best == Fit::Exact || best == Fit::Sag && !alike {
                break;
            }
        }
        (best, laid)
    }

    /// How far `other`, placed, lies from this body's surface.
    ///
    /// Its vertices, which stand on the true surface, and the middles of its facets: the rims of
    /// a hole through a plate lie on the plate's faces wherever the hole is, its walls do not.
    fn one_way(&self, other: &Master, placement: &Placement) -> Fit {
        let (rounding, shop) = (self.rounding(other), self.shop(other));
        // Nothing farther than this can pass, so nothing farther is looked for.
        let most = self.reach(other);
        let mut fit = Fit::Exact;
        for p in &other.body.vertices {
            let Some((_, facet, d)) = self.tree().closest(&placement.apply(p), most) else {
                return Fit::None;
            };
            if d > rounding {
                fit = Fit::Sag;
                if d > rounding + shop + 2.0 * f64::from(self.sag()[facet as usize]) {
                    return Fit::None;
                }
            }
        }
        for (f, own) in other.sag().iter().enumerate() {
            let Some((_, facet, d)) = self
                .tree()
                .closest(&placement.apply(&middle(other.body, f)), most)
            else {
                return Fit::None;
            };
            let cut_off = 2.0 * f64::from(own + self.sag()[facet as usize]);
            if d > rounding + cut_off {
                fit = Fit::Sag;
                if d > rounding + shop + cut_off {
                    return Fit::None;
                }
            }
        }
        fit
    }

    /// Slides a rough placement until a sample of vertices lies on the surface as well as it
    /// can (point to plane, least squares). `None` when it is plainly wrong.
    fn refine(&self, other: &Body, start: Placement) -> Option<Placement> {
        let mut placement = start;
        let coarse = (0.02 * self.pose().size).max(1e3 * self.body.quantum);
        if !sample(other, 24).all(|p| self.tree().closest(&placement.apply(&p), coarse).is_some()) {
            return None;
        }
        for _ in 0..ROUNDS {
            let mut normal = Matrix6::zeros();
            let mut right = Vector6::zeros();
            for p in sample(other, 400) {
                let q = placement.apply(&p);
                let (foot, facet, _) = self.tree().closest(&q, 2.0 * coarse)?;
                let n = self.normal(facet);
                let arm = (q - placement.to) / self.pose().size;
                let r = arm.cross(&n);
                let row = Vector6::new(r.x, r.y, r.z, n.x, n.y, n.z);
                normal += row * row.transpose();
                right -= row * n.dot(&(q - foot));
            }
            let step = solve(normal, right);
            let turn = Vector3::new(step[0], step[1], step[2]) / self.pose().size;
            // A start this near needs no larger turn; one is a direction hardly held.
            let turn = turn * (0.1 / turn.norm().max(0.1));
            let shift = Vector3::new(step[3], step[4], step[5]);
            placement.linear = Rotation3::new(turn).matrix() * placement.linear;
            placement.to += shift;
            if step.amax() < 0.1 * self.body.quantum {
                break;
            }
        }
        placement.linear = orthonormal(placement.linear);
        Some(placement)
    }

    fn normal(&self, facet: u32) -> Vector3<f64> {
        let [a, b, c] = self.body.facets[facet as usize].map(|v| self.body.vertices[v as usize]);
        (b - a)
            .cross(&(c - a))
            .try_normalize(0.0)
            .unwrap_or_else(Vector3::z)
    }
}

/// About n vertices and n middles of facets, spread evenly over the lists.
fn sample(body: &Body, n: usize) -> impl Iterator<Item = Point3<f64>> {
    let step = |len: usize| (len / n).max(1);
    let middles = (0..body.facets.len())
        .step_by(step(body.facets.len()))
        .map(|f| middle(body, f));
    body.vertices
        .iter()
        .copied()
        .step_by(step(body.vertices.len()))
        .chain(middles)
}

/// Middle of a facet.
fn middle(body: &Body, f: usize) -> Point3<f64> {
    let [a, b, c] = body.facets[f].map(|v| body.vertices[v as usize].coords);
    Point3::from((a + b + c) / 3.0)
}

/// Least-squares step; directions in which the surface slides on itself are left alone.
fn solve(normal: Matrix6<f64>, right: Vector6<f64>) -> Vector6<f64> {
    let eigen = normal.symmetric_eigen();
    let largest = eigen.eigenvalues.amax();
    let mut step = Vector6::zeros();
    for (value, vector) in eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
    {
        if *value > 1e-9 * largest {
            step += vector * (vector.dot(&right) / value);
        }
    }
    step
}

/// Nearest matrix with square unit columns (keeps the hand).
fn orthonormal(m: Matrix3<f64>) -> Matrix3<f64> {
    let svd = m.svd(true, true);
    match (svd.u, svd.v_t) {
        (Some(u), Some(v_t)) => u * v_t,
        _ => m,
    }
}

//! Lays one body on another and looks how far apart they are.

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

/// A body made ready to be compared with many.
pub struct Master<'a> {
    body: &'a Body,
    pose: Pose<'a>,
    tree: TriangleTree<'a>,
    sag: Vec<f32>,
    /// Standard deviation of a scan's noise, mm; 0 for a drawn model.
    noise: f64,
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
/// Refinement of a placement stops after this many rounds.
const ROUNDS: usize = 8;

impl<'a> Master<'a> {
    /// Reads pose, tree and facet sag of a body. O(n log n).
    pub fn new(body: &'a Body) -> Self {
        Master {
            body,
            pose: Pose::new(body),
            tree: TriangleTree::new(&body.vertices, &body.facets),
            sag: sag(body),
            noise: crate::surface::noise(body).unwrap_or(0.0),
        }
    }

    /// How `other` is a copy of this body, if it is one, and how it is laid on it.
    ///
    /// `loose` says that the two have the same parameters, so that a difference no larger than
    /// what facets cut off counts as none. Copies of either hand that fit both ways are the same.
    pub fn hand_of(&self, theirs: &Master, loose: bool) -> Option<(Hand, Placement)> {
        let (a, b) = (self.body, theirs.body);
        // Between surfaces that lie within rounding of each other there is no more room than this.
        let room = 4.0 * self.rounding(theirs) * a.area;
        let volumes_differ = a.closed && b.closed && (a.volume - b.volume).abs() > room;
        if !loose && volumes_differ {
            return None;
        }
        let (same, laid) = self.best(theirs, false);
        if same == Fit::Exact {
            return Some((Hand::Same, laid?));
        }
        let (mirrored, turned) = self.best(theirs, true);
        match (same, mirrored) {
            (Fit::Sag, _) if loose => Some((Hand::Same, laid?)),
            (_, Fit::Exact) => Some((Hand::Opposite, turned?)),
            (_, Fit::Sag) if loose => Some((Hand::Opposite, turned?)),
            _ => None,
        }
    }

    /// How far rounding of coordinates moves two copies apart, mm.
    fn rounding(&self, other: &Master) -> f64 {
        ROUNDINGS * (self.body.quantum + other.body.quantum) + 1e-12 * self.pose.size
    }

    fn best(&self, other: &Master, mirrored: bool) -> (Fit, Option<Placement>) {
        let (mut best, mut laid) = (Fit::None, None);
        for placement in other.pose.placements(&self.pose, mirrored) {
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
            if best == Fit::Exact {
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
        let rounding = self.rounding(other);
        let shop = SHOP_SHARE * self.pose.size + NOISE_REACH * self.noise.hypot(other.noise);
        let deepest = |list: &[f32]| f64::from(list.iter().copied().fold(0.0, f32::max));
        // Nothing farther than this can pass, so nothing farther is looked for.
        let most = 1.01 * (rounding + shop + 2.0 * (deepest(&self.sag) + deepest(&other.sag)));
        let mut fit = Fit::Exact;
        for p in &other.body.vertices {
            let Some((_, facet, d)) = self.tree.closest(&placement.apply(p), most) else {
                return Fit::None;
            };
            if d > rounding {
                fit = Fit::Sag;
                if d > rounding + shop + 2.0 * f64::from(self.sag[facet as usize]) {
                    return Fit::None;
                }
            }
        }
        for (f, own) in other.sag.iter().enumerate() {
            let Some((_, facet, d)) = self
                .tree
                .closest(&placement.apply(&middle(other.body, f)), most)
            else {
                return Fit::None;
            };
            let cut_off = 2.0 * f64::from(own + self.sag[facet as usize]);
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
        let coarse = (0.02 * self.pose.size).max(1e3 * self.body.quantum);
        if !sample(other, 24).all(|p| self.tree.closest(&placement.apply(&p), coarse).is_some()) {
            return None;
        }
        for _ in 0..ROUNDS {
            let mut normal = Matrix6::zeros();
            let mut right = Vector6::zeros();
            for p in sample(other, 400) {
                let q = placement.apply(&p);
                let (foot, facet, _) = self.tree.closest(&q, 2.0 * coarse)?;
                let n = self.normal(facet);
                let arm = (q - placement.to) / self.pose.size;
                let r = arm.cross(&n);
                let row = Vector6::new(r.x, r.y, r.z, n.x, n.y, n.z);
                normal += row * row.transpose();
                right -= row * n.dot(&(q - foot));
            }
            let step = solve(normal, right);
            let turn = Vector3::new(step[0], step[1], step[2]) / self.pose.size;
            // A start this near needs no larger turn; one is a direction hardly held.
            let turn = turn * (0.1 / turn.norm().max(0.1));
            let shift = Vector3::new(step[3], step[4], step[5]);
            placement.linear = Rotation3::new(turn).matrix() * placement.linear;
            placement.to += shift;
            if step.amax() < 0.01 * self.body.quantum {
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

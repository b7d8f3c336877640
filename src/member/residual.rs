//! How far vertices lie off the profile once the path has been straightened out under them.

use super::lateral::Observation;
use super::model::{Model, straightened};
use super::profile::{Contour, Element, Profile, Pt2};

/// Contours of a profile cut into elements once for many distances.
pub struct Outline(Vec<Vec<Element>>);

impl Outline {
    /// Elements of all contours.
    pub fn new(profile: &Profile) -> Self {
        Outline(profile.contours.iter().map(Contour::elements).collect())
    }

    /// Signed distance of `p` from contour `contour` (outside the contour positive), mm.
    pub fn signed(&self, contour: usize, p: &Pt2) -> f64 {
        let (away, signed) = self.nearest_element(contour, p).1;
        // outside a corner the line's own distance is too small; keep the true distance with its sign
        if signed.abs() < away {
            away.copysign(if signed == 0.0 { 1.0 } else { signed })
        } else {
            signed
        }
    }

    /// The element of a contour nearest to `p`, and [`Element::distance`] from it.
    fn nearest_element(&self, contour: usize, p: &Pt2) -> (Option<&Element>, (f64, f64)) {
        let mut best = (None, (f64::INFINITY, 0.0));
        for e in &self.0[contour] {
            let d = e.distance(p);
            let (away, signed): (f64, f64) = best.1;
            if d.0 < away - 1e-12 || (d.0 < away + 1e-12 && d.1.abs() > signed.abs()) {
                best = (Some(e), d);
            }
        }
        best
    }

    /// Direction in which [`Outline::signed`] grows at `p`.
    pub fn normal(&self, contour: usize, p: &Pt2) -> super::profile::Vec2 {
        let (Some(e), (away, signed)) = self.nearest_element(contour, p) else {
            return super::profile::Vec2::zeros();
        };
        if signed.abs() < away {
            let sense = if signed < 0.0 { -1.0 } else { 1.0 };
            (p - e.foot(p)) * (sense / away)
        } else {
            e.normal(p)
        }
    }

    /// Nearest contour to `p` and the signed distance from it.
    pub fn nearest(&self, p: &Pt2) -> (usize, f64) {
        (0..self.0.len())
            .map(|i| (i, self.signed(i, p)))
            .min_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            .unwrap_or((0, f64::INFINITY))
    }
}

/// Residuals, mm: the distance of every observation from its contour, then for every one on a sharp
/// corner the distance from the corner's second side (zero where the contour has no such corner).
pub fn residuals(model: &Model, observations: &[Observation]) -> Vec<f64> {
    let outline = Outline::new(&model.profile);
    let corners = Corners::new(&model.profile);
    let mut second = Vec::new();
    let mut first: Vec<f64> = observations
        .iter()
        .map(|o| {
            let (q, ..) = straightened(model, &o.point, o.near);
            let contour = o.contour.min(model.profile.contours.len() - 1);
            if o.sharp {
                if let Some((a, b)) = corners.sides(contour, &q) {
                    second.push(b);
                    return a;
                }
                second.push(0.0);
            }
            outline.signed(contour, &q)
        })
        .collect();
    first.append(&mut second);
    first
}

/// Sharp corners of a profile: where two sides meet, and their lines.
pub struct Corners(Vec<Vec<Corner>>, f64);

/// A sharp corner: its place, its sides' normals and their offsets.
type Corner = (Pt2, [super::profile::Vec2; 2], [f64; 2]);

impl Corners {
    /// Corners of all contours.
    pub fn new(profile: &Profile) -> Self {
        // a vertex further off than a tenth of the section stands on some other edge
        let near = 0.1
            * profile.contours[0]
                .elements()
                .iter()
                .map(|e| match e {
                    Element::Line { a, .. } => a.coords.norm(),
                    Element::Arc { centre, radius, .. } => centre.coords.norm() + radius,
                    Element::Circle { radius } => *radius,
                })
                .fold(0.0, f64::max);
        Corners(
            profile
                .contours
                .iter()
                .map(|c| {
                    let Contour::Sides(sides) = c else {
                        return Vec::new();
                    };
                    let n = sides.len();
                    (0..n)
                        .filter(|&j| sides[j].corner == 0.0)
                        .filter_map(|j| {
                            let (s, t) = (sides[j], sides[(j + 1) % n]);
                            let (u, v) = (
                                super::profile::unit(s.normal),
                                super::profile::unit(t.normal),
                            );
                            let at = super::profile::meet(u, s.offset, v, t.offset)?;
                            Some((at, [u, v], [s.offset, t.offset]))
                        })
                        .collect()
                })
                .collect(),
            near,
        )
    }

    /// The sharp corner of a contour that `q` stands near.
    fn nearest(&self, contour: usize, q: &Pt2) -> Option<&Corner> {
        self.0[contour]
            .iter()
            .filter(|(at, ..)| (q - at).norm() < self.1)
            .min_by(|a, b| {
                (q - a.0)
                    .norm_squared()
                    .total_cmp(&(q - b.0).norm_squared())
            })
    }

    /// Signed distances of `q` from the two sides of its nearest sharp corner.
    pub fn sides(&self, contour: usize, q: &Pt2) -> Option<(f64, f64)> {
        let (_, n, d) = self.nearest(contour, q)?;
        Some((q.coords.dot(&n[0]) - d[0], q.coords.dot(&n[1]) - d[1]))
    }

    /// Normals of those two sides.
    pub fn normals(&self, contour: usize, q: &Pt2) -> Option<[super::profile::Vec2; 2]> {
        self.nearest(contour, q).map(|c| c.1)
    }
}

/// 1.4826 · median of absolute values: the robust standard deviation of a normal sample.
pub fn robust_scale(residuals: &[f64]) -> f64 {
    let mut a: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    if a.is_empty() {
        return f64::INFINITY;
    }
    let m = a.len() / 2;
    let (_, median, _) = a.select_nth_unstable_by(m, f64::total_cmp);
    1.4826 * *median
}

/// The value that a share `q` of the absolute residuals stays below.
pub fn quantile(residuals: &[f64], q: f64) -> f64 {
    let mut a: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    if a.is_empty() {
        return f64::INFINITY;
    }
    let k = ((a.len() - 1) as f64 * q).round() as usize;
    *a.select_nth_unstable_by(k, f64::total_cmp).1
}

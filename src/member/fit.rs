//! The joint fit: one path and one profile through all vertices of the swept surface.
//!
//! Vertices are data and the insides of facets are not, so the residual of a vertex is its distance
//! from the profile after the path has been straightened out under it. Damped Gauss–Newton
//! (Levenberg–Marquardt) with Tukey's biweight; covariance s²(JᵀJ)⁻¹ (JCGM 100:2008, annex on least
//! squares).

use nalgebra::{DMatrix, DVector};

use super::lateral::Observation;
use super::path::{Frame, Path, Piece};
use super::profile::{Contour, Element, Profile, Pt2};
use crate::geometry::Vec3;

/// A member as the fit sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Model {
    /// Path through the origin of the profile.
    pub path: Path,
    /// Section.
    pub profile: Profile,
    /// For each piece: how much sections between its ends are stretched towards the bend's centre
    /// (1 for true sections; 1/cos of half a facet step where flats carry the true section).
    pub stretch: Vec<f64>,
    /// Distances along the path between which sections are stretched; at the ends they are true.
    pub stretched_between: [f64; 2],
}

/// Which numbers of a model are free.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Free {
    /// Turn of the start frame about its own axis: 0 w, 1 h, 2 t; radians.
    Turn(usize),
    /// Shift of the start along w (0) or h (1), mm.
    Shift(usize),
    /// Length of a piece, mm.
    Length(usize),
    /// Curvature of a piece, 1/mm.
    Curvature(usize),
    /// Bend direction of a piece, radians.
    Bend(usize),
    /// Torsion of a piece, 1/mm.
    Torsion(usize),
    /// Radius of a round contour, mm.
    Radius(usize),
    /// Offset of side j of contour i, mm.
    Offset(usize, usize),
    /// Opposite sides of a rectangle together: contour, 0 width or 1 height; half size, mm.
    Half(usize, usize),
    /// All rounded corners of a contour of one sense (+1 convex, −1 concave), mm.
    Corner(usize, i8),
}

/// Result of a fit.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// The model.
    pub model: Model,
    /// Root mean square residual of the vertices kept, mm.
    pub rms: f64,
    /// Robust scale of all residuals, mm: from the median or, when larger, from the 80 % quantile, so
    /// that a model that fails a fifth of the vertices shows it.
    pub scale: f64,
    /// Vertices used.
    pub used: usize,
    free: Vec<Free>,
    covariance: DMatrix<f64>,
}

/// True for a contour of four sides at right angles.
fn is_rectangle(c: &Contour) -> bool {
    matches!(c, Contour::Sides(s) if s.len() == 4
    && (0..4).all(|j| {
        let turn = s[(j + 1) % 4].normal - s[j].normal;
        (turn.sin() - 1.0).abs() < 1e-6
    }))
}

/// Corner senses of a contour: +1 convex, −1 concave.
fn corner_sense(sides: &[super::profile::Side], j: usize) -> i8 {
    let turn = (sides[(j + 1) % sides.len()].normal - sides[j].normal).sin();
    if turn >= 0.0 { 1 } else { -1 }
}

/// True when the profile is symmetric about its origin, so that the path's own place is free.
fn centred(profile: &Profile) -> bool {
    profile
        .contours
        .iter()
        .all(|c| matches!(c, Contour::Circle { .. }) || is_rectangle(c))
}

fn free_numbers(model: &Model) -> Vec<Free> {
    let mut free = vec![Free::Turn(0), Free::Turn(1)];
    let round = model
        .profile
        .contours
        .iter()
        .all(|c| matches!(c, Contour::Circle { .. }));
    if !round {
        free.push(Free::Turn(2));
    }
    if centred(&model.profile) {
        free.extend([Free::Shift(0), Free::Shift(1)]);
    }
    let last = model.path.pieces.len() - 1;
    for (i, p) in model.path.pieces.iter().enumerate() {
        if i < last {
            free.push(Free::Length(i));
        }
        if p.curvature != 0.0 {
            free.extend([Free::Curvature(i), Free::Bend(i)]);
        }
        if p.torsion != 0.0 {
            free.push(Free::Torsion(i));
        }
    }
    for (i, c) in model.profile.contours.iter().enumerate() {
        match c {
            Contour::Circle { .. } => free.push(Free::Radius(i)),
            Contour::Sides(sides) => {
                if is_rectangle(c) && centred(&model.profile) {
                    free.extend([Free::Half(i, 0), Free::Half(i, 1)]);
                } else {
                    free.extend((0..sides.len()).map(|j| Free::Offset(i, j)));
                }
                for sense in [1, -1] {
                    if (0..sides.len())
                        .any(|j| sides[j].corner > 0.0 && corner_sense(sides, j) == sense)
                    {
                        free.push(Free::Corner(i, sense));
                    }
                }
            }
        }
    }
    free
}

/// The model with its free numbers moved by `by`.
fn moved(model: &Model, free: &[Free], by: &[f64]) -> Model {
    let mut start = model.path.start;
    let mut pieces = model.path.pieces.clone();
    let mut profile = model.profile.clone();
    let mut turn = Vec3::zeros();
    for (f, &d) in free.iter().zip(by) {
        match *f {
            Free::Turn(k) => turn += d * [start.w, start.h, start.t][k],
            Free::Shift(k) => start.point += d * [model.path.start.w, model.path.start.h][k],
            Free::Length(i) => pieces[i].length = (pieces[i].length + d).max(1e-6),
            Free::Curvature(i) => pieces[i].curvature += d,
            Free::Bend(i) => pieces[i].bend += d,
            Free::Torsion(i) => pieces[i].torsion += d,
            Free::Radius(i) => {
                if let Contour::Circle { radius } = &mut profile.contours[i] {
                    *radius = (*radius + d).max(1e-6);
                }
            }
            Free::Offset(i, j) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    s[j].offset += d;
                }
            }
            Free::Half(i, k) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    for j in 0..4 {
                        if (s[j].normal.cos().abs() > 0.5) == (k == 0) {
                            s[j].offset += d;
                        }
                    }
                }
            }
            Free::Corner(i, sense) => {
                if let Contour::Sides(s) = &mut profile.contours[i] {
                    for j in 0..s.len() {
                        if s[j].corner > 0.0 && corner_sense(s, j) == sense {
                            s[j].corner = (s[j].corner + d).max(1e-6);
                        }
                    }
                }
            }
        }
    }
    let rotation = nalgebra::Rotation3::new(turn);
    start = Frame {
        point: start.point,
        w: rotation * start.w,
        h: rotation * start.h,
        t: rotation * start.t,
    };
    Model {
        path: Path::new(start, pieces),
        profile,
        stretch: model.stretch.clone(),
        stretched_between: model.stretched_between,
    }
}

/// Contours of a profile cut into elements once for many distances.
pub struct Outline(Vec<Vec<Element>>);

impl Outline {
    /// Elements of all contours.
    pub fn new(profile: &Profile) -> Self {
        Outline(profile.contours.iter().map(Contour::elements).collect())
    }

    /// Signed distance of `p` from contour `contour` (outside the contour positive), mm.
    pub fn signed(&self, contour: usize, p: &Pt2) -> f64 {
        let mut best = (f64::INFINITY, 0.0);
        for e in &self.0[contour] {
            let d = e.distance(p);
            if d.0 < best.0 - 1e-12 || (d.0 < best.0 + 1e-12 && d.1.abs() > f64::abs(best.1)) {
                best = d;
            }
        }
        // outside a corner the line's own distance is too small; keep the true distance with its sign
        if best.1.abs() < best.0 {
            best.0.copysign(if best.1 == 0.0 { 1.0 } else { best.1 })
        } else {
            best.1
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

/// A vertex seen from the model: section coordinates with a piece's stretch taken out, and distance
/// along the path.
pub fn straightened(model: &Model, p: &crate::geometry::Pt3, near: f64) -> (Pt2, f64, usize) {
    let (l, i) = model.path.local(p, near);
    let mut q = Pt2::new(l.x, l.y);
    let stretch = model.stretch[i];
    if stretch != 1.0 && l.s > model.stretched_between[0] && l.s < model.stretched_between[1] {
        let (sin, cos) = model.path.pieces[i].bend.sin_cos();
        let towards = -l.x * sin + l.y * cos;
        let less = towards / stretch - towards;
        q.x -= sin * less;
        q.y += cos * less;
    }
    (q, l.s, i)
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
struct Corners(Vec<Vec<Corner>>, f64);

/// A sharp corner: its place, its sides' normals and their offsets.
type Corner = (Pt2, [super::profile::Vec2; 2], [f64; 2]);

impl Corners {
    fn new(profile: &Profile) -> Self {
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

    /// Signed distances of `q` from the two sides of its nearest sharp corner.
    fn sides(&self, contour: usize, q: &Pt2) -> Option<(f64, f64)> {
        self.0[contour]
            .iter()
            .filter(|(at, ..)| (q - at).norm() < self.1)
            .min_by(|a, b| {
                (q - a.0)
                    .norm_squared()
                    .total_cmp(&(q - b.0).norm_squared())
            })
            .map(|(_, n, d)| (q.coords.dot(&n[0]) - d[0], q.coords.dot(&n[1]) - d[1]))
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

/// The model with its last piece ending where its last vertex stands; its length is not a free number.
fn shortened(mut model: Model, observations: &[Observation]) -> Model {
    let last = model.path.pieces.len() - 1;
    let start = model.path.start_of(last);
    let end = observations
        .iter()
        .map(|o| straightened(&model, &o.point, o.near).1)
        .fold(start, f64::max);
    let mut pieces = model.path.pieces.clone();
    pieces[last].length = (end - start).max(1e-3);
    model.path = Path::new(model.path.start, pieces);
    model
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

/// Shortens a step that would move a size or the start by more than a third of the section.
fn hold_back(free: &[Free], by: &mut [f64], reach: f64, lengths: &[f64]) {
    let longest = free
        .iter()
        .zip(by.iter())
        .map(|(f, d)| match f {
            Free::Shift(_)
            | Free::Radius(_)
            | Free::Offset(..)
            | Free::Half(..)
            | Free::Corner(..) => d.abs() / (0.33 * reach),
            Free::Turn(_) | Free::Bend(_) => d.abs() / 0.5,
            Free::Length(i) => d.abs() / (0.5 * lengths[*i] + reach),
            Free::Curvature(_) | Free::Torsion(_) => 0.0,
        })
        .fold(0.0, f64::max);
    if longest > 1.0 {
        by.iter_mut().for_each(|d| *d /= longest);
    }
}

fn probe_step(f: Free, reach: f64, length: f64) -> f64 {
    match f {
        Free::Turn(2) => 1e-6,
        Free::Turn(_) => 1e-5 / (1.0 + length / reach.max(1e-9)).max(1.0),
        Free::Curvature(_) => 1e-4 / (length * length).max(reach * reach),
        Free::Bend(_) => 1e-6,
        Free::Torsion(_) => 1e-4 / (length * length).max(reach * reach),
        _ => 1e-5 * reach.max(1e-3),
    }
}

/// Tukey's biweight with the usual 4.685 σ (95 % efficiency for normal residuals; from memory).
fn weight(residual: f64, sigma: f64) -> f64 {
    let u = residual / (4.685 * sigma);
    if u.abs() >= 1.0 {
        0.0
    } else {
        (1.0 - u * u).powi(2)
    }
}

/// Fits `model` to the observations. `floor` is the smallest standard deviation residuals can have
/// (the file's rounding), mm. `None` when the vertices cannot fix the free numbers.
pub fn fit(model: &Model, observations: &[Observation], floor: f64) -> Option<Fitted> {
    let free = free_numbers(model);
    let m = free.len();
    let length = model.path.length();
    let reach = model.profile.contours.first().map(|c| {
        c.points(1.0)
            .iter()
            .map(|p| p.coords.norm())
            .fold(0.0, f64::max)
    })?;
    let steps: Vec<f64> = free.iter().map(|&f| probe_step(f, reach, length)).collect();
    let mut current = model.clone();
    let mut r = residuals(&current, observations);
    let n = r.len();
    if n < m + 1 {
        return None;
    }
    // start with everything in play and shed outliers as the fit tightens: a start that throws away
    // a whole contour never gets it back
    let mut reach_of_weights = quantile(&r, 0.98).max(floor);
    let mut damping = 1e-3;
    let mut normal = DMatrix::zeros(m, m);
    let mut weights: Vec<f64> = r.iter().map(|&x| weight(x, reach_of_weights)).collect();
    for _ in 0..40 {
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(m);
        for k in 0..m {
            let mut by = vec![0.0; m];
            by[k] = steps[k];
            let up = residuals(&moved(&current, &free, &by), observations);
            columns.push(up.iter().zip(&r).map(|(a, b)| (a - b) / steps[k]).collect());
        }
        let mut gradient = DVector::zeros(m);
        for a in 0..m {
            for b in a..m {
                let sum: f64 = (0..n)
                    .map(|i| weights[i] * columns[a][i] * columns[b][i])
                    .sum();
                normal[(a, b)] = sum;
                normal[(b, a)] = sum;
            }
            gradient[a] = (0..n).map(|i| weights[i] * columns[a][i] * r[i]).sum();
        }
        let cost = |r: &[f64]| r.iter().zip(&weights).map(|(x, w)| w * x * x).sum::<f64>();
        let before = cost(&r);
        let mut improved = false;
        for _ in 0..12 {
            let mut damped = normal.clone();
            for k in 0..m {
                damped[(k, k)] += damping * normal[(k, k)].max(1e-30);
            }
            let Some(cholesky) = damped.cholesky() else {
                damping = (damping * 10.0).max(1e-12);
                continue;
            };
            let lengths: Vec<f64> = current.path.pieces.iter().map(|p| p.length).collect();
            let mut by: Vec<f64> = (-cholesky.solve(&gradient)).iter().copied().collect();
            hold_back(&free, &mut by, reach, &lengths);
            let candidate = moved(&current, &free, &by);
            let rr = residuals(&candidate, observations);
            let after = cost(&rr);
            if after.is_finite() && after <= before {
                improved = before - after > 1e-10 * before + 1e-24;
                current = candidate;
                r = rr;
                damping = (damping * 0.1).max(1e-14);
                break;
            }
            damping *= 8.0;
        }
        let tight = robust_scale(&r).max(0.78 * quantile(&r, 0.8)).max(floor);
        let narrower = tight.max(0.4 * reach_of_weights);
        let settled = !improved && (narrower - reach_of_weights).abs() < 1e-3 * reach_of_weights;
        reach_of_weights = narrower;
        weights = r.iter().map(|&x| weight(x, reach_of_weights)).collect();
        if settled {
            break;
        }
    }
    let kept: f64 = weights.iter().sum();
    let used = weights.iter().filter(|w| **w > 0.0).count();
    if used < m + 1 {
        return None;
    }
    let rss: f64 = r.iter().zip(&weights).map(|(x, w)| w * x * x).sum();
    let s2 = (rss / (kept - m as f64).max(1.0)).max(floor * floor);
    // scale to unit diagonal before inverting: the free numbers span many magnitudes
    let scale = DVector::from_iterator(m, (0..m).map(|k| 1.0 / normal[(k, k)].max(1e-300).sqrt()));
    let scaled = DMatrix::from_fn(m, m, |a, b| normal[(a, b)] * scale[a] * scale[b]);
    let inverse = scaled.pseudo_inverse(1e-13).ok()?;
    let covariance = DMatrix::from_fn(m, m, |a, b| s2 * inverse[(a, b)] * scale[a] * scale[b]);
    let current = shortened(current, observations);
    Some(Fitted {
        model: current,
        rms: (rss / kept).sqrt(),
        scale: robust_scale(&r).max(0.78 * quantile(&r, 0.8)),
        used,
        free,
        covariance,
    })
}

impl Fitted {
    /// Values of `f` at the fitted model and their standard uncertainties, by propagating the
    /// covariance of the free numbers through numerical derivatives.
    pub fn propagate(&self, f: &dyn Fn(&Model) -> Vec<f64>) -> (Vec<f64>, Vec<f64>) {
        let values = f(&self.model);
        let m = self.free.len();
        let mut jacobian = DMatrix::zeros(values.len(), m);
        let length = self.model.path.length();
        for k in 0..m {
            let step = self.covariance[(k, k)]
                .sqrt()
                .max(1e-3 * probe_step(self.free[k], 1.0, length));
            let mut by = vec![0.0; m];
            by[k] = step;
            let up = f(&moved(&self.model, &self.free, &by));
            by[k] = -step;
            let down = f(&moved(&self.model, &self.free, &by));
            if up.len() == values.len() && down.len() == values.len() {
                for i in 0..values.len() {
                    jacobian[(i, k)] = (up[i] - down[i]) / (2.0 * step);
                }
            }
        }
        let spread = &jacobian * &self.covariance * jacobian.transpose();
        let u = (0..values.len())
            .map(|i| spread[(i, i)].max(0.0).sqrt())
            .collect();
        (values, u)
    }
}

/// The path of `model` moved so that it runs through points (section centres); its profile is left out.
pub fn fit_path(model: &Model, centres: &[Observation]) -> Option<Model> {
    let free: Vec<Free> = free_numbers(model)
        .into_iter()
        .filter(|f| !matches!(f, Free::Radius(_)))
        .collect();
    let m = free.len();
    let length = model.path.length();
    let offsets = |model: &Model| -> Vec<f64> {
        centres
            .iter()
            .flat_map(|o| {
                let (l, _) = model.path.local(&o.point, o.near);
                [l.x, l.y]
            })
            .collect()
    };
    let mut current = model.clone();
    let mut r = offsets(&current);
    let mut damping = 1e-3;
    for _ in 0..40 {
        let mut jacobian = DMatrix::zeros(r.len(), m);
        for k in 0..m {
            let step = probe_step(free[k], 1.0, length);
            let mut by = vec![0.0; m];
            by[k] = step;
            let up = offsets(&moved(&current, &free, &by));
            by[k] = -step;
            let down = offsets(&moved(&current, &free, &by));
            for i in 0..r.len() {
                jacobian[(i, k)] = (up[i] - down[i]) / (2.0 * step);
            }
        }
        let normal = jacobian.transpose() * &jacobian;
        let gradient = jacobian.transpose() * DVector::from_column_slice(&r);
        let before: f64 = r.iter().map(|x| x * x).sum();
        let mut gained = 0.0;
        for _ in 0..12 {
            let mut damped = normal.clone();
            for k in 0..m {
                damped[(k, k)] += damping * normal[(k, k)].max(1e-30);
            }
            let Some(cholesky) = damped.cholesky() else {
                damping = (damping * 10.0f64).max(1e-12);
                continue;
            };
            let by: Vec<f64> = (-cholesky.solve(&gradient)).iter().copied().collect();
            let candidate = moved(&current, &free, &by);
            let rr = offsets(&candidate);
            let after: f64 = rr.iter().map(|x| x * x).sum();
            if after.is_finite() && after <= before {
                gained = before - after;
                current = candidate;
                r = rr;
                damping = (damping * 0.1).max(1e-14);
                break;
            }
            damping *= 8.0;
        }
        if gained <= 1e-7 * before {
            break;
        }
    }
    Some(current)
}

/// The same path with its section axes turned by `roll` radians about t.
pub fn rolled(path: &Path, roll: f64) -> Path {
    let s = path.start;
    let (sin, cos) = roll.sin_cos();
    let start = Frame {
        point: s.point,
        w: s.w * cos + s.h * sin,
        h: s.h * cos - s.w * sin,
        t: s.t,
    };
    // centre direction cos(b) h − sin(b) w stays put: b measured from the turned axes is less by roll
    let pieces = path
        .pieces
        .iter()
        .map(|p| Piece {
            bend: p.bend - roll,
            ..*p
        })
        .collect();
    Path::new(start, pieces)
}

/// A piece with its curvature made positive and its bend direction in (−π, π].
pub fn tidy(piece: &Piece) -> Piece {
    let mut p = *piece;
    if p.curvature < 0.0 {
        p.curvature = -p.curvature;
        p.bend += std::f64::consts::PI;
    }
    p.bend -= std::f64::consts::TAU * (p.bend / std::f64::consts::TAU).round();
    p
}

//! The joint fit: one path and one profile through all vertices of the swept surface.
//!
//! Vertices are data and the insides of facets are not, so the residual of a vertex is its distance
//! from the profile after the path has been straightened out under it. Damped Gauss–Newton
//! (Levenberg–Marquardt) with Tukey's biweight; covariance s²(JᵀJ)⁻¹ (JCGM 100:2008, annex on least
//! squares).

use nalgebra::{DMatrix, DVector};

use super::derivative::columns;
use super::freedom::{Free, free_numbers, hold_back, moved, probe_step};
use super::lateral::Observation;
use super::model::{Model, straightened};
use super::path::Path;
use super::residual::{quantile, residuals, robust_scale};

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

/// Tukey's biweight with the usual 4.685 σ (95 % efficiency for normal residuals; from memory).
fn weight(residual: f64, sigma: f64) -> f64 {
    let u = residual / (4.685 * sigma);
    if u.abs() >= 1.0 {
        0.0
    } else {
        (1.0 - u * u).powi(2)
    }
}

/// A step worth taking lessens the sum of squares by this much of a residual's variance: it moves the
/// free numbers by a thousandth of their standard uncertainty or more.
const GAIN: f64 = 1e-6;

/// Fits `model` to the observations. `floor` is the smallest standard deviation residuals can have
/// (the file's rounding), mm. `None` when the vertices cannot fix the free numbers.
pub fn fit(model: &Model, observations: &[Observation], floor: f64) -> Option<Fitted> {
    fit_within(model, observations, floor, 40)
}

/// The same in at most so many rounds.
pub fn fit_within(
    model: &Model,
    observations: &[Observation],
    floor: f64,
    rounds: usize,
) -> Option<Fitted> {
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
    for _ in 0..rounds {
        let columns = columns(&current, &free, &steps, observations);
        let mut gradient = DVector::zeros(m);
        for a in 0..m {
            let weighted = columns[a].component_mul(&DVector::from_column_slice(&weights));
            for b in a..m {
                let sum = weighted.dot(&columns[b]);
                normal[(a, b)] = sum;
                normal[(b, a)] = sum;
            }
            gradient[a] = weighted.dot(&DVector::from_column_slice(&r));
        }
        let cost = |r: &[f64]| r.iter().zip(&weights).map(|(x, w)| w * x * x).sum::<f64>();
        let before = cost(&r);
        let variance = (before / weights.iter().sum::<f64>().max(1.0)).max(floor * floor);
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
            let step = -cholesky.solve(&gradient);
            // what a whole step gains where the model is linear
            if -step.dot(&gradient) < GAIN * variance {
                break;
            }
            let mut by: Vec<f64> = step.iter().copied().collect();
            hold_back(&free, &mut by, reach, &lengths);
            let candidate = moved(&current, &free, &by);
            let rr = residuals(&candidate, observations);
            let after = cost(&rr);
            if after.is_finite() && after <= before {
                improved = before - after > GAIN * variance;
                current = candidate;
                r = rr;
                damping = (damping * 0.1).max(1e-14);
                break;
            }
            damping *= 8.0;
        }
        let tight = robust_scale(&r).max(0.78 * quantile(&r, 0.8)).max(floor);
        // where no residual would lose weight the rest of the way is taken at once
        let largest = r.iter().fold(0.0, |m: f64, x| m.max(x.abs()));
        let narrower = tight.max(largest.min(0.4 * reach_of_weights));
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

//! Weighted non-linear least squares: damped Gauss–Newton on a QR factor of the Jacobian.
//!
//! Every step takes the Jacobian's columns to unit length, factors it as Q·R and damps on the
//! singular values of the small R (Levenberg–Marquardt; "The Levenberg-Marquardt algorithm:
//! implementation and theory", Numerical Analysis, Lecture Notes in Mathematics 630, 1978). No
//! normal equations are formed, so a badly conditioned fit (a short arc) keeps its digits.

use nalgebra::{DMatrix, DVector};

use super::damped_step::Linear;
use super::statistics::robust_sigma;

/// Tuning constant of Tukey's biweight for 95 % efficiency on normal scatter (from memory).
const TUKEY: f64 = 4.685;

/// How to run a fit.
#[derive(Clone, Debug)]
pub struct Options {
    /// Most Jacobians to form in one pass.
    pub iterations: usize,
    /// Stop when every parameter's step is below this share of its scale.
    pub tolerance: f64,
    /// Give wild residuals less weight (Tukey's biweight on the robust scale of the residuals).
    pub robust: bool,
    /// Residuals below this size are never called wild: standard uncertainty of a reading, same
    /// unit as the residuals.
    pub floor: f64,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            iterations: 60,
            tolerance: 1e-12,
            robust: false,
            floor: 0.0,
        }
    }
}

/// Result of a fit.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Parameters, in the order of the start.
    pub parameters: Vec<f64>,
    /// Residuals at the solution, unweighted.
    pub residuals: Vec<f64>,
    /// Weighted sum of squares.
    pub sum_sq: f64,
    /// Standard deviation of an observation of unit weight, from the residuals; `None` when there
    /// are no more observations than parameters.
    pub sigma: Option<f64>,
    /// (JᵀWJ)⁻¹: covariance of the parameters for a unit-weight observation of standard
    /// deviation 1. `None` when the observations do not determine all parameters.
    pub cofactor: Option<DMatrix<f64>>,
    /// Observations less than half believed (robust fits only).
    pub doubted: usize,
    /// True when the last step was below the tolerance.
    pub converged: bool,
}

impl Fit {
    /// s²(JᵀWJ)⁻¹, with s not taken below `floor` (the standard uncertainty of one observation
    /// that the data format alone implies). JCGM 100:2008, 5.2 (clause from memory).
    pub fn covariance(&self, floor: f64) -> Option<DMatrix<f64>> {
        let s = self.sigma.unwrap_or(0.0).max(floor);
        self.cofactor.as_ref().map(|c| c * (s * s))
    }

    /// Standard uncertainty of parameter `index`, see [`Fit::covariance`].
    pub fn uncertainty(&self, index: usize, floor: f64) -> Option<f64> {
        let c = self.cofactor.as_ref()?;
        let variance = (index < c.nrows()).then(|| c[(index, index)])?;
        Some(variance.max(0.0).sqrt() * self.sigma.unwrap_or(0.0).max(floor))
    }
}

/// Minimises Σ wᵢ eᵢ² from `start`, with derivatives by central differences.
///
/// `scales` are the sizes by which the parameters change meaningfully (same units as the
/// parameters): they set the difference step and the stopping rule. `residuals(p, out)` fills
/// `out`, `count` long. `weights` are 1/σ² up to a common factor, all 1 when `None`. Returns
/// `None` when there are fewer observations than parameters or the start gives no finite sum.
pub fn fit<R>(
    start: &[f64],
    scales: &[f64],
    count: usize,
    weights: Option<&[f64]>,
    options: &Options,
    residuals: R,
) -> Option<Fit>
where
    R: Fn(&[f64], &mut [f64]),
{
    let jacobian = |p: &[f64], out: &mut DMatrix<f64>| {
        let mut q = p.to_vec();
        let mut ahead = vec![0.0; count];
        let mut behind = vec![0.0; count];
        for (j, &scale) in scales.iter().enumerate() {
            // Cube root of the machine precision balances truncation against rounding.
            let h = 6.0e-6 * scale.abs().max(f64::MIN_POSITIVE / f64::EPSILON);
            q[j] = p[j] + h;
            let high = q[j];
            residuals(&q, &mut ahead);
            q[j] = p[j] - h;
            let width = high - q[j];
            residuals(&q, &mut behind);
            q[j] = p[j];
            for i in 0..count {
                out[(i, j)] = (ahead[i] - behind[i]) / width;
            }
        }
    };
    fit_with_jacobian(start, scales, count, weights, options, &residuals, jacobian)
}

/// As [`fit`], with the derivatives supplied: `jacobian(p, out)` fills `out`, `count` rows by as
/// many columns as there are parameters.
pub fn fit_with_jacobian<R, J>(
    start: &[f64],
    scales: &[f64],
    count: usize,
    weights: Option<&[f64]>,
    options: &Options,
    residuals: R,
    jacobian: J,
) -> Option<Fit>
where
    R: Fn(&[f64], &mut [f64]),
    J: Fn(&[f64], &mut DMatrix<f64>),
{
    let parameters = start.len();
    if parameters == 0
        || scales.len() != parameters
        || count < parameters
        || weights.is_some_and(|w| w.len() != count)
    {
        return None;
    }
    let given = weights.map_or_else(|| vec![1.0; count], <[f64]>::to_vec);
    let problem = Problem {
        count,
        scales,
        residuals,
        jacobian,
    };
    let mut state = problem.descend(start, &given, options)?;
    let mut belief = vec![1.0; count];
    let mut robust_scale = None;
    // Four reweightings settle the biweight well below its own scatter.
    for _ in 0..if options.robust { 4 } else { 0 } {
        let standardised: Vec<f64> = state
            .errors
            .iter()
            .zip(&given)
            .map(|(e, w)| e * w.sqrt())
            .collect();
        let freedom = count.saturating_sub(parameters).max(1) as f64;
        let spread = robust_sigma(&standardised)? * (count as f64 / freedom).sqrt();
        let scale = spread.max(options.floor);
        robust_scale = Some(spread);
        if scale <= 0.0 {
            break;
        }
        belief = standardised
            .iter()
            .map(|u| (1.0 - (u / (TUKEY * scale)).powi(2)).max(0.0).powi(2))
            .collect();
        let both: Vec<f64> = belief.iter().zip(&given).map(|(b, w)| b * w).collect();
        state = problem.descend(&state.parameters, &both, options)?;
    }
    let sum_sq: f64 = state
        .errors
        .iter()
        .zip(&given)
        .zip(&belief)
        .map(|((e, w), b)| b * w * e * e)
        .sum();
    let weighted = given.iter().filter(|w| **w > 0.0).count();
    let sigma = (weighted > parameters)
        .then(|| robust_scale.unwrap_or_else(|| (sum_sq / (weighted - parameters) as f64).sqrt()));
    Some(Fit {
        sigma,
        sum_sq,
        cofactor: state.cofactor,
        doubted: belief.iter().filter(|b| **b < 0.5).count(),
        converged: state.converged,
        parameters: state.parameters,
        residuals: state.errors,
    })
}

struct Problem<'a, R, J> {
    count: usize,
    scales: &'a [f64],
    residuals: R,
    jacobian: J,
}

struct State {
    parameters: Vec<f64>,
    errors: Vec<f64>,
    cofactor: Option<DMatrix<f64>>,
    converged: bool,
}

impl<R, J> Problem<'_, R, J>
where
    R: Fn(&[f64], &mut [f64]),
    J: Fn(&[f64], &mut DMatrix<f64>),
{
    fn errors(&self, p: &[f64], weights: &[f64]) -> (Vec<f64>, f64) {
        let mut e = vec![0.0; self.count];
        (self.residuals)(p, &mut e);
        let sum = e
            .iter()
            .zip(weights)
            .filter(|(_, w)| **w > 0.0)
            .map(|(e, w)| w * e * e)
            .sum();
        (e, sum)
    }

    fn descend(&self, start: &[f64], weights: &[f64], options: &Options) -> Option<State> {
        let n = start.len();
        let mut p = start.to_vec();
        let (mut e, mut sum) = self.errors(&p, weights);
        if !sum.is_finite() {
            return None;
        }
        let mut damping = 1e-3;
        let mut converged = false;
        let mut linear = self.linearise(&p, &e, weights)?;
        'outer: for _ in 0..options.iterations {
            loop {
                let step = linear.step(damping);
                // In units of the tolerance; a step below the last digits of p is no step.
                let size = (0..n)
                    .map(|j| {
                        step[j].abs()
                            / (self.scales[j].abs() * options.tolerance
                                + 4.0 * f64::EPSILON * p[j].abs())
                            .max(f64::MIN_POSITIVE)
                    })
                    .fold(0.0, f64::max);
                let trial: Vec<f64> = p.iter().zip(step.iter()).map(|(a, d)| a + d).collect();
                let (trial_e, trial_sum) = self.errors(&trial, weights);
                let better = trial_sum.is_finite() && trial_sum <= sum;
                if better {
                    (p, e, sum) = (trial, trial_e, trial_sum);
                    damping = (damping * 0.1).max(1e-16);
                }
                if size <= 1.0 || (!better && damping > 1e12) {
                    converged = size <= 1.0;
                    break 'outer;
                }
                if better {
                    break;
                }
                damping *= 10.0;
            }
            linear = self.linearise(&p, &e, weights)?;
        }
        let cofactor = self.linearise(&p, &e, weights)?.cofactor();
        Some(State {
            parameters: p,
            errors: e,
            cofactor,
            converged,
        })
    }

    fn linearise(&self, p: &[f64], e: &[f64], weights: &[f64]) -> Option<Linear> {
        let n = p.len();
        let mut j = DMatrix::zeros(self.count, n);
        (self.jacobian)(p, &mut j);
        let mut right = DVector::from_column_slice(e);
        for (i, w) in weights.iter().enumerate() {
            let root = w.max(0.0).sqrt();
            // A point without weight may sit where its residual is not finite.
            if root == 0.0 {
                j.row_mut(i).fill(0.0);
                right[i] = 0.0;
            } else {
                j.row_mut(i).scale_mut(root);
                right[i] *= root;
            }
        }
        Linear::factor(j, right)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const X: [f64; 6] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];

    fn line(y: [f64; 6]) -> impl Fn(&[f64], &mut [f64]) {
        move |p, out| {
            for i in 0..6 {
                out[i] = p[0] + p[1] * X[i] - y[i];
            }
        }
    }

    #[test]
    fn straight_line_with_textbook_uncertainty() {
        // y = 1 + 2x with residuals ±0.1 orthogonal to nothing in particular; the closed forms are
        // the oracle: var(b) = s²/Sxx, var(a) = s²(1/n + x̄²/Sxx).
        let y = [1.1, 2.9, 5.1, 6.9, 9.1, 10.9];
        let fit = fit(
            &[0.0, 0.0],
            &[1.0, 1.0],
            6,
            None,
            &Options::default(),
            line(y),
        )
        .unwrap();
        let mean_x = 2.5;
        let sxx: f64 = X.iter().map(|x| (x - mean_x) * (x - mean_x)).sum();
        let b = X.iter().zip(&y).map(|(x, y)| (x - mean_x) * y).sum::<f64>() / sxx;
        let a = y.iter().sum::<f64>() / 6.0 - b * mean_x;
        assert!(fit.converged);
        assert!((fit.parameters[0] - a).abs() < 1e-12 && (fit.parameters[1] - b).abs() < 1e-12);
        let s = fit.sigma.unwrap();
        assert!((fit.uncertainty(1, 0.0).unwrap() - s / sxx.sqrt()).abs() < 1e-9);
        assert!(
            (fit.uncertainty(0, 0.0).unwrap() - s * (1.0 / 6.0 + mean_x * mean_x / sxx).sqrt())
                .abs()
                < 1e-9
        );
    }

    #[test]
    fn weights_count_as_repeats() {
        let y = [1.0, 3.2, 4.9, 7.3, 9.0, 11.4];
        let mut weights = [1.0; 6];
        weights[5] = 2.0;
        let weighted = fit(
            &[0.0, 0.0],
            &[1.0, 1.0],
            6,
            Some(&weights),
            &Options::default(),
            line(y),
        )
        .unwrap();
        let repeated = fit(
            &[0.0, 0.0],
            &[1.0, 1.0],
            7,
            None,
            &Options::default(),
            |p, out| {
                for i in 0..7 {
                    out[i] = p[0] + p[1] * X[i.min(5)] - y[i.min(5)];
                }
            },
        )
        .unwrap();
        for k in 0..2 {
            assert!((weighted.parameters[k] - repeated.parameters[k]).abs() < 1e-10);
        }
    }

    #[test]
    fn one_wild_value_is_doubted() {
        let fit = fit(
            &[0.0, 0.0],
            &[1.0, 1.0],
            6,
            None,
            &Options {
                robust: true,
                ..Options::default()
            },
            line([1.01, 2.99, 5.01, 60.0, 8.99, 11.01]),
        )
        .unwrap();
        assert_eq!(fit.doubted, 1);
        assert!((fit.parameters[0] - 1.0).abs() < 0.03 && (fit.parameters[1] - 2.0).abs() < 0.02);
    }

    #[test]
    fn exact_data_give_exact_parameters_and_zero_sigma() {
        let fit = fit(
            &[2.0, 0.1],
            &[1.0, 0.1],
            6,
            None,
            &Options::default(),
            |p, out| {
                for i in 0..6 {
                    out[i] = p[0] * (p[1] * X[i]).exp() - 3.0 * (0.7 * X[i]).exp();
                }
            },
        )
        .unwrap();
        assert!((fit.parameters[0] - 3.0).abs() < 1e-11 && (fit.parameters[1] - 0.7).abs() < 1e-12);
        assert!(fit.sigma.unwrap() < 1e-10);
        assert!(
            fit.uncertainty(0, 0.01).unwrap() > 1e-4,
            "the floor stands in for the residuals"
        );
    }

    #[test]
    fn what_is_not_determined_is_not_given() {
        let fit = fit(
            &[0.3, 0.4],
            &[1.0, 1.0],
            6,
            None,
            &Options::default(),
            |p, out| {
                out.fill(p[0] + p[1] - 1.0);
            },
        )
        .unwrap();
        assert!(fit.cofactor.is_none());
        assert!((fit.parameters[0] + fit.parameters[1] - 1.0).abs() < 1e-9);
        assert!(
            super::fit(
                &[0.0, 0.0],
                &[1.0, 1.0],
                1,
                None,
                &Options::default(),
                |_, _| ()
            )
            .is_none()
        );
    }
}

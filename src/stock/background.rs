//! How well a size fits, read in one unit: is it listed or round beyond chance, and is it as large
//! as such sizes usually are.
//!
//! The first is a ratio of densities over the logarithm of the size, which does not change with the
//! unit, so the same number read in different units can be compared. The second is a normal
//! distribution over logarithms; sizes of one file are small or large together.

use std::f64::consts::PI;

/// Share of sizes a designer takes from a list. Judgement, no source.
const LISTED: f64 = 0.7;
/// Sizes within about this factor count as "of that magnitude" when chance is weighed; logarithm.
const MAGNITUDE: f64 = 0.35;
/// How strongly the sizes of one file are small or large together. Judgement, no source.
const TOGETHER: f64 = 0.5;

/// What a size usually measures, mm, and how many times more or less is still usual (one standard
/// deviation of its logarithm). Common practice, no source.
#[derive(Clone, Copy, Debug)]
pub(super) struct Usual {
    pub(super) median: f64,
    pub(super) factor: f64,
}

/// Outside of a section.
pub(super) const OUTSIDE: Usual = usual(50.0, 2.5);
/// Wall of a section.
pub(super) const WALL: Usual = usual(3.5, 2.0);
/// Thickness of a plate.
pub(super) const PLATE: Usual = usual(8.0, 2.3);
/// Diameter of a hole.
pub(super) const HOLE: Usual = usual(14.0, 2.2);
/// Largest size of everything in a file.
pub(super) const EXTENT: Usual = usual(800.0, 5.0);

const fn usual(median: f64, factor: f64) -> Usual {
    Usual { median, factor }
}

impl Usual {
    /// How many standard deviations a size is from the usual, on the logarithm; cut at ±6.
    pub(super) fn deviation(self, size: f64) -> f64 {
        ((size / self.median).ln() / self.factor.ln()).clamp(-6.0, 6.0)
    }
}

/// Logarithm of the likelihood of deviations that belong to one file, up to a constant: normal,
/// each pair with the same correlation.
pub(super) fn magnitude(deviations: &[f64]) -> f64 {
    let n = deviations.len() as f64;
    let (sum, squares) = deviations
        .iter()
        .fold((0.0, 0.0), |(s, q), z| (s + z, q + z * z));
    let common = TOGETHER / (1.0 + (n - 1.0) * TOGETHER) * sum * sum;
    -0.5 * (squares - common) / (1.0 - TOGETHER)
}

/// Logarithm of how many times likelier a group of sizes (mm) is than any others of the same
/// magnitude, being listed or drawn in whole millimetres or sixteenths.
pub(super) fn beyond_chance<'a>(sizes: &[f64], listed: impl Iterator<Item = &'a [f64]>) -> f64 {
    let (mut here, mut about) = (0.0, 0.0);
    for entry in listed {
        let apart = || sizes.iter().zip(entry).map(|(x, e)| (x / e).ln());
        about += apart().map(|d| normal(d, MAGNITUDE)).product::<f64>();
        let near = apart()
            .zip(entry)
            .map(|(d, e)| reading(d, precision(*e) / e));
        here += near.product::<f64>();
    }
    // A list without anything of that magnitude says nothing for it.
    let from_list = if about > 1e-9 { here / about } else { 0.0 };
    (LISTED * from_list + (1.0 - LISTED) * drawn(sizes)).ln()
}

/// How many times likelier sizes are than any of the same magnitude when a designer types them:
/// half of them whole millimetres or sixteenths of an inch.
pub(super) fn drawn(sizes: &[f64]) -> f64 {
    let each = |x: &f64| 0.5 + 0.35 * on_grid(*x, 1.0) + 0.15 * on_grid(*x, 25.4 / 16.0);
    sizes.iter().map(each).product()
}

/// True when every size of a group is the listed one within what a mesh can tell.
pub(super) fn is_listed(sizes: &[f64], entry: &[f64]) -> bool {
    let agrees = |(x, e): (&f64, &f64)| (x - e).abs() <= 3.0 * precision(*e);
    sizes.iter().zip(entry).all(agrees)
}

/// Standard deviation of a size read from a mesh against the size that was meant, mm.
fn precision(size: f64) -> f64 {
    0.02 + 2e-4 * size
}

fn normal(x: f64, sigma: f64) -> f64 {
    (-0.5 * (x / sigma).powi(2)).exp() / (sigma * (2.0 * PI).sqrt())
}

/// A tail four times as wide allows for readings off coarse meshes.
fn reading(x: f64, sigma: f64) -> f64 {
    0.85 * normal(x, sigma) + 0.15 * normal(x, 4.0 * sigma)
}

/// How many times likelier a value near a multiple of `step` is than one spread evenly.
fn on_grid(size: f64, step: f64) -> f64 {
    let sigma = precision(size);
    if step < 3.0 * sigma {
        return 1.0;
    }
    step * normal(size - (size / step).round() * step, sigma)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chance_leaves_the_ratio_at_one() {
        // Averaged over all sizes of a magnitude, likelier and less likely cancel.
        let n = 200_000;
        let mean = |f: &dyn Fn(f64) -> f64| {
            (0..n)
                .map(|k| f(40.0 + 10.0 * f64::from(k) / f64::from(n)))
                .sum::<f64>()
                / f64::from(n)
        };
        assert!((mean(&|x| on_grid(x, 1.0)) - 1.0).abs() < 0.01);
        assert!((mean(&|x| drawn(&[x])) - 1.0).abs() < 0.02);
        let list: Vec<[f64; 1]> = (0..400).map(|k| [10.0 * 1.01_f64.powi(k)]).collect();
        let ratio = mean(&|x| beyond_chance(&[x], list.iter().map(|e| e.as_slice())).exp());
        assert!((ratio - 1.0).abs() < 0.05, "{ratio}");
    }

    #[test]
    fn listed_beats_round_and_round_beats_odd() {
        let list = [[50.0, 3.0], [60.0, 3.0], [60.0, 4.0]];
        let gain = |x: [f64; 2]| beyond_chance(&x, list.iter().map(|e| e.as_slice()));
        assert!(gain([50.0, 3.0]) > gain([55.0, 3.0]) + 1.0);
        assert!(gain([55.0, 3.0]) > gain([54.46, 3.27]) + 1.0);
        assert!(gain([5000.0, 300.0]) < 0.0);
    }

    #[test]
    fn sizes_that_are_small_together_are_forgiven() {
        assert_eq!(magnitude(&[]), 0.0);
        assert!((magnitude(&[2.0]) + 2.0).abs() < 1e-12);
        assert!(magnitude(&[-2.0; 4]) > -4.0 && magnitude(&[-2.0, 2.0, -2.0, 2.0]) < -8.0);
    }
}

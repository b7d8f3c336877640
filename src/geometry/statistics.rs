//! Statistics that a few wild values do not move.

/// Ratio of the standard deviation to the median absolute deviation of a normal distribution,
/// 1/Φ⁻¹(3/4).
pub const SIGMA_PER_MAD: f64 = 1.482_602_218_505_602;

/// Median; for an even count the mean of the two middle values. `None` when empty or when a value
/// is not a number.
pub fn median(values: &[f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let mut sorted = values.to_vec();
    let (below, &mut upper, _) = sorted.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(lower + (upper - lower) / 2.0)
}

/// Median of the absolute differences from the median, same unit as the values.
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let middle = median(values)?;
    let differences: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    median(&differences)
}

/// Standard deviation estimated from the median absolute deviation; right for normal scatter, and
/// unmoved while fewer than half of the values are wild.
pub fn robust_sigma(values: &[f64]) -> Option<f64> {
    Some(SIGMA_PER_MAD * median_absolute_deviation(values)?)
}

/// Weighted arithmetic mean. `None` when the weights do not add up to more than zero.
pub fn weighted_mean(values: &[f64], weights: &[f64]) -> Option<f64> {
    let total: f64 = weights.iter().sum();
    let sum: f64 = values.iter().zip(weights).map(|(v, w)| v * w).sum();
    (total > 0.0 && sum.is_finite()).then(|| sum / total)
}

/// Root of the mean of the squares; 0 when empty.
pub fn root_mean_square(values: &[f64]) -> f64 {
    match values.len() {
        0 => 0.0,
        n => (values.iter().map(|v| v * v).sum::<f64>() / n as f64).sqrt(),
    }
}

/// Two-sided 95 % point of Student's t with `freedom` degrees of freedom, for an interval from a
/// scatter that was itself estimated from few values. Cornish–Fisher expansion to the fourth order
/// (Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.5; from memory), within 0.5 %
/// from 3 degrees up; 1 and 2 are exact.
pub fn student_95(freedom: usize) -> f64 {
    match freedom {
        0 => f64::INFINITY,
        1 => 12.706_204_736_174_7,
        2 => 4.302_652_729_749_46,
        n => {
            let v = n as f64;
            let z: f64 = 1.959_963_984_540_054;
            let z2 = z * z;
            let g1 = z * (z2 + 1.0) / 4.0;
            let g2 = z * ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
            let g3 = z * (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
            let g4 =
                z * ((((79.0 * z2 + 776.0) * z2 + 1482.0) * z2 - 1920.0) * z2 - 945.0) / 92160.0;
            z + g1 / v + g2 / v.powi(2) + g3 / v.powi(3) + g4 / v.powi(4)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_of_odd_even_and_nothing() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 3.0, 2.0]), Some(2.5));
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[1.0, f64::NAN]), None);
    }

    #[test]
    fn deviation_ignores_a_wild_value() {
        let values = [1.0, 2.0, 3.0, 4.0, 1e9];
        assert_eq!(median_absolute_deviation(&values), Some(1.0));
        assert!((robust_sigma(&values).unwrap() - 1.4826).abs() < 1e-4);
    }

    #[test]
    fn means() {
        assert_eq!(weighted_mean(&[1.0, 3.0], &[3.0, 1.0]), Some(1.5));
        assert_eq!(weighted_mean(&[1.0], &[0.0]), None);
        assert!((root_mean_square(&[3.0, 4.0]) - 12.5_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn student_against_the_printed_table() {
        // Two-sided 95 % points as printed in any table of Student's t (JCGM 100:2008 table G.2,
        // from memory).
        for (freedom, printed) in [
            (1, 12.71),
            (2, 4.30),
            (3, 3.18),
            (4, 2.78),
            (5, 2.57),
            (10, 2.23),
            (20, 2.09),
            (50, 2.01),
        ] {
            assert!(
                (student_95(freedom) - printed).abs() < 0.016,
                "{freedom}: {}",
                student_95(freedom)
            );
        }
    }
}

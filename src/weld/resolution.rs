//! How finely a file writes its coordinates.

use crate::read::Precision;

/// Share of a uniform rounding interval that lies within 95 %.
const SHARE_95: f64 = 0.95;

/// 95 % half-width of a coordinate's rounding, file units, from finite points.
///
/// Half a step of the last place at the largest coordinate, times 0.95 (rounding is uniform over
/// the step). Text or binary64 whose every coordinate is a rounded binary32 number went through
/// binary32 on its way and is no finer than that. Nothing is taken to be finer than binary32 at the
/// size of the model: nearly every mesh has been that on its way, and no tape is.
pub fn half_width(points: &[[f64; 3]], precision: Precision) -> f64 {
    let largest = points.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
    if largest == 0.0 {
        return f64::MIN_POSITIVE;
    }
    let written = match precision {
        Precision::Binary32 => return SHARE_95 * half_step_binary32(largest),
        // A few operations in f64 leave some units in the last place.
        Precision::Binary64 => 4.0 * f64::EPSILON * largest,
        Precision::Step(step) => 0.5 * step.abs(),
        Precision::SignificantDigits(digits) => half_step_digits(largest, digits),
    };
    let written = written.max(4.0 * f64::EPSILON * largest);
    // a mesh that was moved or saved again with more digits is no finer than when it was made
    let written = written.max(half_step_binary32(extent(points)));
    let half = if passed_through_binary32(points, precision, written) {
        written.max(half_step_binary32(largest))
    } else {
        written
    };
    SHARE_95 * half
}

/// Largest side of the box round the points.
fn extent(points: &[[f64; 3]]) -> f64 {
    let around = |k: usize| {
        let along = points.iter().map(|p| p[k]);
        along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        })
    };
    (0..3).fold(0.0, |m: f64, k| {
        let (low, high) = around(k);
        m.max(high - low)
    })
}

/// Half the spacing of binary32 numbers at `x`.
fn half_step_binary32(x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    const MANTISSA_BITS: f64 = 23.0;
    0.5 * (x.abs().log2().floor() - MANTISSA_BITS).exp2()
}

/// Half the last of `digits` significant decimal digits of `x`.
fn half_step_digits(x: f64, digits: u32) -> f64 {
    0.5 * 10.0_f64.powf(x.abs().log10().floor() + 1.0 - f64::from(digits))
}

/// True when every coordinate lies within `half` of a binary32 number although the file could
/// have written values between them.
fn passed_through_binary32(points: &[[f64; 3]], precision: Precision, half: f64) -> bool {
    let digits = match precision {
        Precision::SignificantDigits(d) => Some(d),
        _ => None,
    };
    points.iter().flatten().all(|&x| {
        let own = digits.map_or(half, |d| {
            if x == 0.0 {
                half
            } else {
                half_step_digits(x, d)
            }
        });
        (x - f64::from(x as f32)).abs() <= own * (1.0 + 1e-9)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(x: f64, precision: Precision) -> f64 {
        half_width(&[[x, 0.0, 0.0]], precision)
    }

    #[test]
    fn binary32_at_nine_metres() {
        // Spacing 2^-10 between 8192 and 16384 (IEEE 754 binary32: 24-bit significand).
        let q = of(9000.0, Precision::Binary32);
        assert!((q - 0.95 * 0.5 / 1024.0).abs() < 1e-12);
    }

    #[test]
    fn text_steps() {
        assert!((of(123.457, Precision::Step(0.001)) - 0.000475).abs() < 1e-9);
        assert!((of(1234.57, Precision::SignificantDigits(6)) - 0.00475).abs() < 1e-9);
    }

    #[test]
    fn nine_digits_of_a_binary32_number_are_binary32() {
        let x = f64::from(1234.567_f32);
        let printed: f64 = format!("{x:.8e}").parse().unwrap();
        let q = of(printed, Precision::SignificantDigits(9));
        assert!((q - 0.95 * half_step_binary32(x)).abs() < 1e-9, "{q}");
        let between: f64 = 1234.56703;
        assert!(of(between, Precision::SignificantDigits(9)) < 1e-5);
    }
}

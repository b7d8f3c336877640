//! Rounding that follows ±.

use super::Quantity;

/// A number and its ± as text, with the same decimals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rounded {
    /// The value.
    pub value: String,
    /// The half-width, rounded up so that the written interval holds the measured one.
    pub plus_minus: String,
}

/// How many decimals a number with this ± deserves, at most `finest`.
///
/// The last digit is worth a third of ± or less, so ± is written with one or two digits (3 to 30 of
/// the last place) and rounding adds little to it.
pub fn decimals(plus_minus: f64, finest: usize) -> usize {
    let step = plus_minus.abs() / 3.0;
    if step.is_nan() || step >= 1.0 {
        return 0;
    }
    // The small number keeps 0.3 / 3 from counting as less than 0.1.
    let places = -(step.max(1e-12).log10() + 1e-9).floor();
    (places as usize).min(finest)
}

/// `q` rounded as its ± asks, with at most `finest` decimals; `None` when it is not finite.
pub fn round(q: Quantity, finest: usize) -> Option<Rounded> {
    if !(q.value.is_finite() && q.plus_minus.is_finite()) {
        return None;
    }
    let places = decimals(q.plus_minus, finest);
    let value = fixed(q.value, places);
    let step = 0.1_f64.powi(places as i32);
    let lost = value
        .parse()
        .map_or(0.0, |written: f64| (written - q.value).abs());
    // Rounded up, but not for the noise of the division itself.
    let steps = ((q.plus_minus.abs() + lost) / step - 1e-6).ceil().max(0.0);
    Some(Rounded {
        value,
        plus_minus: fixed(steps * step, places),
    })
}

/// Fixed decimals without a negative zero.
fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| matches!(b, b'0' | b'.')) => digits.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;
    use proptest::prelude::*;

    fn text(value: f64, plus_minus: f64) -> String {
        let written = round(quantity(value, plus_minus), 2).expect("a finite number");
        format!("{} ±{}", written.value, written.plus_minus)
    }

    #[test]
    fn digits_follow_the_half_width() {
        assert_eq!(text(1500.0, 0.031), "1500.00 ±0.04");
        assert_eq!(text(1500.002, 0.29), "1500.00 ±0.30");
        assert_eq!(text(1500.04, 0.3), "1500.0 ±0.4");
        assert_eq!(text(1500.04, 2.9), "1500.0 ±3.0");
        assert_eq!(text(1500.4, 12.0), "1500 ±13");
        assert_eq!(text(1500.4, 250.0), "1500 ±251");
        assert_eq!(text(50.0, 1e-7), "50.00 ±0.01");
        assert_eq!(text(50.0, 0.0), "50.00 ±0.00");
        assert_eq!(text(-0.001, 0.01), "0.00 ±0.02");
    }

    #[test]
    fn nothing_is_written_for_what_is_not_finite() {
        assert_eq!(round(quantity(f64::NAN, 0.1), 2), None);
        assert_eq!(round(quantity(1.0, f64::INFINITY), 2), None);
    }

    proptest! {
        #[test]
        fn the_written_interval_holds_the_measured_one(value in -1e5..1e5_f64, exponent in -6.0..3.0_f64) {
            let u = 10_f64.powf(exponent);
            let written = round(quantity(value, u), 2).expect("a finite number");
            let (v, p): (f64, f64) = (written.value.parse().unwrap(), written.plus_minus.parse().unwrap());
            prop_assert!(v - p <= value - u + 1e-6 * p.max(1e-2) && v + p >= value + u - 1e-6 * p.max(1e-2));
            prop_assert!(p <= (1.5 * u).max(u + 0.015) + 1e-9, "{p} for {u}");
        }
    }
}

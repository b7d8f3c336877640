//! Inches as whole inches and a fraction, the way a tape is marked.

/// `inches` to the nearest 1/`denominator`, in lowest terms: `31 13/16`, `3/8`, `-2`, `0`.
///
/// A fraction that rounds up to a whole inch is carried over. `denominator` 0 counts as 1; a value
/// that is not finite gives `"not known"`.
pub fn fraction(inches: f64, denominator: u32) -> String {
    if !inches.is_finite() {
        return "not known".to_owned();
    }
    let denominator = u64::from(denominator.max(1));
    // A float of this size has no fraction left; the cast saturates above it.
    let parts = (inches.abs() * denominator as f64).round() as u64;
    let sign = if inches < 0.0 && parts > 0 { "-" } else { "" };
    let (whole, rest) = (parts / denominator, parts % denominator);
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    let common = greatest_common_divisor(rest, denominator);
    let (top, bottom) = (rest / common, denominator / common);
    if whole == 0 {
        format!("{sign}{top}/{bottom}")
    } else {
        format!("{sign}{whole} {top}/{bottom}")
    }
}

fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a
    } else {
        greatest_common_divisor(b, a % b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lowest_terms_and_carry() {
        let cases = [
            (31.8125, 16, "31 13/16"),
            (31.82, 16, "31 13/16"),
            (31.82, 64, "31 13/16"),
            (0.375, 32, "3/8"),
            (0.5, 16, "1/2"),
            (0.98, 16, "1"),
            (11.9999, 64, "12"),
            (0.0, 16, "0"),
            (0.01, 16, "0"),
            (-0.01, 16, "0"),
            (-2.25, 16, "-2 1/4"),
            (-0.375, 16, "-3/8"),
            (-0.99, 16, "-1"),
            (5.4, 1, "5"),
            (5.4, 0, "5"),
            (f64::NAN, 16, "not known"),
        ];
        for (inches, denominator, want) in cases {
            assert_eq!(
                fraction(inches, denominator),
                want,
                "{inches} in 1/{denominator}"
            );
        }
    }
}

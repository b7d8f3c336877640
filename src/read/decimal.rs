//! Decimal numbers in text, with the digits they were written with.

/// A finite number and where its written digits begin and end (powers of ten).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Decimal {
    /// The nearest f64; never −0.
    pub value: f64,
    /// Place of the first non-zero digit; meaningless for zero.
    pub first: i16,
    /// Place of the last written digit.
    pub last: i16,
    /// Place of the last digit that is not zero; equals `last` for zero.
    pub last_nonzero: i16,
    /// That digit, 1 to 9; 0 for zero. Numbers of more than 19 digits give 1.
    pub last_digit: u8,
}

/// Why a word is no usable number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unusable {
    /// NaN or infinite, however spelled, or beyond the range of f64.
    NotFinite,
    /// A comma stands where a decimal point is meant.
    Comma,
    /// No number at all.
    NotANumber,
}

/// Ten to the power 0..=22: exact in binary64.
const EXACT_TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Ten to the power of a place.
#[inline]
pub(super) fn power_of_ten(place: i32) -> f64 {
    let ten = EXACT_TENS.get(place.unsigned_abs() as usize);
    match ten {
        Some(ten) if place < 0 => 1.0 / ten,
        Some(ten) => *ten,
        None => 10f64.powi(place),
    }
}

const WHOLE_TENS: [u64; 9] = [
    1,
    10,
    100,
    1_000,
    10_000,
    100_000,
    1_000_000,
    10_000_000,
    100_000_000,
];

/// Digits being gathered; leading zeros do not count.
#[derive(Default)]
struct Digits {
    mantissa: u64,
    significant: i32,
}

impl Digits {
    /// Takes the digits `text` begins with and gives how many they are.
    #[inline(always)]
    fn take(&mut self, text: &[u8]) -> usize {
        let mut taken = 0;
        if self.significant == 0 {
            taken = text.iter().take_while(|b| **b == b'0').count();
        }
        // Eight bytes at a time: find the first that is no digit, then add up pairs, fours, eights.
        while let Some(eight) = text.get(taken..).and_then(|rest| rest.first_chunk::<8>()) {
            let values = u64::from_le_bytes(*eight) ^ 0x3030_3030_3030_3030;
            let over =
                (values.wrapping_add(0x7676_7676_7676_7676) | values) & 0x8080_8080_8080_8080;
            let digits = over.trailing_zeros() as usize / 8;
            if digits == 0 {
                return taken;
            }
            let aligned = values << (64 - 8 * digits);
            let pairs = (aligned & 0x0f0f_0f0f_0f0f_0f0f).wrapping_mul(2561) >> 8;
            let fours = (pairs & 0x00ff_00ff_00ff_00ff).wrapping_mul(6_553_601) >> 16;
            let eights = (fours & 0x0000_ffff_0000_ffff).wrapping_mul(42_949_672_960_001) >> 32;
            self.mantissa = self
                .mantissa
                .wrapping_mul(WHOLE_TENS[digits])
                .wrapping_add(eights);
            self.significant += digits as i32;
            taken += digits;
            if digits < 8 {
                return taken;
            }
        }
        let rest = text.get(taken..).unwrap_or_default();
        for byte in rest.iter().take_while(|b| b.is_ascii_digit()) {
            self.mantissa = self
                .mantissa
                .wrapping_mul(10)
                .wrapping_add(u64::from(byte - b'0'));
            self.significant += 1;
            taken += 1;
        }
        taken
    }
}

/// Exponent behind `e`, if `text` begins with one, and its length.
#[inline(always)]
fn exponent(text: &[u8]) -> Option<(i32, usize)> {
    let [b'e' | b'E' | b'd' | b'D', rest @ ..] = text else {
        return None;
    };
    let (sign, digits) = match rest {
        [b'-', digits @ ..] => (-1, digits),
        [b'+', digits @ ..] => (1, digits),
        _ => (1, rest),
    };
    let mut value = 0i32;
    let mut length = 0;
    for byte in digits.iter().take_while(|b| b.is_ascii_digit()) {
        value = (value.saturating_mul(10) + i32::from(byte - b'0')).min(99_999);
        length += 1;
    }
    (length > 0).then(|| (sign * value, text.len() - digits.len() + length))
}

/// Places beyond any use are drawn in.
#[inline(always)]
fn place(at: i32) -> i16 {
    at.clamp(-20_000, 20_000) as i16
}

/// Reads the number `text` begins with; gives it and the bytes it took.
///
/// Correctly rounded. When the digits fit 53 bits and the power of ten is at most 22, one exact
/// product or quotient gives the nearest f64 (Clinger, "How to read floating point numbers
/// accurately", 1990); everything else goes through `str::parse`.
#[inline]
pub(super) fn leading(text: &[u8]) -> Option<(Decimal, usize)> {
    let negative = text.first() == Some(&b'-');
    let mut at = usize::from(matches!(text.first(), Some(b'-' | b'+')));
    let mut digits = Digits::default();
    let whole = digits.take(&text[at..]);
    at += whole;
    let mut fraction = 0;
    if text.get(at) == Some(&b'.') {
        fraction = digits.take(&text[at + 1..]);
        at += 1 + fraction;
    }
    if whole + fraction == 0 {
        return None;
    }
    let mut last = -i32::try_from(fraction).ok()?;
    if let Some((exponent, length)) = exponent(&text[at..]) {
        last = last.saturating_add(exponent);
        at += length;
    }
    let Digits {
        mantissa,
        significant,
    } = digits;
    if significant == 0 {
        let last = place(last);
        let zero = Decimal {
            value: 0.0,
            first: last,
            last,
            last_nonzero: last,
            last_digit: 0,
        };
        return Some((zero, at));
    }
    let short = significant <= 19;
    let magnitude = if short && mantissa <= 1 << 53 && last.unsigned_abs() <= 22 {
        let ten = EXACT_TENS[last.unsigned_abs() as usize];
        if last < 0 {
            mantissa as f64 / ten
        } else {
            mantissa as f64 * ten
        }
    } else {
        parsed(&text[..at])?.abs()
    };
    let (mut zeros, mut rest) = (0, mantissa);
    if short {
        while rest.is_multiple_of(10) {
            rest /= 10;
            zeros += 1;
        }
    }
    let decimal = Decimal {
        // Zero minus zero is +0.
        value: if negative { 0.0 - magnitude } else { magnitude },
        first: place(last.saturating_add(significant - 1)),
        last: place(last),
        last_nonzero: place(last.saturating_add(zeros)),
        last_digit: if short { (rest % 10) as u8 } else { 1 },
    };
    Some((decimal, at))
}

fn parsed(text: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(text).ok()?;
    match text.parse() {
        Ok(value) => Some(value),
        Err(_) => text.replace(['d', 'D'], "e").parse().ok(),
    }
}

/// Reads a whole word as one number.
#[inline]
pub(super) fn word(text: &[u8]) -> Result<Decimal, Unusable> {
    match leading(text) {
        Some((decimal, used)) if used == text.len() && decimal.value.is_finite() => Ok(decimal),
        _ => Err(diagnosis(text)),
    }
}

fn diagnosis(text: &[u8]) -> Unusable {
    if let Some((decimal, used)) = leading(text)
        && used == text.len()
        && !decimal.value.is_finite()
    {
        return Unusable::NotFinite;
    }
    let bare: Vec<u8> = text.iter().take(24).map(u8::to_ascii_lowercase).collect();
    let bare = bare
        .strip_prefix(b"-")
        .or(bare.strip_prefix(b"+"))
        .unwrap_or(&bare);
    // "1.#IND" and its like is how one widespread C library prints what is no number.
    let spelled = [&b"nan"[..], b"inf", b"1.#", b"1,#", b"#"];
    if spelled.iter().any(|s| bare.starts_with(s)) {
        return Unusable::NotFinite;
    }
    let number_like = bare
        .iter()
        .all(|b| matches!(b, b'0'..=b'9' | b',' | b'.' | b'e' | b'+' | b'-'));
    if number_like && bare.contains(&b',') && bare.iter().any(u8::is_ascii_digit) {
        return Unusable::Comma;
    }
    Unusable::NotANumber
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn digits_are_placed() {
        let places = |text: &[u8]| {
            word(text).map(|d| (d.value, d.first, d.last, d.last_nonzero, d.last_digit))
        };
        assert_eq!(places(b"12.50"), Ok((12.5, 1, -2, -1, 5)));
        assert_eq!(places(b"-0.00120"), Ok((-0.0012, -3, -5, -4, 2)));
        assert_eq!(places(b"3.16904022e+02"), Ok((316.904022, 2, -6, -6, 2)));
        assert_eq!(places(b"2500"), Ok((2500.0, 3, 0, 2, 5)));
        assert_eq!(places(b".8e-1"), Ok((0.08, -2, -2, -2, 8)));
        assert_eq!(places(b"0.000"), Ok((0.0, -3, -3, -3, 0)));
        assert_eq!(places(b"1.5d2"), Ok((150.0, 2, 1, 1, 5)));
    }

    #[test]
    fn minus_zero_becomes_zero() {
        assert!(word(b"-0.0").unwrap().value.is_sign_positive());
        assert!(word(b"-1e-999").unwrap().value.is_sign_positive());
    }

    #[test]
    fn unusable_words_are_told_apart() {
        for text in [
            "nan",
            "-NaN",
            "inf",
            "-Infinity",
            "1.#IND",
            "-1.#INF",
            "1e999",
            "nan(ind)",
        ] {
            assert_eq!(word(text.as_bytes()), Err(Unusable::NotFinite), "{text}");
        }
        for text in ["1,5", "-0,25", "12,5e-3", "1,000.5"] {
            assert_eq!(word(text.as_bytes()), Err(Unusable::Comma), "{text}");
        }
        for text in ["", "-", ".", "abc", "1.5x", "1e", "vertex"] {
            assert_eq!(word(text.as_bytes()), Err(Unusable::NotANumber), "{text}");
        }
    }

    proptest! {
        // The oracle is the standard library's correctly rounded parser.
        #[test]
        fn same_value_as_the_standard_library(text in "[-+]?[0-9]{1,22}(\\.[0-9]{0,22})?(e[-+]?[0-9]{1,3})?") {
            let expected = text.parse::<f64>().unwrap();
            match word(text.as_bytes()) {
                Ok(d) => prop_assert_eq!(d.value, expected),
                Err(e) => prop_assert!(e == Unusable::NotFinite && expected.is_infinite()),
            }
        }

        #[test]
        fn any_bytes_are_survived(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let _ = word(&bytes);
        }
    }
}

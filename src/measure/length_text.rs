//! Lengths typed by a person: `300mm`, `12in`, `20ft`, `31 13/16in`, `5ft 3 1/2in`.

use thiserror::Error;

use super::Unit;

/// Why a typed length could not be understood.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LengthTextError {
    /// A comma where a point is meant.
    #[error("\"{0}\" has a decimal comma: write a point, as in 12.5mm")]
    Comma(String),
    /// Anything else.
    #[error(
        "\"{0}\" is not a length: write a number and its unit, as in 300mm, 12in, 20ft or 31 13/16in"
    )]
    NotALength(String),
}

/// Millimetres of a typed length; a bare number is in `bare`.
///
/// A number may be whole, decimal, a fraction, or a whole number and a fraction; feet may be
/// followed by inches. A leading minus covers the whole length.
pub fn parse_length(text: &str, bare: Unit) -> Result<f64, LengthTextError> {
    if text.contains(',') {
        return Err(LengthTextError::Comma(text.to_owned()));
    }
    let trimmed = text.trim();
    let (sign, unsigned) = match trimmed.strip_prefix('-') {
        Some(rest) => (-1.0, rest),
        None => (1.0, trimmed),
    };
    magnitude(unsigned, bare)
        .filter(|mm| mm.is_finite())
        .map(|mm| sign * mm)
        .ok_or_else(|| LengthTextError::NotALength(text.to_owned()))
}

fn magnitude(text: &str, bare: Unit) -> Option<f64> {
    let (number, rest) = split_number(text);
    let (unit, rest) = split_unit(rest);
    let first = read_number(number)?;
    let unit: Unit = if unit.is_empty() {
        bare
    } else {
        unit.parse().ok()?
    };
    let mm = first * unit.millimetres();
    if rest.is_empty() {
        return Some(mm);
    }
    // Only feet go on, and only with inches.
    let (number, tail) = split_number(rest);
    let inches: Unit = tail.trim().parse().ok()?;
    (unit == Unit::Foot && inches == Unit::Inch)
        .then_some(mm + read_number(number)? * inches.millimetres())
}

fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/' | ' ')))
        .unwrap_or(text.len());
    text.split_at(end)
}

fn split_unit(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| c.is_ascii_digit() || c == ' ')
        .unwrap_or(text.len());
    let (unit, rest) = text.split_at(end);
    (unit.trim(), rest.trim())
}

/// `3`, `3.5`, `1/2` or `3 1/2`, never negative.
fn read_number(text: &str) -> Option<f64> {
    let mut words = text.split_whitespace();
    let (first, second) = (words.next()?, words.next());
    if words.next().is_some() {
        return None;
    }
    match second {
        None if first.contains('/') => read_fraction(first),
        None => first.parse().ok(),
        Some(fraction) if !first.contains(['.', '/']) => {
            Some(first.parse::<f64>().ok()? + read_fraction(fraction)?)
        }
        Some(_) => None,
    }
}

fn read_fraction(text: &str) -> Option<f64> {
    let (top, bottom) = text.split_once('/')?;
    let (top, bottom): (u32, u32) = (top.parse().ok()?, bottom.parse().ok()?);
    (bottom > 0).then(|| f64::from(top) / f64::from(bottom))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn understood() {
        let cases = [
            ("300mm", 300.0),
            ("300 mm", 300.0),
            (" 1.2m ", 1200.0),
            ("12in", 304.8),
            ("12\"", 304.8),
            ("20ft", 6096.0),
            ("31 13/16in", 808.0375),
            ("13/16 in", 20.6375),
            ("5ft 3 1/2in", 1612.9),
            ("5' 3\"", 1600.2),
            ("5'3\"", 1600.2),
            ("7", 7.0),
            ("-2.5cm", -25.0),
        ];
        for (text, want) in cases {
            let got = parse_length(text, Unit::Millimetre).expect(text);
            assert!((got - want).abs() < 1e-9, "{text}: {got} mm, not {want} mm");
        }
        assert_eq!(parse_length("2", Unit::Inch), Ok(50.8));
    }

    #[test]
    fn refused() {
        for text in [
            "",
            "mm",
            "-",
            "12 furlong",
            "1/0in",
            "1 2 3in",
            "3.5 1/2in",
            "12in 3mm",
            "12in 3",
            "1e3mm",
            "..",
            "nan",
            "--3mm",
            "3 mm 4ft",
        ] {
            assert!(
                parse_length(text, Unit::Millimetre).is_err(),
                "{text} was taken"
            );
        }
        assert_eq!(
            parse_length("12,5mm", Unit::Millimetre),
            Err(LengthTextError::Comma("12,5mm".into()))
        );
    }
}

//! Units of length a model can be drawn in.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// Millimetres in an inch, exact since the international yard and pound agreement of 1959.
pub(super) const INCH: f64 = 25.4;

/// A unit of length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Unit {
    Millimetre,
    Centimetre,
    Metre,
    Inch,
    Foot,
}

/// The text names no unit of length known here.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a unit of length: write mm, cm, m, in or ft")]
pub struct UnknownUnit(pub String);

impl Unit {
    /// All of them, smallest metric first.
    pub const ALL: [Unit; 5] = [
        Unit::Millimetre,
        Unit::Centimetre,
        Unit::Metre,
        Unit::Inch,
        Unit::Foot,
    ];

    /// Millimetres in one unit.
    pub fn millimetres(self) -> f64 {
        match self {
            Unit::Millimetre => 1.0,
            Unit::Centimetre => 10.0,
            Unit::Metre => 1000.0,
            Unit::Inch => INCH,
            // Twelve times the inch would miss it by a last digit.
            Unit::Foot => 304.8,
        }
    }

    /// Its symbol.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Centimetre => "cm",
            Unit::Metre => "m",
            Unit::Inch => "in",
            Unit::Foot => "ft",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.pad(self.symbol())
    }
}

impl FromStr for Unit {
    type Err = UnknownUnit;

    fn from_str(text: &str) -> Result<Unit, UnknownUnit> {
        match text.trim().to_ascii_lowercase().as_str() {
            "mm" => Ok(Unit::Millimetre),
            "cm" => Ok(Unit::Centimetre),
            "m" => Ok(Unit::Metre),
            "in" | "inch" | "inches" | "\"" => Ok(Unit::Inch),
            "ft" | "foot" | "feet" | "'" => Ok(Unit::Foot),
            _ => Err(UnknownUnit(text.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_reads_back() {
        for unit in Unit::ALL {
            assert_eq!(unit.symbol().parse(), Ok(unit));
        }
        assert_eq!(
            "furlong".parse::<Unit>(),
            Err(UnknownUnit("furlong".into()))
        );
    }
}

//! The unit an answer is shown in, and numbers written in it.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::rounding::{Rounded, round};
use super::unit::INCH;
use super::{Quantity, Unit, fraction, quantity};

/// Unit of an answer. Fractions of an inch are for lengths laid out with a tape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Show {
    /// Millimetres, m², kg.
    Millimetre,
    /// Decimal inches, ft², lb.
    Inch,
    /// Inches to the nearest 1/n.
    InchFraction(u32),
}

/// The text names no way of showing lengths.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a unit to show lengths in: write mm, in, in/8, in/16, in/32 or in/64")]
pub struct UnknownShow(pub String);

/// A number written with its ±, without the unit.
pub type Written = Rounded;

/// Kilograms in a pound, exact since the agreement of 1959.
const POUND: f64 = 0.453_592_37;

impl Show {
    /// Unit of a bare length typed by someone who wants answers shown this way.
    pub fn bare_unit(self) -> Unit {
        match self {
            Show::Millimetre => Unit::Millimetre,
            Show::Inch | Show::InchFraction(_) => Unit::Inch,
        }
    }

    /// Symbol of the unit of lengths.
    pub fn length_symbol(self) -> &'static str {
        self.bare_unit().symbol()
    }

    /// Symbol of the unit of small areas (a section).
    pub fn section_area_symbol(self) -> &'static str {
        if self.metric() { "mm²" } else { "in²" }
    }

    /// Symbol of the unit of large areas (a plate, paint).
    pub fn area_symbol(self) -> &'static str {
        if self.metric() { "m²" } else { "ft²" }
    }

    /// Symbol of the unit of mass.
    pub fn mass_symbol(self) -> &'static str {
        if self.metric() { "kg" } else { "lb" }
    }

    /// A length in mm that is laid out with a tape; `None` when it is not finite.
    pub fn length(self, mm: Quantity) -> Option<Written> {
        match self {
            Show::Millimetre => round(mm, 2),
            Show::Inch => round(mm.scaled(self.per_millimetre()), 3),
            Show::InchFraction(denominator) => tape(mm.scaled(self.per_millimetre()), denominator),
        }
    }

    /// A size in mm that is bought or drilled, not laid out (wall, thickness, diameter): a fraction
    /// only where it is one, for a wall of 0.065 in is not 1/16.
    pub fn size(self, mm: Quantity) -> Option<Written> {
        let inches = mm.scaled(1.0 / INCH);
        match self {
            Show::InchFraction(denominator) if !is_fraction(inches, denominator) => {
                round(inches, 3)
            }
            _ => self.length(mm),
        }
    }

    /// A small distance in mm as a decimal, rounded up to what a tape can show, so never to nothing.
    pub fn rounded_up(self, mm: f64) -> String {
        let (step, places) = if self.metric() { (0.01, 2) } else { (0.001, 3) };
        let steps = (mm * self.per_millimetre() / step - 1e-6).ceil().max(1.0);
        format!("{:.places$}", steps * step)
    }

    /// A small area in mm².
    pub fn section_area(self, mm2: Quantity) -> Option<Written> {
        if self.metric() {
            round(mm2, 1)
        } else {
            round(mm2.scaled(1.0 / (INCH * INCH)), 4)
        }
    }

    /// A large area in mm².
    pub fn area(self, mm2: Quantity) -> Option<Written> {
        if self.metric() {
            round(mm2.scaled(1e-6), 4)
        } else {
            round(mm2.scaled(1.0 / (144.0 * INCH * INCH)), 3)
        }
    }

    /// A mass in kg.
    pub fn mass(self, kg: Quantity) -> Option<Written> {
        if self.metric() {
            round(kg, 3)
        } else {
            round(kg.scaled(self.per_kilogram()), 3)
        }
    }

    /// An angle in degrees.
    pub fn angle(self, degrees: Quantity) -> Option<Written> {
        round(degrees, 2)
    }

    /// Units of length in a millimetre.
    pub fn per_millimetre(self) -> f64 {
        if self.metric() { 1.0 } else { 1.0 / INCH }
    }

    /// Units of mass in a kilogram.
    pub fn per_kilogram(self) -> f64 {
        if self.metric() { 1.0 } else { 1.0 / POUND }
    }

    fn metric(self) -> bool {
        self == Show::Millimetre
    }
}

/// Nearest fraction; ± takes in what the rounding lost and is rounded up to a 64th.
fn tape(inches: Quantity, denominator: u32) -> Option<Written> {
    if !(inches.value.is_finite() && inches.plus_minus.is_finite()) {
        return None;
    }
    let d = f64::from(denominator.max(1));
    let lost = (inches.value - (inches.value * d).round() / d).abs();
    let sixty_fourths = ((inches.plus_minus + lost) * 64.0 - 1e-6).ceil().max(1.0);
    Some(Written {
        value: fraction(inches.value, denominator),
        plus_minus: fraction(sixty_fourths / 64.0, 64),
    })
}

fn is_fraction(inches: Quantity, denominator: u32) -> bool {
    let d = f64::from(denominator.max(1));
    let lost = (inches.value - (inches.value * d).round() / d).abs();
    // Half a thousandth: what three decimals would write as the fraction anyway.
    lost <= inches.plus_minus.max(0.0005)
}

/// Lengths without ±, for coordinates and totals, with the finest decimals of the unit.
impl Show {
    /// A plain length in mm.
    pub fn plain_length(self, mm: f64) -> String {
        self.length(quantity(mm, 0.0))
            .map_or_else(|| "not known".to_owned(), |w| w.value)
    }
}

impl fmt::Display for Show {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Show::Millimetre => out.write_str("mm"),
            Show::Inch => out.write_str("in"),
            Show::InchFraction(denominator) => write!(out, "in/{denominator}"),
        }
    }
}

impl FromStr for Show {
    type Err = UnknownShow;

    fn from_str(text: &str) -> Result<Show, UnknownShow> {
        match text.trim().to_ascii_lowercase().as_str() {
            "mm" => Ok(Show::Millimetre),
            "in" => Ok(Show::Inch),
            "in/8" => Ok(Show::InchFraction(8)),
            "in/16" => Ok(Show::InchFraction(16)),
            "in/32" => Ok(Show::InchFraction(32)),
            "in/64" => Ok(Show::InchFraction(64)),
            _ => Err(UnknownShow(text.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(written: Option<Written>) -> String {
        written.map_or_else(|| "-".into(), |w| format!("{} ±{}", w.value, w.plus_minus))
    }

    #[test]
    fn one_length_four_ways() {
        let radius = quantity(808.04, 0.03);
        assert_eq!(text(Show::Millimetre.length(radius)), "808.04 ±0.03");
        assert_eq!(text(Show::Inch.length(radius)), "31.813 ±0.002");
        assert_eq!(
            text(Show::InchFraction(16).length(radius)),
            "31 13/16 ±1/64"
        );
        assert_eq!(text(Show::InchFraction(8).length(radius)), "31 7/8 ±5/64");
    }

    #[test]
    fn a_gauge_wall_is_not_forced_into_a_fraction() {
        let wall = quantity(1.651, 0.004);
        assert_eq!(text(Show::InchFraction(16).size(wall)), "0.065 ±0.001");
        assert_eq!(
            text(Show::InchFraction(16).size(quantity(6.35, 0.004))),
            "1/4 ±1/64"
        );
    }

    #[test]
    fn areas_and_masses_change_their_unit_too() {
        assert_eq!(
            text(Show::Millimetre.area(quantity(1.5e6, 600.0))),
            "1.5000 ±0.0006"
        );
        assert_eq!(
            text(Show::Inch.area(quantity(92_903.04, 0.0))),
            "1.000 ±0.000"
        );
        assert_eq!(
            text(Show::Inch.mass(quantity(0.453_592_37, 0.001))),
            "1.000 ±0.003"
        );
        assert_eq!(
            text(Show::Inch.section_area(quantity(645.16, 6.4516))),
            "1.000 ±0.010"
        );
        assert_eq!(text(Show::Inch.length(quantity(f64::NAN, 0.0))), "-");
        assert_eq!(
            text(Show::InchFraction(16).size(quantity(f64::NAN, 0.0))),
            "-"
        );
    }

    #[test]
    fn every_name_reads_back() {
        for name in ["mm", "in", "in/8", "in/16", "in/32", "in/64"] {
            assert_eq!(
                name.parse::<Show>().map(|s| s.to_string()),
                Ok(name.to_owned())
            );
        }
        assert!("in/7".parse::<Show>().is_err());
    }
}

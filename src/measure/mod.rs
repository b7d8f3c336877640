//! Numbers with their uncertainty, and how they are written down.

mod fraction;
mod length_text;
mod mass;
mod rounding;
mod show;
mod unit;

pub use fraction::fraction;
pub use length_text::{LengthTextError, parse_length};
pub use mass::{STEEL_DENSITY, mass};
pub use rounding::{Rounded, decimals, round};
pub use show::{Show, UnknownShow, Written};
pub use unit::{Unit, UnknownUnit};

use schemars::JsonSchema;
use serde::Serialize;

/// A measured number and the half-width of the interval that is meant to hold the design value
/// at least 95 times in 100 (expanded uncertainty, k = 2, in the sense of JCGM 100:2008).
///
/// The unit is that of the field that holds it: millimetres, degrees, mm², mm³ or kilograms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Quantity {
    /// Best estimate.
    pub value: f64,
    /// Half-width of the 95 % interval, same unit as `value`.
    pub plus_minus: f64,
}

impl Quantity {
    /// A value with its 95 % half-width.
    pub fn new(value: f64, plus_minus: f64) -> Self {
        Quantity {
            value,
            plus_minus: plus_minus.abs(),
        }
    }

    /// Both parts multiplied by `factor` (a change of unit).
    pub fn scaled(self, factor: f64) -> Self {
        Quantity::new(self.value * factor, self.plus_minus * factor)
    }

    /// True when the two intervals meet.
    pub fn agrees_with(self, other: Quantity) -> bool {
        (self.value - other.value).abs() <= self.plus_minus + other.plus_minus
    }
}

/// Shorthand for a quantity.
pub fn quantity(value: f64, plus_minus: f64) -> Quantity {
    Quantity::new(value, plus_minus)
}

//! Numbers with their half-widths.

use crate::geometry::{Pt3, Vec3};
use crate::measure::Quantity;
use crate::member::numbers::Numbers;

/// Smallest half-width ever printed: a thousandth of a millimetre or of a degree.
pub(super) const FLOOR: f64 = 1e-3;

/// Numbers with their half-widths.
pub(super) struct Measured {
    pub(super) numbers: Numbers,
    pub(super) uncertainty: Vec<f64>,
    pub(super) floor: f64,
}

impl Measured {
    pub(super) fn with(&self, key: &str, extra: f64) -> Option<Quantity> {
        let &i = self.numbers.index.get(key)?;
        let value = *self.numbers.values.get(i)?;
        let u = *self.uncertainty.get(i)?;
        (value.is_finite() && u.is_finite()).then(|| {
            Quantity::new(
                value,
                (4.0 * u * u + extra * extra).sqrt() + self.floor.max(4e-9 * value.abs()),
            )
        })
    }

    pub(super) fn get(&self, key: &str) -> Option<Quantity> {
        self.with(key, 0.0)
    }
}

pub(super) fn array(v: &Vec3) -> [f64; 3] {
    [v.x, v.y, v.z]
}

pub(super) fn place(p: &Pt3) -> [f64; 3] {
    [p.x, p.y, p.z]
}

/// Standard uncertainties of the integrals that were too costly to differentiate, from those of the
/// section's area and outline and of the length.
pub(super) fn spread_to_integrals(named: &Numbers, uncertainty: &mut Vec<f64>) {
    let u = |key: &str, uncertainty: &[f64]| -> f64 {
        named
            .index
            .get(key)
            .and_then(|&i| uncertainty.get(i))
            .copied()
            .unwrap_or(0.0)
    };
    let value = |key: &str| named.get(key).unwrap_or(0.0);
    let relative = |key: &str, unc: &[f64]| u(key, unc) / value(key).abs().max(1e-12);
    let known = uncertainty.clone();
    uncertainty.resize(named.values.len(), f64::NAN);
    for (key, base) in [
        ("volume", "area"),
        ("lateral", "outline"),
        ("longest", "length"),
        ("shortest", "length"),
    ] {
        if let Some(&i) = named.index.get(key)
            && uncertainty[i].is_nan()
        {
            uncertainty[i] =
                value(key).abs() * (relative(base, &known) + relative("length", &known));
        }
    }
}

pub(super) fn measured_extent(m: &Measured) -> [f64; 2] {
    [
        m.numbers.get("from").unwrap_or(0.0),
        m.numbers.get("to").unwrap_or(0.0),
    ]
}

//! Nearest usual plate thickness.

use std::sync::LazyLock;

use serde::Deserialize;

use super::row::rows;
use crate::measure::Quantity;
use crate::member::Stock;

const TABLE: &str = include_str!("../../shared/sizes/plate_thickness.csv");
/// Metric thicknesses are whole or tenths of a millimetre, gauges ten-thousandths of an inch; half
/// of the last digit, mm.
const METRIC_ROUNDING: f64 = 0.05;
const INCH_ROUNDING: f64 = 0.000_05 * 25.4;
/// Farther off than this share of the thickness, "nearest" says nothing.
const FARTHEST: f64 = 0.25;

#[derive(Debug, Deserialize)]
struct Row {
    series: String,
    name: String,
    thickness_mm: f64,
}

static PLATES: LazyLock<Vec<Row>> = LazyLock::new(|| rows(TABLE));

impl Row {
    fn rounding(&self) -> f64 {
        if self.series.starts_with("metric") {
            METRIC_ROUNDING
        } else {
            INCH_ROUNDING
        }
    }

    fn fits(&self, thickness: Quantity) -> bool {
        (thickness.value - self.thickness_mm).abs() <= thickness.plus_minus + self.rounding()
    }

    fn designation(&self) -> String {
        format!(
            "{} {}",
            self.name,
            if self.series.contains("sheet") {
                "sheet"
            } else {
                "plate"
            }
        )
    }
}

/// The usual plate or sheet nearest in thickness. `None` when nothing usual is within a quarter.
pub fn plate_thickness(thickness: Quantity) -> Option<Stock> {
    if !(thickness.value > 0.0 && thickness.value.is_finite() && thickness.plus_minus.is_finite()) {
        return None;
    }
    let off = |row: &Row| (thickness.value - row.thickness_mm).abs();
    let best = PLATES.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    if off(best) > FARTHEST * best.thickness_mm {
        return None;
    }
    let also = PLATES
        .iter()
        .filter(|row| row.fits(thickness) && row.designation() != best.designation())
        .map(Row::designation)
        .collect();
    Some(Stock {
        designation: best.designation(),
        standard: best.series.clone(),
        exact: best.fits(thickness),
        off_by: off(best),
        also,
    })
}

/// Thicknesses, mm.
pub(super) fn thicknesses() -> impl Iterator<Item = f64> {
    PLATES.iter().map(|row| row.thickness_mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;
    use crate::stock::row::unreadable;

    #[test]
    fn plates_sheets_and_what_is_neither() {
        assert_eq!(unreadable::<Row>(TABLE), 0);
        let name = |t: f64| plate_thickness(quantity(t, 1e-3)).map(|s| (s.designation, s.exact));
        assert_eq!(name(10.0), Some(("10 mm plate".into(), true)));
        assert_eq!(name(6.35), Some(("1/4 in plate".into(), true)));
        assert_eq!(name(1.5), Some(("1.5 mm sheet".into(), true)));
        assert_eq!(name(11.0), Some(("7/16 in plate".into(), false)));
        assert_eq!(name(500.0), None);
        assert_eq!(name(f64::NAN), None);
    }

    #[test]
    fn gauge_and_metric_can_both_fit() {
        let stock = plate_thickness(quantity(1.518, 0.01)).unwrap();
        assert_eq!(stock.designation, "16 ga sheet");
        assert_eq!(stock.also, ["1.5 mm sheet"]);
    }
}

//! All published sections, one list for each family, millimetres.

mod solid;
mod tube;

use std::sync::LazyLock;

use crate::measure::fraction;

const MM_PER_INCH: f64 = 25.4;
/// A metric table prints tenths; half of one is its rounding, mm.
const METRIC_ROUNDING: f64 = 0.05;
/// An inch wall or gauge is printed to a thousandth of an inch; half of that, mm.
const INCH_ROUNDING: f64 = 0.0005 * MM_PER_INCH;

/// Sections that are compared with each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::stock) enum Family {
    RoundTube,
    RectTube,
    RoundBar,
    FlatBar,
    Angle,
    Channel,
}

/// One published size; mm.
#[derive(Clone, Debug)]
pub(in crate::stock) struct Entry {
    pub(in crate::stock) family: Family,
    /// Designation without the wall.
    pub(in crate::stock) outside_name: String,
    /// What the wall adds to the designation.
    pub(in crate::stock) wall_name: String,
    pub(in crate::stock) standard: &'static str,
    /// Outside sizes, larger first: diameter alone; sides; legs; a channel's height and width.
    pub(in crate::stock) outside: Vec<f64>,
    /// Wall, or the thicknesses of web and flange; empty for bars.
    pub(in crate::stock) wall: Vec<f64>,
    pub(in crate::stock) corner_radius: Option<f64>,
    /// Rounding of the table's outside sizes and walls, mm.
    pub(in crate::stock) rounding: f64,
}

static ROUND_TUBES: LazyLock<Vec<Entry>> = LazyLock::new(tube::round_tubes);
static RECT_TUBES: LazyLock<Vec<Entry>> = LazyLock::new(tube::rect_tubes);
static ROUND_BARS: LazyLock<Vec<Entry>> = LazyLock::new(solid::round_bars);
static FLAT_BARS: LazyLock<Vec<Entry>> = LazyLock::new(solid::flat_bars);
static ANGLES: LazyLock<Vec<Entry>> = LazyLock::new(solid::angles);
static CHANNELS: LazyLock<Vec<Entry>> = LazyLock::new(solid::channels);

/// The published sections of one family, read when they are first asked for: all the tables take
/// longer to read than a small model.
pub(in crate::stock) fn entries_of(family: Family) -> &'static [Entry] {
    match family {
        Family::RoundTube => &ROUND_TUBES,
        Family::RectTube => &RECT_TUBES,
        Family::RoundBar => &ROUND_BARS,
        Family::FlatBar => &FLAT_BARS,
        Family::Angle => &ANGLES,
        Family::Channel => &CHANNELS,
    }
}

/// Every published section.
pub(in crate::stock) fn entries() -> impl Iterator<Item = &'static Entry> {
    [
        Family::RoundTube,
        Family::RectTube,
        Family::RoundBar,
        Family::FlatBar,
        Family::Angle,
        Family::Channel,
    ]
    .into_iter()
    .flat_map(entries_of)
}

fn entry(family: Family, outside: Vec<f64>, wall: Vec<f64>, standard: &'static str) -> Entry {
    Entry {
        family,
        outside_name: String::new(),
        wall_name: String::new(),
        standard,
        outside,
        wall,
        corner_radius: None,
        rounding: METRIC_ROUNDING,
    }
}

fn inches(family: Family, outside: &[f64], wall: &[f64], standard: &'static str) -> Entry {
    let mm = |sizes: &[f64]| sizes.iter().map(|v| v * MM_PER_INCH).collect();
    Entry {
        rounding: INCH_ROUNDING,
        ..entry(family, mm(outside), mm(wall), standard)
    }
}

/// Inches as a fraction where sixteenths hold them, else with three decimals.
fn in_fraction(inches: f64) -> String {
    if (inches * 16.0 - (inches * 16.0).round()).abs() < 1e-9 {
        fraction(inches, 16)
    } else {
        format!("{inches:.3}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_sane() {
        for e in entries() {
            assert!(e.outside.iter().all(|v| *v > 2.0 && *v < 1000.0), "{e:?}");
            assert!(e.outside.is_sorted_by(|a, b| a >= b), "{e:?}");
            let least = e.outside.last().copied().unwrap_or(0.0);
            assert!(e.wall.iter().all(|w| *w > 0.2 && 2.0 * w < least), "{e:?}");
            assert!(!e.outside_name.is_empty());
        }
    }
}

//! General tolerances by class, from the tables of ISO 2768-1 and ISO 13920.

use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;

const TABLE: &str = include_str!("../../shared/tolerances.csv");

/// A class of a standard of general tolerances.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Class {
    standard: &'static str,
    letter: &'static str,
}

/// The text names no class.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error(
    "\"{0}\" is not a class of general tolerances: write iso13920-a to -d, or iso2768-f, -m, -c or -v"
)]
pub struct UnknownClass(pub String);

#[derive(Debug, Deserialize)]
struct Row {
    standard: String,
    kind: String,
    class: String,
    range_mm: String,
    tolerance: Option<f64>,
    unit: String,
}

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(TABLE.as_bytes())
        .deserialize()
        .filter_map(Result::ok)
        .collect()
});

/// Every class the tables have for lengths.
pub const CLASSES: [Class; 8] = [
    class("ISO 13920", "A"),
    class("ISO 13920", "B"),
    class("ISO 13920", "C"),
    class("ISO 13920", "D"),
    class("ISO 2768-1", "f"),
    class("ISO 2768-1", "m"),
    class("ISO 2768-1", "c"),
    class("ISO 2768-1", "v"),
];

const fn class(standard: &'static str, letter: &'static str) -> Class {
    Class { standard, letter }
}

impl Class {
    /// Tolerance of a length of this size, mm to either side; `None` where the standard gives none.
    pub fn linear(self, size: f64) -> Option<f64> {
        self.find("linear", "mm", size)
    }

    /// Tolerance of an angle whose shorter leg has this length in mm, degrees to either side.
    pub fn angular(self, shorter_leg: f64) -> Option<f64> {
        let minutes = self.find("angular_shorter_leg", "arcmin", shorter_leg)?;
        Some(minutes / 60.0)
    }

    fn find(self, kind: &str, unit: &str, size: f64) -> Option<f64> {
        let fits = |row: &&Row| {
            row.standard == self.standard
                && row.kind == kind
                && row.unit == unit
                && row.class.split(',').any(|letter| letter == self.letter)
                && in_range(&row.range_mm, size)
        };
        ROWS.iter().find(fits)?.tolerance
    }
}

/// "120-400": over 120 up to 400, the smallest size of the table counted in; "20000-" has no end.
fn in_range(range: &str, size: f64) -> bool {
    let Some((from, to)) = range.split_once('-') else {
        return false;
    };
    let from: f64 = from.parse().unwrap_or(f64::NAN);
    let to: f64 = to.parse().unwrap_or(f64::INFINITY);
    let first = from <= 2.0 && size == from;
    (size > from || first) && size <= to
}

impl fmt::Display for Class {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        write!(out, "{} class {}", self.standard, self.letter)
    }
}

impl FromStr for Class {
    type Err = UnknownClass;

    fn from_str(text: &str) -> Result<Class, UnknownClass> {
        let wanted = text.trim().to_ascii_lowercase().replace([' ', ':'], "");
        let name = |class: &&Class| {
            let standard = match class.standard {
                "ISO 13920" => "iso13920",
                _ => "iso2768",
            };
            format!("{standard}-{}", class.letter.to_ascii_lowercase()) == wanted
        };
        CLASSES
            .iter()
            .find(name)
            .copied()
            .ok_or_else(|| UnknownClass(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_table_reads() {
        let lines = TABLE.lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(ROWS.len(), lines - 1);
        assert!(CLASSES.iter().all(|class| class.linear(500.0).is_some()));
        assert!(CLASSES.iter().all(|class| class.angular(500.0).is_some()));
    }

    #[test]
    fn borders_belong_to_the_lower_range() {
        let b: Class = "iso13920-B".parse().expect("a class");
        assert_eq!(b.linear(2.0), Some(1.0));
        assert_eq!(b.linear(400.0), Some(2.0));
        assert_eq!(b.linear(400.1), Some(3.0));
        assert_eq!(b.linear(30_000.0), Some(16.0));
        assert_eq!(b.linear(1.0), None);
        assert_eq!(b.angular(400.0), Some(0.75));
        let m: Class = "iso2768-m".parse().expect("a class");
        assert_eq!(m.linear(0.5), Some(0.1));
        assert_eq!(m.linear(1000.0), Some(0.8));
        assert_eq!(m.linear(4000.1), None);
        assert_eq!(m.angular(10.0), Some(1.0));
        assert_eq!(m.to_string(), "ISO 2768-1 class m");
        assert!("iso2768-z".parse::<Class>().is_err());
    }
}

//! Cells of a table, and columns of numbers with their points below each other.

use crate::measure::{Quantity, Show, Written, round};

/// Words for a number the mesh can't support.
pub(crate) const NOT_KNOWN: &str = "not known";

/// One cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Cell {
    Empty,
    Text(String),
    /// A number with its ±, and its unit where the column doesn't carry it.
    Number(Written, &'static str),
}

impl Cell {
    pub fn text(text: impl Into<String>) -> Cell {
        Cell::Text(text.into())
    }

    pub fn is_empty(&self) -> bool {
        *self == Cell::Empty
    }

    pub fn number(written: Option<Written>, unit: &'static str) -> Cell {
        written.map_or_else(
            || Cell::text(NOT_KNOWN),
            |written| Cell::Number(written, unit),
        )
    }
}

/// A length in mm laid out with a tape.
pub(crate) fn length(q: Quantity, show: Show) -> Cell {
    Cell::number(show.length(q), "")
}

/// A bought or drilled size in mm.
pub(crate) fn size(q: Quantity, show: Show) -> Cell {
    Cell::number(show.size(q), "")
}

/// An angle in degrees.
pub(crate) fn angle(q: Quantity, show: Show) -> Cell {
    Cell::number(show.angle(q), "°")
}

/// An area in mm² of a section.
pub(crate) fn section_area(q: Quantity, show: Show) -> Cell {
    Cell::number(show.section_area(q), show.section_area_symbol())
}

/// An area in mm² of a plate or of all faces.
pub(crate) fn area(q: Quantity, show: Show) -> Cell {
    Cell::number(show.area(q), show.area_symbol())
}

/// A mass in kg.
pub(crate) fn mass(q: Quantity, show: Show) -> Cell {
    Cell::number(show.mass(q), show.mass_symbol())
}

/// A number of turns.
pub(crate) fn turns(q: Quantity, _: Show) -> Cell {
    Cell::number(round(q, 3), "")
}

/// The cell of a number that may be missing; empty when it is.
pub(crate) fn maybe(q: Option<Quantity>, show: Show, cell: fn(Quantity, Show) -> Cell) -> Cell {
    q.map_or(Cell::Empty, |q| cell(q, show))
}

/// Text of every cell of one column, numbers aligned at their points and at their ±.
pub(crate) fn aligned<'a>(column: impl Iterator<Item = &'a Cell> + Clone) -> Vec<String> {
    let halves = |cell: &'a Cell| match cell {
        Cell::Number(written, _) => Some(at_point(&written.value)),
        _ => None,
    };
    let widest = |length: fn(&(&str, &str)) -> usize| {
        let lengths = column.clone().filter_map(halves).map(|h| length(&h));
        lengths.max().unwrap_or(0)
    };
    let whole = widest(|(whole, _)| whole.len());
    let decimals = widest(|(_, decimals)| decimals.len());
    column
        .clone()
        .map(|cell| match cell {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Number(written, unit) => {
                let (left, right) = at_point(&written.value);
                let space = if unit.is_empty() || *unit == "°" {
                    ""
                } else {
                    " "
                };
                format!(
                    "{left:>whole$}{right:<decimals$} ±{}{space}{unit}",
                    written.plus_minus
                )
            }
        })
        .collect()
}

fn at_point(number: &str) -> (&str, &str) {
    number.split_at(number.find('.').unwrap_or(number.len()))
}

//! Words and cells that several answers share.

use crate::finding::Severity;
use crate::measure::{Quantity, Show, quantity};
use crate::report::table::cell::Cell;
use crate::report::table::grid::{Grid, shelves};
use crate::report::table::page::{Page, wrapped};

use super::Origin;

/// Narrowest page.
pub(super) const NARROWEST: usize = 72;

/// A length set by the shop, without ±.
pub(super) fn plain(mm: f64, show: Show) -> Cell {
    Cell::text(show.plain_length(mm))
}

/// The same with its unit.
pub(super) fn with_unit(mm: f64, show: Show) -> String {
    format!("{} {}", show.plain_length(mm), show.length_symbol())
}

/// A measured length with its ± and unit, for a sentence.
pub(super) fn spoken(q: Quantity, show: Show) -> String {
    show.length(q).map_or_else(
        || "not known".to_owned(),
        |w| format!("{} ±{} {}", w.value, w.plus_minus, show.length_symbol()),
    )
}

/// A small distance without ±, for a sentence.
pub(super) fn distance(mm: f64, show: Show) -> String {
    match show {
        Show::Millimetre => format!("{mm:.2} mm"),
        Show::Inch | Show::InchFraction(_) => format!("{:.3} in", mm * show.per_millimetre()),
    }
}

/// A length of bar or a whole piece without ±, for a sentence.
pub(super) fn roughly(mm: f64, show: Show) -> String {
    match show {
        Show::Millimetre => format!("{} mm", (10.0 * mm).round() / 10.0),
        Show::Inch => format!("{:.1} in", mm * show.per_millimetre()),
        Show::InchFraction(_) => with_unit(mm, show),
    }
}

/// A place in the model.
pub(super) fn place([x, y, z]: [f64; 3], show: Show) -> String {
    let f = show.per_millimetre();
    match show {
        Show::Millimetre => format!("{x:.1}, {y:.1}, {z:.1}"),
        Show::Inch | Show::InchFraction(_) => {
            format!("{:.2}, {:.2}, {:.2} in", x * f, y * f, z * f)
        }
    }
}

/// Numbers read off a gauge: to a hundredth, or to a thousandth of an inch; nobody reads a rise of a
/// few sixteenths in sixteenths.
pub(super) fn fine(show: Show) -> Show {
    match show {
        Show::Millimetre => Show::Millimetre,
        Show::Inch | Show::InchFraction(_) => Show::Inch,
    }
}

/// A measured length as a cell.
pub(super) fn cell(q: Quantity, show: Show) -> Cell {
    crate::report::table::cell::length(q, show)
}

/// A number taken as exact, as a quantity.
pub(super) fn exact(mm: f64) -> Quantity {
    quantity(mm, 0.0)
}

/// Sets small tables side by side where they fit.
pub(super) fn set(page: &mut Page, grids: &[Grid]) {
    let width = page.width;
    let blocks: Vec<_> = grids
        .iter()
        .filter(|grid| !grid.rows.is_empty())
        .map(|grid| grid.set(width))
        .collect();
    if blocks.is_empty() {
        return;
    }
    page.blank();
    for line in shelves(&blocks, width) {
        page.line(line);
    }
}

/// A list of sentences under a heading.
pub(super) fn notes(page: &mut Page, heading: &str, notes: &[String]) {
    if notes.is_empty() {
        return;
    }
    page.blank();
    page.heading(heading);
    for note in notes {
        page.prose(&format!("- {note}"), 2);
    }
}

/// Warnings and errors of the model, notes left to `read`.
pub(super) fn warnings(page: &mut Page, origin: &Origin) {
    let worse = origin
        .findings
        .iter()
        .filter(|finding| finding.severity > Severity::Note);
    let mut any = false;
    for finding in worse {
        if !any {
            page.blank();
            page.heading("Warnings about the model");
            any = true;
        }
        let part = finding
            .part
            .as_ref()
            .map_or_else(String::new, |mark| format!("{mark}: "));
        let text = format!("- {part}{} {}", finding.message, finding.remedy);
        for (row, line) in wrapped(&text, page.width.saturating_sub(2))
            .into_iter()
            .enumerate()
        {
            page.line(if row == 0 { line } else { format!("  {line}") });
        }
    }
}

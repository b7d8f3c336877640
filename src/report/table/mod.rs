//! The report as text for a terminal or a sheet of paper.
//!
//! First the list of parts, then one block for each part, then the findings, worst first. No number
//! is ever broken over two lines: where a table is wider than the page, its columns go on below.

pub(crate) mod cell;
mod ends;
mod findings;
pub(crate) mod grid;
pub(crate) mod heading;
mod list;
mod member;
pub(crate) mod page;
mod panel;
mod path;
mod plate;
mod schedule;
#[cfg(test)]
mod tests;

use super::Report;
use crate::measure::Show;
use page::Page;

/// A size in fractions and the numbers beside it take this much.
const NARROWEST: usize = 72;

/// How a table is to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Unit of the answer.
    pub show: Show,
    /// Columns of the page; less than 72 counts as 72.
    pub width: usize,
    /// Bold and coloured words, by ANSI escape codes.
    pub colour: bool,
}

/// The report as text, with a newline at the end.
pub fn table(report: &Report, look: &Look) -> String {
    let mut page = Page::new(look.width.max(NARROWEST));
    heading::write(&mut page, report, look.show);
    list::write(&mut page, report, look.show);
    for part in &report.parts {
        panel::write_block(&mut page, report, part, look.show);
    }
    findings::write(&mut page, report);
    page.into_text(look.colour)
}

//! The cut list in pieces a page is made of: headings, tables and words, the same numbers as in the
//! table for a terminal.

use super::{CutList, table};
use crate::measure::Show;
use crate::report::table::grid::Grid;

/// A piece of a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// A heading.
    Heading(String),
    /// Running text.
    Words(String),
    /// A table; a head that ends with a blank stands over words.
    Table {
        /// Heads of the columns.
        heads: Vec<String>,
        /// Rows, as many cells as heads.
        rows: Vec<Vec<String>>,
    },
}

/// The list, everything a shop needs of it on paper.
pub fn said(list: &CutList, show: Show) -> Vec<Said> {
    let mut out = Vec::new();
    add(&mut out, table::members(list, show));
    add(&mut out, table::buy(list, show));
    out.extend(table::bound_words(list, show).map(Said::Words));
    add(&mut out, table::bars(list, show));
    add(&mut out, table::plates(list, show));
    add(&mut out, table::thicknesses(list, show));
    add(&mut out, table::weight(list, show));
    add(&mut out, table::joints(list, show));
    add(&mut out, table::bolts(list, show));
    add(&mut out, table::landings(list, show, false));
    let [pieces, units] = table::shipped(list, show, true);
    add(&mut out, pieces);
    add(&mut out, units);
    for (heading, words) in [
        ("Look at", table::to_look_at(list)),
        ("Mind", list.notes.clone()),
    ] {
        if !words.is_empty() {
            out.push(Said::Heading(heading.to_owned()));
            out.extend(words.into_iter().map(Said::Words));
        }
    }
    out
}

fn add(out: &mut Vec<Said>, grid: Grid) {
    if grid.rows.is_empty() {
        return;
    }
    let (heads, rows) = grid.plain();
    if grid.heads.is_empty() {
        let heads = vec![format!("{} ", grid.title), String::new()];
        out.push(Said::Table { heads, rows });
        return;
    }
    out.push(Said::Heading(grid.title));
    out.push(Said::Table { heads, rows });
}

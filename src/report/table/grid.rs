//! Small tables that go on below themselves where the page is too narrow.

use tabled::builder::Builder;
use tabled::settings::object::{Columns, Object, Rows};
use tabled::settings::{Padding, Style};
use tabled::{Table, grid::util::string::get_text_width};

use super::cell::{Cell, aligned};

/// A table with a title. Every row has as many cells as there are heads; with no heads the table is a
/// list of label and value.
#[derive(Clone, Debug, Default)]
pub(crate) struct Grid {
    pub title: String,
    pub heads: Vec<String>,
    pub rows: Vec<Vec<Cell>>,
}

/// Text set as a rectangle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Block {
    pub lines: Vec<String>,
    pub width: usize,
}

const GAP: usize = 2;

impl Grid {
    /// A list of label and value.
    pub fn list(title: &str) -> Grid {
        Grid {
            title: title.to_owned(),
            ..Grid::default()
        }
    }

    /// A table with a head above each column.
    pub fn with_heads(title: &str, heads: &[&str]) -> Grid {
        Grid {
            title: title.to_owned(),
            heads: heads.iter().map(|&head| head.to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    /// One more label and value, unless there is no value.
    pub fn entry(&mut self, label: &str, cell: Cell) {
        if !cell.is_empty() {
            self.rows.push(vec![Cell::text(label), cell]);
        }
    }

    /// Set in at most `width` columns if that can be done without breaking a cell: columns that don't
    /// fit go on below, the first one repeated. Columns without a single value are left out.
    pub fn set(&self, width: usize) -> Block {
        let columns = self.columns();
        let widths: Vec<usize> = columns.iter().map(|column| widest(column)).collect();
        let mut lines = vec![self.title.clone()];
        for (turn, chunk) in chunks(&widths, width.saturating_sub(GAP))
            .iter()
            .enumerate()
        {
            let picked: Vec<&Vec<String>> = chunk.iter().filter_map(|&k| columns.get(k)).collect();
            for line in set_columns(&picked, turn > 0, !self.heads.is_empty()).lines() {
                lines.push(format!("{:GAP$}{}", "", line.trim_end()));
            }
        }
        let width = lines
            .iter()
            .map(|line| get_text_width(line))
            .max()
            .unwrap_or(0);
        Block { lines, width }
    }

    /// Heads and rows as plain text, without the columns that have no value; a cell of several lines
    /// goes on in rows below it. A head of words to be read from the left ends with a blank.
    pub fn plain(&self) -> (Vec<String>, Vec<Vec<String>>) {
        let columns = self.columns();
        let headed = !self.heads.is_empty();
        let body = |column: &[String]| column[usize::from(headed).min(column.len())..].to_vec();
        let numbers = |cells: &[String]| {
            let number = |c: &String| {
                c.is_empty() || c.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            };
            cells
                .iter()
                .all(|c| number(&c.trim().to_owned()) && !c.contains(','))
        };
        let heads = columns
            .iter()
            .map(|column| {
                let head = column.first().filter(|_| headed).map_or("", |h| h.trim());
                match numbers(&body(column)) {
                    true => head.to_owned(),
                    false => format!("{head} "),
                }
            })
            .collect();
        let columns: Vec<Vec<String>> = columns.iter().map(|c| body(c)).collect();
        let mut rows = Vec::new();
        for k in 0..columns.iter().map(Vec::len).max().unwrap_or(0) {
            let cells: Vec<Vec<&str>> = columns
                .iter()
                .map(|c| c.get(k).map_or(Vec::new(), |text| text.lines().collect()))
                .collect();
            for n in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
                let line = |c: &Vec<&str>| c.get(n).map_or("", |t| t.trim()).to_owned();
                rows.push(cells.iter().map(line).collect());
            }
        }
        (heads, rows)
    }

    /// Text of each column that has a value, head first.
    fn columns(&self) -> Vec<Vec<String>> {
        let count = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        (0..count)
            .filter_map(|k| {
                let cells = self.rows.iter().filter_map(|row| row.get(k));
                if cells.clone().all(Cell::is_empty) {
                    return None;
                }
                let head = self.heads.get(k).cloned();
                Some(head.into_iter().chain(aligned(cells)).collect())
            })
            .collect()
    }
}

/// Which columns go together, the first in every group.
fn chunks(widths: &[usize], room: usize) -> Vec<Vec<usize>> {
    let first = widths.first().copied().unwrap_or(0);
    let mut groups: Vec<Vec<usize>> = vec![vec![0]];
    let mut used = first;
    for (k, width) in widths.iter().enumerate().skip(1) {
        let alone = groups.last().is_none_or(|group| group.len() == 1);
        if used + GAP + width > room && !alone {
            groups.push(vec![0]);
            used = first;
        }
        if let Some(group) = groups.last_mut() {
            group.push(k);
        }
        used += GAP + width;
    }
    groups
}

/// Columns side by side. In a continuation, rows with nothing but their label are left out.
fn set_columns(columns: &[&Vec<String>], continued: bool, heads: bool) -> String {
    let rows = columns.iter().map(|column| column.len()).max().unwrap_or(0);
    let mut builder = Builder::new();
    for row in 0..rows {
        let cells = || {
            columns
                .iter()
                .map(|c| c.get(row).map_or("", String::as_str))
        };
        let label_only = cells().skip(1).all(str::is_empty);
        if !(continued && label_only && row >= usize::from(heads)) {
            builder.push_record(cells());
        }
    }
    let mut table: Table = builder.build();
    table.with(Style::empty());
    table.modify(Rows::new(..), Padding::new(0, GAP, 0, 0));
    table.modify(Rows::new(..).intersect(Columns::last()), Padding::zero());
    table.to_string()
}

fn widest(column: &[String]) -> usize {
    column
        .iter()
        .map(|text| get_text_width(text))
        .max()
        .unwrap_or(0)
}

/// Blocks side by side as far as they fit, then on the next shelf; one empty line between shelves.
pub(crate) fn shelves(blocks: &[Block], width: usize) -> Vec<String> {
    const BETWEEN: usize = 4;
    let mut lines = Vec::new();
    let mut rest = blocks;
    while !rest.is_empty() {
        let mut used = 0;
        let fitting = rest
            .iter()
            .take_while(|block| {
                used += block.width + BETWEEN;
                used - BETWEEN <= width
            })
            .count()
            .max(1);
        let (shelf, later) = rest.split_at(fitting);
        if !lines.is_empty() {
            lines.push(String::new());
        }
        let height = shelf
            .iter()
            .map(|block| block.lines.len())
            .max()
            .unwrap_or(0);
        for row in 0..height {
            let mut line = String::new();
            for block in shelf {
                let text = block.lines.get(row).map_or("", String::as_str);
                let fill = block.width + BETWEEN - get_text_width(text).min(block.width);
                line.push_str(&format!("{text}{:fill$}", ""));
            }
            lines.push(line.trim_end().to_owned());
        }
        rest = later;
    }
    lines
}

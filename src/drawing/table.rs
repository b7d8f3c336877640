//! A ruled table on paper.

use super::font::{self, Face};
use super::scene::{Anchor, NARROW, Pen, Place, Purpose, Scene, Text, WIDE};

/// A table to be drawn.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    /// Headings; a column is right-aligned unless its heading ends with a blank.
    pub headings: Vec<String>,
    /// Rows, as many cells as headings.
    pub rows: Vec<Vec<String>>,
}

const RULE: Pen = NARROW;

/// Draws the table below `top` (its upper left corner) in letters of capital height `height`;
/// gives back its width and the height it takes.
pub fn draw(scene: &mut Scene, table: &Table, top: Place, height: f64) -> (f64, f64) {
    let pad = height * 0.8;
    let row = height * 2.1;
    let widths: Vec<f64> = (0..table.headings.len())
        .map(|k| {
            let heading = table
                .headings
                .get(k)
                .map(|h| font::width(h.trim(), Face::Bold, height));
            let cells = table
                .rows
                .iter()
                .filter_map(|r| r.get(k))
                .map(|c| font::width(c, Face::Plain, height));
            heading.into_iter().chain(cells).fold(0.0, f64::max) + 2.0 * pad
        })
        .collect();
    let total: f64 = widths.iter().sum();
    let mut y = top.y;
    let mut line = |cells: &[String], face: Face, y: f64| {
        let mut x = top.x;
        for (k, width) in widths.iter().enumerate() {
            let words = cells.get(k).map_or("", |c| c.trim());
            let left = table.headings.get(k).is_some_and(|h| h.ends_with(' '));
            let (at, anchor) = match left {
                true => (x + pad, Anchor::Start),
                false => (x + width - pad, Anchor::End),
            };
            let text = Text::plain(Place::new(at, y - height * 1.5), height, words);
            let text = Text { face, ..text };
            scene.text(Purpose::Sheet, text.anchored(anchor));
            x += width;
        }
    };
    line(&table.headings, Face::Bold, y);
    let mut rules = vec![(y, RULE)];
    y -= row;
    rules.push((y, WIDE));
    for cells in &table.rows {
        line(cells, Face::Plain, y);
        y -= row;
        rules.push((y, RULE));
    }
    for (y, pen) in rules {
        scene.line(pen, Place::new(top.x, y), Place::new(top.x + total, y));
    }
    (total, top.y - y)
}

/// Height a table takes, mm.
pub fn height_of(table: &Table, height: f64) -> f64 {
    (table.rows.len() + 1) as f64 * height * 2.1
}

//! The hole schedule: holes by size, and what each size takes.

use super::cell::{Cell, maybe};
use super::grid::Grid;
use super::plate::kind_words;
use super::{cell, panel::Setting};
use crate::report::HoleSchedule;

/// The schedule, and for plates the edges the places run from.
pub(super) fn grids(schedule: &HoleSchedule, plate: bool, setting: &Setting) -> Vec<Grid> {
    let show = setting.show;
    let heads = [
        "Size",
        "holes",
        "numbers",
        "diameter",
        "slot length",
        "cut-out length",
        "cut-out width",
        "corner radius",
        "head diameter",
        "depth",
        "made from",
        "clears, ISO 273",
        "clears, inch",
        "is the tap drill of",
        "countersunk screw",
    ];
    let mut sizes = Grid::with_heads("Hole schedule", &heads);
    let words = |text: String| match text.is_empty() {
        true => Cell::Empty,
        false => Cell::text(text),
    };
    for size in &schedule.sizes {
        sizes.rows.push(vec![
            Cell::text(kind_words(size.kind)),
            Cell::text(size.count.to_string()),
            Cell::text(size.numbers()),
            maybe(size.diameter, show, cell::size),
            maybe(
                size.length.filter(|_| size.width.is_none()),
                show,
                cell::size,
            ),
            maybe(
                size.length.filter(|_| size.width.is_some()),
                show,
                cell::length,
            ),
            maybe(size.width, show, cell::length),
            maybe(size.corner_radius, show, cell::size),
            maybe(size.countersink_diameter, show, cell::size),
            maybe(size.depth, show, cell::size),
            size.made_from
                .map_or(Cell::Empty, |f| Cell::text(f.words())),
            words(size.clears_metric(show)),
            words(size.clears_inch(show)),
            words(size.tap_words()),
            words(size.head_words(show)),
        ]);
    }
    let mut from = Grid::list("Places of holes run from");
    if plate {
        let side = |edge: Option<f64>, name: &str| match edge {
            Some(length) => format!("{name} edge, straight over {}", show.plain_length(length)),
            None => format!("{name} side of the rectangle; no straight edge lies there"),
        };
        from.entry("x", Cell::text(side(schedule.left_edge, "left")));
        from.entry("y", Cell::text(side(schedule.lower_edge, "lower")));
    }
    vec![sizes, from]
}

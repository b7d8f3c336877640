//! The ends of a member.

use super::cell::{self, Cell, maybe};
use super::grid::Grid;
use super::panel::Setting;
use crate::finding::Code;
use crate::member::{Cut, End, EndShape, Member};

pub(super) fn grids(member: &Member, setting: &Setting) -> Vec<Grid> {
    let mut grids = vec![cuts(&member.ends, setting)];
    grids.extend(copes(&member.ends, setting));
    grids.extend(edges(&member.ends, setting));
    let mut turned = Grid::list("Ends against each other");
    turned.entry(
        "cut at end 1 turned by",
        maybe(member.twist, setting.show, cell::angle),
    );
    grids.push(turned);
    grids
}

fn cuts(ends: &[End], setting: &Setting) -> Grid {
    let heads = ["Cut", "off square", "across width", "across height"];
    let mut grid = Grid::with_heads("Ends (0 is square)", &heads);
    for (number, end) in ends.iter().enumerate() {
        for (nth, cut) in end.cuts.iter().enumerate() {
            let which = if end.cuts.len() > 1 {
                format!(", cut {}", nth + 1)
            } else {
                String::new()
            };
            let square = if is_square(cut) { ", square" } else { "" };
            grid.rows.push(vec![
                Cell::text(format!("end {number}{which}{square}")),
                cell::angle(cut.off_square, setting.show),
                cell::angle(cut.tilt_width, setting.show),
                cell::angle(cut.tilt_height, setting.show),
            ]);
        }
        if end.cuts.is_empty() && end.saddle.is_none() {
            let words = match end.shape {
                EndShape::Other => "not a plane cut".to_owned(),
                _ => "cut".to_owned(),
            };
            let mut row = vec![Cell::text(format!("end {number}, {words}"))];
            row.push(setting.known(None, cell::angle, &[Code::EndAssumed]));
            row.resize(heads.len(), Cell::Empty);
            grid.rows.push(row);
        }
    }
    grid
}

/// Rows of an end's ordinates that are printed; the rest stand in the JSON.
const PRINTED: usize = 24;

fn edges(ends: &[End], setting: &Setting) -> Vec<Grid> {
    let shown = |(number, end): (usize, &End)| {
        let step = end.ordinates.len().div_ceil(PRINTED).max(1);
        let title = format!("End {number}, edge about the centreline (beyond: past its point)");
        let mut grid =
            Grid::with_heads(&title, &["About", "beyond", "along width", "along height"]);
        for o in end.ordinates.iter().step_by(step) {
            let about = o.y.atan2(o.x).to_degrees().round().rem_euclid(360.0);
            let side = |x: f64| {
                cell::length(
                    crate::measure::Quantity::new(x, o.beyond.plus_minus),
                    setting.show,
                )
            };
            grid.rows.push(vec![
                Cell::text(format!("{about:.0}°")),
                cell::length(o.beyond, setting.show),
                side(o.x),
                side(o.y),
            ]);
        }
        (!grid.rows.is_empty()).then_some(grid)
    };
    ends.iter().enumerate().filter_map(shown).collect()
}

/// True when nothing shows that the cut is off square.
fn is_square(cut: &Cut) -> bool {
    cut.off_square.value.abs() <= cut.off_square.plus_minus
}

fn copes(ends: &[End], setting: &Setting) -> Vec<Grid> {
    let coped = |(number, end): (usize, &End)| {
        let saddle = end.saddle.as_ref()?;
        let mut grid = Grid::list(&format!("End {number}: cope"));
        grid.entry(
            "fits a diameter of",
            cell::size(saddle.diameter, setting.show),
        );
        grid.entry(
            "angle between axes",
            cell::angle(saddle.angle, setting.show),
        );
        grid.entry("axes apart", cell::length(saddle.offset, setting.show));
        Some(grid)
    };
    ends.iter().enumerate().filter_map(coped).collect()
}

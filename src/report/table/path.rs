//! The path of a member: one curve as a list, several pieces as a table.

use super::cell::{self, Cell, maybe};
use super::grid::Grid;
use super::panel::Setting;
use crate::finding::Code;
use crate::measure::{Quantity, Show};
use crate::member::{Centreline, Hand, Member, Span};

pub(super) fn grids(member: &Member, setting: &Setting) -> Vec<Grid> {
    let whole = centreline(&member.centreline, setting);
    match member.spans.as_slice() {
        [span] => vec![one_span(span, setting), whole],
        many => vec![whole, spans(many, setting)],
    }
}

fn centreline(centreline: &Centreline, setting: &Setting) -> Grid {
    let mut grid = Grid::list("Centreline");
    grid.entry(
        if centreline.closed {
            "once round"
        } else {
            "developed length"
        },
        setting.known(centreline.length, cell::length, &[Code::ArcUnclear]),
    );
    if !centreline.closed {
        grid.entry(
            "chord, end to end",
            setting.known(centreline.chord, cell::length, &[]),
        );
        grid.entry(
            "rise over the chord",
            maybe(centreline.rise, setting.show, cell::length),
        );
    }
    grid
}

fn one_span(span: &Span, setting: &Setting) -> Grid {
    let unclear = &[Code::ArcUnclear];
    let show = setting.show;
    let mut grid = Grid::list("Curve");
    match span {
        Span::Straight { .. } => {}
        Span::Arc {
            radius,
            inside_radius,
            outside_radius,
            angle,
            ..
        } => {
            grid.title = "Arc".to_owned();
            grid.entry(
                "centreline radius",
                setting.known(*radius, cell::length, unclear),
            );
            grid.entry(
                "inside radius",
                setting.known(*inside_radius, cell::length, unclear),
            );
            grid.entry(
                "outside radius",
                setting.known(*outside_radius, cell::length, unclear),
            );
            grid.entry("angle turned", cell::angle(*angle, show));
        }
        Span::Helix {
            radius,
            pitch,
            turns,
            hand,
            ..
        } => {
            grid.title = "Coil".to_owned();
            grid.entry("centreline radius", cell::length(*radius, show));
            grid.entry("pitch", cell::length(*pitch, show));
            grid.entry("turns", cell::turns(*turns, show));
            grid.entry("hand", Cell::text(hand_words(*hand)));
        }
        Span::Free {
            radius_min,
            radius_max,
            ..
        } => {
            grid.title = "Free curve".to_owned();
            grid.entry(
                "tightest radius",
                setting.known(*radius_min, cell::length, unclear),
            );
            grid.entry(
                "widest radius",
                setting.known(*radius_max, cell::length, unclear),
            );
        }
    }
    grid
}

/// Column of where a piece starts.
const STARTS: usize = 5;

fn spans(spans: &[Span], setting: &Setting) -> Grid {
    let heads = [
        "Piece",
        "length",
        "radius",
        "angle",
        "bend plane turned",
        "starts at",
        "inside radius",
        "outside radius",
    ];
    let title = if spans.iter().any(|s| {
        matches!(
            s,
            Span::Arc {
                rotation: Some(_),
                ..
            }
        )
    }) {
        "Path from end 0, on the centreline (turned: + clockwise from end 0)"
    } else {
        "Path from end 0, on the centreline"
    };
    let mut grid = Grid::with_heads(title, &heads);
    let starts = crate::member::starts(spans);
    let unclear = &[Code::ArcUnclear];
    let show = setting.show;
    for (number, span) in spans.iter().enumerate() {
        let label = |kind: &str| Cell::text(format!("{} {kind}", number + 1));
        let mut row = match span {
            Span::Straight { length } => vec![label("straight"), cell::length(*length, show)],
            Span::Arc {
                length,
                radius,
                angle,
                inside_radius,
                outside_radius,
                rotation,
                ..
            } => vec![
                label("arc"),
                cell::length(*length, show),
                setting.known(*radius, cell::length, unclear),
                cell::angle(*angle, show),
                maybe(*rotation, show, cell::angle),
                Cell::Empty,
                setting.known(*inside_radius, cell::length, unclear),
                setting.known(*outside_radius, cell::length, unclear),
            ],
            Span::Helix {
                length,
                radius,
                pitch,
                hand,
                ..
            } => vec![
                label(&format!(
                    "coil, {}, pitch {}",
                    hand_words(*hand),
                    plain(*pitch, show)
                )),
                cell::length(*length, show),
                cell::length(*radius, show),
            ],
            Span::Free {
                length, radius_min, ..
            } => vec![
                label("free curve"),
                cell::length(*length, show),
                setting.known(*radius_min, cell::length, unclear),
            ],
        };
        row.resize(heads.len(), Cell::Empty);
        row[STARTS] = match number {
            0 => Cell::text("0"),
            _ => cell::length(starts[number], show),
        };
        grid.rows.push(row);
    }
    grid
}

fn hand_words(hand: Hand) -> &'static str {
    match hand {
        Hand::Left => "left-hand",
        Hand::Right => "right-hand",
    }
}

fn plain(q: Quantity, show: Show) -> String {
    show.length(q)
        .map_or_else(|| cell::NOT_KNOWN.to_owned(), |w| w.value)
}

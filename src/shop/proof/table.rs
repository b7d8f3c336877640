//! The answer as text for a terminal or a sheet of paper.

use super::csv::{hand_word, side_word};
use super::{Answer, KerfSide, Language, words};
use crate::measure::{Show, quantity};
use crate::report::Report;
use crate::report::table::Look;
use crate::report::table::cell::Cell;
use crate::report::table::grid::Grid;
use crate::report::table::heading;
use crate::report::table::page::{Emphasis, Page};
use crate::shop::check::Verdict;
use crate::shop::text::{NARROWEST, cell, fine, notes, plain, set, warnings};

/// The answer as text, with a newline at the end; `report` is the one of the model, `program` the path of
/// the program.
pub fn table(report: &Report, answer: &Answer, program: &str, look: &Look) -> String {
    let show = fine(look.show);
    let mut page = Page::new(look.width.max(NARROWEST));
    heading::write(&mut page, report, show);
    page.heading(&format!("Proving {program}"));
    let part = match &answer.part {
        Some(mark) => format!("this program cuts {mark}"),
        None => "this program cuts these plates".to_owned(),
    };
    let (word, emphasis) = match answer.verdict {
        Verdict::Yes => (format!("YES: {part}."), Emphasis::Bold),
        Verdict::No => ("NO: don't cut it.".to_owned(), Emphasis::Red),
        Verdict::Unclear => ("UNCLEAR: this can't be told.".to_owned(), Emphasis::Yellow),
    };
    page.emphasised(word, emphasis);
    set(&mut page, &[compared(answer, show), followed(answer, show)]);
    set(&mut page, &[pieces(answer, show)]);
    notes(&mut page, "Why, and how to go on", &answer.reasons);
    notes(&mut page, "Noticed in the program", &answer.notes);
    notes(&mut page, "Mind", &mind());
    warnings(&mut page, &answer.origin);
    page.into_text(look.colour)
}

fn mind() -> [String; 3] {
    [
        "This does not replace a dry run: run the program without the tool over the sheet before cutting.".into(),
        "Only the path was compared. Feeds, heights, gas, current, clamps, and where the zero lies on the sheet were not.".into(),
        "The program was read, not changed.".into(),
    ]
}

fn compared(answer: &Answer, show: Show) -> Grid {
    let mut grid = Grid::list("Against the plate");
    let [piece] = answer.pieces.as_slice() else {
        return grid;
    };
    if let (Some(part), Some(hand)) = (&piece.part, piece.hand) {
        grid.entry("plate", Cell::text(part.clone()));
        grid.entry("hand", Cell::text(hand_word(hand)));
    }
    if let Some(scale) = piece.scale {
        let text = match scale == 1.0 {
            true => "1".to_owned(),
            false => words::scale(scale),
        };
        grid.entry("size", Cell::text(text));
    }
    grid.entry("kerf allowed", kerf(piece.kerf, piece.kerf_side, show));
    if let Some(off) = piece.largest_departure {
        let doubt = piece.departure_plus_minus.unwrap_or(0.0);
        grid.entry("largest departure", cell(quantity(off, doubt), show));
    }
    grid.entry("taken as good", plain(answer.tolerance, show));
    for (label, count) in [
        ("holes missing", piece.missing_holes),
        ("holes too many", piece.extra_holes),
        ("holes of the wrong size", piece.wrong_size_holes),
    ] {
        grid.entry(label, Cell::text(count.to_string()));
    }
    grid
}

fn kerf(kerf: Option<crate::measure::Quantity>, side: KerfSide, show: Show) -> Cell {
    match (kerf, side) {
        (Some(_), KerfSide::None) => Cell::text("none"),
        (Some(kerf), side) => Cell::text(show.length(kerf).map_or_else(
            || "not known".to_owned(),
            |w| {
                format!(
                    "{} ±{}, {} of the edge",
                    w.value,
                    w.plus_minus,
                    side_word(side)
                )
            },
        )),
        (None, KerfSide::None) => Cell::Empty,
        (None, side) => Cell::text(format!("by the control, {} of the edge", side_word(side))),
    }
}

fn followed(answer: &Answer, show: Show) -> Grid {
    let mut grid = Grid::list("The program");
    grid.entry(
        "language",
        Cell::text(match answer.language {
            Language::Ngc => "G-code",
            Language::Dxf => "DXF",
        }),
    );
    grid.entry("cut length", plain(answer.cut_length, show));
    if answer.lead_length > 0.0 {
        grid.entry("  of that, leads", plain(answer.lead_length, show));
    }
    let starts = match answer.language {
        Language::Ngc => "pierces",
        Language::Dxf => "contours",
    };
    grid.entry(starts, Cell::text(answer.pierces.to_string()));
    grid.entry(
        "contours open",
        Cell::text(answer.open_contours.to_string()),
    );
    let span = |k: usize| {
        let [low, high] = answer.extent.map(|p| show.plain_length(p[k]));
        Cell::text(format!("{low} to {high}"))
    };
    grid.entry("X", span(0));
    grid.entry("Y", span(1));
    grid
}

fn pieces(answer: &Answer, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Piece by piece",
        &[
            "Piece",
            "answer",
            "plate",
            "hand",
            "kerf",
            "off by at most",
            "line",
        ],
    );
    if answer.pieces.len() < 2 {
        return grid;
    }
    for (number, piece) in (1..).zip(&answer.pieces) {
        let number: u32 = number;
        grid.rows.push(vec![
            Cell::text(number.to_string()),
            Cell::text(match piece.verdict {
                Verdict::Yes => "yes",
                Verdict::No => "NO",
                Verdict::Unclear => "unclear",
            }),
            Cell::text(piece.part.clone().unwrap_or_else(|| "none".into())),
            Cell::text(piece.hand.map_or("", hand_word)),
            Cell::text(
                piece
                    .kerf
                    .map_or_else(String::new, |k| show.plain_length(k.value)),
            ),
            Cell::text(
                piece
                    .largest_departure
                    .map_or_else(String::new, |off| show.plain_length(off)),
            ),
            Cell::text(piece.line.to_string()),
        ]);
    }
    grid
}

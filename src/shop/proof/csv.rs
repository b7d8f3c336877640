//! The answer as CSV, a row per piece.

use ::csv::{Error, Writer};

use super::{Answer, Hand, KerfSide};
use crate::measure::Show;
use crate::shop::check::Verdict;

/// The answer as CSV with a head line; lengths in mm or decimal inches, as the column unit says.
pub fn csv(answer: &Answer, show: Show) -> Result<String, Error> {
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record([
        "piece",
        "line",
        "answer",
        "part",
        "hand",
        "scale",
        "unit",
        "kerf",
        "kerf_side",
        "largest_departure",
        "missing_holes",
        "extra_holes",
        "wrong_size_holes",
        "open_contours",
        "reasons",
    ])?;
    for (number, piece) in (1..).zip(&answer.pieces) {
        let length = |mm: Option<f64>| {
            mm.map_or_else(String::new, |mm| {
                format!("{:.4}", mm * show.per_millimetre())
            })
        };
        let number: u32 = number;
        writer.write_record([
            number.to_string(),
            piece.line.to_string(),
            answer_word(piece.verdict).to_owned(),
            piece.part.clone().unwrap_or_default(),
            piece.hand.map_or("", hand_word).to_owned(),
            piece.scale.map_or_else(String::new, |s| format!("{s:.6}")),
            show.length_symbol().to_owned(),
            length(piece.kerf.map(|q| q.value)),
            side_word(piece.kerf_side).to_owned(),
            length(piece.largest_departure),
            piece.missing_holes.to_string(),
            piece.extra_holes.to_string(),
            piece.wrong_size_holes.to_string(),
            piece.open_contours.to_string(),
            piece.reasons.join(" "),
        ])?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|failed| Error::from(failed.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn answer_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Yes => "yes",
        Verdict::No => "no",
        Verdict::Unclear => "unclear",
    }
}

pub(super) fn hand_word(hand: Hand) -> &'static str {
    match hand {
        Hand::Same => "same",
        Hand::Opposite => "opposite",
    }
}

pub(super) fn side_word(side: KerfSide) -> &'static str {
    match side {
        KerfSide::Left => "left",
        KerfSide::Right => "right",
        KerfSide::None => "none",
    }
}

//! Sentences about a program and its holes.

use super::contours::Contours;
use super::design::Ring;
use super::piece::{Place, extent};
use super::program::{Language, Program, Saying};
use crate::measure::Show;
use crate::shop::text::with_unit;

/// What is noticed in a program before any plate is looked at.
pub fn about_program(program: &Program, saying: &Saying, found: &Contours) -> Vec<String> {
    let mut notes = Vec::new();
    let (unit, of) = match program.language {
        Language::Ngc => ("the unit (G20 or G21)", "control"),
        Language::Dxf => ("its unit", "reader at the table"),
    };
    if program.unit.is_none() {
        let taken = saying.unit.map_or("mm", |unit| unit.symbol());
        let why = if saying.unit.is_some() {
            "as told"
        } else {
            "nothing was said"
        };
        notes.push(format!(
            "The program does not say {unit}; {taken} was taken ({why}). Make sure the {of} takes the same."
        ));
    }
    if found.repeated > 0 {
        notes.push(format!(
            "{} cut a second time where it was cut before.",
            counted(found.repeated, "contour is", "contours are")
        ));
    }
    if program.language == Language::Dxf && found.list.len() > 1 {
        notes.push(
            "A DXF does not fix the order of the cuts: see that holes are cut before the outside."
                .into(),
        );
    }
    notes
}

/// `1 hole is`, `3 holes are`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A hole of the plate by its size and place on the flat.
pub fn hole(ring: &Ring, show: Show) -> String {
    let size = match ring.diameter {
        Some(diameter) => format!("⌀{}", show.plain_length(diameter)),
        None => {
            let (low, high) = extent(&ring.points).unwrap_or((Place::origin(), Place::origin()));
            let size = high - low;
            format!(
                "{} by {}",
                show.plain_length(size.x),
                show.plain_length(size.y)
            )
        }
    };
    format!(
        "{size} at x {} y {} of the flat",
        show.plain_length(ring.centre.x),
        with_unit(ring.centre.y, show)
    )
}

/// A place in the program.
pub fn place(p: Place, show: Show) -> String {
    format!("X {} Y {}", show.plain_length(p.x), with_unit(p.y, show))
}

/// The first few of a list, and how many more.
pub fn some(list: &[String]) -> String {
    const NAMED: usize = 6;
    let named = list
        .iter()
        .take(NAMED)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    match list.len() {
        n if n > NAMED => format!("{named}; and {} more", n - NAMED),
        _ => named,
    }
}

/// `25.4 times too large`.
pub fn scale(scale: f64) -> String {
    let times = |factor: f64| {
        let text = format!("{factor:.3}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if scale > 1.0 {
        format!("{} times the size", times(scale))
    } else {
        match 1.0 / scale {
            small if small >= 1.95 => format!("{} times too small", times(small)),
            _ => format!("{:.1} % too small", 100.0 * (1.0 - scale)),
        }
    }
}

/// What a unit slip of this size comes from.
pub fn slip(scale: f64) -> Option<&'static str> {
    let like = |of: f64| (scale / of - 1.0).abs() < 0.002;
    match () {
        () if like(25.4) => Some(
            "millimetres are read as inches: look for G20 where G21 is meant, or at the unit of the drawing",
        ),
        () if like(1.0 / 25.4) => Some(
            "inches are read as millimetres: look for G21 where G20 is meant, or at the unit of the drawing",
        ),
        () if [10.0, 0.1, 100.0, 0.01, 1000.0, 0.001]
            .into_iter()
            .any(like) =>
        {
            Some("a metric unit is mixed up: millimetres, centimetres or metres")
        }
        () => None,
    }
}

//! What is written beside an outline: what it is, and what the cutter can't see on it.

use super::flat::Hand;
use super::pilot::Drilled;
use crate::drawing::number::number;
use crate::drawing::words::{self, counted};
use crate::measure::Show;
use crate::plate::{Form, HoleKind, KFrom, Plate, PlateHole};
use crate::report::ReportedPart;

/// The lines, the title first.
pub fn lines(
    part: &ReportedPart,
    plate: &Plate,
    hand: Hand,
    drilled: &Drilled,
    show: Show,
) -> Vec<String> {
    let unit = show.length_symbol();
    let thickness = match plate.thickness {
        Some(q) => format!("plate {} {unit}", words::size(q, show)),
        None => "plate, thickness not known".to_owned(),
    };
    let (pieces, which) = match hand {
        Hand::AsModelled => (part.quantity, ""),
        Hand::Opposite => (part.opposite_hand, ", opposite hand"),
    };
    let pieces = counted(pieces as usize, "piece");
    let mut lines = vec![format!("{}{which}: {thickness}, {pieces}", part.mark)];
    lines.push(format!(
        "Units of this file: {unit}. No kerf allowance. {}",
        face_up(plate)
    ));
    lines.extend(developed(plate));
    lines.extend(departure(plate, show));
    lines.extend(holes(plate, show));
    for (full, small, n) in drilled {
        lines.push(format!(
            "{} cut as pilot {}: drill to {}",
            counted(*n, "hole"),
            words::plain_size(*small, show),
            words::plain_size(*full, show)
        ));
    }
    lines
}

fn face_up(plate: &Plate) -> &'static str {
    let headed = |h: &PlateHole| {
        matches!(
            h.kind,
            HoleKind::Countersunk | HoleKind::Counterbored | HoleKind::Blind
        )
    };
    match plate.holes.iter().any(headed) {
        true => "Seen from the countersunk or blind side.",
        false => "Front face up.",
    }
}

fn developed(plate: &Plate) -> Option<String> {
    let how = match plate.form {
        Form::Flat => return None,
        Form::Cylinder | Form::Cone => "rolled",
        Form::Bent => "bent",
    };
    let with_from = |k: f64, from: KFrom| format!("{} ({})", number(k, 3), from.words());
    let k = match (plate.flat.k_factor, plate.flat.k_from) {
        (Some(k), Some(from)) => with_from(k, from),
        (Some(k), None) => number(k, 3),
        // Each bend's own, each pair of factor and source once.
        _ => {
            let mut each: Vec<String> = Vec::new();
            for bend in &plate.bends {
                let words = with_from(bend.k_factor, bend.k_from);
                if !each.contains(&words) {
                    each.push(words);
                }
            }
            each.join(", ")
        }
    };
    Some(format!("Developed flat, to be {how}; K-factor {k}."))
}

fn departure(plate: &Plate, show: Show) -> Option<String> {
    let departure = plate.flat.departure?;
    Some(format!(
        "Lines and arcs leave the edges of the model by {} {} at most.",
        show.rounded_up(departure),
        show.length_symbol()
    ))
}

/// One line for each kind and size of hole that is more than a round cut through.
fn holes(plate: &Plate, show: Show) -> Vec<String> {
    let mut lines: Vec<(String, usize)> = Vec::new();
    for hole in &plate.holes {
        let Some(text) = words_of(hole, show) else {
            continue;
        };
        match lines.iter_mut().find(|line| line.0 == text) {
            Some(line) => line.1 += 1,
            None => lines.push((text, 1)),
        }
    }
    lines
        .into_iter()
        .map(|(text, n)| format!("{}: {text}", counted(n, "hole")))
        .collect()
}

fn words_of(hole: &PlateHole, show: Show) -> Option<String> {
    let size = |q: Option<_>| q.map_or(words::NOT_KNOWN.to_owned(), |q| words::size(q, show));
    let depth = match hole.depth {
        Some(q) => format!(", {} deep", words::size(q, show)),
        None => String::new(),
    };
    match hole.kind {
        HoleKind::Countersunk => {
            let angle = hole
                .countersink_angle
                .map_or(String::new(), |a| format!(", {}", words::angle(a)));
            Some(format!(
                "⌀{} through, countersunk to ⌀{}{angle}",
                size(hole.diameter),
                size(hole.countersink_diameter)
            ))
        }
        HoleKind::Counterbored => Some(format!(
            "⌀{} through, counterbored ⌀{}{depth}",
            size(hole.diameter),
            size(hole.countersink_diameter)
        )),
        HoleKind::Blind if hole.width.is_some() => Some(format!(
            "{}{depth}, not through: marked, not cut",
            words::cutout(hole.length, hole.width, hole.corner_radius, show)
        )),
        HoleKind::Cutout => Some(words::cutout(
            hole.length,
            hole.width,
            hole.corner_radius,
            show,
        )),
        HoleKind::Blind => Some(format!(
            "⌀{}{depth}, not through: marked, not cut",
            size(hole.diameter)
        )),
        _ => None,
    }
}

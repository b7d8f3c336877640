//! What is written beside an outline: what it is, and what the cutter can't see on it.

use super::flat::Hand;
use super::pilot::Drilled;
use crate::drawing::number::number;
use crate::drawing::words::{self, counted};
use crate::finding::{Code, Finding, Severity};
use crate::measure::Show;
use crate::plate::{Form, HoleKind, KFrom, Plate, PlateFace, PlateHole};
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
    lines.extend(holes(plate, hand, show));
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

/// Lines of text on the drawing are no longer than this.
const COLUMNS: usize = 90;

/// What was noticed about the plate and touches its cutting, in lines.
pub fn noticed(part: &ReportedPart, hand: Hand, findings: &[Finding]) -> Vec<String> {
    let touches = |f: &&Finding| {
        let cutting = matches!(
            f.code,
            Code::HoleDistorts | Code::HoleUnclear | Code::NotDevelopable | Code::ArcUnclear
        );
        f.part.as_ref() == Some(&part.mark) && (cutting || f.severity > Severity::Note)
    };
    findings
        .iter()
        .filter(touches)
        .flat_map(|f| {
            let own = match hand {
                Hand::AsModelled => "",
                Hand::Opposite => " Places in this sentence are those on the other hand.",
            };
            wrapped(&format!("{}{own} {}", f.message, f.remedy))
        })
        .collect()
}

/// Words in lines of no more than [`COLUMNS`] letters where they have blanks.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= COLUMNS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
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
    let back = |h: &&PlateHole| h.made_from == Some(PlateFace::Back);
    match (
        plate.holes.iter().any(headed),
        plate.holes.iter().find(back),
    ) {
        (true, None) => "Seen from the countersunk or blind side.",
        (true, Some(_)) => "Front face up; some holes are made from the back, see below.",
        (false, _) => "Front face up.",
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
/// What is made from the back bears no mark on the front: its places are told.
fn holes(plate: &Plate, hand: Hand, show: Show) -> Vec<String> {
    let mut lines: Vec<(String, usize, Vec<String>)> = Vec::new();
    for hole in &plate.holes {
        let Some(text) = words_of(hole, show) else {
            continue;
        };
        let place = place_behind(hole, plate, hand, show);
        let behind = place.is_some();
        match lines
            .iter_mut()
            .find(|line| line.0 == text && line.2.is_empty() != behind)
        {
            Some(line) => {
                line.1 += 1;
                line.2.extend(place);
            }
            None => lines.push((text, 1, place.into_iter().collect())),
        }
    }
    lines
        .into_iter()
        .map(|(text, n, places)| {
            let at = match places.is_empty() {
                true => String::new(),
                false => format!(", from the back, not marked, at x, y {}", places.join("; ")),
            };
            format!("{}: {text}{at}", counted(n, "hole"))
        })
        .collect()
}

/// Where a hole that is made from the back stands on the outline as written.
fn place_behind(hole: &PlateHole, plate: &Plate, hand: Hand, show: Show) -> Option<String> {
    if hole.made_from != Some(PlateFace::Back) {
        return None;
    }
    let (x, y) = (hole.x?.value, hole.y?.value);
    let x = match hand {
        Hand::AsModelled => x,
        Hand::Opposite => plate.flat.length?.value - x,
    };
    Some(format!(
        "{}, {}",
        words::plain_length(x, show),
        words::plain_length(y, show)
    ))
}

fn words_of(hole: &PlateHole, show: Show) -> Option<String> {
    let size = |q: Option<_>| q.map_or(words::NOT_KNOWN.to_owned(), |q| words::size(q, show));
    let depth = match hole.depth {
        Some(q) => format!(", {} deep", words::size(q, show)),
        None => String::new(),
    };
    let marked = match hole.made_from {
        Some(PlateFace::Back) => "",
        _ => ": marked, not cut",
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
            "{}{depth}, not through{marked}",
            words::cutout(hole.length, hole.width, hole.corner_radius, show)
        )),
        HoleKind::Cutout => Some(words::cutout(
            hole.length,
            hole.width,
            hole.corner_radius,
            show,
        )),
        HoleKind::Blind => Some(format!(
            "⌀{}{depth}, not through{marked}",
            size(hole.diameter)
        )),
        _ => None,
    }
}

//! What a part is, in the words of the shop.

use super::ReportedPart;
use crate::measure::{Quantity, Show, Written};
use crate::member::{Hand, Member, Section, Shape, Span};
use crate::plate::{Form, Plate};

/// One line: `square tube 50 x 50 x 3, rolled R 1500`, `plate 10, 200 x 120, 4 holes`.
/// Sizes are in the unit of `show`, zeros at the end left off.
pub fn what(part: &ReportedPart, show: Show) -> String {
    match (&part.member, &part.plate) {
        (Some(member), _) => member_words(member, show),
        (None, Some(plate)) => plate_words(plate, show),
        (None, None) => "shape not recognised".to_owned(),
    }
}

fn member_words(member: &Member, show: Show) -> String {
    let section = section_words(&member.section, show);
    match path_words(member, show) {
        Some(path) => format!("{section}, {path}"),
        None => section,
    }
}

/// The section in words: `square tube 50 x 50 x 3`.
pub fn section_words(section: &Section, show: Show) -> String {
    let (w, h) = (section.width, section.height);
    let (name, sizes, wall) = match section.shape {
        Shape::Round => ("round tube", vec![section.diameter], true),
        Shape::Square => ("square tube", vec![w, h], true),
        Shape::Rect => ("rectangular tube", larger_first(w, h), true),
        Shape::RoundBar => ("round bar", vec![section.diameter], false),
        Shape::SquareBar => ("square bar", vec![w], false),
        Shape::FlatBar => ("flat bar", larger_first(w, h), false),
        Shape::Angle => ("angle", larger_first(w, h), true),
        Shape::Channel => ("channel", vec![h, w], true),
        Shape::Other => ("special section", larger_first(w, h), false),
    };
    let known: Option<Vec<String>> = sizes.into_iter().map(|q| size(q, show)).collect();
    let Some(mut known) = known else {
        return format!("{name}, size not known");
    };
    let mut tail = String::new();
    if wall {
        let legs = || {
            let (web, flange) = (section.web_thickness, section.flange_thickness);
            Some(format!(
                ", web {}, flange {}",
                size(web, show)?,
                size(flange, show)?
            ))
        };
        match size(section.wall, show) {
            Some(text) => known.push(text),
            None => tail = legs().unwrap_or_else(|| ", wall not known".to_owned()),
        }
    }
    format!("{name} {}{tail}", known.join(" x "))
}

/// The path in words; `None` for a straight piece.
fn path_words(member: &Member, show: Show) -> Option<String> {
    let radii: Vec<Option<Quantity>> = member
        .spans
        .iter()
        .filter_map(|span| match span {
            Span::Arc { radius, .. } => Some(*radius),
            _ => None,
        })
        .collect();
    match (member.spans.as_slice(), radii.as_slice()) {
        ([] | [Span::Straight { .. }], _) => None,
        (
            [
                Span::Helix {
                    radius,
                    pitch,
                    hand,
                    ..
                },
            ],
            _,
        ) => {
            let hand = match hand {
                Hand::Left => "left",
                Hand::Right => "right",
            };
            Some(format!(
                "coiled {}, pitch {}, {hand}-hand",
                radius_words(Some(*radius), show),
                length(Some(*pitch), show).unwrap_or_else(|| "not known".to_owned())
            ))
        }
        ([_], [radius]) if member.centreline.closed => {
            Some(format!("ring {}", radius_words(*radius, show)))
        }
        ([_], [radius]) => Some(format!(
            "rolled {}{}",
            radius_words(*radius, show),
            way(&member.section)
        )),
        (_, [radius]) => Some(format!(
            "bent {}{}",
            radius_words(*radius, show),
            way(&member.section)
        )),
        (_, []) => Some("free curve".to_owned()),
        (_, many) => Some(format!("{} bends", many.len())),
    }
}

fn radius_words(radius: Option<Quantity>, show: Show) -> String {
    length(radius, show).map_or_else(|| "(radius not known)".to_owned(), |r| format!("R {r}"))
}

/// Easy way: the lesser side lies in the plane of the arc.
fn way(section: &Section) -> &'static str {
    match (section.shape, section.width, section.height) {
        (Shape::Rect | Shape::FlatBar, Some(w), Some(h)) if h.value < w.value => " the easy way",
        (Shape::Rect | Shape::FlatBar, Some(_), Some(_)) => " the hard way",
        _ => "",
    }
}

fn plate_words(plate: &Plate, show: Show) -> String {
    let mut words = match size(plate.thickness, show) {
        Some(thickness) => format!("plate {thickness}"),
        None => "plate, thickness not known".to_owned(),
    };
    match plate.form {
        Form::Flat => {
            if let (Some(length), Some(width)) = (
                length(plate.flat.length, show),
                length(plate.flat.width, show),
            ) {
                words.push_str(&format!(", {length} x {width}"));
            }
        }
        Form::Cylinder => {
            let inside = radius_words(plate.inside_radius, show);
            words.push_str(&format!(", rolled {inside} inside"));
        }
        Form::Cone => words.push_str(", rolled to a cone"),
        Form::Bent => words.push_str(&format!(", {}", counted(plate.bends.len(), "bend"))),
    }
    if !plate.holes.is_empty() {
        words.push_str(&format!(", {}", counted(plate.holes.len(), "hole")));
    }
    words
}

/// `1 hole`, `4 holes`.
pub(super) fn counted(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

fn larger_first(a: Option<Quantity>, b: Option<Quantity>) -> Vec<Option<Quantity>> {
    match (a, b) {
        (Some(x), Some(y)) if y.value > x.value => vec![b, a],
        _ => vec![a, b],
    }
}

/// A size as it is spoken of, without ± and without zeros at the end.
fn size(q: Option<Quantity>, show: Show) -> Option<String> {
    show.size(q?).map(spoken)
}

/// The same for a length laid out with a tape.
fn length(q: Option<Quantity>, show: Show) -> Option<String> {
    show.length(q?).map(spoken)
}

fn spoken(written: Written) -> String {
    let text = written.value;
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

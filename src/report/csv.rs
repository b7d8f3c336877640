//! The report as one CSV row per different part, for a spreadsheet.

use ::csv::{Error, Writer};

use super::{Report, ReportedPart, what};
use crate::measure::{Quantity, Show, decimals};
use crate::member::Span;
use crate::part::Class;

/// Turns mm, mm², kg or degrees into the unit of the column.
#[derive(Clone, Copy)]
enum Measure {
    Length,
    Angle,
    Area,
    Mass,
}

type Column = (&'static str, Measure, fn(&ReportedPart) -> Option<Quantity>);

/// Every measured column: each is followed by one for its ±.
const COLUMNS: [Column; 24] = [
    ("length", Measure::Length, |p| {
        p.member.as_ref()?.centreline.length
    }),
    ("chord", Measure::Length, |p| {
        p.member.as_ref()?.centreline.chord
    }),
    ("rise", Measure::Length, |p| {
        p.member.as_ref()?.centreline.rise
    }),
    ("radius", Measure::Length, |p| only_arc(p)?.0),
    ("arc_angle", Measure::Angle, |p| {
        only_arc(p)
            .map(|arc| arc.1)
            .or_else(|| p.plate.as_ref()?.arc_angle)
    }),
    ("longest_edge", Measure::Length, |p| {
        p.member.as_ref()?.longest_edge
    }),
    ("shortest_edge", Measure::Length, |p| {
        p.member.as_ref()?.shortest_edge
    }),
    ("diameter", Measure::Length, |p| {
        p.member.as_ref()?.section.diameter
    }),
    ("width", Measure::Length, |p| {
        p.member.as_ref()?.section.width
    }),
    ("height", Measure::Length, |p| {
        p.member.as_ref()?.section.height
    }),
    ("wall", Measure::Length, |p| p.member.as_ref()?.section.wall),
    ("web_thickness", Measure::Length, |p| {
        p.member.as_ref()?.section.web_thickness
    }),
    ("flange_thickness", Measure::Length, |p| {
        p.member.as_ref()?.section.flange_thickness
    }),
    ("corner_radius", Measure::Length, |p| {
        p.member.as_ref()?.section.corner_radius
    }),
    ("end_0_off_square", Measure::Angle, |p| off_square(p, 0)),
    ("end_1_off_square", Measure::Angle, |p| off_square(p, 1)),
    ("thickness", Measure::Length, |p| {
        p.plate.as_ref()?.thickness
    }),
    ("inside_radius", Measure::Length, |p| {
        p.plate.as_ref()?.inside_radius
    }),
    ("flat_length", Measure::Length, |p| {
        p.plate.as_ref()?.flat.length
    }),
    ("flat_width", Measure::Length, |p| {
        p.plate.as_ref()?.flat.width
    }),
    ("flat_perimeter", Measure::Length, |p| {
        p.plate.as_ref()?.flat.perimeter
    }),
    ("flat_area", Measure::Area, |p| p.plate.as_ref()?.flat.area),
    ("surface_area", Measure::Area, |p| p.surface_area),
    ("mass", Measure::Mass, |p| p.mass),
];

/// The report as CSV with a head line. Lengths, areas and masses are in the units of `show` (decimal
/// inches where it asks for fractions: a spreadsheet can't add fractions); the head names the unit.
pub fn csv(report: &Report, show: Show) -> Result<String, Error> {
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record(heads(show))?;
    for part in &report.parts {
        writer.write_record(row(part, show))?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|failed| Error::from(failed.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn heads(show: Show) -> Vec<String> {
    let plain = [
        "mark",
        "name",
        "class",
        "what",
        "quantity",
        "opposite_hand",
        "holes",
    ];
    let mut heads: Vec<String> = plain.into_iter().map(str::to_owned).collect();
    for (name, measure, _) in COLUMNS {
        let unit = unit(measure, show).1;
        heads.push(format!("{name}_{unit}"));
        heads.push(format!("{name}_{unit}_plus_minus"));
    }
    heads
}

fn row(part: &ReportedPart, show: Show) -> Vec<String> {
    let holes = match (&part.member, &part.plate) {
        (Some(member), _) => member.holes.len().to_string(),
        (None, Some(plate)) => plate.holes.len().to_string(),
        (None, None) => String::new(),
    };
    let mut row = vec![
        part.mark.clone(),
        part.name.clone().unwrap_or_default(),
        class_name(part.class),
        what(part, show),
        part.quantity.to_string(),
        part.opposite_hand.to_string(),
        holes,
    ];
    for (_, measure, of) in COLUMNS {
        match of(part).map(|q| q.scaled(unit(measure, show).0)) {
            // One digit more than is printed for reading, so that sums don't drift.
            Some(q) => {
                let places = decimals(q.plus_minus / 10.0, 6);
                row.push(format!("{:.places$}", q.value));
                row.push(format!("{:.places$}", q.plus_minus));
            }
            None => row.extend([String::new(), String::new()]),
        }
    }
    row
}

/// Factor from mm, mm², kg or degrees, and the name of the unit in a head.
fn unit(measure: Measure, show: Show) -> (f64, &'static str) {
    let metric = show == Show::Millimetre;
    match measure {
        Measure::Angle => (1.0, "deg"),
        Measure::Length if metric => (1.0, "mm"),
        Measure::Length => (show.per_millimetre(), "in"),
        Measure::Area if metric => (1e-6, "m2"),
        Measure::Area => (show.per_millimetre().powi(2) / 144.0, "ft2"),
        Measure::Mass => (show.per_kilogram(), show.mass_symbol()),
    }
}

/// The name a class has in the JSON.
fn class_name(class: Class) -> String {
    match serde_json::to_value(class) {
        Ok(serde_json::Value::String(name)) => name,
        _ => String::new(),
    }
}

/// Radius and angle, when the path has exactly one arc.
fn only_arc(part: &ReportedPart) -> Option<(Option<Quantity>, Quantity)> {
    let mut arcs = part
        .member
        .as_ref()?
        .spans
        .iter()
        .filter_map(|span| match span {
            Span::Arc { radius, angle, .. } => Some((*radius, *angle)),
            _ => None,
        });
    let first = arcs.next()?;
    arcs.next().is_none().then_some(first)
}

/// How far the first-listed cut of an end is off square.
fn off_square(part: &ReportedPart, end: usize) -> Option<Quantity> {
    Some(
        part.member
            .as_ref()?
            .ends
            .get(end)?
            .cuts
            .first()?
            .off_square,
    )
}

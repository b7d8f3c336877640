//! Plates: flat sizes, area, burn length and pierces, and how many sheets there must be at least.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use schemars::JsonSchema;
use serde::Serialize;

use super::{Model, Settings, mark_of};
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use crate::plate::{Form, HoleKind, Plate, PlateHole, Segment};
use crate::report::ReportedPart;
use crate::shop::roll::Waste;
use crate::shop::text::roughly;

/// A plate to cut. Lengths in mm, areas in mm².
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlateLine {
    /// Piece mark.
    pub mark: String,
    /// Form it ends up in.
    pub form: Form,
    /// Thickness.
    pub thickness: Option<Quantity>,
    /// Length of the flat (developed), without waste.
    pub length: Option<Quantity>,
    /// Width of the flat.
    pub width: Option<Quantity>,
    /// Pieces, both hands and all models counted.
    pub count: u32,
    /// Net area of one, holes taken out.
    pub area: Option<Quantity>,
    /// Length of all contours of one: what a torch or beam travels.
    pub burn_length: Option<Quantity>,
    /// Contours of one: where it pierces.
    pub pierces: u32,
    /// Mass of one, kg.
    pub mass: Option<Quantity>,
}

/// The plates of one thickness.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ThicknessLine {
    /// Thickness, mm; null where it is not known.
    pub thickness: Option<f64>,
    /// Pieces.
    pub count: u32,
    /// Net area of all.
    pub area: Option<Quantity>,
    /// Mass of all, kg.
    pub mass: Option<Quantity>,
    /// Length of all contours.
    pub burn_length: Option<Quantity>,
    /// Contours of all.
    pub pierces: u32,
    /// Sheets there must be at least, by area alone; laying them out takes more.
    pub least_sheets: Option<u32>,
}

/// The plates of a model.
pub fn of(
    model: &Model,
    letter: Option<&str>,
    settings: &Settings,
    notes: &mut Vec<String>,
) -> Vec<PlateLine> {
    let plates = model
        .report
        .parts
        .iter()
        .filter_map(|part| Some((part, part.plate.as_ref()?)));
    let mut rolled = false;
    let lines = plates
        .map(|(part, plate)| {
            rolled |= matches!(plate.form, Form::Cylinder | Form::Cone);
            line(part, plate, model.quantity, letter)
        })
        .collect();
    if rolled {
        notes.push(match settings.waste {
            Waste::Unsaid => "Rolled plates are listed at their developed size: add what the rolls leave flat at the ends, or have them pre-bent (`soapstone roll`).".to_owned(),
            _ => "Rolled plates are listed at their developed size, without the waste for the rolls (`soapstone roll` gives it).".to_owned(),
        });
    }
    lines
}

fn line(part: &ReportedPart, plate: &Plate, quantity: u32, letter: Option<&str>) -> PlateLine {
    PlateLine {
        mark: mark_of(letter, &part.mark),
        form: plate.form,
        thickness: plate.thickness,
        length: plate.flat.length,
        width: plate.flat.width,
        count: (part.quantity + part.opposite_hand).saturating_mul(quantity),
        area: plate.flat.area,
        burn_length: burn(plate),
        pierces: 1 + plate
            .holes
            .iter()
            .filter(|h| h.kind != HoleKind::Blind)
            .count() as u32,
        mass: part.mass,
    }
}

/// Outer contour and all openings; countersinks and counterbores at their through hole.
fn burn(plate: &Plate) -> Option<Quantity> {
    let through = plate.holes.iter().filter(|h| h.kind != HoleKind::Blind);
    through
        .map(around)
        .chain([plate.flat.perimeter])
        .try_fold(Quantity::new(0.0, 0.0), |sum, q| Some(add(sum, q?, 1.0)))
}

fn around(hole: &PlateHole) -> Option<Quantity> {
    match hole.kind {
        HoleKind::Cutout => Some(hole.outline.iter().fold(
            Quantity::new(0.0, 0.0),
            |sum, segment| {
                let (Segment::Line { length, .. } | Segment::Arc { length, .. }) = segment;
                add(sum, *length, 1.0)
            },
        )),
        HoleKind::Slot => {
            let (d, l) = (hole.diameter?, hole.length?);
            Some(Quantity::new(
                PI * d.value + 2.0 * (l.value - d.value),
                (PI - 2.0) * d.plus_minus + 2.0 * l.plus_minus,
            ))
        }
        _ => Some(hole.diameter?.scaled(PI)),
    }
}

fn add(sum: Quantity, q: Quantity, times: f64) -> Quantity {
    Quantity::new(
        sum.value + times * q.value,
        sum.plus_minus + times * q.plus_minus,
    )
}

/// The same thickness to a tenth of a millimetre counts as one.
pub fn by_thickness(plates: &[PlateLine], sheet: [f64; 2]) -> Vec<ThicknessLine> {
    let mut groups: BTreeMap<Option<i64>, Vec<&PlateLine>> = BTreeMap::new();
    for plate in plates {
        let key = plate.thickness.map(|t| (t.value * 10.0).round() as i64);
        groups.entry(key).or_default().push(plate);
    }
    groups
        .into_iter()
        .map(|(thickness, plates)| {
            let total = |of: &dyn Fn(&PlateLine) -> Option<Quantity>| {
                plates.iter().try_fold(Quantity::new(0.0, 0.0), |sum, p| {
                    Some(add(sum, of(p)?, f64::from(p.count)))
                })
            };
            let area = total(&|p| p.area);
            let sheet = sheet[0] * sheet[1];
            ThicknessLine {
                thickness: thickness.map(|t| t as f64 / 10.0),
                count: plates.iter().map(|p| p.count).sum(),
                area,
                mass: total(&|p| p.mass),
                burn_length: total(&|p| p.burn_length),
                pierces: plates.iter().map(|p| p.pierces * p.count).sum(),
                least_sheets: area
                    .filter(|_| sheet > 0.0)
                    .map(|a| ((a.value - a.plus_minus) / sheet).ceil().max(1.0) as u32),
            }
        })
        .collect()
}

/// Plates no sheet has room for.
pub fn too_large(plates: &[PlateLine], settings: &Settings, findings: &mut Vec<Finding>) {
    let (sheet, show) = (settings.sheet, settings.show);
    let (long, short) = (sheet[0].max(sheet[1]), sheet[0].min(sheet[1]));
    for plate in plates {
        let (Some(length), Some(width)) = (plate.length, plate.width) else {
            continue;
        };
        if width.value - width.plus_minus > short
            || length.value - length.plus_minus > long.hypot(short)
        {
            let mut finding = Finding::new(
                Code::NoStock,
                Severity::Warning,
                format!(
                    "{} measures {} x {} flat and does not go on a sheet of {} x {}.",
                    plate.mark,
                    roughly(length.value, show),
                    roughly(width.value, show),
                    roughly(long, show),
                    roughly(short, show)
                ),
                "Order a larger sheet (--sheet), or join two pieces and have the joint's place approved.",
            );
            finding.part = Some(plate.mark.clone());
            findings.push(finding);
        }
    }
}

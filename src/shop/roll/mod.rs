//! What to cut, mark and read while a part is rolled.
//!
//! A chord gauge stands with two feet on the surface, a chord apart, and reads the rise between them.
//! On the outside of a section it reads the outside radius, on the inside the inside radius. Readings
//! are of the piece let go of: how far it springs back is not predicted.

pub mod blank;
pub mod csv;
pub mod gauge;
pub mod log;
pub mod marks;
pub mod ordinates;
pub mod reading;
pub mod table;

use schemars::JsonSchema;
use serde::Serialize;

pub use blank::{Blank, Waste};
pub use log::{Pass, Progress};
pub use marks::Mark;
pub use ordinates::{Ordinate, Template};
pub use reading::{Reading, Stage, Whole};

use super::curved::{Curve, Side, curves};
use super::{Origin, Refused};
use crate::finding::Severity;
use crate::measure::Quantity;
use crate::report::{Report, ReportedPart, what};

/// What the shop says about its gauge, its rolls and the tolerance. Lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Chords of the gauges; one is chosen where there is none.
    pub gauges: Vec<f64>,
    /// Unit the shop thinks in, for round numbers.
    pub show: crate::measure::Show,
    /// Tolerance of the rise on the gauge.
    pub tolerance: Option<f64>,
    /// Tolerance of the rise of the finished arc over its own chord.
    pub piece_tolerance: Option<f64>,
    /// 95 % half-width of one reading.
    pub reading: f64,
    /// Straight waste at the ends.
    pub waste: Waste,
    /// Side the template is for.
    pub template_side: Side,
    /// Chord of the template; the chord of the arc where none is given.
    pub template_chord: Option<f64>,
    /// Distance of the ordinates; a round number where none is given.
    pub pitch: Option<f64>,
    /// Only this arc.
    pub arc: Option<u32>,
}

/// What it takes to roll one part. Lengths in mm, angles in degrees.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RollSheet {
    /// Mark of the part.
    pub part: String,
    /// What it is, in words.
    pub what: String,
    /// Copies of this hand.
    pub quantity: u32,
    /// Copies of the opposite hand: the same blank and readings, rolled the other way about.
    pub opposite_hand: u32,
    /// Length to cut the blank to, waste counted.
    pub blank: Quantity,
    /// What the blank is made up of.
    pub blank_made_of: Blank,
    /// Marks to make on the blank before rolling.
    pub marks: Vec<Mark>,
    /// What each gauge reads when the part is right.
    pub readings: Vec<Reading>,
    /// Chord and rise of each whole arc.
    pub whole: Vec<Whole>,
    /// What the ordinates belong to.
    pub template: Template,
    /// Ordinates of a full-size template: x from the middle of the chord, y above the chord.
    pub ordinates: Vec<Ordinate>,
    /// What the passes so far say.
    pub progress: Option<Progress>,
    /// What to mind.
    pub notes: Vec<String>,
    /// Where the numbers come from.
    #[serde(flatten)]
    pub origin: Origin,
}

/// The roll sheet of one part of a report.
pub fn roll(report: &Report, part: &ReportedPart, asked: &Asked) -> Result<RollSheet, Refused> {
    let all = curves(part)?;
    let chosen = chosen(&all, part, asked.arc)?;
    let (blank, mut notes) = blank::blank(part, &all, &asked.waste)?;
    let gauges = gauge::gauges(&chosen, asked, &mut notes)?;
    let mut readings = Vec::new();
    for curve in &chosen {
        readings.extend(reading::readings(curve, &gauges, asked, &mut notes)?);
    }
    let (template, ordinates) = ordinates::ordinates(first(&chosen, part)?, asked, &mut notes)?;
    let origin = Origin::of(report, &[&part.mark]);
    if origin.findings.iter().any(|f| f.severity > Severity::Note) {
        notes.insert(
            0,
            "The model has warnings that may touch these numbers: read the findings below.".into(),
        );
    }
    notes.extend(always(&chosen));
    Ok(RollSheet {
        part: part.mark.clone(),
        what: what(part, asked.show),
        quantity: part.quantity,
        opposite_hand: part.opposite_hand,
        blank: blank.length,
        marks: marks::marks(part, &all, &blank),
        blank_made_of: blank,
        readings,
        whole: chosen.iter().flat_map(|c| reading::whole(c)).collect(),
        template,
        ordinates,
        progress: None,
        notes,
        origin,
    })
}

fn chosen<'a>(
    all: &'a [Curve],
    part: &ReportedPart,
    arc: Option<u32>,
) -> Result<Vec<&'a Curve>, Refused> {
    let Some(number) = arc else {
        return Ok(all.iter().collect());
    };
    let found: Vec<&Curve> = all.iter().filter(|c| c.number == number).collect();
    if found.is_empty() {
        return Err(Refused::new(
            format!("{} has no arc {number}.", part.mark),
            format!("Its arcs are numbered 1 to {} from end 0.", all.len()),
        ));
    }
    Ok(found)
}

fn first<'a>(chosen: &[&'a Curve], part: &ReportedPart) -> Result<&'a Curve, Refused> {
    chosen.first().copied().ok_or_else(|| {
        Refused::new(
            format!("{} has no arc.", part.mark),
            "Ask for a rolled part.",
        )
    })
}

/// What holds for every rolling.
fn always(chosen: &[&Curve]) -> Vec<String> {
    let mut notes = vec![
        "Springback is not predicted: back the rolls off and read the piece when it is free. A reading under load is too large.".to_owned(),
        "Rolling goes one way: past the target is scrap. Roll a trial piece of the same batch first.".to_owned(),
        "Stock varies within the mill tolerance: measure its depth. The difference of outside and inside radius is the depth of the section in the model.".to_owned(),
        "Let go of the piece from the side, support the free end, keep hands and gloves away from the rolls.".to_owned(),
    ];
    if chosen.iter().any(|curve| curve.edge.is_some()) {
        notes.push("Read a cone right at its edges, the gauge square to the axis: in between and square to the wall it reads differently.".to_owned());
    }
    notes
}

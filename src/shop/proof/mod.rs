//! Does this cutting program cut this plate?
//!
//! [`program`] follows a program; [`contours`] makes contours of what it cuts and [`nest`] pieces of those;
//! [`design`] is the plate they are laid on by [`pose`], [`refine`] and [`compare`]; [`recognise`] says which
//! plate it is, [`judge`] what is wrong with it.

mod compare;
mod contours;
pub mod csv;
mod design;
mod joining;
mod judge;
mod loops;
mod nest;
mod piece;
mod pose;
pub mod program;
mod recognise;
mod refine;
mod seen;
pub mod sheet;
pub mod table;
mod words;

use schemars::JsonSchema;
use serde::Serialize;

pub use contours::Contour;
pub use piece::Place;
pub use program::{Language, Program, Saying, Side, read};
pub use recognise::Hand;
pub use seen::{Seen, Spot};

use super::check::decision::{Verdict, all};
use super::{Origin, Refused};
use crate::measure::{Quantity, Show};
use crate::report::Report;
use compare::ready;
use contours::contours;
use design::design;
use recognise::Candidate;

/// What the fabricator asks. Lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The plate it should cut.
    pub part: Option<String>,
    /// Width of the kerf.
    pub kerf: Option<f64>,
    /// Departure that is still good.
    pub tolerance: f64,
    /// Length and width of the sheet.
    pub sheet: Option<[f64; 2]>,
    /// Unit of the sentences.
    pub show: Show,
}

/// Departure that is taken as good when nothing is said, mm. Common practice, no source: what a cutting
/// table holds.
pub const TOLERANCE: f64 = 0.2;

/// Side of the plate's edge the tool runs on, seen the way it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum KerfSide {
    /// To the left of the edge.
    Left,
    /// To the right of it.
    Right,
    /// On it: no kerf is allowed for.
    None,
}

/// A piece the program cuts out. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Piece {
    /// Verdict on it.
    pub verdict: Verdict,
    /// Line of the program, or entity of the DXF, its outside starts in.
    pub line: usize,
    /// Mark of the plate it is; null where none fits.
    pub part: Option<String>,
    /// Hand.
    pub hand: Option<Hand>,
    /// Program size ÷ design size.
    pub scale: Option<f64>,
    /// Width of the kerf the program allows; null where the control is told to allow it.
    pub kerf: Option<Quantity>,
    /// Side the tool runs on.
    pub kerf_side: KerfSide,
    /// Largest departure of the cut from the plate's edge, the kerf allowed for.
    pub largest_departure: Option<f64>,
    /// 95 % half-width of the plate's own edge there.
    pub departure_plus_minus: Option<f64>,
    /// Where that is, in the program.
    pub departure_at: Option<[f64; 2]>,
    /// Holes of the plate that are not cut.
    pub missing_holes: usize,
    /// Holes cut that the plate has not.
    pub extra_holes: usize,
    /// Holes that come out too large or too small.
    pub wrong_size_holes: usize,
    /// Contours that do not close.
    pub open_contours: usize,
    /// Contours, the outside counted.
    pub contours: usize,
    /// What is wrong with it, and what to know: plain sentences.
    pub reasons: Vec<String>,
}

/// The answer. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Answer {
    /// Yes, no, or it can't be told.
    pub verdict: Verdict,
    /// Mark of the plate the program cuts, where it cuts one; null where none fits.
    pub part: Option<String>,
    /// Hand.
    pub hand: Option<Hand>,
    /// Program size ÷ design size.
    pub scale: Option<f64>,
    /// Width of the kerf the program allows; null where the control is told to allow it.
    pub kerf: Option<Quantity>,
    /// Side of the edge the tool runs on.
    pub kerf_side: KerfSide,
    /// Largest departure of the cut from the plate's edge, the kerf allowed for.
    pub largest_departure: Option<f64>,
    /// Departure that was taken as good.
    pub tolerance: f64,
    /// Holes of the plate that are not cut.
    pub missing_holes: usize,
    /// Holes cut that the plate has not.
    pub extra_holes: usize,
    /// Holes that come out too large or too small.
    pub wrong_size_holes: usize,
    /// Contours and single cuts that do not close.
    pub open_contours: usize,
    /// Length of all cuts, leads counted.
    pub cut_length: f64,
    /// Of that, leads.
    pub lead_length: f64,
    /// Times the tool starts to cut.
    pub pierces: usize,
    /// Lowest and highest x and y the tool cuts at, in the program.
    pub extent: [[f64; 2]; 2],
    /// Language of the program.
    pub language: Language,
    /// Millimetres in a unit of the program.
    pub mm_per_program_unit: f64,
    /// Why, and how to go on: plain sentences.
    pub reasons: Vec<String>,
    /// What was noticed in the program, and is no fault by itself.
    pub notes: Vec<String>,
    /// The pieces it cuts out.
    pub pieces: Vec<Piece>,
    /// Where the plate comes from.
    #[serde(flatten)]
    pub origin: Origin,
    /// What a picture shows.
    #[serde(skip)]
    pub seen: Seen,
}

/// Pieces of a program that are compared.
const MOST_PIECES: usize = 60;

/// Compares a program with the plates of a model.
pub fn prove(
    report: &Report,
    program: &Program,
    saying: &Saying,
    asked: &Asked,
) -> Result<Answer, Refused> {
    let (candidates, mut notes) = candidates(report)?;
    let found = contours(&program.strokes)?;
    let pieces = nest::pieces(&found.list);
    if pieces.len() > MOST_PIECES {
        return Err(Refused::new(
            format!(
                "The program cuts {} pieces; {MOST_PIECES} are compared.",
                pieces.len()
            ),
            "Give the program of fewer plates.",
        ));
    }
    let judged: Vec<judge::Judged> = pieces
        .iter()
        .filter_map(|piece| {
            let ready = ready(&found.list, piece)?;
            Some(judge::judge(
                report,
                &candidates,
                &found,
                &ready,
                program,
                asked,
            ))
        })
        .collect();
    notes.extend(program.notes.iter().cloned());
    notes.extend(words::about_program(program, saying, &found));
    let mut answer = judge::gathered(report, program, saying, &found, judged, asked);
    answer.notes.extend(notes);
    Ok(answer)
}

/// The plates that can be compared, and a note about each that can't.
fn candidates(report: &Report) -> Result<(Vec<Candidate>, Vec<String>), Refused> {
    let mut notes = Vec::new();
    let mut found = Vec::new();
    for (number, part) in report.parts.iter().enumerate() {
        let Some(plate) = &part.plate else { continue };
        match design(plate) {
            Ok(same) => found.push(Candidate {
                part: number,
                opposite: same.mirrored(),
                same,
            }),
            Err(why) => notes.push(format!("{} can't be compared, because {why}.", part.mark)),
        }
    }
    match found.is_empty() {
        false => Ok((found, notes)),
        true => Err(Refused::new(
            format!(
                "{} has no plate to compare. {}",
                report.source.path,
                notes.join(" ")
            )
            .trim_end()
            .to_owned(),
            "`soapstone read` lists its parts.",
        )),
    }
}

/// One verdict of several.
fn together(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
    all(verdicts)
}

//! The one result, and the forms it is written in.
//!
//! [`assemble`] builds a [`Report`] from counted parts; [`table`], [`json`] and [`csv`] write the same
//! value. Lengths in it are millimetres, angles degrees, areas mm², volumes mm³, masses kg.

mod assemble;
pub mod csv;
mod finite;
mod invariant;
pub mod json;
#[cfg(test)]
mod sample;
mod schedule;
pub mod table;
#[cfg(test)]
mod tests;
mod words;

pub use assemble::{Assembly, assemble, only_part};
pub use invariant::fault;
pub use schedule::{HolePlace, HoleSchedule, HoleSize, datum_words};
pub use words::{section_words, what};

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Finding;
use crate::measure::Quantity;
use crate::member::Member;
use crate::part::Class;
use crate::plate::{Frame, Plate};
use crate::read::Format;

/// Everything one model gave. Lengths in mm, angles in degrees, areas in mm², volumes in mm³, masses
/// in kg, whatever the unit of the file or of the display. A quantity the mesh can't support is null,
/// and a finding says why.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Report {
    /// Version of this layout.
    pub schema: u32,
    /// What wrote it.
    pub tool: Tool,
    /// What was read.
    pub source: Source,
    /// How file units became millimetres.
    pub length_unit: LengthUnit,
    /// What was noticed, worst first.
    pub findings: Vec<Finding>,
    /// One entry per different part; copies are counted, not repeated.
    pub parts: Vec<ReportedPart>,
    /// Bodies no description could be made for.
    pub unresolved: Vec<Unresolved>,
}

/// The program.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// The model file.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Source {
    /// Path as given.
    pub path: String,
    /// Format found in it.
    pub format: Format,
    /// Facets read.
    pub facets: u64,
}

/// How sure the unit of the file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnitBasis {
    /// Given on the command line.
    Stated,
    /// Written in the file.
    Declared,
    /// Worked out from the sizes found.
    Inferred,
    /// Nothing tells; millimetres taken.
    Assumed,
}

/// Unit of the file.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LengthUnit {
    /// Millimetres in one unit of the file.
    pub mm_per_file_unit: f64,
    /// Where that comes from.
    pub basis: UnitBasis,
    /// The same as one sentence.
    pub reason: String,
}

/// One different part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "Part")]
pub struct ReportedPart {
    /// Piece mark, unique in the report.
    pub mark: String,
    /// Name from the file (object, group or solid), or null.
    pub name: Option<String>,
    /// Class.
    pub class: Class,
    /// Copies of this hand, this one counted.
    pub quantity: u32,
    /// Mirrored copies.
    pub opposite_hand: u32,
    /// Bodies of the file that are copies, either hand.
    pub bodies: Vec<u32>,
    /// The body the places and directions below belong to.
    pub body: u32,
    /// Volume of one piece, mm³.
    pub volume: Option<Quantity>,
    /// Area of all faces of one piece, the inside of tubes too, mm².
    pub surface_area: Option<Quantity>,
    /// Mass of one piece, kg.
    pub mass: Option<Quantity>,
    /// Density the mass is reckoned with, kg/m³.
    pub density: f64,
    /// Where the part stands in the file, mm. Member: origin where the centreline begins (end 0, or
    /// the start of the first arc of a ring), x along the section's width, y along its height, z
    /// along the path. Plate: origin at the lower-left corner of the flat, z out of the front face.
    pub frame: Option<Frame>,
    /// Every piece in the file, the described one first.
    pub copies: Vec<PieceCopy>,
    /// Description as a member.
    pub member: Option<Member>,
    /// Description as a plate.
    pub plate: Option<Plate>,
    /// Its holes by size, with what each size takes; null without holes.
    pub hole_schedule: Option<HoleSchedule>,
}

/// One piece of a part, in its place.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PieceCopy {
    /// The body it is, or is a part of.
    pub body: u32,
    /// True for the opposite hand.
    pub mirrored: bool,
    /// Where the frame of the described piece goes when that piece is moved here: left-handed for
    /// the opposite hand. Null where it isn't known.
    pub frame: Option<Frame>,
}

/// Bodies that could not be described.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Unresolved {
    /// Mark of their part.
    pub part: String,
    /// Their numbers in the file.
    pub bodies: Vec<u32>,
    /// Their facets, all together.
    pub facets: u64,
    /// Why, one sentence.
    pub reason: String,
}

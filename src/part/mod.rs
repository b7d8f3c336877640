//! Which class a body is, and its one measured description.

mod classify;
pub mod joined;
mod left_out;
mod member;
mod reading;

pub use classify::{measure, measure_as, measure_with};
pub use joined::{measure_pieces, measure_pieces_with, note_overlaps};
pub use reading::{Choices, Reading};

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Finding;
use crate::measure::Quantity;
use crate::member::Member;
use crate::plate::Plate;

/// Class of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Class {
    StraightMember,
    RolledMember,
    BentMember,
    FlatPlate,
    RolledPlate,
    BentPlate,
    Other,
}

/// One body, measured.
#[derive(Clone, Debug)]
pub struct Part {
    /// Index of the body it was measured on.
    pub body: u32,
    /// Name from the file.
    pub name: Option<String>,
    /// Class.
    pub class: Class,
    /// Volume of the design solid, mm³.
    pub volume: Option<Quantity>,
    /// Area of all faces, mm².
    pub surface_area: Option<Quantity>,
    /// Description as a member.
    pub member: Option<Member>,
    /// Description as a plate.
    pub plate: Option<Plate>,
    /// What was noticed about this body.
    pub findings: Vec<Finding>,
    /// Why no description could be made, when neither is there.
    pub unresolved: Option<String>,
}

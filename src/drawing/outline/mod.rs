//! Outlines for the cutting table: the flat of a plate, caps for tube ends.

pub mod cap;
mod cap_plan;
pub mod flat;
mod notes;
pub mod pilot;
mod plan;

pub use cap_plan::{NamedCap, cap_plans};
pub use plan::{Plan, plan};

use crate::measure::Show;
use pilot::Pilot;

/// What is asked of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Unit of the words and of the file.
    pub show: Show,
    /// Small holes cut smaller.
    pub pilot: Option<Pilot>,
}

//! The dimension sheet: what a part looks like, and every number it takes to make it.

mod cautions;
mod cover;
mod ends;
mod member;
mod part;
mod plate;
mod set_out;
mod views;

pub use cover::WHOLE;

use crate::body::Body;
use crate::drawing::flow::Section;
use crate::drawing::projection::Projection;
use crate::measure::Show;
use crate::report::Report;

/// What is asked of a sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Unit of the numbers.
    pub show: Show,
    /// Where views are placed.
    pub projection: Projection,
    /// Width of the pages' free room, mm.
    pub width: f64,
}

/// The sections of a sheet: the whole model first, then a section for every different part.
/// `bodies` are those of the report, by number.
pub fn sections(report: &Report, bodies: &[Body], whole: bool, asked: &Asked) -> Vec<Section> {
    let mut list = Vec::new();
    if whole {
        list.push(cover::section(report, bodies, asked));
    }
    for part in &report.parts {
        list.push(part::section(report, part, bodies, asked));
    }
    list
}

//! Published sizes: what a section or a plate could be bought as, and what the sizes found say
//! about the unit of a file.
//!
//! The tables are the CSV files of `shared/`, compiled in; each names its source. A table only
//! counts towards "this is that size"; no measured number is ever moved to a published one.

mod background;
mod bolt;
mod catalogue;
mod density;
mod fastener;
mod hole_size;
mod nearest;
mod plate_size;
mod prefer;
mod row;
mod unit;
mod unit_words;

pub use bolt::{Thread, largest_through, threads};
pub use density::{Density, densities, density};
pub use fastener::{Clears, Fit, Head, TapDrill, TapSize, clears, head, tap_drills};
pub use nearest::{is_published_round, nearest};
pub use plate_size::plate_thickness;
pub use prefer::prefer;
pub use unit::{Evidence, UnitGuess, infer_unit};

//! What the shop does with the numbers: rolling, checking what was made, buying and cutting.
//!
//! Each verb takes parts of a [`crate::report::Report`] and returns one value, which its own table,
//! CSV and [`json`] write. Lengths are millimetres, angles degrees, masses kilograms.

pub mod allowance;
pub mod arc;
pub mod check;
pub mod columns;
pub mod curved;
pub mod cutlist;
pub mod file;
mod form;
mod nearest;
pub mod proof;
mod refused;
pub mod roll;
mod text;
pub mod tolerance;

pub use form::{Origin, json, schema};
pub use refused::Refused;

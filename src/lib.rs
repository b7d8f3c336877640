//! Soapstone turns a triangle mesh into numbers a metal worker can lay a tape on.
//!
//! The modules stand in the order of the data; none sees a later one:
//!
//! ```text
//! bytes ─ read ─▶ triangles ─ weld ─▶ mesh ─ body ─▶ bodies ─ surface ─▶ patches ─┬─ member ─┐
//!                                                                                 └─ plate ──┴─ part ─▶ parts
//! parts ─ instance ─▶ counted parts ─ report ─▶ table · JSON · CSV
//! counted parts ─ shop ─▶ roll readings, check of what was made, cut list
//! ```
//!
//! Everything after [`read`] is `f64` millimetres. A stage returns a value and its [`finding`]s; it
//! prints nothing and opens no file. [`analysis`] runs the stages in order; only [`command`] touches
//! files and the terminal.

pub mod analysis;
pub mod body;
pub mod command;
pub mod drawing;
pub mod finding;
pub mod geometry;
pub mod instance;
pub mod measure;
pub mod member;
pub mod part;
pub mod plate;
pub mod read;
pub mod report;
pub mod shop;
pub mod stock;
pub mod surface;
pub mod weld;

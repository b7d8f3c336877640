//! Drawings: what is drawn, and the files it is written to.
//!
//! [`scene`] holds lines, arcs, circles and text in millimetres; [`svg`], [`pdf`] and [`dxf`] write
//! a scene and know nothing of metal.

pub mod arcs;
pub mod bars;
pub mod bulge;
pub mod clear;
pub mod coloured;
pub mod dimension;
pub mod dxf;
pub mod flow;
pub mod font;
pub mod html;
mod invariant;
pub mod jig;
pub mod lay;
pub mod leaf;
pub mod markout;
mod number;
pub mod offset;
pub mod outline;
pub mod overlay;
pub mod paper;
pub mod pdf;
pub mod projection;
pub mod scale;
pub mod scene;
pub mod sheet;
pub mod svg;
pub mod table;
pub mod tile;
pub mod view;
pub mod walk;
pub mod words;

pub use invariant::{fault, page_fault};

//! Mathematics without domain words.

pub mod hull;
pub mod min_rectangle;
pub mod outline;
pub mod polygon;

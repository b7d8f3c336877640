//! Mathematics without domain words.

mod circle_algebraic;
pub mod circle_fit;
pub mod cylinder_fit;
mod damped_step;
pub mod least_squares;
pub mod line_fit;
pub mod plane_fit;
pub mod principal_axes;
pub mod statistics;

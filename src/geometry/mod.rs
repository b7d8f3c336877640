//! geometry.

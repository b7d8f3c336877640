//! surface.

//! instance.

//! command.

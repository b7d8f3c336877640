//! Where to mark a member: numbers along the lines of its surface, and 1:1 wraps.

pub mod layout;
pub mod leaf;
pub mod lines;
pub mod saw;
pub mod strip;
pub mod wrap;

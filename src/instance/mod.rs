//! Measured bodies to counted parts: identical and opposite-hand copies.

use crate::part;

/// One different part with its copies.
#[derive(Clone, Debug)]
pub struct Counted {
    /// The part as measured on `part.body`.
    pub part: part::Part,
    /// Piece mark, unique in the report.
    pub mark: String,
    /// Copies of this hand, this one counted.
    pub quantity: u32,
    /// Mirrored copies.
    pub opposite_hand: u32,
    /// Bodies in the file that are copies, either hand.
    pub bodies: Vec<u32>,
}

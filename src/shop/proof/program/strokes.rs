//! Which moves cut, and which of them hang together.

use super::{Side, Stroke};
use crate::shop::proof::piece::{Piece, Place};

/// One move of the tool.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// Its way in the flat.
    pub piece: Piece,
    /// Line of the program.
    pub line: usize,
    /// A feed move, not a rapid one.
    pub feeds: bool,
    /// With the tool on.
    pub on: bool,
    /// Lowest height on the way, mm.
    pub z: f64,
    /// Grows whenever the tool is switched or its place is lost.
    pub run: usize,
    /// Side the control moves the tool to.
    pub compensated: Option<Side>,
}

/// What the moves come to.
pub struct Found {
    /// What is cut.
    pub strokes: Vec<Stroke>,
    /// Ways without cutting.
    pub rapids: Vec<[Place; 2]>,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// Parts the moves into strokes.
///
/// A tool that is fed below zero with the tool on cuts only there (zero on top of the plate, common
/// practice); where no feed goes below zero, height says nothing.
pub fn strokes(moves: &[Move]) -> Found {
    let deep = moves
        .iter()
        .any(|m| m.on && m.feeds && m.z < 0.0 && m.piece.length() > 0.0);
    let mut found = Found {
        strokes: Vec::new(),
        rapids: Vec::new(),
        notes: Vec::new(),
    };
    if deep {
        found
            .notes
            .push("The program feeds below Z 0: only moves below it were taken as cuts.".into());
    }
    let (mut run, mut going) = (None, false);
    for m in moves {
        if m.piece.length() <= 0.0 {
            // A lift on the spot ends a stroke.
            going &= !(deep && m.z >= 0.0);
            continue;
        }
        if !(m.on && m.feeds && (!deep || m.z < 0.0)) {
            if m.on && !m.feeds && !deep {
                found.notes.push(format!(
                    "Line {} moves rapidly with the tool on; it was not taken as a cut.",
                    m.line
                ));
            }
            found.rapids.push([m.piece.from(), m.piece.to()]);
            going = false;
            continue;
        }
        match found.strokes.last_mut() {
            Some(stroke) if going && run == Some(m.run) => {
                stroke.compensated = stroke.compensated.or(m.compensated);
                stroke.pieces.push(m.piece);
            }
            _ => found.strokes.push(Stroke {
                pieces: vec![m.piece],
                line: m.line,
                compensated: m.compensated,
            }),
        }
        (run, going) = (Some(m.run), true);
    }
    found
}

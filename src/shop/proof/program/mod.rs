//! Cutting programs: bytes in, the path of the tool out.

pub mod arc;
mod dxf;
mod follow;
mod modes;
mod pairs;
mod strokes;
pub mod words;

use schemars::JsonSchema;
use serde::Serialize;

use super::piece::{Piece, Place};
use crate::measure::Unit;
use crate::shop::Refused;

/// Language of a program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Language {
    /// G-code, RS-274/NGC.
    Ngc,
    /// A DXF drawing, whose lines are cut.
    Dxf,
}

/// Side of a path, seen the way the tool goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Side {
    Left,
    Right,
}

/// What the tool does without being lifted or switched off.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// The pieces, each starting where the one before ends.
    pub pieces: Vec<Piece>,
    /// Line of the program it starts in, or number of the entity in a DXF.
    pub line: usize,
    /// Side the control is told to move the tool to (G41, G42).
    pub compensated: Option<Side>,
}

/// A program as followed.
#[derive(Clone, Debug, PartialEq)]
pub struct Program {
    /// Language.
    pub language: Language,
    /// What is cut, in the order of the program.
    pub strokes: Vec<Stroke>,
    /// Ways without the tool.
    pub rapids: Vec<[Place; 2]>,
    /// Unit it says it is in; `None` where it says none.
    pub unit: Option<Unit>,
    /// What a reader should know: plain sentences.
    pub notes: Vec<String>,
    /// What keeps the path from being known for certain: plain sentences.
    pub doubts: Vec<String>,
}

/// What the fabricator says of a program.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Saying {
    /// Unit where the program says none.
    pub unit: Option<Unit>,
    /// Layers of a DXF that are cut; all but marks and words without them.
    pub layers: Vec<String>,
    /// M numbers that switch the tool on and off; 3 and 4, and 5, without them.
    pub on: Vec<u32>,
    /// See `on`.
    pub off: Vec<u32>,
}

/// Most bytes of a program.
const MOST_BYTES: usize = 32 << 20;
/// Most pieces of a path.
pub(super) const MOST_PIECES: usize = 200_000;
/// Places farther off than this are on no cutting table, mm.
pub(super) const FARTHEST: f64 = 100_000.0;
/// Sentences of one kind that are told before the rest is only counted.
const TOLD: usize = 8;

/// Follows a program.
pub fn read(bytes: &[u8], saying: &Saying) -> Result<Program, Refused> {
    if bytes.len() > MOST_BYTES {
        return Err(Refused::new(
            "The program is longer than 32 MB.",
            "Give the program of one sheet.",
        ));
    }
    if bytes.contains(&0) {
        return Err(Refused::new(
            "The program is not text.",
            "Give G-code or a DXF, saved as text.",
        ));
    }
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    let mut program = match pairs::looks_like_dxf(text) {
        true => dxf::read(text, saying)?,
        false => follow::read(text, saying)?,
    };
    for list in [&mut program.notes, &mut program.doubts] {
        shorten(list);
    }
    if program.strokes.is_empty() {
        let why = match program.language {
            Language::Ngc => "It never feeds with the tool on (M3 or M4, then G1, G2 or G3).",
            Language::Dxf => "No line, arc, circle or polyline is on a layer that is cut.",
        };
        let unknown = program.doubts.join(" ");
        return Err(Refused::new(
            format!("The program cuts nothing. {why} {unknown}")
                .trim_end()
                .to_owned(),
            match program.language {
                Language::Ngc => "If other words switch the tool, name them with --on and --off.",
                Language::Dxf => "Name the layers that are cut with --layer.",
            },
        ));
    }
    Ok(program)
}

/// Says the first few, and how many more there are.
fn shorten(sentences: &mut Vec<String>) {
    let mut seen = std::collections::BTreeSet::new();
    sentences.retain(|sentence| seen.insert(sentence.clone()));
    let more = sentences.len().saturating_sub(TOLD);
    if more > 0 {
        sentences.truncate(TOLD);
        sentences.push(format!("And {more} more of this kind."));
    }
}

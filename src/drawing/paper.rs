//! Sheets of paper. Sizes: ISO 216 and the usual inch sizes (from memory).

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// A size of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Paper {
    A4,
    A3,
    Letter,
    Tabloid,
}

/// The text names no paper known here.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a paper: write A4, A3, letter or tabloid")]
pub struct UnknownPaper(String);

impl Paper {
    /// All of them.
    pub const ALL: [Paper; 4] = [Paper::A4, Paper::A3, Paper::Letter, Paper::Tabloid];

    /// Shorter and longer side, mm.
    pub fn sides(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::A3 => (297.0, 420.0),
            Paper::Letter => (215.9, 279.4),
            Paper::Tabloid => (279.4, 431.8),
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::A3 => "A3",
            Paper::Letter => "letter",
            Paper::Tabloid => "tabloid",
        }
    }
}

impl fmt::Display for Paper {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.pad(self.name())
    }
}

impl FromStr for Paper {
    type Err = UnknownPaper;

    fn from_str(text: &str) -> Result<Paper, UnknownPaper> {
        Paper::ALL
            .into_iter()
            .find(|paper| paper.name().eq_ignore_ascii_case(text.trim()))
            .ok_or_else(|| UnknownPaper(text.to_owned()))
    }
}

//! What the caller chooses about a body beside what the mesh tells.

use std::str::FromStr;

use crate::plate::Neutral;

/// As what a piece is to be read where the class rule leaves a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// An outline moved through a thickness.
    Plate,
    /// A solid section moved along a path.
    Bar,
    /// A hollow section moved along a path.
    Tube,
}

impl Reading {
    /// The same in words.
    pub fn words(self) -> &'static str {
        match self {
            Reading::Plate => "a plate",
            Reading::Bar => "a bar",
            Reading::Tube => "a tube",
        }
    }
}

impl FromStr for Reading {
    type Err = ();

    fn from_str(text: &str) -> Result<Reading, ()> {
        match text.trim().to_ascii_lowercase().as_str() {
            "plate" => Ok(Reading::Plate),
            "bar" => Ok(Reading::Bar),
            "tube" => Ok(Reading::Tube),
            _ => Err(()),
        }
    }
}

/// Choices for all pieces of a model.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// Neutral surface of folds.
    pub neutral: Neutral,
    /// Piece marks, each with how that piece is to be read.
    pub readings: Vec<(String, Reading)>,
}

//! Why a file could not be read, in the words of the shop.

use std::fmt;

use crate::finding::{Code, Finding, Severity};

use super::wording::grouped;

/// A file of which nothing can be measured: the cause, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadError {
    /// No bytes at all.
    NoBytes,
    /// A sound file with nothing to measure in it.
    Empty {
        /// What the file does hold.
        holds: String,
    },
    /// The file stops before its end.
    Truncated {
        /// What the file counts: facet, vertex, face.
        item: &'static str,
        /// How many of them are complete.
        done: u64,
        /// How many the file promises, where it does.
        of: Option<u64>,
    },
    /// Numbers are written with a comma before the decimals.
    DecimalComma {
        /// Line of the first such number, from 1.
        line: usize,
        /// The number as it stands there.
        text: String,
    },
    /// None of the formats this program reads.
    NotAModel {
        /// What it looks like instead.
        looks_like: String,
    },
    /// A text or package that breaks the rules of its format where no sense can be made of it.
    Malformed {
        /// Where and what.
        problem: String,
    },
    /// A 3MF package whose model cannot be found or put together.
    Package {
        /// What is missing or wrong.
        problem: String,
        /// What to do about it.
        remedy: String,
    },
    /// More than this program is willing to hold in memory.
    TooLarge {
        /// What is too large, and the limit.
        problem: String,
    },
}

impl ReadError {
    /// What was seen.
    pub fn cause(&self) -> String {
        match self {
            ReadError::NoBytes => "The file is empty: it holds zero bytes.".into(),
            ReadError::Empty { holds } => holds.clone(),
            ReadError::Truncated { item, done: 0, of } => match of {
                Some(of) => format!("The file ends before the first {item} of {}.", grouped(*of)),
                None => format!("The file ends inside the first {item}."),
            },
            ReadError::Truncated { item, done, of } => match of {
                Some(of) => format!(
                    "The file ends after {item} {} of {}.",
                    grouped(*done),
                    grouped(*of)
                ),
                None => format!(
                    "The file ends in the middle of a {item}, after {item} {}.",
                    grouped(*done)
                ),
            },
            ReadError::DecimalComma { line, text } => {
                format!(
                    "Line {}: the number \"{text}\" has a decimal comma.",
                    grouped(*line as u64)
                )
            }
            ReadError::NotAModel { looks_like } => looks_like.clone(),
            ReadError::Malformed { problem } => problem.clone(),
            ReadError::Package { problem, .. } => problem.clone(),
            ReadError::TooLarge { problem } => problem.clone(),
        }
    }

    /// What to do about it.
    pub fn remedy(&self) -> String {
        match self {
            ReadError::NoBytes => "Export it again, or fetch the file again.".into(),
            ReadError::Empty { .. } => "Export the solid or surface itself, as a mesh.".into(),
            ReadError::Truncated { .. } => "Export it again.".into(),
            ReadError::DecimalComma { .. } => {
                "Set the exporting computer to decimal points, or export binary STL.".into()
            }
            ReadError::NotAModel { .. } => "Export the model as STL, OBJ, PLY or 3MF.".into(),
            ReadError::Malformed { .. } => {
                "Export it again; if the text was edited by hand, mend that place.".into()
            }
            ReadError::Package { remedy, .. } => remedy.clone(),
            ReadError::TooLarge { .. } => "Export fewer parts at a time, or a coarser mesh.".into(),
        }
    }

    /// The code under which a report lists it.
    pub fn code(&self) -> Code {
        match self {
            ReadError::NoBytes | ReadError::Empty { .. } => Code::Empty,
            ReadError::Truncated { .. } => Code::Truncated,
            ReadError::DecimalComma { .. } => Code::DecimalComma,
            ReadError::NotAModel { .. } => Code::NotRecognised,
            ReadError::Malformed { .. }
            | ReadError::Package { .. }
            | ReadError::TooLarge { .. } => Code::Unreadable,
        }
    }

    /// The same as a finding of severity error.
    pub fn finding(&self) -> Finding {
        Finding::new(self.code(), Severity::Error, self.cause(), self.remedy())
    }
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.cause(), self.remedy())
    }
}

impl std::error::Error for ReadError {}

//! Why a verb could not be done: cause, then remedy, in one text.

use std::io::{self, ErrorKind};

use thiserror::Error;

use crate::measure::LengthTextError;
use crate::plate::ShopTableError;
use crate::read::ReadError;
use crate::shop::Refused;

/// The input or the options can't be used.
#[derive(Debug, Error)]
pub enum Failure {
    /// The model file can't be opened.
    #[error("{path} can't be opened: {why}. Check the path and that you may read the file.")]
    Open {
        /// Path as given.
        path: String,
        /// What the system said.
        why: String,
    },
    /// The file is longer than any that is read.
    #[error(
        "{path} is longer than the {} MiB that are read of such a file. Check that it is the right one; export fewer parts at a time, or a coarser mesh.",
        most >> 20
    )]
    TooLong {
        /// Path as given.
        path: String,
        /// Most bytes.
        most: u64,
    },
    /// The file is no model that can be read.
    #[error("{path}: {why}")]
    Read {
        /// Path as given.
        path: String,
        /// What is wrong with it, with its remedy.
        why: ReadError,
    },
    /// No part has the mark asked for.
    #[error("No part of {path} has the mark \"{mark}\". {}", marks_there(marks))]
    NoSuchPart {
        /// Path as given.
        path: String,
        /// Mark as given.
        mark: String,
        /// Marks there are.
        marks: Vec<String>,
    },
    /// A length on the command line can't be understood.
    #[error("--{option}: {why}.")]
    Length {
        /// Name of the option.
        option: &'static str,
        /// What is wrong with it, with its remedy.
        why: LengthTextError,
    },
    /// The question can't be answered from this model.
    #[error("{0}")]
    Refused(#[from] Refused),
    /// A file beside the model can't be used.
    #[error("{path}: {why}")]
    Side {
        /// Path as given.
        path: String,
        /// What is wrong with it, with its remedy.
        why: Refused,
    },
    /// A shop's table of K-factors can't be used.
    #[error("{path}: {why}.")]
    Table {
        /// Path as given.
        path: String,
        /// What is wrong with it, with its remedy.
        why: ShopTableError,
    },
    /// No verb has the name asked for.
    #[error("There is no verb \"{0}\". `soapstone help` lists them.")]
    NoSuchVerb(String),
    /// A file of that name is there already.
    #[error(
        "{path} is there already, so nothing was written. Give another place with -o, or --force to write over it."
    )]
    Exists {
        /// Path of the file that is there.
        path: String,
    },
    /// A file can't be written.
    #[error("{path} can't be written: {}", in_words(why))]
    Save {
        /// Path.
        path: String,
        /// What the system said.
        why: io::Error,
    },
    /// A length on the command line can't be understood.
    #[error(transparent)]
    LengthText(#[from] LengthTextError),
    /// The file's ending names no format it could be written in.
    #[error("{path} has an ending this verb doesn't write. End it with {endings}.")]
    Ending {
        /// Path as given.
        path: String,
        /// Endings that are known.
        endings: &'static str,
    },
    /// The model has nothing of the kind the verb draws.
    #[error("{path} has no {what} to draw. `soapstone read` lists what it has.")]
    NothingToDraw {
        /// Path as given.
        path: String,
        /// What is drawn.
        what: &'static str,
    },
    /// Standard output can't be written to.
    #[error("The answer can't be written: {}", in_words(.0))]
    Write(#[from] io::Error),
    /// The answer can't be put in the format asked for.
    #[error(
        "The answer can't be put into this format: {0}. Ask for another --format and report the model."
    )]
    Format(String),
}

impl Failure {
    /// Exit code of the program.
    pub fn code(&self) -> u8 {
        2
    }
}

const MARKS_NAMED: usize = 20;

fn marks_there(marks: &[String]) -> String {
    let named = marks
        .iter()
        .take(MARKS_NAMED)
        .map(String::as_str)
        .collect::<Vec<_>>()
        .join(", ");
    match marks.len() {
        0 => "It has no parts at all.".to_owned(),
        few if few <= MARKS_NAMED => format!("Ask for one of {named}."),
        many => format!(
            "Ask for one of {named} or the {} others.",
            many - MARKS_NAMED
        ),
    }
}

/// Why something can't be written, and what to do about it.
fn in_words(why: &io::Error) -> String {
    let (cause, remedy) = match why.kind() {
        ErrorKind::StorageFull => (
            "the disk is full",
            "Make room on it, or give another place.",
        ),
        ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => (
            "the system allows you no more room, or no file as large as this",
            "Make room, or give another place.",
        ),
        ErrorKind::NotFound => (
            "its folder isn't there",
            "Make the folder first, or give another place.",
        ),
        ErrorKind::NotADirectory => (
            "a file stands where its folder should",
            "Give another place.",
        ),
        ErrorKind::IsADirectory => ("it is a folder", "Give the name of a file in it."),
        ErrorKind::PermissionDenied => (
            "you may not write there",
            "Give another place, or ask for the right to write.",
        ),
        ErrorKind::ReadOnlyFilesystem => ("the disk can be read only", "Give another place."),
        ErrorKind::Interrupted => ("it was stopped", "Nothing was left behind."),
        _ => return format!("{why}. Check the place it is sent to."),
    };
    format!("{cause}. {remedy}")
}

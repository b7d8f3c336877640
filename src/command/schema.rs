//! `schema`: what the JSON looks like.

use clap::{Args, ValueEnum};

use super::{Answer, Failure, terminal};
use crate::report::json;
use crate::shop;
use crate::shop::cutlist::CutList;
use crate::shop::roll::RollSheet;
use crate::shop::{check, proof};

/// Print the JSON Schema of what a verb prints with `--format json`
#[derive(Debug, Args)]
pub struct Options {
    /// The verb
    #[arg(value_enum, default_value_t = Verb::Read)]
    verb: Verb,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Verb {
    Read,
    Roll,
    Check,
    Proof,
    Cutlist,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let text = match options.verb {
        Verb::Read => json::schema(),
        Verb::Roll => shop::schema::<RollSheet>(),
        Verb::Check => shop::schema::<check::Answer>(),
        Verb::Proof => shop::schema::<proof::Answer>(),
        Verb::Cutlist => shop::schema::<CutList>(),
    };
    let text = text.map_err(|why| Failure::Format(why.to_string()))?;
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

//! `schema`: what the JSON looks like.

use clap::Args;

use super::{Answer, Failure, terminal};
use crate::report::json;

/// Print the JSON Schema of what `read --format json` prints
#[derive(Debug, Args)]
pub struct Options {}

pub fn run(_: &Options) -> Result<Answer, Failure> {
    let text = json::schema().map_err(|why| Failure::Format(why.to_string()))?;
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

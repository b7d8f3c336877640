//! `shop-file`: a shop file to start from; and finding the one that belongs to a model.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{OutFile, Overwrite, write_all};
use super::{Answer, Failure, terminal};
use crate::shop::file::{EXAMPLE, NAME, ShopFile, read};

/// Write a shop file to start from: bars at hand, saw, rolls, sheets, metal, every key explained
#[derive(Debug, Args)]
pub struct Options {
    /// Where to write it; - writes it to the terminal
    #[arg(short, long, value_name = "FILE", default_value = NAME)]
    output: PathBuf,

    #[command(flatten)]
    overwrite: Overwrite,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    if options.output == Path::new("-") {
        terminal::write(EXAMPLE.as_bytes())?;
        return Ok(Answer::Done);
    }
    let file = OutFile {
        path: options.output.clone(),
        bytes: EXAMPLE.as_bytes().to_vec(),
    };
    write_all(&[file], options.overwrite)?;
    terminal::write(format!("{}\n", options.output.display()).as_bytes())?;
    Ok(Answer::Done)
}

/// The shop file given, else the one in the folder of the model or the nearest folder above it. Its
/// path comes with it.
pub fn find(given: Option<&Path>, model: &Path) -> Result<Option<(PathBuf, ShopFile)>, Failure> {
    let path = match given {
        Some(path) => Some(path.to_owned()),
        None => above(model),
    };
    let Some(path) = path else {
        return Ok(None);
    };
    let name = path.display().to_string();
    let text = fs::read_to_string(&path).map_err(|why| Failure::Open {
        path: name.clone(),
        why: why.to_string(),
    })?;
    let file = read(&text).map_err(|why| Failure::Side { path: name, why })?;
    Ok(Some((path, file)))
}

fn above(model: &Path) -> Option<PathBuf> {
    // a model that isn't there is another message's matter
    let whole = fs::canonicalize(model).ok()?;
    whole
        .ancestors()
        .skip(1)
        .map(|folder| folder.join(NAME))
        .find(|path| path.is_file())
}

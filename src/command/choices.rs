//! The options about folds, about the class of a piece and about the metal, and what they mean.

use std::path::{Path, PathBuf};

use clap::Args;

use super::shop_file::{self, InForce};
use super::{Failure, input, progress};
use crate::analysis::{self, Asked, ExamineError, Examined};
use crate::measure::Unit;
use crate::plate::{Neutral, shop_table};
use crate::shop::Refused;

/// What the mesh leaves open.
#[derive(Debug, Args)]
pub struct Choices {
    /// K-factor of every fold: distance of the neutral line from the inside / thickness. DIN 6935
    /// without it. Rolled plates and cones are laid flat on the surface amid the thickness
    #[arg(long, value_name = "K")]
    k_factor: Option<f64>,

    /// CSV of your own K-factors: thickness, inside radius, K. Folds it has no row for take DIN 6935,
    /// and the report says which
    #[arg(long, value_name = "FILE", conflicts_with = "k_factor")]
    k_table: Option<PathBuf>,

    /// Read a piece as the other thing it could be: P2=bar, M1=plate, P3=tube; may be given more than
    /// once
    #[arg(long = "as", value_name = "MARK=WHAT")]
    readings: Vec<String>,

    /// Metal, by its name in the table of densities: steel, stainless, aluminium, …
    #[arg(long, value_name = "NAME")]
    pub material: Option<String>,

    /// Shop file to use; without it soapstone.toml is looked for beside the model and in the folders
    /// above
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
}

impl Choices {
    /// The shop file in force for the model at this path.
    pub fn shop(&self, model: &Path) -> Result<InForce, Failure> {
        shop_file::in_force(self.shop.as_deref(), model)
    }

    /// The same as the analysis takes it; bare numbers of a table are in `bare`.
    pub fn read(&self, shop: &InForce, bare: Unit) -> Result<analysis::Choices, Failure> {
        Ok(analysis::Choices {
            neutral: self.neutral(shop, bare)?,
            readings: self
                .readings
                .iter()
                .map(|text| reading(text))
                .collect::<Result<_, _>>()?,
        })
    }

    fn neutral(&self, shop: &InForce, bare: Unit) -> Result<Neutral, Failure> {
        if let Some(k) = self.k_factor {
            // Also false for what is not a number.
            return match (0.0..=1.0).contains(&k) {
                true => Ok(Neutral::Factor(k)),
                false => Err(Refused::new(
                    format!("--k-factor {k} is no K-factor: it lies between 0 and 1."),
                    "Give the distance of the neutral line from the inside, divided by the thickness; DIN 6935's own k is twice that.",
                )
                .into()),
            };
        }
        match &self.k_table {
            Some(file) => table(file, bare),
            None => shop.neutral(),
        }
    }
}

/// The factors of a shop's own table.
pub fn table(file: &Path, bare: Unit) -> Result<Neutral, Failure> {
    let path = file.display().to_string();
    let text = input::text(file)?;
    let rows = shop_table(&text, bare).map_err(|why| Failure::Table { path, why })?;
    Ok(Neutral::Table(rows))
}

fn reading(text: &str) -> Result<(String, analysis::Reading), Failure> {
    let parts = text.split_once('=');
    let read = parts.and_then(|(mark, what)| Some((mark.trim().to_owned(), what.parse().ok()?)));
    read.filter(|(mark, _)| !mark.is_empty()).ok_or_else(|| {
        Refused::new(
            format!("--as {text} can't be understood."),
            "Write a piece mark and plate, bar or tube, as in --as P2=bar.",
        )
        .into()
    })
}

/// The model in `bytes`, measured with these choices.
pub fn examine(
    bytes: Vec<u8>,
    path: &str,
    asked: &Asked,
    choices: &analysis::Choices,
) -> Result<Examined, Failure> {
    let found =
        progress::watched(|watch| analysis::examine_with(bytes, path, asked, choices, watch));
    found.map_err(|why| match why {
        ExamineError::Read(why) => Failure::Read {
            path: path.to_owned(),
            why,
        },
        ExamineError::NoSuchMark { mark, marks } => Failure::NoSuchPart {
            path: path.to_owned(),
            mark,
            marks,
        },
        ExamineError::NotThat { .. } => Refused::new(
            why.to_string(),
            "Leave its --as away; `soapstone read` says what it is.",
        )
        .into(),
    })
}

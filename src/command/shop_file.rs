//! `shop-file`: a shop file to start from; and finding the one that belongs to a model.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{OutFile, Overwrite, write_all};
use super::{Answer, Failure, choices, input, terminal};
use crate::drawing::paper::Paper;
use crate::measure::{STEEL_DENSITY, Show, Unit};
use crate::plate::Neutral;
use crate::report::Report;
use crate::shop::Refused;
use crate::shop::file::{self, EXAMPLE, NAME, ShopFile, Typed, read};
use crate::shop::roll::Waste;
use crate::stock;

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

/// The shop file that a verb goes by; an empty one where there is none.
#[derive(Debug, Default)]
pub struct InForce {
    /// Where it stands.
    pub path: Option<PathBuf>,
    /// What it says.
    pub file: ShopFile,
}

impl InForce {
    /// Unit of the answer: as given, else as the file says, else millimetres.
    pub fn show(&self, given: Option<Show>) -> Show {
        let own = || self.file.show.as_deref()?.parse().ok();
        given.or_else(own).unwrap_or(Show::Millimetre)
    }

    /// Paper: as given, else as the file says, else A4.
    pub fn paper(&self, given: Option<Paper>) -> Result<Paper, Failure> {
        match (given, &self.file.print.paper) {
            (Some(paper), _) => Ok(paper),
            (None, None) => Ok(Paper::A4),
            (None, Some(text)) => text
                .parse()
                .map_err(|why| self.refuse(format!("[print] paper: {why}."))),
        }
    }

    /// Density of the metal, kg/m³: by the name given, else as the file says, else that of steel.
    pub fn density(&self, given: Option<&str>) -> Result<f64, Failure> {
        let own = &self.file.material;
        let name = match (given, own.density, own.name.as_deref()) {
            (Some(name), _, _) => name,
            (None, Some(density), _) => return Ok(density),
            (None, None, Some(name)) => name,
            (None, None, None) => return Ok(STEEL_DENSITY),
        };
        if let Some(found) = stock::density(name) {
            return Ok(found.density_kg_m3);
        }
        let names: Vec<&str> = stock::densities().iter().map(|d| d.name.as_str()).collect();
        let why = Refused::new(
            format!("The table of densities has no \"{name}\"."),
            match given {
                Some(_) => format!("Give one of {} with --material.", names.join(", ")),
                None => format!(
                    "Name one of {} under [material], or give its density.",
                    names.join(", ")
                ),
            },
        );
        Err(match (given, &self.path) {
            (None, Some(path)) => Failure::Side {
                path: path.display().to_string(),
                why,
            },
            _ => why.into(),
        })
    }

    /// How folds are laid flat.
    pub fn neutral(&self) -> Result<Neutral, Failure> {
        let folds = &self.file.folds;
        if let Some(k) = folds.k_factor {
            return Ok(Neutral::Factor(k));
        }
        if let Some(name) = &folds.k_table {
            let beside = self.path.as_deref().and_then(Path::parent);
            let at = beside.map_or_else(|| PathBuf::from(name), |folder| folder.join(name));
            // lengths in the shop file are millimetres, and so are those of its table
            return choices::table(&at, Unit::Millimetre);
        }
        let rows = file::k_rows(&self.file)?;
        Ok(match rows.is_empty() {
            true => Neutral::Din6935,
            false => Neutral::Table(rows),
        })
    }

    /// Names the preferred standards first where a size stands in several.
    pub fn prefer(&self, report: &mut Report) {
        let prefer = &self.file.standards.prefer;
        let members = report.parts.iter_mut().filter_map(|p| p.member.as_mut());
        for member in members {
            if let Some(found) = &mut member.section.stock {
                stock::prefer(found, prefer);
            }
        }
    }

    /// A length of the file, mm; `key` names it.
    pub fn length(&self, key: &str, typed: Option<&Typed>) -> Result<Option<f64>, Failure> {
        let read = typed.map(|typed| file::length(key, typed)).transpose();
        read.map_err(|why| match &self.path {
            Some(path) => Failure::Side {
                path: path.display().to_string(),
                why,
            },
            None => why.into(),
        })
    }

    /// Straight waste at the ends of what is rolled.
    pub fn waste(&self) -> Result<Waste, Failure> {
        let rolls = &self.file.rolls;
        let each = self.length("[rolls] waste", rolls.waste.as_ref())?;
        let spacing = self.length("[rolls] spacing", rolls.spacing.as_ref())?;
        let grip = self.length("[rolls] grip", rolls.grip.as_ref())?;
        Ok(match (each, spacing) {
            (Some(each), _) => Waste::Each(each),
            (None, Some(spacing)) => Waste::Rolls {
                spacing,
                grip: grip.unwrap_or(0.0),
            },
            (None, None) => Waste::Unsaid,
        })
    }

    fn refuse(&self, cause: String) -> Failure {
        let why = Refused::new(cause, "Correct it in the shop file.");
        match &self.path {
            Some(path) => Failure::Side {
                path: path.display().to_string(),
                why,
            },
            None => why.into(),
        }
    }
}

/// The shop file given, else the one in the folder of the model or the nearest folder above it.
pub fn in_force(given: Option<&Path>, model: &Path) -> Result<InForce, Failure> {
    let path = match given {
        Some(path) => Some(path.to_owned()),
        None => above(model),
    };
    let Some(path) = path else {
        return Ok(InForce::default());
    };
    let name = path.display().to_string();
    let text = input::text(&path)?;
    let file = read(&text).map_err(|why| Failure::Side { path: name, why })?;
    let found = InForce {
        path: Some(path),
        file,
    };
    // what the file's own reader can't know of is refused at once, too
    found.paper(None)?;
    Ok(found)
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

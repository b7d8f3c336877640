//! The model every verb reads, and its parts by their marks.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::choices::{self, Choices};
use super::shop_file::InForce;
use super::{Failure, input};
use crate::analysis::{self, Asked};
use crate::measure::{Show, Unit, parse_length};
use crate::report::{Report, ReportedPart};
use crate::shop::Refused;

/// The model and how to read it.
#[derive(Debug, Args)]
pub struct Model {
    /// The model: STL, OBJ, PLY or 3MF
    pub model: PathBuf,

    /// Unit the file is drawn in: mm, cm, m, in or ft. Without it the unit is worked out, and the
    /// answer says how
    #[arg(long, value_name = "UNIT")]
    pub unit: Option<Unit>,

    #[command(flatten)]
    pub choices: Choices,
}

impl Model {
    /// The shop file in force.
    pub fn shop(&self) -> Result<InForce, Failure> {
        self.choices.shop(&self.model)
    }

    /// The report of the model and its bodies.
    pub fn examine(&self, shop: &InForce, show: Show) -> Result<analysis::Examined, Failure> {
        let choices = self.choices.read(shop, show.bare_unit())?;
        examined(&self.model, self.unit, &self.choices, shop, &choices)
    }
}

/// Form of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// A table for reading
    Table,
    /// Everything, for other programs; `soapstone schema VERB` describes it
    Json,
    /// Rows for a spreadsheet
    Csv,
}

/// The model at `path`, measured with what was chosen and what the shop goes by.
pub fn examined(
    path: &Path,
    unit: Option<Unit>,
    options: &Choices,
    shop: &InForce,
    choices: &analysis::Choices,
) -> Result<analysis::Examined, Failure> {
    let asked = Asked {
        mm_per_unit: unit.map(Unit::millimetres),
        density: shop.density(options.material.as_deref())?,
    };
    let name = path.display().to_string();
    let bytes = input::bytes(path, input::MODEL)?;
    let mut examined = choices::examine(bytes, &name, &asked, choices)?;
    shop.prefer(&mut examined.report);
    Ok(examined)
}

/// Every mark of a report.
pub fn marks(report: &Report) -> Vec<String> {
    report.parts.iter().map(|part| part.mark.clone()).collect()
}

/// The part with this mark; without one, the only part that `suits`. `what` is what a suitable part
/// is called: "rolled part".
pub fn part<'a>(
    report: &'a Report,
    mark: Option<&str>,
    suits: impl Fn(&ReportedPart) -> bool,
    what: &str,
) -> Result<&'a ReportedPart, Failure> {
    if let Some(mark) = mark {
        let found = report.parts.iter().find(|part| part.mark == mark);
        return found.ok_or_else(|| Failure::NoSuchPart {
            path: report.source.path.clone(),
            mark: mark.to_owned(),
            marks: marks(report),
        });
    }
    let suitable: Vec<&ReportedPart> = report.parts.iter().filter(|part| suits(part)).collect();
    match suitable.as_slice() {
        [only] => Ok(only),
        [] => Err(Refused::new(
            format!("{} has no {what}.", report.source.path),
            "`soapstone read` lists its parts.",
        )
        .into()),
        several => {
            let marks: Vec<&str> = several.iter().map(|part| part.mark.as_str()).collect();
            Err(Refused::new(
                format!("{} has more than one {what}.", report.source.path),
                format!("Ask for one of {} with --part.", marks.join(", ")),
            )
            .into())
        }
    }
}

/// A length typed after an option; a bare number is in the unit answers are shown in.
pub fn length(option: &'static str, text: &str, show: Show) -> Result<f64, Failure> {
    parse_length(text, show.bare_unit()).map_err(|why| Failure::Length { option, why })
}

/// The same for an option that may be left out.
pub fn maybe_length(
    option: &'static str,
    text: Option<&String>,
    show: Show,
) -> Result<Option<f64>, Failure> {
    text.map(|text| length(option, text, show)).transpose()
}

//! The options every verb that reads a model has, and reading it.

use std::path::PathBuf;

use clap::Args;

use super::choices::{self, Choices};
use super::shop_file::InForce;
use super::{Failure, input};
use crate::analysis::{self, Asked};
use crate::measure::{Show, Unit};
use crate::report::{Report, only_part};

/// Which model, and how.
#[derive(Debug, Args)]
pub struct Model {
    /// The model: STL, OBJ, PLY or 3MF
    model: PathBuf,

    /// Unit the file is drawn in: mm, cm, m, in or ft. Without it the unit is worked out
    #[arg(long, value_name = "UNIT")]
    unit: Option<Unit>,

    /// Unit of what is written: mm, in, or in/8, in/16, in/32, in/64 for fractions; mm without it
    #[arg(long, value_name = "UNIT")]
    show: Option<Show>,

    /// Only the part with this mark
    #[arg(long, value_name = "MARK")]
    pub part: Option<String>,

    #[command(flatten)]
    choices: Choices,
}

impl Model {
    /// Path as given, for messages.
    pub fn path(&self) -> String {
        self.model.display().to_string()
    }

    /// Name of the file alone.
    pub fn name(&self) -> String {
        self.model
            .file_name()
            .map_or_else(|| self.path(), |name| name.to_string_lossy().into_owned())
    }

    /// The shop file in force.
    pub fn shop(&self) -> Result<InForce, Failure> {
        self.choices.shop(&self.model)
    }

    /// Unit of what is written.
    pub fn show(&self, shop: &InForce) -> Show {
        shop.show(self.show)
    }

    /// The report of the whole model, and its bodies.
    pub fn examine(&self, shop: &InForce) -> Result<analysis::Examined, Failure> {
        let path = self.path();
        let bytes = input::bytes(&self.model, input::MODEL)?;
        let asked = Asked {
            mm_per_unit: self.unit.map(Unit::millimetres),
            density: shop.density(self.choices.material.as_deref())?,
        };
        let choices = self.choices.read(shop, self.show(shop).bare_unit())?;
        let mut examined = choices::examine(bytes, &path, &asked, &choices)?;
        shop.prefer(&mut examined.report);
        Ok(examined)
    }

    /// The report with the part asked for, or with all of them.
    pub fn choose(&self, report: Report) -> Result<Report, Failure> {
        let Some(mark) = &self.part else {
            return Ok(report);
        };
        let marks = report.parts.iter().map(|part| part.mark.clone()).collect();
        only_part(report, mark).ok_or_else(|| Failure::NoSuchPart {
            path: self.path(),
            mark: mark.clone(),
            marks,
        })
    }
}

//! `read MODEL`: the parts of a model.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::choices::Choices;
use super::shop_file::InForce;
use super::{Answer, Failure, terminal, workpiece};
use crate::measure::{Show, Unit};
use crate::report::table::{Look, table};
use crate::report::{Report, csv, json, only_part};

/// Measure a model and list its parts
#[derive(Debug, Args)]
pub struct Options {
    /// The model: STL, OBJ, PLY or 3MF
    model: PathBuf,

    /// Unit the file is drawn in: mm, cm, m, in or ft. Without it the unit is worked out, and the
    /// report says how
    #[arg(long, value_name = "UNIT")]
    unit: Option<Unit>,

    /// Unit of the answer: mm, in, or in/8, in/16, in/32, in/64 for fractions; mm without it. JSON is
    /// always in mm
    #[arg(long, value_name = "UNIT")]
    show: Option<Show>,

    /// Only the part with this mark
    #[arg(long, value_name = "MARK")]
    part: Option<String>,

    #[command(flatten)]
    choices: Choices,

    /// Form of the answer
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,

    /// Columns of the table, 72 or more; the width of the terminal without it
    #[arg(long, value_name = "COLUMNS")]
    width: Option<usize>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Format {
    /// A table for reading
    Table,
    /// Everything, for other programs; `soapstone schema` describes it
    Json,
    /// One row per different part, for a spreadsheet
    Csv,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.choices.shop(&options.model)?;
    let show = shop.show(options.show);
    let report = analyse(options, &shop, show)?;
    let text = match options.format {
        Format::Table => table(
            &report,
            &Look {
                show,
                width: options.width.unwrap_or_else(terminal::width),
                colour: terminal::colour(),
            },
        ),
        Format::Json => json::json(&report).map_err(|why| Failure::Format(why.to_string()))?,
        Format::Csv => csv::csv(&report, show).map_err(|why| Failure::Format(why.to_string()))?,
    };
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

fn analyse(options: &Options, shop: &InForce, show: Show) -> Result<Report, Failure> {
    let choices = options.choices.read(shop, show.bare_unit())?;
    let examined = workpiece::examined(
        &options.model,
        options.unit,
        &options.choices,
        shop,
        &choices,
    )?;
    let report = examined.report;
    let Some(mark) = &options.part else {
        return Ok(report);
    };
    let marks = workpiece::marks(&report);
    only_part(report, mark).ok_or_else(|| Failure::NoSuchPart {
        path: options.model.display().to_string(),
        mark: mark.clone(),
        marks,
    })
}

//! `cutlist MODEL…`: what to buy, how to cut it, what it weighs, how it ships.

use std::path::{Path, PathBuf};

use clap::Args;

use super::choices::Choices;
use super::cut_pages;
use super::output::{OutFile, Overwrite, write_all};
use super::planning::{Planning, settings};
use super::shop_file::InForce;
use super::workpiece::{self, Form};
use super::{Answer, Failure, terminal};
use crate::analysis::{self, Examined};
use crate::drawing::bars::bars;
use crate::drawing::leaf::{Document, pages};
use crate::drawing::paper::Paper;
use crate::drawing::pdf::pdf;
use crate::drawing::scene::Place;
use crate::drawing::svg::svg;
use crate::drawing::{flow, words};
use crate::measure::{Show, Unit};
use crate::report::table::Look;
use crate::shop::cutlist::{CutList, Model, csv, cutlist, letter, table};
use crate::shop::{Refused, json};

/// List what to buy and how to cut it: bars, plates, weights, joints, fits
///
/// Members are nested into bars, and the answer says how far the plan can be from the best possible.
/// Joints say what goes through the holes; nothing here says that a part or a joint is strong enough.
#[derive(Debug, Args)]
pub struct Options {
    /// The models: STL, OBJ, PLY or 3MF
    #[arg(required = true, value_name = "MODEL")]
    models: Vec<PathBuf>,

    /// How many of the model are made; with several models once for all, or once for each
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    qty: Vec<u32>,

    /// Unit the files are drawn in: mm, cm, m, in or ft. Without it the unit is worked out
    #[arg(long, value_name = "UNIT")]
    unit: Option<Unit>,

    #[command(flatten)]
    planning: Planning,

    #[command(flatten)]
    choices: Choices,

    /// Draw the bars into this file: .svg, or .pdf in pages
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,

    /// Paper of the picture: A4, A3, letter or tabloid; A4 without it
    #[arg(long, value_name = "PAPER")]
    paper: Option<Paper>,

    #[command(flatten)]
    overwrite: Overwrite,

    /// Say what every end lands on, and the box of every piece
    #[arg(long)]
    all: bool,

    /// Unit of the answer: mm, in, or in/8, in/16, in/32, in/64 for fractions. JSON is always in mm
    #[arg(long, value_name = "UNIT")]
    show: Option<Show>,

    /// Form of the answer
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// Columns of the table, 72 or more; the width of the terminal without it
    #[arg(long, value_name = "COLUMNS")]
    width: Option<usize>,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let first = options
        .models
        .first()
        .map(PathBuf::as_path)
        .unwrap_or(Path::new("."));
    let shop = options.choices.shop(first)?;
    let show = shop.show(options.show);
    let settings = settings(&options.planning, &shop, show)?;
    let quantities = quantities(options)?;
    let choices = options.choices.read(&shop, show.bare_unit())?;
    let examined = options
        .models
        .iter()
        .zip(own_readings(&choices, options.models.len())?)
        .map(|(path, own)| workpiece::examined(path, options.unit, &options.choices, &shop, &own))
        .collect::<Result<Vec<Examined>, Failure>>()?;
    let models: Vec<Model> = examined
        .iter()
        .zip(&quantities)
        .map(|(examined, &quantity)| Model {
            report: &examined.report,
            bodies: &examined.bodies,
            pieces: &examined.pieces,
            quantity,
        })
        .collect();
    let list = cutlist(&models, &settings)?;
    let unwritable = |why: String| Failure::Format(why);
    let text = match options.format {
        Form::Table => {
            let look = Look {
                show,
                width: options.width.unwrap_or_else(terminal::width),
                colour: terminal::colour(),
            };
            table::table(&list, &look, options.all)
        }
        Form::Json => json(&list).map_err(|why| unwritable(why.to_string()))?,
        Form::Csv => csv::csv(&list, show).map_err(|why| unwritable(why.to_string()))?,
    };
    if let Some(path) = &options.picture {
        picture(path, &list, options, &shop, show)?;
    }
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

/// Length of the bars on an SVG, mm.
const SVG_WIDTH: f64 = 270.0;

fn picture(
    path: &Path,
    list: &CutList,
    options: &Options,
    shop: &InForce,
    show: Show,
) -> Result<(), Failure> {
    let drawn = cut_pages::drawn(list, show);
    if drawn.is_empty() {
        return Err(Failure::NothingToDraw {
            path: list
                .models
                .first()
                .map_or_else(String::new, |m| m.source.path.clone()),
            what: "bar",
        });
    }
    let longest = drawn.iter().map(|bar| bar.length).fold(0.0, f64::max);
    let ending = path
        .extension()
        .map_or(String::new(), |e| e.to_string_lossy().to_lowercase());
    let bytes = match ending.as_str() {
        "svg" => {
            let (scene, size) = bars(&drawn, longest, SVG_WIDTH);
            let edge = 5.0;
            let window = (
                Place::new(-edge, -edge),
                Place::new(size.x + edge, size.y + edge),
            );
            svg(&scene, window, "Bars").into_bytes()
        }
        "pdf" => pages_of(list, options, shop.paper(options.paper)?, show),
        _ => {
            return Err(Failure::Ending {
                path: path.display().to_string(),
                endings: ".svg or .pdf",
            });
        }
    };
    let file = OutFile {
        path: path.to_owned(),
        bytes,
    };
    write_all(&[file], options.overwrite)
}

fn pages_of(list: &CutList, options: &Options, paper: Paper, show: Show) -> Vec<u8> {
    let name = |path: &PathBuf| {
        path.file_name()
            .map_or(String::new(), |n| n.to_string_lossy().into_owned())
    };
    let files: Vec<String> = options.models.iter().map(name).collect();
    let document = Document {
        paper,
        job: None,
        date: None,
        file: files.join(", "),
        unit: format!("Lengths in {}.", words::unit_name(show)),
        projection: None,
    };
    let section = cut_pages::bars_section(list, flow::width(&document), show);
    pdf(&pages(flow::leaves(section, &document), &document), "Bars")
}

/// The readings asked for of each model: marks carry the letter of their model where there are several.
fn own_readings(
    choices: &analysis::Choices,
    models: usize,
) -> Result<Vec<analysis::Choices>, Failure> {
    if models == 1 {
        return Ok(vec![choices.clone()]);
    }
    let letters: Vec<String> = (0..models).map(|k| letter(k) + "-").collect();
    let known = |mark: &str| letters.iter().any(|l| mark.starts_with(l.as_str()));
    if let Some((mark, _)) = choices.readings.iter().find(|(mark, _)| !known(mark)) {
        return Err(Refused::new(
            format!("--as {mark} does not say which model's part is meant."),
            format!(
                "Write it with the model's letter, as in {}{mark}.",
                letters[0]
            ),
        )
        .into());
    }
    let of = |letter: &String| analysis::Choices {
        neutral: choices.neutral.clone(),
        readings: choices
            .readings
            .iter()
            .filter_map(|(mark, what)| {
                Some((mark.strip_prefix(letter.as_str())?.to_owned(), *what))
            })
            .collect(),
    };
    Ok(letters.iter().map(of).collect())
}

fn quantities(options: &Options) -> Result<Vec<u32>, Failure> {
    let models = options.models.len();
    match options.qty.as_slice() {
        [] => Ok(vec![1; models]),
        [all] => Ok(vec![*all; models]),
        each if each.len() == models => Ok(each.to_vec()),
        each => Err(Refused::new(
            format!("--qty is given {} times for {models} models.", each.len()),
            "Give it once for all models, or once for each in their order.",
        )
        .into()),
    }
}

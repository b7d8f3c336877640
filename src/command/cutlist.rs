//! `cutlist MODEL…`: what to buy, how to cut it, what it weighs, how it ships.

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{OutFile, Overwrite, write_all};
use super::workpiece::{self, Form};
use super::{Answer, Failure, shop_file, terminal};
use crate::analysis::{self, Asked, Examined};
use crate::drawing::bars::{BarPiece, DrawnBar, bars};
use crate::drawing::leaf::{Document, pages};
use crate::drawing::paper::Paper;
use crate::drawing::pdf::pdf;
use crate::drawing::scene::Place;
use crate::drawing::svg::svg;
use crate::drawing::{flow, words};
use crate::measure::{STEEL_DENSITY, Show, Unit};
use crate::report::table::Look;
use crate::shop::cutlist::{BarLine, CutList, Model, Settings, StockLength, csv, cutlist, table};
use crate::shop::file::{self, ShopFile, Typed};
use crate::shop::roll::Waste;
use crate::shop::{Refused, json};
use crate::stock;

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

    /// Length of bars, as 6000, 20ft, or 2500x3 for three of them at hand; may be given more than once
    #[arg(long, value_name = "LENGTH")]
    stock: Vec<String>,

    /// Width of a saw cut
    #[arg(long, value_name = "LENGTH")]
    kerf: Option<String>,

    /// Cut off at each end of a bar before anything else
    #[arg(long, value_name = "LENGTH")]
    trim: Option<String>,

    /// Cut every mitre by itself, even where one cut would serve two neighbours
    #[arg(long)]
    no_shared_mitres: bool,

    /// Straight waste at each end of what is rolled
    #[arg(long, value_name = "LENGTH")]
    waste: Option<String>,

    /// Size of a sheet of plate, as 3000x1500
    #[arg(long, value_name = "LENGTHxWIDTH")]
    sheet: Option<String>,

    /// Longest piece that can be moved
    #[arg(long, value_name = "LENGTH")]
    max_length: Option<String>,

    /// Parts nearer than this are looked at as neighbours
    #[arg(long, value_name = "LENGTH")]
    reach: Option<String>,

    /// Shop file to use; without it soapstone.toml is looked for beside the first model and in the
    /// folders above
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,

    /// Metal, by its name in the table of densities: steel, stainless, aluminium, …
    #[arg(long, value_name = "NAME")]
    material: Option<String>,

    /// Draw the bars into this file: .svg, or .pdf in pages
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,

    /// Paper of the picture: A4, A3, letter or tabloid
    #[arg(long, value_name = "PAPER", default_value = "A4")]
    paper: Paper,

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
    let (path, file) = match shop_file::find(options.shop.as_deref(), first)? {
        Some((path, file)) => (Some(path), file),
        None => (None, ShopFile::default()),
    };
    let own_show = file.show.as_deref().and_then(|text| text.parse().ok());
    let show = options.show.or(own_show).unwrap_or(Show::Millimetre);
    let mut settings = settings(options, &file, show)?;
    if let Some(path) = path {
        settings
            .planned
            .insert(0, format!("Planned with the shop file {}.", path.display()));
    }
    let density = density(options.material.as_deref(), &file)?;
    let quantities = quantities(options)?;
    let examined = options
        .models
        .iter()
        .map(|path| examine(path, options.unit, density))
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
        picture(path, &list, options, show)?;
    }
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

/// Length of the bars on an SVG, mm.
const SVG_WIDTH: f64 = 270.0;

fn picture(path: &Path, list: &CutList, options: &Options, show: Show) -> Result<(), Failure> {
    let drawn: Vec<DrawnBar> = list
        .bars
        .iter()
        .zip(1..)
        .map(|(bar, n)| drawn(bar, n, show))
        .collect();
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
        "pdf" => pages_of(&drawn, longest, list, options, show),
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

fn pages_of(
    drawn: &[DrawnBar],
    longest: f64,
    list: &CutList,
    options: &Options,
    show: Show,
) -> Vec<u8> {
    let name = |path: &PathBuf| {
        path.file_name()
            .map_or(String::new(), |n| n.to_string_lossy().into_owned())
    };
    let files: Vec<String> = options.models.iter().map(name).collect();
    let document = Document {
        paper: options.paper,
        job: None,
        date: None,
        file: files.join(", "),
        unit: format!("Lengths in {}.", words::unit_name(show)),
        projection: None,
    };
    let width = flow::width(&document);
    let blocks = drawn
        .iter()
        .map(|bar| {
            let (scene, size) = bars(std::slice::from_ref(bar), longest, width);
            flow::Block::Picture {
                name: "Bars".to_owned(),
                scene,
                size,
            }
        })
        .collect();
    let section = flow::Section {
        mark: String::new(),
        heading: "Bars".to_owned(),
        under: format!(
            "Saw cut {}, end trim {}. Tinted: left over.",
            table::tidy(list.kerf, show),
            table::tidy(list.trim, show)
        ),
        blocks,
        cautions: vec![
            "Measure each bar before the first cut, and the blade's cut. Cut the first piece of a set over-long, fit it, then cut the rest.".to_owned(),
        ],
    };
    pdf(&pages(flow::leaves(section, &document), &document), "Bars")
}

fn drawn(bar: &BarLine, number: usize, show: Show) -> DrawnBar {
    let with_unit = |mm: f64| format!("{} {}", table::tidy(mm, show), show.length_symbol());
    DrawnBar {
        title: format!("{number}   {}", bar.stock),
        end: format!("{}, {} left", with_unit(bar.length), with_unit(bar.offcut)),
        length: bar.length,
        pieces: bar
            .pieces
            .iter()
            .map(|piece| BarPiece {
                mark: piece.mark.clone(),
                from: piece.at,
                to: piece.at + piece.length,
                lean: piece.lean,
                same_side: piece.same_side,
                shared: piece.shared_cut,
            })
            .collect(),
    }
}

fn examine(path: &Path, unit: Option<Unit>, density: f64) -> Result<Examined, Failure> {
    let asked = Asked {
        mm_per_unit: unit.map(Unit::millimetres),
        density,
    };
    let name = path.display().to_string();
    analysis::examine(&workpiece::bytes(path)?, &name, &asked)
        .map_err(|why| Failure::Read { path: name, why })
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

/// Density of the metal: by name, else as the shop file says, else steel.
fn density(name: Option<&str>, file: &ShopFile) -> Result<f64, Failure> {
    let own = file.material.name.as_deref();
    let name = match (name, file.material.density, own) {
        (Some(name), _, _) => name,
        (None, Some(density), _) => return Ok(density),
        (None, None, Some(name)) => name,
        (None, None, None) => return Ok(STEEL_DENSITY),
    };
    stock::density(name)
        .map(|d| d.density_kg_m3)
        .ok_or_else(|| {
            let names: Vec<&str> = stock::densities().iter().map(|d| d.name.as_str()).collect();
            Refused::new(
                format!("The table of densities has no \"{name}\"."),
                format!("Give one of {} with --material.", names.join(", ")),
            )
            .into()
        })
}

/// What is said on the command line, else in the shop file, else what is usual (no source), which the
/// answer says.
fn settings(options: &Options, file: &ShopFile, show: Show) -> Result<Settings, Failure> {
    let metric = show == Show::Millimetre;
    let length = |option, text: &Option<String>, key: &str, typed: Option<&Typed>| {
        match workpiece::maybe_length(option, text.as_ref(), show)? {
            Some(mm) => Ok(Some(mm)),
            None => typed
                .map(|t| file::length(key, t))
                .transpose()
                .map_err(Failure::from),
        }
    };
    let mut planned = Vec::new();
    let mut plan = |what: &str, usual: [&str; 2], option: &str| {
        planned.push(format!(
            "{what} {} planned with: say yours with --{option}, or once for all in a shop file (`soapstone shop-file`).",
            usual[usize::from(!metric)]
        ));
    };
    let stock = stock_lengths(options, file, show)?;
    let stock = match stock.iter().any(|s| s.size.is_none()) {
        true => stock,
        false => {
            plan("Bars of", ["6000 mm are", "20 ft are"], "stock");
            let usual = StockLength {
                length: if metric { 6000.0 } else { 6096.0 },
                count: None,
                size: None,
            };
            stock.into_iter().chain([usual]).collect()
        }
    };
    let kerf = match length("kerf", &options.kerf, "kerf", file.saw.kerf.as_ref())? {
        Some(kerf) => kerf,
        None => {
            plan("A saw cut of", ["3 mm is", "1/8 in is"], "kerf");
            if metric { 3.0 } else { 3.175 }
        }
    };
    let of_file =
        |key: &str, typed: &Option<Typed>| typed.as_ref().map(|t| file::length(key, t)).transpose();
    let in_file = (
        of_file("length", &file.sheets.length)?,
        of_file("width", &file.sheets.width)?,
    );
    let sheet = match (&options.sheet, in_file) {
        (Some(text), _) => sheet(text, show)?,
        (None, (Some(length), Some(width))) => [length, width],
        (None, _) => {
            plan(
                "Sheets of",
                ["3000 x 1500 mm are", "10 x 5 ft are"],
                "sheet",
            );
            if metric {
                [3000.0, 1500.0]
            } else {
                [3048.0, 1524.0]
            }
        }
    };
    let each = length("waste", &options.waste, "waste", file.rolls.waste.as_ref())?;
    let waste = match (each, of_file("spacing", &file.rolls.spacing)?) {
        (Some(each), _) => Waste::Each(each),
        (None, Some(spacing)) => Waste::Rolls {
            spacing,
            grip: of_file("grip", &file.rolls.grip)?.unwrap_or(0.0),
        },
        (None, None) => Waste::Unsaid,
    };
    let longest = file.transport.max_length.as_ref();
    Ok(Settings {
        stock,
        kerf,
        trim: length("trim", &options.trim, "trim", file.saw.trim.as_ref())?.unwrap_or(0.0),
        share_mitres: !options.no_shared_mitres && file.saw.share_mitres.unwrap_or(true),
        waste,
        sheet,
        max_length: length("max-length", &options.max_length, "max-length", longest)?,
        reach: length("reach", &options.reach, "reach", None)?.unwrap_or(REACH),
        prefer: file.standards.prefer.clone(),
        planned,
    })
}

/// Parts nearer than this are neighbours where nobody says, mm.
const REACH: f64 = 3.0;

/// Lengths of the command line, which stand for every size; else those of the shop file.
fn stock_lengths(
    options: &Options,
    file: &ShopFile,
    show: Show,
) -> Result<Vec<StockLength>, Failure> {
    if !options.stock.is_empty() {
        let given = options.stock.iter();
        return given
            .map(|text| stock_length("stock", text, None, show))
            .collect();
    }
    let mut out = Vec::new();
    let every = file.bars.lengths.iter().map(|typed| (typed, None));
    let own = file
        .bars
        .of
        .iter()
        .flat_map(|of| of.lengths.iter().map(move |l| (l, Some(&of.size))));
    for (typed, size) in every.chain(own) {
        let size = size.cloned();
        out.push(match typed {
            // lengths in the file are millimetres, whatever answers are shown in
            Typed::Text(text) => stock_length("lengths", text, size, Show::Millimetre)?,
            number => StockLength {
                length: file::length("lengths", number)?,
                count: None,
                size,
            },
        });
    }
    Ok(out)
}

/// `6000`, `20ft`, or `2500x3`: a length, and how many of it there are.
fn stock_length(
    option: &'static str,
    text: &str,
    size: Option<String>,
    show: Show,
) -> Result<StockLength, Failure> {
    let (text, count) = match text.rsplit_once(['x', '×', '*']) {
        Some((length, count)) => match count.trim().parse::<u32>() {
            Ok(count) => (length, Some(count)),
            Err(_) => {
                return Err(Refused::new(
                    format!("\"{text}\" is no length of bar with a count."),
                    "Write it as 6000, 20ft or, for three bars at hand, 2500x3.",
                )
                .into());
            }
        },
        None => (text, None),
    };
    Ok(StockLength {
        length: workpiece::length(option, text.trim(), show)?,
        count,
        size,
    })
}

fn sheet(text: &str, show: Show) -> Result<[f64; 2], Failure> {
    let Some((a, b)) = text.split_once(['x', '×', '*']) else {
        return Err(Refused::new(
            format!("\"{text}\" is no size of a sheet."),
            "Write length and width, as in --sheet 3000x1500 or --sheet 10ftx5ft.",
        )
        .into());
    };
    Ok([
        workpiece::length("sheet", a, show)?,
        workpiece::length("sheet", b, show)?,
    ])
}

//! `roll MODEL`: what to cut, mark and read while a part is rolled.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::shop_file::InForce;
use super::workpiece::{self, Form, Model, length, maybe_length};
use super::{Answer, Failure, input, terminal};
use crate::measure::Show;
use crate::report::ReportedPart;
use crate::report::table::Look;
use crate::shop::curved::{self, Side};
use crate::shop::roll::log::{read_log, with_progress};
use crate::shop::roll::{Asked, RollSheet, Waste, csv, roll, table};
use crate::shop::{Refused, json};

/// Say what to cut, mark and read while a part is rolled
///
/// Gives the blank with its waste, the marks on it, what a chord gauge reads on the way from straight
/// to done, the reading never to pass, and ordinates of a full-size template. Springback is not
/// predicted: read the piece when it is free.
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// The part to roll; needed where the model has several
    #[arg(long, value_name = "MARK")]
    part: Option<String>,

    /// Only this arc of the part, counted from end 0
    #[arg(long, value_name = "NUMBER")]
    arc: Option<u32>,

    /// Distance of your chord gauge's feet, as 300mm or 12in; may be given more than once
    #[arg(long, value_name = "LENGTH")]
    gauge: Vec<String>,

    /// Tolerance of the rise on the gauge
    #[arg(long, value_name = "LENGTH")]
    tol: Option<String>,

    /// Tolerance of the rise of the whole arc over its own chord, worked back to the gauge
    #[arg(long, value_name = "LENGTH", conflicts_with = "tol")]
    piece_tol: Option<String>,

    /// Error of one reading (95 in 100 lie within it); the reading never to pass keeps this far off
    #[arg(long, value_name = "LENGTH")]
    reading: Option<String>,

    /// Straight waste to add at each end of the blank
    #[arg(long, value_name = "LENGTH")]
    waste: Option<String>,

    /// Centre distance of the two outer rolls, from which the waste is reckoned
    #[arg(long, value_name = "LENGTH", conflicts_with = "waste")]
    roll_spacing: Option<String>,

    /// Length gripped beyond the outer rolls
    #[arg(long, value_name = "LENGTH", requires = "roll_spacing")]
    grip: Option<String>,

    /// Face the template is for
    #[arg(long, value_enum, default_value_t = Face::Outside)]
    on: Face,

    /// Chord of the template; the chord of the arc without it
    #[arg(long, value_name = "LENGTH")]
    template_chord: Option<String>,

    /// Distance of the ordinates along the chord; a round number without it
    #[arg(long, value_name = "LENGTH")]
    pitch: Option<String>,

    /// CSV of the passes so far: columns `reading` and `setting` (of the roll) or `pass`; says how
    /// much further to go
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,

    /// Unit of the answer: mm, in, or in/8, in/16, in/32, in/64 for fractions; mm without it. JSON is
    /// always in mm
    #[arg(long, value_name = "UNIT")]
    show: Option<Show>,

    /// Form of the answer
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// Columns of the table, 72 or more; the width of the terminal without it
    #[arg(long, value_name = "COLUMNS")]
    width: Option<usize>,
}

/// Face of a section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Face {
    /// The convex face
    Outside,
    /// The hollow face
    Inside,
    /// The middle of the section
    Centreline,
}

impl From<Face> for Side {
    fn from(face: Face) -> Side {
        match face {
            Face::Outside => Side::Outside,
            Face::Inside => Side::Inside,
            Face::Centreline => Side::Centreline,
        }
    }
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let show = shop.show(options.show);
    let asked = asked(options, &shop, show)?;
    let report = options.model.examine(&shop, show)?.report;
    let part = workpiece::part(&report, options.part.as_deref(), rollable, "rolled part")?;
    let sheet = logged(roll(&report, part, &asked)?, options, &asked)?;
    let unwritable = |why: String| Failure::Format(why);
    let text = match options.format {
        Form::Table => {
            let look = Look {
                show,
                width: options.width.unwrap_or_else(terminal::width),
                colour: terminal::colour(),
            };
            table::table(&report, &sheet, &look)
        }
        Form::Json => json(&sheet).map_err(|why| unwritable(why.to_string()))?,
        Form::Csv => csv::csv(&sheet, show).map_err(|why| unwritable(why.to_string()))?,
    };
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

fn rollable(part: &ReportedPart) -> bool {
    curved::curves(part).is_ok()
}

/// What is said on the command line, else in the shop file.
fn asked(options: &Options, shop: &InForce, show: Show) -> Result<Asked, Failure> {
    let waste = match (&options.waste, &options.roll_spacing) {
        (Some(each), _) => Waste::Each(length("waste", each, show)?),
        (None, Some(spacing)) => Waste::Rolls {
            spacing: length("roll-spacing", spacing, show)?,
            grip: maybe_length("grip", options.grip.as_ref(), show)?.unwrap_or(0.0),
        },
        (None, None) => shop.waste()?,
    };
    let given = options.gauge.iter().map(|text| length("gauge", text, show));
    let mut gauges: Vec<f64> = given.collect::<Result<_, _>>()?;
    if gauges.is_empty() {
        let own = shop.file.rolls.gauges.iter();
        let own = own.map(|typed| shop.length("[rolls] gauges", Some(typed)));
        gauges = own
            .filter_map(Result::transpose)
            .collect::<Result<_, _>>()?;
    }
    Ok(Asked {
        gauges,
        show,
        tolerance: positive("tol", options.tol.as_ref(), show)?,
        piece_tolerance: positive("piece-tol", options.piece_tol.as_ref(), show)?,
        reading: positive("reading", options.reading.as_ref(), show)?.unwrap_or(0.0),
        waste,
        template_side: options.on.into(),
        template_chord: maybe_length("template-chord", options.template_chord.as_ref(), show)?,
        pitch: maybe_length("pitch", options.pitch.as_ref(), show)?,
        arc: options.arc,
    })
}

fn positive(
    option: &'static str,
    text: Option<&String>,
    show: Show,
) -> Result<Option<f64>, Failure> {
    let length = maybe_length(option, text, show)?;
    match length {
        Some(mm) if mm < 0.0 => Err(Refused::new(
            format!("--{option} is less than nothing."),
            "Give it without a minus.",
        )
        .into()),
        other => Ok(other),
    }
}

fn logged(sheet: RollSheet, options: &Options, asked: &Asked) -> Result<RollSheet, Failure> {
    let Some(path) = &options.log else {
        return Ok(sheet);
    };
    let side = |why| Failure::Side {
        path: path.display().to_string(),
        why,
    };
    let (passes, by_setting) =
        read_log(&input::bytes(path, input::BESIDE)?, asked.show.bare_unit()).map_err(side)?;
    with_progress(sheet, &passes, by_setting, asked.reading).map_err(side)
}

//! `proof MODEL PROGRAM`: does this cutting program cut this plate?

use std::path::PathBuf;

use clap::Args;

use super::output::{OutFile, Overwrite, write_all};
use super::workpiece::{self, Form, Model, length, maybe_length};
use super::{Answer, Failure, input, terminal};
use crate::drawing::overlay::{Overlay, overlay};
use crate::drawing::svg::svg;
use crate::measure::{Show, Unit};
use crate::report::Report;
use crate::report::table::Look;
use crate::shop::check::Verdict;
use crate::shop::proof::{self, Asked, Saying, TOLERANCE, csv, sheet, table};
use crate::shop::{Refused, json};

/// Say whether a cutting program cuts a plate of the model
///
/// Follows a program in G-code (RS-274/NGC) or the lines of a DXF, and says which plate they cut, in
/// which hand and at which scale, with which kerf, which holes are missing, extra or of the wrong size, and
/// how far the cut departs from the plate. Exit code 0 for yes, 1 for no and for unclear. It changes no
/// program, and it does not replace a dry run.
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// The program: G-code or DXF
    program: PathBuf,

    /// The plate it should cut
    #[arg(long, value_name = "MARK")]
    part: Option<String>,

    /// Width of your kerf; worked out from the program without it
    #[arg(long, value_name = "LENGTH")]
    kerf: Option<String>,

    /// Departure from the plate's edge that is still good; 0.2 mm without it
    #[arg(long, value_name = "LENGTH")]
    tol: Option<String>,

    /// Length (x) and width (y) of the sheet, as 3000x1500 or 8ftx4ft
    #[arg(long, value_name = "SIZE")]
    sheet: Option<String>,

    /// Unit of a program that says none: mm, cm, m, in or ft
    #[arg(long, value_name = "UNIT")]
    program_unit: Option<Unit>,

    /// Layer of a DXF that is cut; may be given more than once. All but marks, bends and words without it
    #[arg(long, value_name = "NAME")]
    layer: Vec<String>,

    /// Number of an M word that switches the tool on; may be given more than once. 3 and 4 without it
    #[arg(long, value_name = "NUMBER")]
    on: Vec<u32>,

    /// Number of an M word that switches the tool off; 5 without it
    #[arg(long, value_name = "NUMBER")]
    off: Vec<u32>,

    /// Picture of the program over the plate to write: an .svg file
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,

    #[command(flatten)]
    overwrite: Overwrite,

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

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let show = shop.show(options.show);
    let asked = asked(options, show)?;
    let saying = Saying {
        unit: options.program_unit,
        layers: options.layer.clone(),
        on: options.on.clone(),
        off: options.off.clone(),
    };
    if let Some(path) = &options.output
        && !path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("svg"))
    {
        return Err(Failure::Ending {
            path: path.display().to_string(),
            endings: ".svg",
        });
    }
    let beside = |why| Failure::Side {
        path: options.program.display().to_string(),
        why,
    };
    let program =
        proof::read(&input::bytes(&options.program, input::BESIDE)?, &saying).map_err(beside)?;
    let report = options.model.examine(&shop, show)?.report;
    if let Some(mark) = &options.part {
        workpiece::part(&report, Some(mark), |_| true, "plate")?;
    }
    let answer = proof::prove(&report, &program, &saying, &asked)?;
    if let Some(path) = &options.output {
        let file = OutFile {
            path: path.clone(),
            bytes: picture(&answer, options, &report).into_bytes(),
        };
        write_all(&[file], options.overwrite)?;
    }
    let text = match options.format {
        Form::Table => {
            let look = Look {
                show,
                width: options.width.unwrap_or_else(terminal::width),
                colour: terminal::colour(),
            };
            table::table(&report, &answer, &name(options), &look)
        }
        Form::Json => json(&answer).map_err(|why| Failure::Format(why.to_string()))?,
        Form::Csv => csv::csv(&answer, show).map_err(|why| Failure::Format(why.to_string()))?,
    };
    terminal::write(text.as_bytes())?;
    Ok(match answer.verdict {
        Verdict::Yes => Answer::Done,
        Verdict::No | Verdict::Unclear => Answer::No,
    })
}

fn asked(options: &Options, show: Show) -> Result<Asked, Failure> {
    let kerf = maybe_length("kerf", options.kerf.as_ref(), show)?;
    if kerf.is_some_and(|kerf| !(kerf >= 0.0)) {
        return Err(Refused::new(
            "The kerf is less than nothing.",
            "Give its width, as in --kerf 1.5mm.",
        )
        .into());
    }
    let tolerance = match &options.tol {
        Some(text) => length("tol", text, show)?,
        None => TOLERANCE,
    };
    if !(tolerance > 0.0) {
        return Err(Refused::new(
            "The tolerance must be more than nothing.",
            "Give it as a length, as in --tol 0.5mm.",
        )
        .into());
    }
    let sheet = options.sheet.as_ref().map(|text| {
        sheet::parse(text, show).map_err(|why| Failure::Length {
            option: "sheet",
            why,
        })
    });
    Ok(Asked {
        part: options.part.clone(),
        kerf,
        tolerance,
        sheet: sheet.transpose()?,
        show,
    })
}

fn name(options: &Options) -> String {
    let path = &options.program;
    path.file_name()
        .map_or_else(
            || path.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        )
        .replace(char::is_control, " ")
}

fn picture(answer: &proof::Answer, options: &Options, report: &Report) -> String {
    let seen = &answer.seen;
    let verdict = match answer.verdict {
        Verdict::Yes => "yes",
        Verdict::No => "NO",
        Verdict::Unclear => "unclear",
    };
    let plate = answer.part.as_deref().unwrap_or("the plates of the model");
    let title = format!("{} over {plate}: {verdict}", name(options));
    let (scene, window) = overlay(&Overlay {
        plates: seen.plates.clone(),
        cuts: seen.cuts.clone(),
        open: seen.open.clone(),
        leads: seen.leads.clone(),
        rapids: seen.rapids.clone(),
        pierces: seen.pierces.clone(),
        spots: seen.spots.iter().map(|s| (s.at, s.words.clone())).collect(),
        title: title.clone(),
        lines: vec![
            format!(
                "Model: {}. {}",
                report.source.path, report.length_unit.reason
            ),
            "Drawn at 1:1 in the coordinates of the program. It does not replace a dry run.".into(),
        ],
    });
    svg(&scene, window, &title)
}

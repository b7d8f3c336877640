//! `check MODEL`: what was made against what was asked.

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::{OutFile, Overwrite, write_all};
use super::roll::Face;
use super::workpiece::{self, Form, Model, length, maybe_length};
use super::{Answer, Failure, input, terminal};
use crate::analysis;
use crate::body::Body;
use crate::drawing::coloured;
use crate::measure::{Show, Unit};
use crate::report::table::Look;
use crate::report::{Report, ReportedPart};
use crate::shop::check::{self, Tolerance, Verdict, measured, points, reading, scan, table};
use crate::shop::curved::curves;
use crate::shop::tolerance::Class;
use crate::shop::{Refused, json};

/// Compare what was made with what the model asks for
///
/// Answers yes, no or unclear (your readings can't tell), from a chord and a rise (--chord, --rise),
/// from points along the bend (--points), from sizes read by hand (--measured) or from a scan or another
/// export of the piece (--scan). Exit code 0 for yes, 1 for no and for unclear.
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// The part that was made; needed where the model has several
    #[arg(long, value_name = "MARK")]
    part: Option<String>,

    /// The arc that was read, counted from end 0; needed where the part has several
    #[arg(long, value_name = "NUMBER")]
    arc: Option<u32>,

    /// Distance of the gauge's feet or of the ends of the string, as 600mm or 24in
    #[arg(long, value_name = "LENGTH", requires = "rise")]
    chord: Option<String>,

    /// Rise read over that chord
    #[arg(long, value_name = "LENGTH", requires = "chord")]
    rise: Option<String>,

    /// Face that was read
    #[arg(long, value_enum, default_value_t = Face::Outside)]
    on: Face,

    /// Error of one reading: 95 in 100 lie within it
    #[arg(long, value_name = "LENGTH")]
    reading: Option<String>,

    /// Error of the chord, where it is not that of the rise (0 for a gauge of known length)
    #[arg(long, value_name = "LENGTH", requires = "chord")]
    chord_reading: Option<String>,

    /// How far off is still good: of the rise at this chord, of hand-read lengths, of a scanned surface
    #[arg(long, value_name = "LENGTH")]
    tol: Option<String>,

    /// The same by a standard: iso13920-a to -d, or iso2768-f, -m, -c, -v
    #[arg(long, value_name = "CLASS", conflicts_with = "tol")]
    class: Option<Class>,

    /// How many degrees off is still good, for hand-read angles
    #[arg(long, value_name = "DEGREES")]
    angle_tol: Option<f64>,

    /// CSV of points along the bend: columns x, y and perhaps z
    #[arg(long, value_name = "FILE", conflicts_with = "chord")]
    points: Option<PathBuf>,

    /// Unit of the points; that of --show without it
    #[arg(long, value_name = "UNIT", requires = "points")]
    points_unit: Option<Unit>,

    /// CSV of sizes read by hand, filled in from --template
    #[arg(long, value_name = "FILE", conflicts_with_all = ["chord", "points"])]
    measured: Option<PathBuf>,

    /// Scan or other mesh of the piece: STL, OBJ, PLY or 3MF
    #[arg(long, value_name = "FILE", conflicts_with_all = ["chord", "points", "measured"])]
    scan: Option<PathBuf>,

    /// Unit of the scan; what its file says, else what fits the model, without it
    #[arg(long, value_name = "UNIT", requires = "scan")]
    scan_unit: Option<Unit>,

    /// The scan shows all of the outside: what it doesn't show is missing metal
    #[arg(long, requires = "scan")]
    full: bool,

    /// Where to write a picture of the scan, coloured by its distances: .svg or .html
    #[arg(long, value_name = "FILE", requires = "scan")]
    picture: Option<PathBuf>,

    #[command(flatten)]
    overwrite: Overwrite,

    /// Print a CSV to fill in, and check nothing
    #[arg(long, conflicts_with_all = ["chord", "points", "measured", "scan"])]
    template: bool,

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
    let kinds = [
        options.chord.is_some(),
        options.points.is_some(),
        options.measured.is_some(),
        options.scan.is_some(),
        options.template,
    ];
    if !kinds.contains(&true) {
        return Err(Refused::new(
            "Nothing was said about what was made.",
            "Give --chord and --rise, --points FILE, --measured FILE or --scan FILE; --template prints a list to fill in.",
        )
        .into());
    }
    let shop = options.model.shop()?;
    let show = shop.show(options.show);
    let examined = options.model.examine(&shop, show)?;
    let report = &examined.report;
    let curved = options.chord.is_some() || options.points.is_some();
    let suits = |part: &ReportedPart| !curved || curves(part).is_ok();
    let what = if curved { "rolled part" } else { "part" };
    let part = workpiece::part(report, options.part.as_deref(), suits, what)?;
    if options.template {
        terminal::write(measured::template(part, show)?.as_bytes())?;
        return Ok(Answer::Done);
    }
    let answer = match &options.scan {
        Some(path) => scanned(options, show, path, &examined, part)?,
        None => answer(options, show, report, part)?,
    };
    let text = match options.format {
        Form::Table => {
            let look = Look {
                show,
                width: options.width.unwrap_or_else(terminal::width),
                colour: terminal::colour(),
            };
            table::table(report, &answer, &look)
        }
        Form::Json => json(&answer).map_err(|why| Failure::Format(why.to_string()))?,
        Form::Csv => {
            check::csv::csv(&answer, show).map_err(|why| Failure::Format(why.to_string()))?
        }
    };
    terminal::write(text.as_bytes())?;
    Ok(match answer.verdict {
        Verdict::Yes => Answer::Done,
        Verdict::No | Verdict::Unclear => Answer::No,
    })
}

fn answer(
    options: &Options,
    show: Show,
    report: &Report,
    part: &ReportedPart,
) -> Result<check::Answer, Failure> {
    let error = maybe_length("reading", options.reading.as_ref(), show)?;
    if let Some(path) = &options.measured {
        let asked = measured::Asked {
            tolerance: tolerance(options, show)?,
            angle_tolerance: options.angle_tol,
            error,
            show,
        };
        return measured::check(report, part, &input::bytes(path, input::BESIDE)?, &asked)
            .map_err(|why| beside(path, why));
    }
    let curve = check::curve(part, options.arc)?;
    let tolerance = tolerance(options, show)?.ok_or_else(|| {
        Refused::new(
            "No tolerance was given.",
            "Say how far off is still good with --tol, or name a class with --class.",
        )
    })?;
    if let Some(path) = &options.points {
        let unit = options.points_unit.unwrap_or(show.bare_unit());
        let asked = points::Asked {
            on: options.on.into(),
            error,
            tolerance,
            show,
        };
        return points::read_points(&input::bytes(path, input::BESIDE)?, unit)
            .and_then(|points| points::check(report, part, &curve, &points, &asked))
            .map_err(|why| beside(path, why));
    }
    let typed = |option, text: &Option<String>| {
        text.as_ref()
            .map_or(Ok(f64::NAN), |text| length(option, text, show))
    };
    let asked = reading::Asked {
        chord: typed("chord", &options.chord)?,
        rise: typed("rise", &options.rise)?,
        on: options.on.into(),
        rise_error: error,
        chord_error: maybe_length("chord-reading", options.chord_reading.as_ref(), show)?,
        tolerance,
        show,
    };
    Ok(reading::check(report, part, &curve, &asked)?)
}

/// A scan held against the part, and its picture written.
fn scanned(
    options: &Options,
    show: Show,
    path: &Path,
    examined: &analysis::Examined,
    part: &ReportedPart,
) -> Result<check::Answer, Failure> {
    let tolerance = tolerance(options, show)?.ok_or_else(|| {
        Refused::new(
            "No tolerance was given.",
            "Say how far off is still good with --tol, or name a class with --class.",
        )
    })?;
    let merged = |other: &ReportedPart| other.mark != part.mark && other.body == part.body;
    let body = examined
        .bodies
        .get(part.body as usize)
        .filter(|_| !examined.report.parts.iter().any(merged))
        .ok_or_else(|| {
            Refused::new(
                format!("{} is merged with other parts in one skin.", part.mark),
                "Export it as a body of its own to hold a scan against it.",
            )
        })?;
    let size = scan::largest_side(body);
    let name = path.display().to_string();
    let mut reason = String::new();
    let read = analysis::bodies(
        &input::bytes(path, input::MODEL)?,
        &name,
        |declared, side| {
            let (mm, why) = scan::unit(options.scan_unit, declared, side, size);
            reason = why;
            mm
        },
    )
    .map_err(|why| Failure::Read { path: name, why })?;
    let read = scan::Read {
        bodies: read.bodies,
        mm_per_file_unit: read.mm_per_file_unit,
        unit_reason: reason,
    };
    let asked = scan::Asked {
        tolerance,
        full: options.full,
        show,
        arc: options.arc,
    };
    let (answer, painted) = scan::check(&examined.report, part, body, &read, &asked)
        .map_err(|why| beside(path, why))?;
    if let Some(to) = &options.picture {
        let bytes = picture(to, &answer, &painted, body, show)?;
        let file = OutFile {
            path: to.clone(),
            bytes,
        };
        write_all(&[file], options.overwrite)?;
    }
    Ok(answer)
}

/// The coloured picture in the form its name's ending asks for.
fn picture(
    to: &Path,
    answer: &check::Answer,
    painted: &scan::Painted,
    body: &Body,
    show: Show,
) -> Result<Vec<u8>, Failure> {
    let write: fn(&coloured::Surface, &coloured::Sheet) -> String =
        match to.extension().and_then(|end| end.to_str()) {
            Some(end) if end.eq_ignore_ascii_case("svg") => coloured::svg,
            Some(end) if end.eq_ignore_ascii_case("html") => coloured::html,
            _ => {
                return Err(Failure::Ending {
                    path: to.display().to_string(),
                    endings: ".svg or .html",
                });
            }
        };
    let surface = coloured::Surface {
        facets: &painted.facets,
        values: &painted.values,
        model: body,
    };
    Ok(write(&surface, &sheet(answer, show)).into_bytes())
}

/// Words and scale of the picture.
fn sheet(answer: &check::Answer, show: Show) -> coloured::Sheet {
    let tolerance = answer.tolerance.unwrap_or(1.0);
    let spots = answer
        .scan
        .iter()
        .flat_map(|s| [&s.most_out, &s.most_in])
        .flatten();
    let largest = spots.clone().map(|s| s.off.value.abs()).fold(0.0, f64::max);
    // Bands end at a fifth, three fifths and the whole of the tolerance, and twice more beyond it.
    let wide = (largest / (5.0 * tolerance)).ceil().max(1.0);
    let factor = show.per_millimetre();
    let word = match answer.verdict {
        Verdict::Yes => "yes",
        Verdict::No => "no",
        Verdict::Unclear => "unclear",
    };
    let mut lines = vec![format!(
        "Answer: {word}. Tolerance {:.3} {}. Model: {}",
        tolerance * factor,
        show.length_symbol(),
        answer.origin.source.path
    )];
    lines.extend(answer.reasons.iter().take(4).flat_map(|r| broken(r, 150)));
    coloured::Sheet {
        title: format!("Checking {}  {}", answer.part, answer.what),
        lines,
        limit: 2.2 * tolerance * wide,
        unit: show.length_symbol().to_owned(),
        factor,
        marks: spots
            .map(|s| (s.at.into(), format!("{:+.2}", s.off.value * factor)))
            .collect(),
        foot: vec![
            "Thin lines: edges of the model. White: scanned, but nothing of this part. Darker: metal lies in or is missing; lighter: it stands out.".into(),
            "The answer speaks of the shape compared, not of strength, welds or anything the scan doesn't show.".into(),
        ],
    }
}

/// A sentence in lines of so many letters.
fn broken(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + word.chars().count() < most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn beside(path: &std::path::Path, why: Refused) -> Failure {
    Failure::Side {
        path: path.display().to_string(),
        why,
    }
}

fn tolerance(options: &Options, show: Show) -> Result<Option<Tolerance>, Failure> {
    match (&options.tol, options.class) {
        (Some(text), _) => {
            let mm = length("tol", text, show)?;
            Ok(Some(Tolerance::Given(mm)))
        }
        (None, Some(class)) => Ok(Some(Tolerance::Class(class))),
        (None, None) => Ok(None),
    }
}

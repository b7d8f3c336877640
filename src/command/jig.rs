//! `jig MODEL --part M1 -o X.dxf`: a flat check jig for a bent or rolled part.

use std::path::PathBuf;

use clap::Args;
use nalgebra::Vector2;

use super::model::Model;
use super::outline::Dxf;
use super::output::{OutFile, Overwrite, write_all};
use super::{Answer, Failure, terminal};
use crate::drawing::dxf::{Form, dxf};
use crate::drawing::jig::{Asked, Jig, Sheet, jig, looser_than_pocket};
use crate::drawing::svg::svg;
use crate::drawing::words::{self, counted};
use crate::measure::{LengthTextError, Show, Unit, parse_length};
use crate::report::ReportedPart;
use crate::shop::Refused;

/// Write a flat check jig for a part that bends in one plane: a pocket it drops into
///
/// For rolled and bent members, and for the edge of a plate rolled to a cylinder. Cut it from plate,
/// lay the piece in without force, scribe its ends along the marks. All lines are as they are to be
/// cut: kerf is not allowed for.
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// File to write: .dxf or .svg; a jig in several pieces gives one file a piece
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,

    /// Air between the piece and the pocket, on each side
    #[arg(long, value_name = "SIZE", default_value = "0.5mm")]
    clearance: String,

    /// Width of the metal around the pocket
    #[arg(long, value_name = "SIZE", default_value = "50mm")]
    width: String,

    /// How far the pocket goes on beyond the ends of the piece
    #[arg(long, value_name = "SIZE", default_value = "10mm")]
    beyond: String,

    /// Where the piece is joined, from end 0 along the centreline, to be marked; may be given more
    /// than once
    #[arg(long, value_name = "LENGTH")]
    joint: Vec<String>,

    /// Sheet it is cut from, as 1200x600 or 48x24in: the jig is split into pieces that fit
    #[arg(long, value_name = "SIZE")]
    sheet: Option<String>,

    /// Edition of the DXF files
    #[arg(long, value_enum, default_value_t = Dxf::Y2000)]
    dxf: Dxf,

    #[command(flatten)]
    overwrite: Overwrite,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let asked = asked(options, options.model.show(&shop))?;
    let ending = options
        .output
        .extension()
        .map_or(String::new(), |e| e.to_string_lossy().to_lowercase());
    if !matches!(ending.as_str(), "dxf" | "svg") {
        return Err(Failure::Ending {
            path: options.output.display().to_string(),
            endings: ".dxf or .svg",
        });
    }
    let report = options.model.choose(options.model.examine(&shop)?.report)?;
    let made: Vec<(&ReportedPart, Result<Jig, _>)> =
        report.parts.iter().map(|p| (p, jig(p, &asked))).collect();
    let found: Vec<(&ReportedPart, &Jig)> = made
        .iter()
        .filter_map(|(part, jig)| Some((*part, jig.as_ref().ok()?)))
        .collect();
    let (part, jig) = match (found.as_slice(), made.as_slice()) {
        ([one], _) => *one,
        ([], [(part, Err(why))]) => {
            return Err(Refused::new(
                format!("{} gets no jig: {why}.", part.mark),
                "`soapstone sheet` and `soapstone markout` have its numbers.",
            )
            .into());
        }
        ([], _) => {
            return Err(Failure::NothingToDraw {
                path: options.model.path(),
                what: "part that bends in one plane",
            });
        }
        (several, _) => {
            let marks: Vec<&str> = several.iter().map(|(p, _)| p.mark.as_str()).collect();
            return Err(Refused::new(
                format!(
                    "{} has more than one part to make a jig for.",
                    options.model.path()
                ),
                format!("Ask for one of {} with --part.", marks.join(", ")),
            )
            .into());
        }
    };
    let files: Vec<OutFile> = jig
        .sheets
        .iter()
        .zip(1..)
        .map(|(sheet, n)| OutFile {
            path: path(options, n, jig.sheets.len(), &ending),
            bytes: written(options, asked.show, sheet, &ending, &part.mark),
        })
        .collect();
    write_all(&files, options.overwrite)?;
    let names = files
        .iter()
        .zip(&jig.sheets)
        .map(|(file, sheet)| format!("{}: {}\n", file.path.display(), size(sheet, asked.show)));
    let text: String = names.collect::<String>() + &told(part, jig, &asked);
    terminal::write(text.as_bytes())?;
    Ok(Answer::Done)
}

fn asked(options: &Options, show: Show) -> Result<Asked, Failure> {
    let length = |text: &String| parse_length(text, show.bare_unit());
    let positive = |option: &'static str, text: &String, least: f64| {
        let mm = length(text).map_err(|why| Failure::Length { option, why })?;
        match mm >= least {
            true => Ok(mm),
            false => Err(Failure::from(Refused::new(
                format!("--{option} is too small."),
                format!("Give {} or more.", words::plain_length(least, show)),
            ))),
        }
    };
    let joints: Result<Vec<f64>, LengthTextError> = options.joint.iter().map(length).collect();
    Ok(Asked {
        clearance: positive("clearance", &options.clearance, 0.0)?,
        width: positive("width", &options.width, 5.0)?,
        beyond: positive("beyond", &options.beyond, 0.0)?,
        joints: joints.map_err(|why| Failure::Length {
            option: "joint",
            why,
        })?,
        sheet: options
            .sheet
            .as_ref()
            .map(|text| sheet_size(text, show.bare_unit()))
            .transpose()?,
        show,
    })
}

/// `1200x600`, `48x24in`: a unit after the second side is that of both.
fn sheet_size(text: &str, bare: Unit) -> Result<(f64, f64), Failure> {
    let refused = || {
        Failure::from(Refused::new(
            format!("--sheet: \"{text}\" is not the size of a sheet."),
            "Write both sides, as in 1200x600 or 48x24in.",
        ))
    };
    let (a, b) = text.split_once(['x', '×']).ok_or_else(refused)?;
    let has_unit = |side: &str| side.contains(|c: char| c.is_alphabetic() || c == '"' || c == '\'');
    let unit: String = b
        .chars()
        .skip_while(|c| !(c.is_alphabetic() || matches!(c, '"' | '\'')))
        .collect();
    let first = match has_unit(a) {
        true => a.to_owned(),
        false => format!("{a}{unit}"),
    };
    let read = |side: &str| parse_length(side, bare).ok().filter(|mm| *mm > 0.0);
    match (read(&first), read(b)) {
        (Some(a), Some(b)) => Ok((a.max(b), a.min(b))),
        _ => Err(refused()),
    }
}

fn path(options: &Options, n: usize, of: usize, ending: &str) -> PathBuf {
    if of == 1 {
        return options.output.clone();
    }
    let stem = options
        .output
        .file_stem()
        .map_or(String::new(), |s| s.to_string_lossy().into_owned());
    options
        .output
        .with_file_name(format!("{stem}-{n}.{ending}"))
}

fn written(options: &Options, show: Show, sheet: &Sheet, ending: &str, mark: &str) -> Vec<u8> {
    if ending == "dxf" {
        let form = Form {
            edition: options.dxf.into(),
            unit: show.bare_unit(),
        };
        return dxf(&sheet.scene, form).into_bytes();
    }
    let margin = Vector2::new(5.0, 5.0);
    let window = (sheet.extent.0 - margin, sheet.extent.1 + margin);
    svg(&sheet.scene, window, &format!("{mark} check jig")).into_bytes()
}

fn size(sheet: &Sheet, show: Show) -> String {
    let size = sheet.extent.1 - sheet.extent.0;
    format!(
        "{} x {} {}",
        words::plain_length(size.x, show),
        words::plain_length(size.y, show),
        show.length_symbol()
    )
}

/// What the jig checks, and how to see that it was cut right.
fn told(part: &ReportedPart, jig: &Jig, asked: &Asked) -> String {
    let show = asked.show;
    let way = &jig.way;
    let doubt = |q| format!("{} {}", words::length(q, show), words::plus_minus(q, show));
    let mut lines = vec![format!(
        "{}: pocket {} wide in {}, for chord {} and rise {} on the {}.",
        part.mark,
        words::plain_length(jig.pocket, show),
        counted(jig.sheets.len(), "piece"),
        doubt(way.chord),
        doubt(way.rise),
        way.line
    )];
    if let Some(mm) = jig.between_cuts {
        lines.push(format!(
            "Check the jig itself: {} from mark to mark of the first cuts, straight across, where they meet the outer edge of the pocket.",
            words::plain_length(mm, show)
        ));
    }
    if looser_than_pocket(way.rise, asked.clearance) {
        lines.push(format!(
            "The model holds the rise to {} only, more than the pocket's clearance of {}: the jig is finer than what it was made from.",
            words::plus_minus(way.rise, show),
            words::plain_length(asked.clearance, show)
        ));
    }
    lines.push(
        "Measure the stock first: outside sizes vary within the mill's tolerance. The piece must lie in by its own weight; clamped or forced metal checks nothing and springs out."
            .to_owned(),
    );
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::sheet_size;
    use crate::measure::Unit;

    #[test]
    fn sheets_are_read_with_and_without_units() {
        let read = |text| sheet_size(text, Unit::Millimetre).ok();
        assert_eq!(read("600x1200"), Some((1200.0, 600.0)));
        for text in ["48x24in", "4ftx24in"] {
            let (long, wide) = read(text).expect("a sheet");
            assert!((long - 1219.2).abs() < 1e-9 && (wide - 609.6).abs() < 1e-9);
        }
        assert_eq!(read("1200"), None);
        assert_eq!(read("0x600"), None);
    }
}

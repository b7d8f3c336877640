//! `outline MODEL -o DIR`: every plate for the cutting table.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::model::Model;
use super::output::{OutFile, Overwrite, file_name, write_into};
use super::{Answer, Failure, terminal};
use crate::drawing::dxf::{Edition, Form, dxf};
use crate::drawing::outline::cap::Fit;
use crate::drawing::outline::flat::Hand;
use crate::drawing::outline::pilot::Pilot;
use crate::drawing::outline::{Asked, Plan, cap_plans, plan};
use crate::drawing::svg::svg;
use crate::drawing::words;
use crate::finding::Finding;
use crate::measure::{Show, Unit, parse_length};
use crate::plate::Plate;
use crate::report::ReportedPart;

/// Write the outline of every different plate, flat or developed, as DXF and as SVG at 1:1
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// Folder the files go to; made when it isn't there
    #[arg(short, long, value_name = "DIR")]
    output: PathBuf,

    /// Edition of the DXF files
    #[arg(long, value_enum, default_value_t = Dxf::Y2000)]
    dxf: Dxf,

    /// Cut round holes under this diameter smaller, to be drilled to size (12mm, 1/2in)
    #[arg(long, value_name = "SIZE")]
    pilot: Option<String>,

    /// Diameter of these pilot holes; half that of the hole without it
    #[arg(long, value_name = "SIZE", requires = "pilot")]
    pilot_diameter: Option<String>,

    /// Also caps for open tube ends: laid on the cut, or let into the tube
    #[arg(long, value_enum, value_name = "WHERE")]
    caps: Option<Caps>,

    /// How much smaller than the tube a cap is all round; without it nothing outside, 0.5 mm inside
    #[arg(long, value_name = "SIZE", requires = "caps")]
    cap_gap: Option<String>,

    #[command(flatten)]
    overwrite: Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Caps {
    /// On the cut: the outside shape, less the gap in the plane of the cut
    Outside,
    /// In the tube: the inside shape, less the gap to the walls
    Inside,
}

/// Edition of the DXF files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Dxf {
    /// DXF R12: the oldest, for old controls
    #[value(name = "r12")]
    R12,
    /// DXF 2000: carries the unit of the file
    #[value(name = "2000")]
    Y2000,
}

impl From<Dxf> for Edition {
    fn from(dxf: Dxf) -> Edition {
        match dxf {
            Dxf::R12 => Edition::R12,
            Dxf::Y2000 => Edition::Y2000,
        }
    }
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let show = options.model.show(&shop);
    let report = options.model.choose(options.model.examine(&shop)?.report)?;
    let asked = Asked {
        show,
        pilot: pilot(options, show)?,
    };
    let mut files = Vec::new();
    let mut lines = Vec::new();
    for part in &report.parts {
        let Some(plate) = &part.plate else { continue };
        for hand in hands(part) {
            match plan(part, plate, hand, &asked, &report.findings) {
                Ok(plan) => {
                    let stem = stem(part, plate, hand, asked.show);
                    lines.push(told(&stem, &plan, asked.show));
                    files.extend(written(options, show, &stem, &plan));
                }
                Err(why) => lines.push(format!(
                    "{}: no outline, because {why}. `soapstone read` says more.",
                    part.mark
                )),
            }
        }
        lines.extend(noticed(part, &report.findings));
    }
    if let Some(fit) = caps(options, show)? {
        for part in &report.parts {
            let Some(member) = &part.member else { continue };
            let (named, reasons) = cap_plans(part, member, fit, asked.show);
            for cap in named {
                let stem = file_name(&format!("{}_cap_qty{}", cap.name, cap.pieces));
                lines.push(told(&stem, &cap.plan, asked.show));
                files.extend(written(options, show, &stem, &cap.plan));
            }
            lines.extend(reasons);
        }
    }
    if lines.is_empty() {
        return Err(Failure::NothingToDraw {
            path: options.model.path(),
            what: if options.caps.is_some() {
                "plate or open tube end"
            } else {
                "plate"
            },
        });
    }
    write_into(&options.output, &files, options.overwrite)?;
    terminal::write((lines.join("\n") + "\n").as_bytes())?;
    Ok(Answer::Done)
}

fn pilot(options: &Options, show: Show) -> Result<Option<Pilot>, Failure> {
    let diameter = length(show, &options.pilot_diameter)?;
    let under = length(show, &options.pilot)?;
    Ok(under.map(|under| Pilot { under, diameter }))
}

fn caps(options: &Options, show: Show) -> Result<Option<Fit>, Failure> {
    let gap = length(show, &options.cap_gap)?;
    Ok(options.caps.map(|caps| match caps {
        Caps::Outside => Fit::Outside(gap.unwrap_or(0.0)),
        Caps::Inside => Fit::Inside(gap.unwrap_or(0.5)),
    }))
}

/// A length of the command line, mm.
fn length(show: Show, text: &Option<String>) -> Result<Option<f64>, Failure> {
    let read = text
        .as_ref()
        .map(|text| parse_length(text, show.bare_unit()));
    Ok(read.transpose()?)
}

fn hands(part: &ReportedPart) -> Vec<Hand> {
    let mut hands = vec![Hand::AsModelled];
    if part.opposite_hand > 0 {
        hands.push(Hand::Opposite);
    }
    hands
}

/// `P1_10mm_qty4`: mark, thickness, pieces.
fn stem(part: &ReportedPart, plate: &Plate, hand: Hand, show: Show) -> String {
    let (opposite, pieces) = match hand {
        Hand::AsModelled => ("", part.quantity),
        Hand::Opposite => ("-opposite", part.opposite_hand),
    };
    let thickness = match plate.thickness {
        Some(q) => words::for_file_name(q.value, show.bare_unit()),
        None => "thickness-unknown".to_owned(),
    };
    file_name(&format!("{}{opposite}_{thickness}_qty{pieces}", part.mark))
}

fn written(options: &Options, show: Show, stem: &str, plan: &Plan) -> [OutFile; 2] {
    let form = Form {
        edition: options.dxf.into(),
        unit: show.bare_unit(),
    };
    let at = |ending: &str| options.output.join(format!("{stem}.{ending}"));
    [
        OutFile {
            path: at("dxf"),
            bytes: dxf(&plan.scene, form).into_bytes(),
        },
        OutFile {
            path: at("svg"),
            bytes: svg(&plan.scene, plan.window, stem).into_bytes(),
        },
    ]
}

/// What was noticed about a part, worst first.
fn noticed(part: &ReportedPart, findings: &[Finding]) -> Vec<String> {
    let own = findings
        .iter()
        .filter(|f| f.part.as_ref() == Some(&part.mark));
    own.map(|f| format!("{}: {} {}", part.mark, f.message, f.remedy))
        .collect()
}

/// What the cutter wants to know before opening the file.
fn told(stem: &str, plan: &Plan, show: Show) -> String {
    let unit = show.length_symbol();
    let square = match show.bare_unit() {
        Unit::Inch => 25.4 * 25.4,
        _ => 1.0,
    };
    format!(
        "{stem}.dxf and .svg: {} to cut, {} {unit} of cut, {:.2} {unit}² of plate",
        words::counted(plan.contours, "contour"),
        words::plain_length(plan.cut_length, show),
        plan.area / square,
    )
}

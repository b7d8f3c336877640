//! `lay MODEL -o DIR`: every different part as its own mesh on the table.

use std::path::PathBuf;

use clap::Args;
use stl_io::{Normal, Triangle, Vertex};

use super::model::Model;
use super::output::{OutFile, Overwrite, file_name, write_into};
use super::{Answer, Failure, terminal};
use crate::drawing::lay::{Laid, lay};
use crate::geometry::Pt3;
use crate::report::Report;

/// Write every different part as its own STL, levelled on the table
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    /// Folder the files go to; made when it isn't there
    #[arg(short, long, value_name = "DIR")]
    output: PathBuf,

    #[command(flatten)]
    overwrite: Overwrite,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let examined = options.model.examine(&shop)?;
    let report = options.model.choose(examined.report)?;
    let unit = options.model.show(&shop).bare_unit();
    let mut files = Vec::new();
    let mut lines = Vec::new();
    for part in &report.parts {
        if shares_its_body(&report, part.body) {
            lines.push(format!(
                "{}: not written, for it is joined with other parts in one mesh.",
                part.mark
            ));
            continue;
        }
        let Some(body) = examined.bodies.get(part.body as usize) else {
            continue;
        };
        let opposite = match part.opposite_hand {
            0 => String::new(),
            n => format!("+{n}opposite"),
        };
        let name = file_name(&format!(
            "{}_qty{}{opposite}_{}.stl",
            part.mark,
            part.quantity,
            unit.symbol()
        ));
        let laid = lay(part, body);
        lines.push(format!("{name}: {}", laid.how));
        files.push(OutFile {
            path: options.output.join(name),
            bytes: stl(&laid, unit.millimetres())?,
        });
    }
    if lines.is_empty() {
        return Err(Failure::NothingToDraw {
            path: options.model.path(),
            what: "part",
        });
    }
    write_into(&options.output, &files, options.overwrite)?;
    terminal::write((lines.join("\n") + "\n").as_bytes())?;
    Ok(Answer::Done)
}

fn shares_its_body(report: &Report, body: u32) -> bool {
    report.parts.iter().filter(|p| p.body == body).count() > 1
}

fn stl(laid: &Laid, mm_per_unit: f64) -> Result<Vec<u8>, Failure> {
    let vertex = |p: &Pt3| Vertex::new([p.x, p.y, p.z].map(|c| (c / mm_per_unit) as f32));
    let facets: Vec<Triangle> = laid
        .facets
        .iter()
        .map(|[a, b, c]| {
            let normal = (b - a).cross(&(c - a)).try_normalize(0.0);
            let n = normal.unwrap_or_default();
            Triangle {
                normal: Normal::new([n.x as f32, n.y as f32, n.z as f32]),
                vertices: [vertex(a), vertex(b), vertex(c)],
            }
        })
        .collect();
    let mut bytes = Vec::new();
    stl_io::write_stl(&mut bytes, facets.iter())?;
    Ok(bytes)
}

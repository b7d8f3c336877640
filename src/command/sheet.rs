//! `sheet MODEL -o X.pdf`: the dimension sheet.

use clap::{Args, ValueEnum};

use super::model::Model;
use super::paper::Printing;
use super::{Answer, Failure};
use crate::drawing::flow;
use crate::drawing::html;
use crate::drawing::leaf::Document;
use crate::drawing::projection::Projection;
use crate::drawing::sheet::{Asked, sections};

/// Print the dimension sheet: views with dimensions, parts list, every number to make each part
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    #[command(flatten)]
    printing: Printing,

    /// Where a view from above is placed
    #[arg(long, value_enum, default_value_t = Angle::Third)]
    projection: Angle,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Angle {
    /// Below the front view
    First,
    /// Above the front view
    Third,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let examined = options.model.examine()?;
    let whole = options.model.part.is_none();
    let report = options.model.choose(examined.report)?;
    if report.parts.is_empty() {
        return Err(Failure::NothingToDraw {
            path: options.model.path(),
            what: "part",
        });
    }
    let projection = match options.projection {
        Angle::First => Projection::First,
        Angle::Third => Projection::Third,
    };
    let document = Document {
        projection: Some(projection),
        ..options.printing.document(&options.model, &report)
    };
    let as_html = matches!(options.printing.ending().as_str(), "html" | "htm");
    let asked = Asked {
        show: options.model.show,
        projection,
        width: match as_html {
            true => html::WIDTH,
            false => flow::width(&document),
        },
    };
    let sections = sections(&report, &examined.bodies, whole, &asked);
    let title = format!("Dimension sheet of {}", options.model.name());
    if as_html {
        let text = html::html(&sections, &document, &title);
        options.printing.one(text.into_bytes())?;
        return Ok(Answer::Done);
    }
    let leaves = sections
        .into_iter()
        .flat_map(|section| flow::leaves(section, &document))
        .collect();
    options
        .printing
        .print(leaves, &document, &title, ".pdf, .svg or .html")?;
    Ok(Answer::Done)
}

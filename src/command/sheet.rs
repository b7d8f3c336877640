//! `sheet MODEL -o X.pdf`: the dimension sheet.

use clap::{Args, ValueEnum};

use super::model::Model;
use super::paper::Printing;
use super::planning::{Planning, settings};
use super::shop_file::InForce;
use super::{Answer, Failure, cut_pages};
use crate::analysis::Examined;
use crate::drawing::flow;
use crate::drawing::html;
use crate::drawing::leaf::Document;
use crate::drawing::projection::Projection;
use crate::drawing::sheet::{Asked, sections};
use crate::measure::Show;
use crate::shop::cutlist::{self, CutList, cutlist};

/// Print the dimension sheet: views with dimensions, parts list, cut list, every number to make each part
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    #[command(flatten)]
    printing: Printing,

    /// Where a view from above is placed: third angle without it
    #[arg(long, value_enum)]
    projection: Option<Angle>,

    #[command(flatten)]
    planning: Planning,

    /// How many of the model are made; the cut list counts them all
    #[arg(long, value_name = "NUMBER", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    qty: u32,

    /// Leave out the cut list
    #[arg(long)]
    no_cut_list: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Angle {
    /// Below the front view
    First,
    /// Above the front view
    Third,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let show = options.model.show(&shop);
    let examined = options.model.examine(&shop)?;
    let whole = options.model.part.is_none();
    let list = match whole && !options.no_cut_list {
        true => Some(cut_list(options, &shop, show, &examined)?),
        false => None,
    };
    let report = options.model.choose(examined.report)?;
    if report.parts.is_empty() {
        return Err(Failure::NothingToDraw {
            path: options.model.path(),
            what: "part",
        });
    }
    let by_file = shop.file.print.projection.as_deref() == Some("first");
    let projection = match (options.projection, by_file) {
        (Some(Angle::First), _) | (None, true) => Projection::First,
        (Some(Angle::Third), _) | (None, false) => Projection::Third,
    };
    let document = Document {
        projection: Some(projection),
        ..options.printing.document(&options.model, &report, &shop)?
    };
    let as_html = matches!(options.printing.ending().as_str(), "html" | "htm");
    let asked = Asked {
        show,
        projection,
        width: match as_html {
            true => html::WIDTH,
            false => flow::width(&document),
        },
    };
    let mut sections = sections(&report, &examined.bodies, whole, &asked);
    if let Some(list) = &list {
        // after the parts list and the set-out, before the parts one by one
        sections.splice(1..1, cut_pages::sections(list, asked.width, show));
    }
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

/// The same as `cutlist` says of this model.
fn cut_list(
    options: &Options,
    shop: &InForce,
    show: Show,
    examined: &Examined,
) -> Result<CutList, Failure> {
    let model = cutlist::Model {
        report: &examined.report,
        bodies: &examined.bodies,
        pieces: &examined.pieces,
        quantity: options.qty,
    };
    Ok(cutlist(
        &[model],
        &settings(&options.planning, shop, show)?,
    )?)
}

//! `markout MODEL -o X.pdf`: where to mark every member, and wraps at 1:1.

use clap::Args;

use super::model::Model;
use super::paper::Printing;
use super::{Answer, Failure, terminal};
use crate::drawing::flow;
use crate::drawing::markout::layout::layout;
use crate::drawing::markout::leaf::section;
use crate::drawing::markout::wrap::wraps;
use crate::measure::parse_length;

/// Print where to mark the cuts and holes of every member, with 1:1 wraps for ends not cut square
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    model: Model,

    #[command(flatten)]
    printing: Printing,

    /// Thickness of the paper the wraps are printed on
    #[arg(long, value_name = "SIZE", default_value = "0.1mm")]
    paper_thickness: String,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let shop = options.model.shop()?;
    let show = options.model.show(&shop);
    let thickness = parse_length(&options.paper_thickness, show.bare_unit())?;
    let report = options.model.choose(options.model.examine(&shop)?.report)?;
    let document = options.printing.document(&options.model, &report, &shop)?;
    let mut all = Vec::new();
    let mut left_out = Vec::new();
    for part in &report.parts {
        let Some(member) = &part.member else { continue };
        match layout(member) {
            Ok(layout) => {
                let section = section(part, member, &layout, flow::width(&document), show);
                all.extend(flow::leaves(section, &document));
                all.extend(wraps(
                    &part.mark, member, &layout, &document, show, thickness,
                ));
            }
            Err(why) => left_out.push(format!("{}: no mark-out, because {why}.\n", part.mark)),
        }
    }
    if all.is_empty() && left_out.is_empty() {
        return Err(Failure::NothingToDraw {
            path: options.model.path(),
            what: "member",
        });
    }
    if !all.is_empty() {
        let title = format!("Mark-out of {}", options.model.name());
        options
            .printing
            .print(all, &document, &title, ".pdf or .svg")?;
    }
    terminal::write(left_out.concat().as_bytes())?;
    Ok(Answer::Done)
}

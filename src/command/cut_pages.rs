//! The cut list and its bars as sections of something printed.

use crate::drawing::bars::{BarPiece, DrawnBar, bars};
use crate::drawing::flow::{Block, Section};
use crate::drawing::table::Table;
use crate::measure::Show;
use crate::shop::cutlist::said::{Said, said};
use crate::shop::cutlist::{BarLine, CutList, table};

/// The bars of a list, as drawn.
pub fn drawn(list: &CutList, show: Show) -> Vec<DrawnBar> {
    let numbered = list.bars.iter().zip(1..);
    numbered.map(|(bar, n)| one(bar, n, show)).collect()
}

fn one(bar: &BarLine, number: usize, show: Show) -> DrawnBar {
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

/// A picture of every bar, to one scale, `width` mm wide.
pub fn bars_section(list: &CutList, width: f64, show: Show) -> Section {
    let drawn = drawn(list, show);
    let longest = drawn.iter().map(|bar| bar.length).fold(0.0, f64::max);
    let picture = |bar| {
        let (scene, size) = bars(std::slice::from_ref(bar), longest, width);
        Block::Picture {
            name: bar.title.clone(),
            scene,
            size,
        }
    };
    Section {
        mark: String::new(),
        heading: "Bars".to_owned(),
        under: format!(
            "Saw cut {}, end trim {}. Tinted: left over.",
            table::tidy(list.kerf, show),
            table::tidy(list.trim, show)
        ),
        blocks: drawn.iter().map(picture).collect(),
        cautions: vec![
            "Measure each bar before the first cut, and the blade's cut. Cut the first piece of a set over-long, fit it, then cut the rest.".to_owned(),
        ],
    }
}

/// The cut list for a sheet: what the table on the terminal says, then the bars.
pub fn sections(list: &CutList, width: f64, show: Show) -> Vec<Section> {
    let block = |said| match said {
        Said::Heading(words) => Block::Heading(words),
        Said::Words(words) => Block::Words(words),
        Said::Table { heads, rows } => Block::Table(Table {
            headings: heads,
            rows,
        }),
    };
    let first = Section {
        mark: String::new(),
        heading: "Cut list".to_owned(),
        under: format!(
            "Lengths in {}, masses in {}. Saw cut {}, end trim {}",
            show.length_symbol(),
            show.mass_symbol(),
            table::tidy(list.kerf, show),
            table::tidy(list.trim, show)
        ),
        blocks: said(list, show).into_iter().map(block).collect(),
        cautions: vec![
            "Masses are those of the drawn metal, without welds, bolts and coating: weigh the finished piece and find its real centre of gravity with a trial lift before anyone stands near it.".to_owned(),
            "Which bolt goes through a hole is no statement of what it holds. Loads, welds, anchors and guards need a licensed engineer and the local rules.".to_owned(),
        ],
    };
    let mut sections = vec![first];
    if !list.bars.is_empty() {
        sections.push(bars_section(list, width, show));
    }
    sections
}

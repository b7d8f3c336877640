//! The list of parts.

use tabled::Table;
use tabled::builder::Builder;
use tabled::grid::util::string::get_text_width;
use tabled::settings::object::{Columns, Rows};
use tabled::settings::style::HorizontalLine;
use tabled::settings::{Alignment, Padding, Style};

use super::cell::NOT_KNOWN;
use super::page::{Emphasis, Page, printable, wrapped};
use crate::measure::{Quantity, Show, Written, quantity};
use crate::report::words::counted;
use crate::report::{Report, ReportedPart, what};

/// From this width on the list has room for ±, the size in a supplier's list and the file's name.
const ROOMY: usize = 110;

/// The column that gives way on a narrow page.
const WORDS: usize = 2;

const GAP: usize = 2;

pub(super) fn write(page: &mut Page, report: &Report, show: Show) {
    if report.parts.is_empty() {
        page.emphasised("No parts were found.", Emphasis::Bold);
        return;
    }
    let (rows, roomy) = rows(report, show, page.width);
    let mut table: Table = Builder::from_iter(rows).build();
    let rule = HorizontalLine::inherit(Style::empty().horizontal('-'));
    table.with(Style::empty().horizontals([(1, rule)]));
    table.modify(Rows::new(..), Padding::new(0, GAP, 0, 0));
    table.modify(Columns::last(), Padding::zero());
    let numbers = Columns::new(if roomy { 5.. } else { 3.. });
    table.modify(numbers, Alignment::right());
    for (number, line) in table.to_string().lines().enumerate() {
        let emphasis = if number == 0 {
            Emphasis::Bold
        } else {
            Emphasis::Plain
        };
        page.emphasised(line, emphasis);
    }
    page.blank();
    page.prose(&total(report, show), 0);
}

/// Head and rows, and whether they have the columns of a wide page.
fn rows(report: &Report, show: Show, width: usize) -> (Vec<Vec<String>>, bool) {
    let build = |roomy| {
        let mut rows = vec![heads(roomy, show)];
        rows.extend(report.parts.iter().map(|part| row(part, roomy, show)));
        let taken = give_way(&mut rows, width);
        (rows, taken)
    };
    match (width >= ROOMY).then(|| build(true)) {
        Some((rows, taken)) if taken <= width => (rows, true),
        _ => (build(false).0, false),
    }
}

/// Breaks the words of the third column so that the list fits a page of `width` if it can; returns
/// the width it takes.
fn give_way(rows: &mut [Vec<String>], width: usize) -> usize {
    let columns = rows.first().map_or(0, Vec::len);
    let others: usize = (0..columns)
        .filter(|&k| k != WORDS)
        .map(|k| widest(rows, k) + GAP)
        .sum();
    let room = width.saturating_sub(others);
    for words in rows.iter_mut().filter_map(|row| row.get_mut(WORDS)) {
        *words = wrapped(words, room).join("\n");
    }
    others + widest(rows, WORDS)
}

fn widest(rows: &[Vec<String>], column: usize) -> usize {
    let lines = rows
        .iter()
        .filter_map(|row| row.get(column))
        .flat_map(|text| text.lines());
    lines.map(get_text_width).max().unwrap_or(0)
}

fn heads(roomy: bool, show: Show) -> Vec<String> {
    let length = format!("Length {}", show.length_symbol());
    let each = format!("{} each", show.mass_symbol());
    let all = format!("{} all", show.mass_symbol());
    let heads: &[&str] = if roomy {
        &[
            "Mark",
            "Pieces",
            "What it is",
            "Listed size",
            "Name in file",
            &length,
            &each,
            &all,
        ]
    } else {
        &["Mark", "Pieces", "What it is", &length, &each]
    };
    heads.iter().map(|&head| head.to_owned()).collect()
}

fn row(part: &ReportedPart, roomy: bool, show: Show) -> Vec<String> {
    let mut row = vec![part.mark.clone(), pieces(part), what(part, show)];
    if roomy {
        row.push(listed(part));
        row.push(wrapped(&printable(part.name.as_deref().unwrap_or("")), 20).join("\n"));
    }
    row.push(length(part, roomy, show));
    row.push(number(part.mass.and_then(|kg| show.mass(kg)), roomy));
    if roomy {
        let all = part
            .mass
            .map(|kg| kg.scaled(f64::from(part.quantity + part.opposite_hand)));
        row.push(number(all.and_then(|kg| show.mass(kg)), false));
    }
    row
}

/// `4`, or `4 + 2 opp.` with pieces of the opposite hand.
fn pieces(part: &ReportedPart) -> String {
    match part.opposite_hand {
        0 => part.quantity.to_string(),
        mirrored => format!("{} + {mirrored} opp.", part.quantity),
    }
}

fn listed(part: &ReportedPart) -> String {
    match part.member.as_ref().and_then(|m| m.section.stock.as_ref()) {
        Some(stock) if stock.exact => stock.designation.clone(),
        Some(stock) => format!("near {}", stock.designation),
        None => String::new(),
    }
}

/// A member's length on its centreline, a plate's longer side on the flat.
fn length(part: &ReportedPart, with_plus_minus: bool, show: Show) -> String {
    let mm = match (&part.member, &part.plate) {
        (Some(member), _) => member.centreline.length,
        (None, Some(plate)) => plate.flat.length,
        (None, None) => None,
    };
    number(mm.and_then(|mm| show.length(mm)), with_plus_minus)
}

fn number(written: Option<Written>, with_plus_minus: bool) -> String {
    match written {
        Some(w) if with_plus_minus => format!("{} ±{}", w.value, w.plus_minus),
        Some(w) => w.value,
        None => NOT_KNOWN.to_owned(),
    }
}

fn total(report: &Report, show: Show) -> String {
    let copies = |part: &ReportedPart| part.quantity + part.opposite_hand;
    let total: u32 = report.parts.iter().map(copies).sum();
    let mut mass = quantity(0.0, 0.0);
    let mut unweighed = 0;
    for part in &report.parts {
        match part.mass {
            // Errors of one file go together, so ± adds up.
            Some(kg) => mass = add(mass, kg.scaled(f64::from(copies(part)))),
            None => unweighed += copies(part),
        }
    }
    let different = counted(report.parts.len(), "different part");
    let pieces = counted(total as usize, "piece");
    let weight = show.mass(mass).map_or_else(
        || NOT_KNOWN.to_owned(),
        |w| format!("{} {}", w.value, show.mass_symbol()),
    );
    match unweighed {
        all if all == total => format!("{different}, {pieces}, mass not known."),
        0 => format!("{different}, {pieces}, {weight} in all."),
        few => format!(
            "{different}, {pieces}, {weight} without the {few} {} whose mass is not known.",
            if few == 1 { "piece" } else { "pieces" }
        ),
    }
}

fn add(a: Quantity, b: Quantity) -> Quantity {
    quantity(a.value + b.value, a.plus_minus + b.plus_minus)
}

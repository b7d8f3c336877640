//! The cut list as text for a terminal or a sheet of paper.

use super::{CutList, Landing, StockLine};
use crate::finding::{Code, Severity};
use crate::measure::{Quantity, Show, quantity};
use crate::report::table::Look;
use crate::report::table::cell::{Cell, NOT_KNOWN};
use crate::report::table::grid::Grid;
use crate::report::table::page::Page;
use crate::shop::text::{NARROWEST, cell, notes, set};

/// The list as text, with a newline at the end. `all` adds the fits of every end and the box of every
/// piece.
pub fn table(list: &CutList, look: &Look, all: bool) -> String {
    let show = look.show;
    let mut page = Page::new(look.width.max(NARROWEST));
    heading(&mut page, list, show);
    set(&mut page, &[members(list, show)]);
    set(&mut page, &[buy(list, show)]);
    bounds(&mut page, list, show);
    set(&mut page, &[bars(list, show)]);
    set(&mut page, &[plates(list, show)]);
    set(&mut page, &[thicknesses(list, show)]);
    weights(&mut page, list, show);
    set(&mut page, &[joints(list, show)]);
    set(&mut page, &[bolts(list, show)]);
    set(&mut page, &[landings(list, show, all)]);
    shipping(&mut page, list, show, all);
    findings(&mut page, list);
    notes(&mut page, "Mind", &list.notes);
    page.into_text(look.colour)
}

fn heading(page: &mut Page, list: &CutList, show: Show) {
    for model in &list.models {
        let letter = model
            .letter
            .as_ref()
            .map_or_else(String::new, |l| format!("{l}: "));
        let times = match model.quantity {
            1 => String::new(),
            n => format!(", {n} times"),
        };
        let unit = format!("1 file unit = {} mm", model.length_unit.mm_per_file_unit);
        page.line(format!(
            "{letter}{}{times}  ({unit}, {})",
            model.source.path,
            basis(model)
        ));
    }
    page.prose(
        &format!(
            "Lengths in {}, masses in {}. The saw takes {}; {} is cut off at each end of a bar.",
            length_words(show),
            show.mass_symbol(),
            with_unit(list.kerf, show),
            with_unit(list.trim, show)
        ),
        0,
    );
}

/// A length without ± and without zeros at its end.
pub fn tidy(mm: f64, show: Show) -> String {
    let text = show.plain_length(mm);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A bought or drilled size without ±: no fraction where it is none.
fn bought(mm: f64, show: Show) -> String {
    let text = show
        .size(quantity(mm, 0.0))
        .map_or_else(|| NOT_KNOWN.to_owned(), |w| w.value);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// Sides of a box, never less than they are.
fn sides(size: &[f64; 3], show: Show) -> String {
    let up = |mm: f64| match show {
        Show::InchFraction(n) => {
            let parts = f64::from(n) / 25.4;
            (mm * parts - 0.01).ceil() / parts
        }
        _ => mm,
    };
    let sides: Vec<String> = size.iter().map(|s| tidy(up(*s), show)).collect();
    sides.join(" x ")
}

fn plain(mm: f64, show: Show) -> Cell {
    Cell::text(tidy(mm, show))
}

fn with_unit(mm: f64, show: Show) -> String {
    format!("{} {}", tidy(mm, show), show.length_symbol())
}

fn basis(model: &super::Listed) -> &'static str {
    use crate::report::UnitBasis;
    match model.length_unit.basis {
        UnitBasis::Stated => "stated",
        UnitBasis::Declared => "written in the file",
        UnitBasis::Inferred => "worked out from the sizes: check one",
        UnitBasis::Assumed => "assumed: check one size",
    }
}

fn length_words(show: Show) -> &'static str {
    match show {
        Show::Millimetre => "mm",
        Show::Inch | Show::InchFraction(_) => "in",
    }
}

fn known(q: Option<Quantity>, show: Show) -> Cell {
    q.map_or_else(|| Cell::text(NOT_KNOWN), |q| cell(q, show))
}

fn whole(mass: Option<Quantity>, show: Show) -> Cell {
    mass.map_or_else(
        || Cell::text(NOT_KNOWN),
        |kg| Cell::number(show.mass(kg), ""),
    )
}

fn pieces(count: u32, opposite: u32) -> String {
    match opposite {
        0 => count.to_string(),
        n => format!("{} + {n} opp.", count - n),
    }
}

pub(super) fn members(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Members to cut: blanks, long point to long point",
        &[
            "Mark",
            "Pieces",
            "Stock",
            "Blank",
            "waste in it",
            "saw at",
            "",
        ],
    );
    for line in &list.members {
        let angle = |a: Option<f64>| a.map_or_else(|| "0".to_owned(), |a| format!("{a:.1}"));
        let [a, b] = line.off_square;
        grid.rows.push(vec![
            Cell::text(&line.mark),
            Cell::text(pieces(line.count, line.opposite_hand)),
            Cell::text(&line.stock),
            known(line.length, show),
            match line.waste > 0.0 {
                true => plain(line.waste, show),
                false => Cell::Empty,
            },
            match (a, b) {
                (None, None) => Cell::Empty,
                _ => Cell::text(format!("{}° / {}°", angle(a), angle(b))),
            },
            Cell::Empty,
        ]);
    }
    grid
}

pub(super) fn buy(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Bars to buy",
        &["Stock", "bars", "pieces", "left over", "proof"],
    );
    for stock in &list.buy {
        let bars: Vec<String> = stock
            .bars
            .iter()
            .map(|(length, n)| {
                let own = |s: &&super::StockLength| (s.length - length).abs() < 0.1;
                let mut own = list.stock.iter().filter(own).peekable();
                let at_hand = own.peek().is_some() && own.all(|s| s.count.is_some());
                format!(
                    "{n} of {}{}",
                    tidy(*length, show),
                    if at_hand { " at hand" } else { "" }
                )
            })
            .collect();
        grid.rows.push(vec![
            Cell::text(&stock.stock),
            Cell::text(if bars.is_empty() {
                "none".to_owned()
            } else {
                bars.join(", ")
            }),
            Cell::text(stock.pieces.to_string()),
            Cell::text(format!("{:.1} %", stock.waste_percent)),
            Cell::text(proof(stock, show)),
        ]);
    }
    grid
}

fn proof(stock: &StockLine, show: Show) -> String {
    match (stock.without_bar.len(), stock.proven) {
        (0, true) => "no plan buys less".to_owned(),
        (0, false) => {
            let most = stock.length - stock.least_length;
            format!("at most {} could be saved", with_unit(most, show))
        }
        (n, _) => format!("{n} without a bar"),
    }
}

fn bounds(page: &mut Page, list: &CutList, show: Show) {
    if let Some(words) = bound_words(list, show) {
        page.blank();
        page.prose(&words, 0);
    }
}

/// How many bars there are in all, and how few there could be.
pub(super) fn bound_words(list: &CutList, show: Show) -> Option<String> {
    if list.buy.is_empty() {
        return None;
    }
    let bars: u32 = list.buy.iter().flat_map(|s| &s.bars).map(|b| b.1).sum();
    let length: f64 = list.buy.iter().map(|s| s.length).sum();
    let waste: f64 = list.bars.iter().map(|b| b.waste).sum();
    Some(format!(
        "{bars} bars in all, {} long together, {:.1} % of it not in a piece. No plan does with fewer than {} bars.",
        with_unit(length, show),
        if length > 0.0 {
            100.0 * waste / length
        } else {
            0.0
        },
        list.bars_lower_bound
    ))
}

pub(super) fn bars(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Bars, pieces in order; / is a mitre, // a mitre that one cut makes for both",
        &["Bar", "Stock", "Length", "Left", "Pieces"],
    );
    for (k, bar) in list.bars.iter().enumerate() {
        grid.rows.push(vec![
            Cell::text((k + 1).to_string()),
            Cell::text(&bar.stock),
            plain(bar.length, show),
            plain(bar.offcut, show),
            Cell::text(in_bar(bar).join("\n")),
        ]);
    }
    grid
}

/// Words of a bar: `3 x M1, M2 / M2`, alike neighbours counted where their ends are square.
fn in_bar(bar: &super::BarLine) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut k = 0;
    while k < bar.pieces.len() {
        let piece = &bar.pieces[k];
        let plain = |n: usize| bar.pieces[n].off_square == [0.0; 2];
        let mut n = k + 1;
        while plain(k) && n < bar.pieces.len() && plain(n) && bar.pieces[n].mark == piece.mark {
            n += 1;
        }
        let lead = match (piece.shared_cut, piece.off_square[0] > 0.0) {
            (true, _) => "// ",
            (false, true) => "/ ",
            (false, false) => "",
        };
        let times = if n - k > 1 {
            format!("{} x ", n - k)
        } else {
            String::new()
        };
        words.push(format!("{lead}{times}{}", piece.mark));
        k = n;
    }
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        match lines.last_mut() {
            Some(line) if line.len() + word.len() < 26 => {
                line.push_str(if word.starts_with('/') { " " } else { ", " });
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

pub(super) fn plates(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Plates to cut, flat",
        &[
            "Mark", "Pieces", "Thick", "Length", "Width", "burn", "pierces",
        ],
    );
    for plate in &list.plates {
        grid.rows.push(vec![
            Cell::text(&plate.mark),
            Cell::text(plate.count.to_string()),
            plate.thickness.map_or_else(
                || Cell::text(NOT_KNOWN),
                |t| crate::report::table::cell::size(t, show),
            ),
            known(plate.length, show),
            known(plate.width, show),
            known(plate.burn_length, show),
            Cell::text(plate.pierces.to_string()),
        ]);
    }
    grid
}

pub(super) fn thicknesses(list: &CutList, show: Show) -> Grid {
    let title = format!(
        "Plate by thickness; sheets of {} x {} {}, at least, by area alone",
        tidy(list.sheet[0], show),
        tidy(list.sheet[1], show),
        show.length_symbol()
    );
    let mut grid = Grid::with_heads(
        &title,
        &[
            "Thick", "Pieces", "Area", "Mass", "burn", "pierces", "sheets",
        ],
    );
    for line in &list.thicknesses {
        grid.rows.push(vec![
            line.thickness
                .map_or_else(|| Cell::text(NOT_KNOWN), |t| Cell::text(bought(t, show))),
            Cell::text(line.count.to_string()),
            line.area.map_or_else(
                || Cell::text(NOT_KNOWN),
                |a| crate::report::table::cell::area(a, show),
            ),
            whole(line.mass, show),
            known(line.burn_length, show),
            Cell::text(line.pierces.to_string()),
            Cell::text(
                line.least_sheets
                    .map_or_else(|| NOT_KNOWN.to_owned(), |n| n.to_string()),
            ),
        ]);
    }
    grid
}

/// Mass, centre of gravity, box and paint of each model.
pub(super) fn weight(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::list("Weight, metal only");
    for model in &list.models {
        let name = model
            .letter
            .as_ref()
            .map_or_else(String::new, |l| format!("{l}: "));
        let weight = &model.weight;
        grid.entry(
            &format!("{name}one, {}", show.mass_symbol()),
            whole(weight.mass, show),
        );
        if let (Some(c), Some(off)) = (weight.centre_of_gravity, weight.centre_plus_minus) {
            for (k, axis) in ["x", "y", "z"].iter().enumerate() {
                let from_low = quantity(c[k] - weight.low[k], off);
                grid.entry(
                    &format!("{name}centre of gravity from the low corner, {axis}"),
                    cell(from_low, show),
                );
            }
        } else {
            grid.entry(&format!("{name}centre of gravity"), Cell::text(NOT_KNOWN));
        }
        grid.entry(
            &format!("{name}box around it, x, y, z"),
            Cell::text(sides(&weight.size, show)),
        );
        if let Some(area) = weight.paint_area {
            grid.entry(
                &format!("{name}paint, tubes outside only"),
                crate::report::table::cell::area(area, show),
            );
        }
    }
    if list.models.iter().any(|m| m.quantity > 1) || list.models.len() > 1 {
        grid.entry(
            &format!("everything, {}", show.mass_symbol()),
            whole(list.mass, show),
        );
    }
    grid.entry(
        "at a density of",
        Cell::text(format!("{} kg/m³", list.density)),
    );
    grid
}

fn weights(page: &mut Page, list: &CutList, show: Show) {
    set(page, &[weight(list, show)]);
    page.prose(
        "The mass is that of the drawn metal, without welds, bolts and coating. Weigh the finished piece and find its real centre of gravity with a trial lift before anyone stands near it.",
        0,
    );
}

pub(super) fn joints(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Joints: holes that line up (what goes through, not what holds)",
        &[
            "Parts",
            "joints",
            "holes",
            "grip",
            "gap in it",
            "clear",
            "largest bolts",
        ],
    );
    for joint in &list.joints {
        let marks: Vec<&str> = joint.holes.iter().map(|h| h.mark.as_str()).collect();
        let mut sizes: Vec<String> = joint
            .holes
            .iter()
            .map(|h| {
                show.size(h.diameter)
                    .map_or_else(|| NOT_KNOWN.to_owned(), |w| w.value)
            })
            .collect();
        sizes.dedup();
        let bolts: Vec<String> = joint
            .bolts
            .iter()
            .map(|b| format!("{} ({})", b.thread, b.fit))
            .collect();
        grid.rows.push(vec![
            Cell::text(marks.join(" + ")),
            Cell::text(joint.count.to_string()),
            Cell::text(sizes.join(", ")),
            cell(joint.grip, show),
            match joint.gap > 0.05 {
                true => plain(joint.gap, show),
                false => Cell::Empty,
            },
            Cell::text(bought(joint.clear, show)),
            Cell::text(bolts.join(", ")),
        ]);
    }
    grid
}

/// The bolts of the joints: what to drill where a part is tapped instead, and nuts that couple them.
pub(super) fn bolts(list: &CutList, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "The same bolts tapped or coupled (coupling nuts: DIN 6334, ASME B18.2.2)",
        &["Bolt", "drill to tap", "coupling nut, across flats", "long"],
    );
    let mut known: Vec<&str> = Vec::new();
    for bolt in list.joints.iter().flat_map(|j| &j.bolts) {
        if known.contains(&bolt.thread.as_str()) {
            continue;
        }
        known.push(&bolt.thread);
        let nut = |k: usize| {
            bolt.coupling_nut
                .map_or_else(|| "none listed".to_owned(), |size| bought(size[k], show))
        };
        grid.rows.push(vec![
            Cell::text(&bolt.thread),
            Cell::text(bought(bolt.tap_drill, show)),
            Cell::text(nut(0)),
            Cell::text(nut(1)),
        ]);
    }
    grid
}

pub(super) fn landings(list: &CutList, show: Show, all: bool) -> Grid {
    let mut grid = Grid::with_heads(
        "What the cut ends land on; off: from the face of the cut to that part",
        &["End", "ends", "lands on", "off", ""],
    );
    for landing in list.landings.iter().filter(|l| all || l.on.is_some()) {
        grid.rows.push(vec![
            Cell::text(format!("{} end {}", landing.mark, landing.end)),
            Cell::text(landing.count.to_string()),
            Cell::text(
                landing
                    .on
                    .clone()
                    .unwrap_or_else(|| "nothing near".to_owned()),
            ),
            off(landing, show),
            match landing.covered < 0.95 && landing.on.is_some() {
                true => Cell::text(format!("{:.0} % of it", 100.0 * landing.covered)),
                false => Cell::Empty,
            },
        ]);
    }
    grid
}

fn off(landing: &Landing, show: Show) -> Cell {
    let Some([least, most]) = landing.off else {
        return Cell::Empty;
    };
    let doubt = landing.plus_minus.max(0.005);
    if least.abs() <= doubt + 0.05 && most.abs() <= doubt + 0.05 {
        return Cell::text("flush");
    }
    match most - least <= 0.05 {
        true => cell(quantity((least + most) / 2.0, doubt), show),
        false => Cell::text(format!("{} to {}", tidy(least, show), tidy(most, show))),
    }
}

fn shipping(page: &mut Page, list: &CutList, show: Show, all: bool) {
    for grid in shipped(list, show, all) {
        set(page, &[grid]);
    }
}

/// The pieces, and what is left in one with every bolted joint undone.
pub(super) fn shipped(list: &CutList, show: Show, all: bool) -> [Grid; 2] {
    let mut grid = Grid::with_heads(
        "Pieces as they ship: smallest box found",
        &["Mark", "Pieces", "box", "mass each", ""],
    );
    let sides = |size: &[f64; 3]| sides(size, show);
    for (k, piece) in list.pieces.iter().enumerate() {
        if !all && k > 0 && !piece.too_long {
            continue;
        }
        grid.rows.push(vec![
            Cell::text(&piece.mark),
            Cell::text(piece.count.to_string()),
            Cell::text(
                piece
                    .size
                    .as_ref()
                    .map_or_else(|| NOT_KNOWN.to_owned(), sides),
            ),
            whole(piece.mass, show),
            Cell::text(match (piece.too_long, k) {
                (true, _) => "too long",
                (false, 0) => "the longest",
                _ => "",
            }),
        ]);
    }
    let mut units = Grid::with_heads(
        "Bolted joints undone; parts that touch without a joint count as welded",
        &["Pieces together", "units", "box", "mass", ""],
    );
    for unit in list.units.iter().filter(|u| u.marks.len() > 1) {
        let mass = unit.mass.map(|kg| quantity(kg, 0.001 * kg));
        units.rows.push(vec![
            Cell::text(counted(&unit.marks).join("\n")),
            Cell::text(unit.count.to_string()),
            Cell::text(sides(&unit.size)),
            whole(mass, show),
            Cell::text(if unit.too_long { "too long" } else { "" }),
        ]);
    }
    [grid, units]
}

/// `2 x P1, M3`, in lines short enough for a narrow page.
fn counted(marks: &[String]) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in super::shipping::counted(marks) {
        match lines.last_mut() {
            Some(line) if line.len() + word.len() < 24 => {
                line.push_str(", ");
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// Findings that belong to the list, and what is worse than a note about the models.
fn findings(page: &mut Page, list: &CutList) {
    notes(page, "Look at", &to_look_at(list));
}

/// The same in sentences.
pub(super) fn to_look_at(list: &CutList) -> Vec<String> {
    let own = |code: Code| {
        matches!(
            code,
            Code::NoStock
                | Code::HolesOff
                | Code::PartsApart
                | Code::PartsOverlap
                | Code::OverLength
        )
    };
    list.findings
        .iter()
        .filter(|f| own(f.code) || f.severity > Severity::Note)
        .map(|f| {
            let part = match &f.part {
                Some(mark) if !f.message.contains(mark.as_str()) => format!("{mark}: "),
                _ => String::new(),
            };
            format!("{part}{} {}", f.message, f.remedy)
        })
        .collect()
}

//! The roll sheet as text for a terminal or a sheet of paper.

use super::{Progress, Reading, RollSheet};
use crate::measure::Show;
use crate::report::Report;
use crate::report::table::Look;
use crate::report::table::cell::Cell;
use crate::report::table::grid::Grid;
use crate::report::table::heading;
use crate::report::table::page::Page;
use crate::shop::curved::{Edge, Side};
use crate::shop::text::{NARROWEST, cell, exact, fine, notes, plain, set, warnings, with_unit};

/// The sheet as text, with a newline at the end; `report` is the one it was made from.
pub fn table(report: &Report, sheet: &RollSheet, look: &Look) -> String {
    let show = look.show;
    let mut page = Page::new(look.width.max(NARROWEST));
    heading::write(&mut page, report, show);
    page.heading(&format!("Rolling {}  {}", sheet.part, sheet.what));
    page.line(pieces(sheet));
    set(&mut page, &[blank(sheet, show), marks(sheet, show)]);
    for group in groups(&sheet.readings) {
        set(&mut page, &[stages(&group, show), limits(&group, show)]);
    }
    set(&mut page, &[whole(sheet, show)]);
    if let Some(progress) = &sheet.progress {
        write_progress(&mut page, progress, show);
    }
    ordinates(&mut page, sheet, show);
    notes(&mut page, "Mind", &sheet.notes);
    warnings(&mut page, &sheet.origin);
    page.into_text(look.colour)
}

fn pieces(sheet: &RollSheet) -> String {
    match (sheet.quantity, sheet.opposite_hand) {
        (1, 0) => "1 piece.".to_owned(),
        (same, 0) => format!("{same} pieces, all alike."),
        (same, other) => format!(
            "{same} of this hand, {other} of the opposite hand: the same blank and readings, rolled the other way about."
        ),
    }
}

fn blank(sheet: &RollSheet, show: Show) -> Grid {
    let mut grid = Grid::list("Blank");
    let made = &sheet.blank_made_of;
    grid.entry("cut to", cell(sheet.blank, show));
    grid.entry("developed length", cell(made.developed, show));
    if let Some(narrow) = made.narrow_edge {
        grid.entry("narrow edge", cell(narrow, show));
    }
    for end in [0, 1] {
        grid.entry(&format!("waste at end {end}"), plain(made.waste[end], show));
        if made.beyond_centreline[end] > 0.05 {
            grid.entry(
                "  long point in it",
                plain(made.beyond_centreline[end], show),
            );
        }
    }
    grid
}

fn marks(sheet: &RollSheet, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Marks on the blank, before rolling, from its end 0",
        &["At", "across", "Mark"],
    );
    for mark in &sheet.marks {
        grid.rows.push(vec![
            cell(mark.at, show),
            mark.across.map_or(Cell::Empty, |q| cell(q, show)),
            Cell::text(mark.what.clone()),
        ]);
    }
    grid
}

/// Readings of one arc, which share their stages.
fn groups(readings: &[Reading]) -> Vec<Vec<&Reading>> {
    let mut groups: Vec<Vec<&Reading>> = Vec::new();
    for reading in readings {
        match groups.last_mut() {
            Some(group) if group.first().is_some_and(|r| r.arc == reading.arc) => {
                group.push(reading);
            }
            _ => groups.push(vec![reading]),
        }
    }
    groups
}

fn side_word(side: Side) -> &'static str {
    match side {
        Side::Outside => "outside",
        Side::Inside => "inside",
        Side::Centreline => "centreline",
    }
}

fn arc_word(reading: &Reading) -> String {
    match reading.edge {
        Some(Edge::Wide) => "wide edge".to_owned(),
        Some(Edge::Narrow) => "narrow edge".to_owned(),
        None => format!("arc {}", reading.arc),
    }
}

fn column(reading: &Reading, show: Show) -> String {
    format!(
        "{} {}",
        show.plain_length(reading.chord),
        side_word(reading.on)
    )
}

fn stages(group: &[&Reading], show: Show) -> Grid {
    let mut grid = Grid {
        title: format!(
            "What the gauge reads, {} (gauge and face at the head)",
            group.first().map_or_else(String::new, |r| arc_word(r))
        ),
        heads: vec!["Bent so far".into(), "centreline R".into()],
        rows: Vec::new(),
    };
    grid.heads.extend(group.iter().map(|r| column(r, show)));
    let Some(first) = group.first() else {
        return grid;
    };
    for (row, stage) in first.stages.iter().enumerate() {
        let word = match stage.share {
            0.0 => "straight".to_owned(),
            1.0 => "target".to_owned(),
            share => format!("{:.0} %", share * 100.0),
        };
        let radius = stage
            .centreline_radius
            .map_or(Cell::text("-"), |radius| plain(radius, show));
        let mut cells = vec![Cell::text(word), radius];
        for reading in group {
            cells.push(match reading.stages.get(row) {
                Some(stage) if stage.share == 1.0 => cell(reading.rise, fine(show)),
                Some(stage) => plain(stage.rise, fine(show)),
                None => Cell::Empty,
            });
        }
        grid.rows.push(cells);
    }
    grid
}

fn limits(group: &[&Reading], show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Slow down, stop",
        &[
            "Gauge",
            "slow down at",
            "never pass",
            "tolerance",
            "1 mm of reading is, in R",
            "in rise of the whole arc",
        ],
    );
    if show != Show::Millimetre {
        grid.heads[4] = "0.01 in of reading is, in R".into();
    }
    let step = if show == Show::Millimetre {
        1.0
    } else {
        0.01 * 25.4
    };
    let fine = fine(show);
    for reading in group {
        grid.rows.push(vec![
            Cell::text(column(reading, show)),
            plain(reading.slow, fine),
            plain(reading.stop, fine),
            match reading.tolerance {
                0.0 => Cell::text("none given"),
                tolerance => plain(tolerance, fine),
            },
            plain(reading.radius_per_mm * step, fine),
            plain(reading.whole_rise_per_mm * step, fine),
        ]);
    }
    grid
}

fn whole(sheet: &RollSheet, show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "The whole arc, a string from end to end",
        &["Arc", "face", "chord", "rise"],
    );
    for whole in &sheet.whole {
        let arc = match whole.edge {
            Some(Edge::Wide) => "wide edge".to_owned(),
            Some(Edge::Narrow) => "narrow edge".to_owned(),
            None => whole.arc.to_string(),
        };
        grid.rows.push(vec![
            Cell::text(arc),
            Cell::text(side_word(whole.on)),
            cell(whole.chord, show),
            cell(whole.rise, show),
        ]);
    }
    grid
}

fn write_progress(page: &mut Page, progress: &Progress, show: Show) {
    let mut grid = Grid::list("What the log says");
    grid.entry(
        "passes, of them used",
        Cell::text(format!("{}, {}", progress.passes, progress.used)),
    );
    grid.entry("latest reading", plain(progress.latest, fine(show)));
    grid.entry("still to gain", plain(progress.to_gain, fine(show)));
    grid.entry(
        &format!("growth for 1 {}", progress.by),
        cell(progress.growth, fine(show)),
    );
    set(page, &[grid]);
    page.prose(&progress.words, 0);
}

fn ordinates(page: &mut Page, sheet: &RollSheet, show: Show) {
    let template = &sheet.template;
    let mut grid = Grid::with_heads(
        "",
        &[
            "x from the middle",
            "y above the chord",
            "below the crown tangent",
        ],
    );
    grid.title = format!(
        "Template for the {} of {}, R {}: chord {}, rise {}",
        side_word(template.on),
        match template.edge {
            Some(Edge::Wide) => "the wide edge".to_owned(),
            Some(Edge::Narrow) => "the narrow edge".to_owned(),
            None => format!("arc {}", template.arc),
        },
        show.plain_length(template.radius.value),
        with_unit(template.chord, show),
        with_unit(template.rise.value, show),
    );
    // Both halves are alike: one side is enough to mark from.
    for ordinate in sheet.ordinates.iter().filter(|o| o.x >= 0.0) {
        grid.rows.push(vec![
            cell(exact(ordinate.x), show),
            plain(ordinate.y, fine(show)),
            plain(ordinate.from_tangent, fine(show)),
        ]);
    }
    for row in &mut grid.rows {
        if let Some(Cell::Number(written, _)) = row.first() {
            row[0] = Cell::text(format!("± {}", written.value));
        }
    }
    set(page, &[grid]);
}

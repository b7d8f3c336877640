//! The answer as text for a terminal or a sheet of paper.

use super::{Answer, Evidence, Line, ScanFit, Verdict};
use crate::measure::Show;
use crate::report::Report;
use crate::report::table::Look;
use crate::report::table::cell::{Cell, angle};
use crate::report::table::grid::Grid;
use crate::report::table::heading;
use crate::report::table::page::{Emphasis, Page};
use crate::shop::text::{NARROWEST, cell, fine, notes, plain, set, warnings};

/// The answer as text, with a newline at the end; `report` is the one it was made from.
pub fn table(report: &Report, answer: &Answer, look: &Look) -> String {
    let show = look.show;
    let mut page = Page::new(look.width.max(NARROWEST));
    heading::write(&mut page, report, show);
    page.heading(&format!("Checking {}  {}", answer.part, answer.what));
    let (word, emphasis) = match answer.verdict {
        Verdict::Yes => ("YES: as asked, within the tolerance.", Emphasis::Bold),
        Verdict::No => ("NO: outside the tolerance.", Emphasis::Red),
        Verdict::Unclear => ("UNCLEAR: this can't be told.", Emphasis::Yellow),
    };
    page.emphasised(word, emphasis);
    set(&mut page, &[numbers(answer, show), evidence(answer, show)]);
    if let Some(scan) = &answer.scan {
        set(&mut page, &[sizes(scan, show), faces(scan, show)]);
    }
    set(&mut page, &[lines(&answer.lines, show)]);
    notes(&mut page, "Why, and how to go on", &answer.reasons);
    let mut mind = vec![
        "The answer speaks of the sizes compared, not of strength, welds or anything not read."
            .to_owned(),
    ];
    if matches!(answer.evidence, Evidence::Reading | Evidence::Points) {
        mind.push("Read the piece free of the rolls and not hanging: springback and its own weight change the rise.".into());
    }
    notes(&mut page, "Mind", &mind);
    warnings(&mut page, &answer.origin);
    page.into_text(look.colour)
}

fn numbers(answer: &Answer, show: Show) -> Grid {
    let mut grid = Grid::list("Made and asked");
    if answer.evidence == Evidence::Measured {
        return grid;
    }
    let fine = fine(show);
    if let Some(deviation) = answer.deviation {
        grid.entry("off by", cell(deviation, fine));
    }
    if let Some(tolerance) = answer.tolerance {
        grid.entry("tolerance", plain(tolerance, fine));
    }
    if let Some(radius) = answer.radius {
        grid.entry("centreline radius, made", cell(radius, show));
    }
    if let (None, Some([Some(low), high])) = (answer.radius, answer.radius_interval) {
        let upper = high.map_or_else(String::new, |high| {
            format!(", below {}", show.plain_length(high))
        });
        grid.entry(
            "centreline radius, made",
            Cell::text(format!("above {}{upper}", show.plain_length(low))),
        );
    }
    if let Some(asked) = answer.radius_asked {
        grid.entry("centreline radius, asked", cell(asked, show));
    }
    grid
}

fn evidence(answer: &Answer, show: Show) -> Grid {
    let fine = fine(show);
    let mut grid = Grid::list("Read");
    if let Some(reading) = &answer.reading {
        grid.entry("chord", plain(reading.chord, show));
        grid.entry(
            "rise",
            cell(
                crate::measure::quantity(reading.rise, reading.rise_error),
                fine,
            ),
        );
        grid.entry("rise asked at this chord", cell(reading.asked, fine));
    }
    if let Some(scan) = &answer.scan {
        grid.entry("facets of the scan", Cell::text(scan.facets.to_string()));
        grid.entry(
            "outside that it shows",
            Cell::text(format!("{:.0} %", 100.0 * scan.coverage)),
        );
        grid.entry("scatter of one point", plain(scan.noise, fine));
        grid.entry("root mean square distance", plain(scan.rms, fine));
        for (name, spot) in [
            ("metal out at most", &scan.most_out),
            ("metal in at most", &scan.most_in),
        ] {
            if let Some(spot) = spot {
                grid.entry(name, cell(spot.off, fine));
            }
        }
    }
    if let Some(points) = &answer.points {
        grid.entry("points", Cell::text(points.count.to_string()));
        grid.entry("chord they span", plain(points.chord, show));
        grid.entry("rise over it", cell(points.rise, fine));
        grid.entry("rise asked at this chord", cell(points.asked, fine));
        grid.entry("scatter about their circle", plain(points.scatter, fine));
        if let Some(off) = points.out_of_plane {
            grid.entry("out of one plane", plain(off, fine));
        }
    }
    grid
}

/// A length or an angle with its ±.
fn number(q: Option<crate::measure::Quantity>, degrees: bool, show: Show) -> Cell {
    match q {
        None => Cell::text("not shown"),
        Some(q) if degrees => angle(q, show),
        Some(q) => cell(q, show),
    }
}

fn sizes(scan: &ScanFit, show: Show) -> Grid {
    let fine = fine(show);
    let mut grid = Grid::with_heads("Sizes as made", &["Size", "asked", "made", "off by"]);
    for size in &scan.sizes {
        let degrees = size.unit == "deg";
        grid.rows.push(vec![
            Cell::text(size.what.clone()),
            number(Some(size.asked), degrees, fine),
            number(size.made, degrees, fine),
            number(size.off, degrees, fine),
        ]);
    }
    grid
}

fn faces(scan: &ScanFit, show: Show) -> Grid {
    let fine = fine(show);
    let mut grid = Grid::with_heads(
        "Faces, laid on the part as well as it goes (+ stands out, − lies in)",
        &["Face", "shown", "mean", "farthest"],
    );
    for face in &scan.faces {
        grid.rows.push(vec![
            Cell::text(face.face.clone()),
            Cell::text(format!("{:.0} %", 100.0 * face.shown)),
            number(face.mean, false, fine),
            number(face.largest, false, fine),
        ]);
    }
    grid
}

fn lines(lines: &[Line], show: Show) -> Grid {
    let fine = fine(show);
    let mut grid = Grid::with_heads(
        "Line by line",
        &["Size", "answer", "asked", "measured", "off by", "tolerance"],
    );
    for line in lines {
        let degrees = line.unit == "deg";
        let number = |q| {
            if degrees {
                angle(q, fine)
            } else {
                cell(q, fine)
            }
        };
        let tolerance = match line.tolerance {
            None => Cell::text("none"),
            Some(t) if degrees => Cell::text(format!("{t:.2}°")),
            Some(t) => plain(t, fine),
        };
        grid.rows.push(vec![
            Cell::text(line.what.clone()),
            Cell::text(match line.verdict {
                Verdict::Yes => "within",
                Verdict::No => "OUT",
                Verdict::Unclear => "unclear",
            }),
            number(line.asked),
            number(line.measured),
            number(line.deviation),
            tolerance,
        ]);
    }
    grid
}

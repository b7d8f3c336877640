//! Numbers of a plate.

use super::cell::{self, Cell, maybe};
use super::grid::Grid;
use super::panel::Setting;
use super::schedule;
use crate::finding::Code;
use crate::measure::Show;
use crate::plate::{Bend, Form, HoleKind, KFrom, Plate, PlateHole, Segment, Sense};
use crate::report::HoleSchedule;

/// Longer outlines are for the JSON and the cutting table, not for reading.
const SEGMENTS_SHOWN: usize = 40;

pub(super) fn grids(plate: &Plate, sizes: Option<&HoleSchedule>, setting: &Setting) -> Vec<Grid> {
    let mut grids = vec![
        flat(plate, setting),
        rolled(plate, setting),
        flanges(plate, setting.show),
        bends(&plate.bends, setting.show),
        holes(&plate.holes, setting.show),
    ];
    grids.extend(
        sizes
            .map(|s| schedule::grids(s, true, setting))
            .unwrap_or_default(),
    );
    grids.push(outline(&plate.outline, setting.show));
    grids
}

fn flat(plate: &Plate, setting: &Setting) -> Grid {
    let developable: &[Code] = &[Code::NotDevelopable];
    let flat = &plate.flat;
    let mut grid = Grid::list(match plate.form {
        Form::Flat => "Plate",
        _ => "Developed flat",
    });
    grid.entry("thickness", setting.known(plate.thickness, cell::size, &[]));
    grid.entry(
        "rectangle, length",
        setting.known(flat.length, cell::length, developable),
    );
    grid.entry(
        "rectangle, width",
        setting.known(flat.width, cell::length, developable),
    );
    grid.entry(
        "outer outline",
        setting.known(flat.perimeter, cell::length, developable),
    );
    grid.entry(
        "area, holes out",
        setting.known(flat.area, cell::area, developable),
    );
    if let Some(k) = flat.k_factor {
        let from = flat.k_from.map_or("", KFrom::words);
        grid.entry("K-factor used", Cell::text(format!("{k:.3} ({from})")));
    } else if !plate.bends.is_empty() {
        grid.entry("K-factor used", Cell::text("differs, see the bends"));
    }
    if let Some(departure) = flat.departure {
        grid.entry(
            "outline off the mesh",
            Cell::text(format!("{} at most", setting.show.rounded_up(departure))),
        );
    }
    grid
}

fn rolled(plate: &Plate, setting: &Setting) -> Grid {
    let mut grid = Grid::list("Rolled");
    let unclear: &[Code] = &[Code::ArcUnclear];
    match plate.form {
        Form::Cylinder => {
            grid.entry(
                "inside radius",
                setting.known(plate.inside_radius, cell::length, unclear),
            );
            grid.entry(
                "outside radius",
                setting.known(plate.outside_radius, cell::length, unclear),
            );
            grid.entry(
                "angle of the arc",
                setting.known(plate.arc_angle, cell::angle, unclear),
            );
        }
        Form::Cone => {
            grid.title = "Cone, on the mid-surface".to_owned();
            grid.entry(
                "half angle",
                setting.known(plate.half_angle, cell::angle, unclear),
            );
            grid.entry(
                "slant length",
                setting.known(plate.slant_length, cell::length, unclear),
            );
            grid.entry(
                "sector angle",
                setting.known(plate.sector_angle, cell::angle, unclear),
            );
            grid.entry(
                "sector inner radius",
                setting.known(plate.sector_inner_radius, cell::length, unclear),
            );
            grid.entry(
                "sector outer radius",
                setting.known(plate.sector_outer_radius, cell::length, unclear),
            );
        }
        Form::Flat | Form::Bent => {}
    }
    grid
}

fn flanges(plate: &Plate, show: Show) -> Grid {
    let mut grid = Grid::list("Flanges, to the outside mould line");
    for (number, flange) in plate.flanges.iter().enumerate() {
        grid.entry(
            &format!("flange {}", number + 1),
            cell::length(*flange, show),
        );
    }
    grid
}

fn bends(bends: &[Bend], show: Show) -> Grid {
    let mut grid = Grid::with_heads(
        "Bends",
        &[
            "Bend",
            "angle turned",
            "inside radius",
            "K-factor",
            "K from",
            "line on the flat, from x, y",
            "to x, y",
        ],
    );
    let place = |[x, y]: [f64; 2]| {
        Cell::text(format!(
            "{}, {}",
            show.plain_length(x),
            show.plain_length(y)
        ))
    };
    for (number, bend) in bends.iter().enumerate() {
        let sense = match bend.sense {
            Sense::Up => "up",
            Sense::Down => "down",
        };
        grid.rows.push(vec![
            Cell::text(format!("{} {sense}", number + 1)),
            cell::angle(bend.angle, show),
            cell::size(bend.inside_radius, show),
            Cell::text(format!("{:.3}", bend.k_factor)),
            Cell::text(bend.k_from.words()),
            place(bend.line[0]),
            place(bend.line[1]),
        ]);
    }
    grid
}

fn holes(holes: &[PlateHole], show: Show) -> Grid {
    let heads = [
        "Hole",
        "diameter",
        "x",
        "y",
        "slot length",
        "cut-out length",
        "cut-out width",
        "corner radius",
        "turned",
        "head diameter",
        "head angle",
        "depth",
        "made from",
        "from centroid",
    ];
    let mut grid = Grid::with_heads(
        "Holes (running dimensions from the rectangle's lower-left corner)",
        &heads,
    );
    for (number, hole) in holes.iter().enumerate() {
        grid.rows.push(vec![
            Cell::text(format!("{} {}", number + 1, kind_words(hole.kind))),
            maybe(hole.diameter, show, cell::size),
            maybe(hole.x, show, cell::length),
            maybe(hole.y, show, cell::length),
            maybe(
                hole.length.filter(|_| hole.width.is_none()),
                show,
                cell::size,
            ),
            maybe(
                hole.length.filter(|_| hole.width.is_some()),
                show,
                cell::length,
            ),
            maybe(hole.width, show, cell::length),
            maybe(hole.corner_radius, show, cell::size),
            // Also turns -0.0 into 0.0.
            hole.direction.map_or(Cell::Empty, |d| {
                Cell::text(format!("{:.1}°", (d * 10.0).round() / 10.0 + 0.0))
            }),
            maybe(hole.countersink_diameter, show, cell::size),
            maybe(hole.countersink_angle, show, cell::angle),
            maybe(hole.depth, show, cell::size),
            hole.made_from
                .map_or(Cell::Empty, |f| Cell::text(f.words())),
            maybe(hole.from_centroid, show, cell::length),
        ]);
    }
    grid
}

pub(super) fn kind_words(kind: HoleKind) -> &'static str {
    match kind {
        HoleKind::Round => "round",
        HoleKind::Slot => "slot",
        HoleKind::Countersunk => "countersunk",
        HoleKind::Counterbored => "counterbored",
        HoleKind::Blind => "blind",
        HoleKind::Cutout => "cut-out",
    }
}

fn outline(segments: &[Segment], show: Show) -> Grid {
    let heads = [
        "Segment",
        "length",
        "radius",
        "angle",
        "from x, y",
        "centre x, y",
    ];
    let mut grid = Grid::with_heads(
        "Outline, anticlockwise (each starts where the last ends)",
        &heads,
    );
    for (number, segment) in segments.iter().take(SEGMENTS_SHOWN).enumerate() {
        let place = |[x, y]: [f64; 2]| {
            Cell::text(format!(
                "{}, {}",
                show.plain_length(x),
                show.plain_length(y)
            ))
        };
        grid.rows.push(match segment {
            Segment::Line { length, start, .. } => vec![
                Cell::text(format!("{} line", number + 1)),
                cell::length(*length, show),
                Cell::Empty,
                Cell::Empty,
                place(*start),
                Cell::Empty,
            ],
            Segment::Arc {
                length,
                radius,
                angle,
                start,
                centre,
                ..
            } => vec![
                Cell::text(format!("{} arc", number + 1)),
                cell::length(*length, show),
                cell::length(*radius, show),
                cell::angle(*angle, show),
                place(*start),
                place(*centre),
            ],
        });
    }
    if let Some(more) = segments
        .len()
        .checked_sub(SEGMENTS_SHOWN)
        .filter(|&more| more > 0)
    {
        grid.title
            .push_str(&format!(" ({more} more segments in the JSON)"));
    }
    grid
}

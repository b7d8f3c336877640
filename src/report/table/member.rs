//! Numbers of a member.

use super::cell::{self, Cell, maybe};
use super::grid::Grid;
use super::panel::Setting;
use crate::finding::Code;
use crate::measure::{Quantity, Show};
use crate::member::{
    Centreline, Cut, End, EndShape, Hand, HoleKind, Member, MemberHole, Section, Shape, Span,
};

pub(super) fn grids(member: &Member, setting: &Setting) -> Vec<Grid> {
    let mut grids = vec![section(&member.section, setting)];
    match member.spans.as_slice() {
        [] | [Span::Straight { .. }] => grids.push(straight(member, setting)),
        [span] => {
            grids.push(one_span(span, setting));
            grids.push(centreline(&member.centreline, setting));
        }
        many => {
            grids.push(centreline(&member.centreline, setting));
            grids.push(spans(many, setting));
        }
    }
    if !member.ends.is_empty() {
        grids.push(ends(member, setting));
        grids.extend(copes(&member.ends, setting));
        let mut turned = Grid::list("Ends against each other");
        turned.entry(
            "cut at end 1 turned by",
            maybe(member.twist, setting.show, cell::angle),
        );
        grids.push(drop_empty(turned));
    }
    grids.push(holes(&member.holes, setting.show));
    grids
}

fn section(section: &Section, setting: &Setting) -> Grid {
    let hollow = matches!(section.shape, Shape::Round | Shape::Square | Shape::Rect);
    let walled = hollow || matches!(section.shape, Shape::Angle | Shape::Channel);
    let show = setting.show;
    let mut grid = Grid::list("Section");
    if matches!(section.shape, Shape::Round | Shape::RoundBar) {
        grid.entry(
            "outside diameter",
            setting.known(section.diameter, cell::size, &[]),
        );
    } else {
        grid.entry("width", setting.known(section.width, cell::size, &[]));
        grid.entry("height", setting.known(section.height, cell::size, &[]));
    }
    if walled {
        let label = if hollow { "wall" } else { "leg thickness" };
        grid.entry(
            label,
            setting.known(section.wall, cell::size, &[Code::WallNotVisible]),
        );
    }
    grid.entry(
        "outer corner radius",
        maybe(section.corner_radius, show, cell::size),
    );
    grid.entry(
        "inner corner radius",
        maybe(section.inner_corner_radius, show, cell::size),
    );
    grid.entry(
        "metal area",
        setting.known(section.area, cell::section_area, &[Code::WallNotVisible]),
    );
    if let Some(stock) = &section.stock {
        let label = if stock.exact {
            "listed as"
        } else {
            "nearest listed"
        };
        grid.entry(
            label,
            Cell::text(format!("{} ({})", stock.designation, stock.standard)),
        );
    }
    drop_empty(grid)
}

fn straight(member: &Member, setting: &Setting) -> Grid {
    let mut grid = Grid::list("Length");
    grid.entry(
        "on the centreline",
        setting.known(member.centreline.length, cell::length, &[]),
    );
    grid.entry(
        "longest edge",
        setting.known(member.longest_edge, cell::length, &[]),
    );
    grid.entry(
        "shortest edge",
        setting.known(member.shortest_edge, cell::length, &[]),
    );
    grid
}

fn centreline(centreline: &Centreline, setting: &Setting) -> Grid {
    let mut grid = Grid::list("Centreline");
    grid.entry(
        if centreline.closed {
            "once round"
        } else {
            "developed length"
        },
        setting.known(centreline.length, cell::length, &[Code::ArcUnclear]),
    );
    if !centreline.closed {
        grid.entry(
            "chord, end to end",
            setting.known(centreline.chord, cell::length, &[]),
        );
        grid.entry(
            "rise over the chord",
            maybe(centreline.rise, setting.show, cell::length),
        );
    }
    drop_empty(grid)
}

fn one_span(span: &Span, setting: &Setting) -> Grid {
    let unclear = &[Code::ArcUnclear];
    let show = setting.show;
    let mut grid = Grid::list("Curve");
    match span {
        Span::Straight { .. } => {}
        Span::Arc {
            radius,
            inside_radius,
            outside_radius,
            angle,
            ..
        } => {
            grid.title = "Arc".to_owned();
            grid.entry(
                "centreline radius",
                setting.known(*radius, cell::length, unclear),
            );
            grid.entry(
                "inside radius",
                setting.known(*inside_radius, cell::length, unclear),
            );
            grid.entry(
                "outside radius",
                setting.known(*outside_radius, cell::length, unclear),
            );
            grid.entry("angle turned", cell::angle(*angle, show));
        }
        Span::Helix {
            radius,
            pitch,
            turns,
            hand,
            ..
        } => {
            grid.title = "Coil".to_owned();
            grid.entry("centreline radius", cell::length(*radius, show));
            grid.entry("pitch", cell::length(*pitch, show));
            grid.entry("turns", cell::turns(*turns, show));
            grid.entry("hand", Cell::text(hand_words(*hand)));
        }
        Span::Free {
            radius_min,
            radius_max,
            ..
        } => {
            grid.title = "Free curve".to_owned();
            grid.entry(
                "tightest radius",
                setting.known(*radius_min, cell::length, unclear),
            );
            grid.entry(
                "widest radius",
                setting.known(*radius_max, cell::length, unclear),
            );
        }
    }
    grid
}

fn spans(spans: &[Span], setting: &Setting) -> Grid {
    let heads = [
        "Piece",
        "length",
        "radius",
        "angle",
        "bend plane turned",
        "inside radius",
        "outside radius",
    ];
    let mut grid = Grid::with_heads("Path from end 0, on the centreline", &heads);
    let unclear = &[Code::ArcUnclear];
    let show = setting.show;
    for (number, span) in spans.iter().enumerate() {
        let label = |kind: &str| Cell::text(format!("{} {kind}", number + 1));
        let mut row = match span {
            Span::Straight { length } => vec![label("straight"), cell::length(*length, show)],
            Span::Arc {
                length,
                radius,
                angle,
                inside_radius,
                outside_radius,
                rotation,
                ..
            } => vec![
                label("arc"),
                cell::length(*length, show),
                setting.known(*radius, cell::length, unclear),
                cell::angle(*angle, show),
                maybe(*rotation, show, cell::angle),
                setting.known(*inside_radius, cell::length, unclear),
                setting.known(*outside_radius, cell::length, unclear),
            ],
            Span::Helix {
                length,
                radius,
                pitch,
                hand,
                ..
            } => vec![
                label(&format!(
                    "coil, {}, pitch {}",
                    hand_words(*hand),
                    plain(*pitch, show)
                )),
                cell::length(*length, show),
                cell::length(*radius, show),
            ],
            Span::Free {
                length, radius_min, ..
            } => vec![
                label("free curve"),
                cell::length(*length, show),
                setting.known(*radius_min, cell::length, unclear),
            ],
        };
        row.resize(heads.len(), Cell::Empty);
        grid.rows.push(row);
    }
    grid
}

fn ends(member: &Member, setting: &Setting) -> Grid {
    let heads = ["Cut", "off square", "across width", "across height"];
    let mut grid = Grid::with_heads("Ends (0 is square)", &heads);
    for (number, end) in member.ends.iter().enumerate() {
        for (nth, cut) in end.cuts.iter().enumerate() {
            let which = if end.cuts.len() > 1 {
                format!(", cut {}", nth + 1)
            } else {
                String::new()
            };
            let square = if is_square(cut) { ", square" } else { "" };
            grid.rows.push(vec![
                Cell::text(format!("end {number}{which}{square}")),
                cell::angle(cut.off_square, setting.show),
                cell::angle(cut.tilt_width, setting.show),
                cell::angle(cut.tilt_height, setting.show),
            ]);
        }
        if end.cuts.is_empty() && end.saddle.is_none() {
            let words = match end.shape {
                EndShape::Other => "not a plane cut".to_owned(),
                _ => "cut".to_owned(),
            };
            let mut row = vec![Cell::text(format!("end {number}, {words}"))];
            row.push(setting.known(None, cell::angle, &[Code::EndAssumed]));
            row.resize(heads.len(), Cell::Empty);
            grid.rows.push(row);
        }
    }
    grid
}

/// True when nothing shows that the cut is off square.
fn is_square(cut: &Cut) -> bool {
    cut.off_square.value.abs() <= cut.off_square.plus_minus
}

fn copes(ends: &[End], setting: &Setting) -> Vec<Grid> {
    let coped = |(number, end): (usize, &End)| {
        let saddle = end.saddle.as_ref()?;
        let mut grid = Grid::list(&format!("End {number}: cope"));
        grid.entry(
            "fits a diameter of",
            cell::size(saddle.diameter, setting.show),
        );
        grid.entry(
            "angle between axes",
            cell::angle(saddle.angle, setting.show),
        );
        grid.entry("axes apart", cell::length(saddle.offset, setting.show));
        Some(grid)
    };
    ends.iter().enumerate().filter_map(coped).collect()
}

fn holes(holes: &[MemberHole], show: Show) -> Grid {
    let heads = [
        "Hole",
        "diameter",
        "slot length",
        "from end 0",
        "round from width",
        "walls",
        "from nearest edge",
    ];
    let mut grid = Grid::with_heads("Holes (stations on the centreline)", &heads);
    for (number, hole) in holes.iter().enumerate() {
        let kind = match hole.kind {
            HoleKind::Round => "round",
            HoleKind::Slot => "slot",
            HoleKind::Cutout => "cut-out",
        };
        grid.rows.push(vec![
            Cell::text(format!("{} {kind}", number + 1)),
            maybe(hole.diameter, show, cell::size),
            maybe(hole.length, show, cell::size),
            maybe(hole.station, show, cell::length),
            maybe(hole.around, show, cell::angle),
            Cell::text(hole.walls.to_string()),
            maybe(hole.from_nearest_end, show, cell::length),
        ]);
    }
    grid
}

fn hand_words(hand: Hand) -> &'static str {
    match hand {
        Hand::Left => "left-hand",
        Hand::Right => "right-hand",
    }
}

fn plain(q: Quantity, show: Show) -> String {
    show.length(q)
        .map_or_else(|| cell::NOT_KNOWN.to_owned(), |w| w.value)
}

fn drop_empty(mut grid: Grid) -> Grid {
    grid.rows.retain(|row| !row.iter().any(Cell::is_empty));
    grid
}

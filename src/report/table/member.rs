//! Numbers of a member.

use super::cell::{self, Cell, maybe};
use super::grid::Grid;
use super::panel::Setting;
use super::{ends, path};
use crate::finding::Code;
use crate::measure::Show;
use crate::member::{HoleKind, Member, MemberHole, Section, Shape, Span};

pub(super) fn grids(member: &Member, setting: &Setting) -> Vec<Grid> {
    let mut grids = vec![section(&member.section, setting)];
    match member.spans.as_slice() {
        [] | [Span::Straight { .. }] => grids.push(straight(member, setting)),
        _ => grids.extend(path::grids(member, setting)),
    }
    grids.extend(ends::grids(member, setting));
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
    if section.wall.is_none() && section.web_thickness.is_some() {
        grid.entry(
            "web thickness",
            setting.known(section.web_thickness, cell::size, &[]),
        );
        grid.entry(
            "flange thickness",
            setting.known(section.flange_thickness, cell::size, &[]),
        );
    } else if walled {
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
    grid
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

fn holes(holes: &[MemberHole], show: Show) -> Grid {
    let heads = [
        "Hole",
        "diameter",
        "slot length",
        "cut-out length",
        "cut-out width",
        "corner radius",
        "turned from the length",
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
            hole.direction.map_or(Cell::Empty, |d| {
                // Also turns -0.0 into 0.0.
                Cell::text(format!("{:.1}°", (d * 10.0).round() / 10.0 + 0.0))
            }),
            maybe(hole.station, show, cell::length),
            maybe(hole.around, show, cell::angle),
            Cell::text(hole.walls.to_string()),
            maybe(hole.from_nearest_end, show, cell::length),
        ]);
    }
    grid
}

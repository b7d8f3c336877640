//! Numbers of a plate: facts, holes from two edges, bends, outline.

use super::part::Facts;
use crate::drawing::flow::Block;
use crate::drawing::number::number;
use crate::drawing::table::Table;
use crate::drawing::words::{self, NOT_KNOWN};
use crate::measure::{Quantity, Show};
use crate::plate::{Form, HoleKind, Plate, PlateFace, PlateHole, Segment, Sense};
use crate::report::ReportedPart;

pub fn blocks(part: &ReportedPart, plate: &Plate, show: Show) -> Vec<Block> {
    let mut blocks = vec![Block::Table(facts(part, plate, show))];
    if !plate.bends.is_empty() {
        blocks.push(Block::Heading(
            "Bends, in order across the flat; lines from its lower-left corner".into(),
        ));
        blocks.push(Block::Table(bends(plate, show)));
    }
    if !plate.holes.is_empty() {
        blocks.push(Block::Heading(
            "Holes, from the lower-left corner of the flat".into(),
        ));
        blocks.push(Block::Table(holes(plate, show)));
    }
    if plate.outline.len() > 1 && !is_rectangle(&plate.outline) {
        blocks.push(Block::Heading(
            "Outline of the flat, anticlockwise, from the lower-left corner".into(),
        ));
        blocks.push(Block::Table(outline(plate, show)));
    }
    blocks
}

/// True where the two overall sizes say it all.
fn is_rectangle(outline: &[Segment]) -> bool {
    let square = |s: &Segment| match s {
        Segment::Line { start, end, .. } => {
            let (x, y) = ((end[0] - start[0]).abs(), (end[1] - start[1]).abs());
            x.min(y) < 0.005
        }
        Segment::Arc { .. } => false,
    };
    outline.len() == 4 && outline.iter().all(square)
}

fn facts(part: &ReportedPart, plate: &Plate, show: Show) -> Table {
    let mut facts = Facts::new(show);
    facts.length("thickness", plate.thickness);
    match plate.form {
        Form::Flat => {}
        Form::Cylinder => {
            facts.length("rolled to inside radius", plate.inside_radius);
            facts.length("outside radius", plate.outside_radius);
            if let Some(angle) = plate.arc_angle {
                facts.angle("angle of the arc", angle);
            }
        }
        Form::Cone => {
            if let Some(angle) = plate.half_angle {
                facts.angle("half angle of the cone", angle);
            }
            facts.length("slant length", plate.slant_length);
            facts.length("inner radius of the flat sector", plate.sector_inner_radius);
            facts.length("outer radius of the flat sector", plate.sector_outer_radius);
            if let Some(angle) = plate.sector_angle {
                facts.angle("angle of the flat sector", angle);
            }
        }
        Form::Bent => {
            for (k, flange) in plate.flanges.iter().enumerate() {
                facts.length(
                    &format!("flange {} to the outside mould line", k + 1),
                    Some(*flange),
                );
            }
        }
    }
    if plate.form != Form::Flat
        && let Some(k) = plate.flat.k_factor
    {
        facts.say("neutral line from the inside, thicknesses", number(k, 3));
    }
    facts.length("outer contour of the flat, all round", plate.flat.perimeter);
    facts.weight(part);
    facts.table()
}

fn maybe(q: Option<Quantity>, show: Show) -> String {
    q.map_or(NOT_KNOWN.to_owned(), |q| words::tape_of(q, show))
}

fn bends(plate: &Plate, show: Show) -> Table {
    let at = |p: [f64; 2]| {
        let [x, y] = p.map(|v| words::tape(v, show));
        format!("{x}, {y}")
    };
    let rows = plate.bends.iter().enumerate().map(|(k, bend)| {
        vec![
            (k + 1).to_string(),
            match bend.sense {
                Sense::Up => "up".to_owned(),
                Sense::Down => "down".to_owned(),
            },
            words::angle(bend.angle),
            words::tape_of(bend.inside_radius, show),
            number(bend.k_factor, 3),
            at(bend.line[0]),
            at(bend.line[1]),
        ]
    });
    Table {
        headings: [
            "bend ",
            "way ",
            "angle turned",
            "inside radius",
            "K",
            "line on the flat from x, y",
            "to x, y",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

fn holes(plate: &Plate, show: Show) -> Table {
    let rows = plate.holes.iter().enumerate().map(|(k, hole)| {
        vec![
            (k + 1).to_string(),
            size(hole, show),
            maybe(hole.x, show),
            maybe(hole.y, show),
            maybe(hole.from_centroid, show),
        ]
    });
    Table {
        headings: [
            "hole ",
            "size ",
            "along the length",
            "along the width",
            "from the centroid",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

fn size(hole: &PlateHole, show: Show) -> String {
    let of = |q: Option<Quantity>| q.map_or(NOT_KNOWN.to_owned(), |q| words::size(q, show));
    let d = of(hole.diameter);
    let depth = hole.depth.map_or(String::new(), |q| {
        format!(", {} deep", words::size(q, show))
    });
    let turned = hole.direction.filter(|a| a.abs() > 0.05);
    let turn = || {
        turned.map_or(String::new(), |a| {
            format!(", at {}", words::angle(Quantity::new(a, 0.05)))
        })
    };
    let shape = || words::cutout(hole.length, hole.width, hole.corner_radius, show) + &turn();
    let back = match hole.made_from {
        Some(PlateFace::Back) => ", from the back",
        _ => "",
    };
    let size = match hole.kind {
        HoleKind::Round => format!("⌀{d}"),
        HoleKind::Slot => {
            let turn = hole.direction.map_or(String::new(), |a| {
                format!(" at {}", words::angle(Quantity::new(a, 0.05)))
            });
            format!("slot {d} x {}{turn}", of(hole.length))
        }
        HoleKind::Countersunk => {
            let angle = hole
                .countersink_angle
                .map_or(String::new(), |a| format!(", {}", words::angle(a)));
            format!("⌀{d} countersunk ⌀{}{angle}", of(hole.countersink_diameter))
        }
        HoleKind::Counterbored => {
            format!(
                "⌀{d} counterbored ⌀{}{depth}",
                of(hole.countersink_diameter)
            )
        }
        HoleKind::Blind if hole.width.is_some() => format!("blind {}{depth}", shape()),
        HoleKind::Blind => format!("⌀{d} blind{depth}"),
        HoleKind::Cutout => shape(),
    };
    size + back
}

fn outline(plate: &Plate, show: Show) -> Table {
    let at = |p: &[f64; 2]| p.map(|v| words::tape(v, show));
    let rows = plate.outline.iter().enumerate().map(|(k, segment)| {
        let n = (k + 1).to_string();
        match segment {
            Segment::Line { length, start, .. } => {
                let [x, y] = at(start);
                vec![
                    n,
                    "line".into(),
                    x,
                    y,
                    format!("({})", words::tape_of(*length, show)),
                    String::new(),
                    String::new(),
                ]
            }
            Segment::Arc {
                length,
                radius,
                angle,
                start,
                ..
            } => {
                let [x, y] = at(start);
                let kind = if angle.value < 0.0 {
                    "arc, hollow"
                } else {
                    "arc"
                };
                vec![
                    n,
                    kind.into(),
                    x,
                    y,
                    format!("({})", words::tape_of(*length, show)),
                    words::tape_of(*radius, show),
                    format!(
                        "({})",
                        words::angle(Quantity::new(angle.value.abs(), angle.plus_minus))
                    ),
                ]
            }
        }
    });
    Table {
        headings: [
            "piece ", "kind ", "from x", "from y", "(length)", "radius", "(angle)",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

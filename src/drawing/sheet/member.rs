//! Numbers of a member: facts, bends, ends, holes.

use super::part::Facts;
use super::views::is_straight;
use super::{Asked, ends};
use crate::drawing::flow::Block;
use crate::drawing::markout::layout::layout;
use crate::drawing::table::Table;
use crate::drawing::words::{self, NOT_KNOWN, counted};
use crate::measure::{Quantity, Show};
use crate::member::{Hand, HoleKind, Member, Shape, Span};
use crate::report::ReportedPart;

pub fn blocks(part: &ReportedPart, member: &Member, asked: &Asked) -> Vec<Block> {
    let show = asked.show;
    let mut blocks = vec![Block::Table(facts(part, member, show))];
    if !matches!(
        member.spans.as_slice(),
        [] | [Span::Straight { .. } | Span::Arc { .. }]
    ) {
        blocks.push(Block::Heading(
            "Bends, from end 0, on the centreline".into(),
        ));
        blocks.push(Block::Table(bends(member, show)));
    }
    if let Some(found) = ends::blocks(member, asked) {
        blocks.push(Block::Heading("Ends".into()));
        blocks.extend(found);
    }
    if !member.holes.is_empty() {
        blocks.push(Block::Heading("Holes, from end 0".into()));
        blocks.push(Block::Table(holes(member, show)));
    }
    blocks
}

fn facts(part: &ReportedPart, member: &Member, show: Show) -> Table {
    let mut facts = Facts::new(show);
    let section = &member.section;
    match &section.stock {
        Some(stock) => {
            let near = if stock.exact { "" } else { ", nearest" };
            facts.say(
                "stock",
                format!("{} ({}){near}", stock.designation, stock.standard),
            );
        }
        None => facts.say("stock", "no listed size"),
    }
    if matches!(section.shape, Shape::Round | Shape::Square | Shape::Rect) && section.wall.is_none()
    {
        facts.say("wall", "can't be seen in the model");
    }
    lengths(&mut facts, member, show);
    if let Some(twist) = member.twist {
        facts.angle("cut of end 1 turned against end 0", twist);
    }
    facts.weight(part);
    facts.table()
}

/// The lengths that stand on no view.
fn lengths(facts: &mut Facts, member: &Member, show: Show) {
    let line = &member.centreline;
    let blank = layout(member).ok().zip(line.length);
    let blank = blank.map(|(found, q)| Quantity::new(found.blank_centreline, q.plus_minus));
    let same = |a: Option<Quantity>, b: Option<Quantity>| match (a, b) {
        (Some(a), Some(b)) => words::tape_of(a, show) == words::tape_of(b, show),
        _ => false,
    };
    if is_straight(member) {
        let mut said = vec![blank.or(line.length)];
        // A cope's longest line ends where the fitted cylinder is met, which the blank says.
        let plane_cuts = member.ends.iter().all(|e| e.saddle.is_none());
        for (name, q) in [
            (
                "over the longest line",
                member.longest_edge.filter(|_| plane_cuts),
            ),
            ("over the shortest line", member.shortest_edge),
            ("on the axis", line.length),
        ] {
            if q.is_some() && !said.iter().any(|other| same(*other, q)) {
                facts.length(name, q);
                said.push(q);
            }
        }
        if blank.is_some() {
            facts.say("blank", "cut square as long as the view, to long points");
        }
        return;
    }
    match same(blank, line.length) {
        true => facts.length("on the centreline, which is the blank", line.length),
        false => {
            facts.length("on the centreline", line.length);
            if blank.is_some() {
                facts.length("blank, long point to long point", blank);
            }
        }
    }
    if let [
        Span::Arc {
            angle,
            inside_radius,
            outside_radius,
            ..
        },
    ] = member.spans.as_slice()
    {
        facts.angle("angle of the arc", *angle);
        facts.length("inside radius", *inside_radius);
        facts.length("outside radius", *outside_radius);
    }
}

fn bends(member: &Member, show: Show) -> Table {
    let length = |q: &Quantity| words::tape_of(*q, show);
    let maybe = |q: &Option<Quantity>| q.map_or(NOT_KNOWN.to_owned(), |q| words::tape_of(q, show));
    let starts = crate::member::starts(&member.spans);
    let rows = member.spans.iter().enumerate().map(|(k, span)| {
        let mut row = vec![format!("({})", k + 1)];
        row.extend(match span {
            Span::Straight { length: l } => {
                vec![
                    "straight".into(),
                    length(l),
                    String::new(),
                    String::new(),
                    String::new(),
                    String::new(),
                ]
            }
            Span::Arc {
                length: l,
                radius,
                angle,
                rotation,
                rise,
                ..
            } => vec![
                "arc".into(),
                length(l),
                match radius {
                    Some(r) => format!(
                        "{} {}",
                        words::tape_of(*r, show),
                        words::plus_minus(*r, show)
                    ),
                    None => NOT_KNOWN.into(),
                },
                words::angle(*angle),
                rotation.map_or(String::new(), words::angle),
                length(rise),
            ],
            Span::Helix {
                length: l,
                radius,
                pitch,
                turns,
                hand,
                ..
            } => vec![
                match hand {
                    Hand::Left => "coil, left-hand".into(),
                    Hand::Right => "coil, right-hand".into(),
                },
                length(l),
                length(radius),
                format!("{:.3} turns", turns.value),
                String::new(),
                format!("pitch {}", length(pitch)),
            ],
            Span::Free {
                length: l,
                radius_min,
                radius_max,
                ..
            } => vec![
                "free curve".into(),
                length(l),
                format!("{} to {}", maybe(radius_min), maybe(radius_max)),
                String::new(),
                String::new(),
                String::new(),
            ],
        });
        row.insert(3, length(&starts[k]));
        row
    });
    Table {
        headings: [
            "piece ",
            "kind ",
            "length",
            "starts at",
            "radius",
            "angle",
            "turned from the last bend (+ clockwise, seen from end 0)",
            "rise of the arc",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

fn holes(member: &Member, show: Show) -> Table {
    let length = |q: &Option<Quantity>| q.map_or(NOT_KNOWN.to_owned(), |q| words::tape_of(q, show));
    let rows = member.holes.iter().enumerate().map(|(k, hole)| {
        let size = hole
            .diameter
            .map_or(NOT_KNOWN.to_owned(), |q| words::size(q, show));
        let size = match (hole.kind, hole.length) {
            (HoleKind::Round, _) => format!("⌀{size}"),
            (HoleKind::Slot, Some(l)) => format!("slot {size} x {}", words::size(l, show)),
            (HoleKind::Slot, None) => format!("slot {size} wide"),
            (HoleKind::Cutout, l) => words::cutout(l, hole.width, hole.corner_radius, show),
        };
        let size = size + &words::lies(hole.direction);
        vec![
            (k + 1).to_string(),
            size,
            length(&hole.station),
            length(&hole.from_nearest_end),
            hole.around.map_or(NOT_KNOWN.to_owned(), words::angle),
            counted(hole.walls as usize, "wall"),
        ]
    });
    Table {
        headings: [
            "hole ",
            "size ",
            "on the centreline",
            "from the nearest edge",
            "round from the width",
            "through ",
        ]
        .map(String::from)
        .to_vec(),
        rows: rows.collect(),
    }
}

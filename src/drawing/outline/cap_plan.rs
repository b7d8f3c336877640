//! The caps of one member as drawings for the cutting table.

use nalgebra::Vector2;

use super::Plan;
use super::cap::{Cap, Fit, alike, cap};
use super::flat;
use crate::drawing::bulge;
use crate::drawing::number::number;
use crate::drawing::scene::{NARROW, Purpose, Scene, Text};
use crate::drawing::words::{self, counted};
use crate::measure::{Show, quantity};
use crate::member::{Member, Shape};
use crate::report::ReportedPart;

/// A cap, which ends it is for, and its drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedCap {
    /// `M1-end0`, or `M1-ends` where one shape fits both.
    pub name: String,
    /// Pieces to cut.
    pub pieces: usize,
    /// The drawing.
    pub plan: Plan,
}

/// The caps of a tube, and for each end without one the reason. Nothing for solid and open sections.
pub fn cap_plans(
    part: &ReportedPart,
    member: &Member,
    fit: Fit,
    show: Show,
) -> (Vec<NamedCap>, Vec<String>) {
    if !matches!(
        member.section.shape,
        Shape::Round | Shape::Square | Shape::Rect
    ) {
        return (Vec::new(), Vec::new());
    }
    let mut caps: Vec<(String, usize, Cap)> = Vec::new();
    let mut reasons = Vec::new();
    // A cap turned over fits the opposite hand.
    let pieces = (part.quantity + part.opposite_hand) as usize;
    for index in 0..member.ends.len() {
        match cap(member, index, fit) {
            Ok(found) => match caps.iter_mut().find(|c| alike(&c.2.shape, &found.shape)) {
                Some(same) => {
                    same.0 = format!("{}-ends", part.mark);
                    same.1 += pieces;
                }
                None => caps.push((format!("{}-end{index}", part.mark), pieces, found)),
            },
            Err(why) => reasons.push(format!("{} end {index}: no cap, because {why}.", part.mark)),
        }
    }
    let named = caps.into_iter().map(|(name, pieces, cap)| NamedCap {
        plan: draw(&name, pieces, &cap, fit, show),
        name,
        pieces,
    });
    (named.collect(), reasons)
}

fn draw(name: &str, pieces: usize, cap: &Cap, fit: Fit, show: Show) -> Plan {
    let unit = show.length_symbol();
    let how = match fit {
        Fit::Outside(0.0) => "Outside shape of the tube in the plane of the cut".to_owned(),
        Fit::Outside(inset) => format!(
            "Outside shape less {} {unit} all round, in the plane of the cut",
            words::plain_size(inset, show)
        ),
        Fit::Inside(clear) => format!(
            "Inside shape, {} {unit} clear of the walls",
            words::plain_size(clear, show)
        ),
    };
    let mut lines = vec![
        format!("Cap {name}: {}", counted(pieces, "piece")),
        format!("Units of this file: {unit}. No kerf allowance."),
        match cap.off_square < 0.005 {
            true => format!("{how}; the cut is square."),
            false => format!(
                "{how}; cut {} off square.",
                words::angle(quantity(cap.off_square, 0.0))
            ),
        },
    ];
    if cap.departure > 1e-6 {
        let departure = cap.departure / show.bare_unit().millimetres();
        lines.push(format!(
            "Arcs stay within {} {unit} of the true curve.",
            number(departure.max(1e-4), 4)
        ));
    }
    let extent = bulge::extent(&cap.shape);
    let height = ((extent.1 - extent.0).max() * 0.025).clamp(2.5, 12.0);
    let mut scene = Scene::default();
    scene.stroke(Purpose::CutOutside, NARROW, cap.shape.clone());
    let mut at = extent.0 - Vector2::new(0.0, 3.0 * height);
    for (k, line) in lines.into_iter().enumerate() {
        let text = Text::plain(at, height, line);
        scene.text(Purpose::Words, if k == 0 { text.bold() } else { text });
        at.y -= 1.8 * height;
    }
    let boxes = scene.items.iter().map(|item| bulge::extent(&item.shape));
    let (low, high) = bulge::around(boxes.flat_map(|(low, high)| [low, high]));
    let margin = Vector2::new(5.0, 5.0);
    Plan {
        scene,
        window: (low - margin, high + margin),
        cut_length: flat::length(&cap.shape),
        contours: 1,
        area: flat::area(&cap.shape),
    }
}

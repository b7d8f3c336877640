//! Members: what stock each is cut from, and how long the blank is.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Model, Settings, mark_of};
use crate::measure::{Quantity, Show, quantity};
use crate::member::{Cut, End, EndShape, Member, Section, Shape};
use crate::report::ReportedPart;
use crate::shop::allowance::beyond_end;
use crate::shop::curved::curves;
use crate::shop::roll::blank::blank;

/// A member to cut.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MemberLine {
    /// Stock it is cut from.
    pub stock: String,
    /// Standard the size is listed in, or null.
    pub standard: Option<String>,
    /// Piece mark.
    pub mark: String,
    /// Length of the blank: long point to long point, or developed length with the waste; null where
    /// it is not known.
    pub length: Option<Quantity>,
    /// Waste in it that is cut off after rolling, at both ends together, mm.
    pub waste: f64,
    /// Pieces, both hands and all models counted.
    pub count: u32,
    /// Pieces of the opposite hand among them.
    pub opposite_hand: u32,
    /// Angle of each end's cut off square, degrees, as sawn on the blank; null where the blank is left
    /// square or the cut is no single plane.
    pub off_square: [Option<f64>; 2],
    /// Mass of one finished piece, kg.
    pub mass: Option<Quantity>,
}

/// How an end could share its cut: tangent of the angle, depth of the section in the cut's plane, and
/// what tells cuts apart that can't be shared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mitre {
    /// Angle off square, degrees.
    pub angle: f64,
    /// Depth of the section in the plane of the angle, mm.
    pub depth: f64,
    /// Which way it leans: cuts at both ends with the same sign have their long points on the same side.
    pub sign: f64,
    /// Plane of the section the cut leans in: 0 where any will do, 1 over the width, 2 over the height,
    /// `None` where it can't be shared at all.
    pub plane: Option<u8>,
}

/// A line with what nesting needs.
#[derive(Clone, Debug)]
pub struct Line {
    /// As listed.
    pub member: MemberLine,
    /// Mitres of the two ends, `None` where square.
    pub mitres: [Option<Mitre>; 2],
}

/// The members of a model.
pub fn of(
    model: &Model,
    letter: Option<&str>,
    settings: &Settings,
    notes: &mut Vec<String>,
) -> Vec<Line> {
    let parts = model.report.parts.iter();
    let mut out: Vec<Line> = parts
        .filter_map(|part| {
            let member = part.member.as_ref()?;
            Some(line(part, member, model.quantity, letter, settings, notes))
        })
        .collect();
    out.sort_by(|a, b| a.member.stock.cmp(&b.member.stock));
    out
}

fn line(
    part: &ReportedPart,
    member: &Member,
    quantity: u32,
    letter: Option<&str>,
    settings: &Settings,
    notes: &mut Vec<String>,
) -> Line {
    let mark = mark_of(letter, &part.mark);
    let (length, waste, straight) = match curves(part) {
        Ok(found) => match blank(part, &found, &settings.waste) {
            Ok((made, _)) => (Some(made.length), made.waste.iter().sum(), false),
            Err(_) => (None, 0.0, false),
        },
        Err(_) => (straight_length(member), 0.0, true),
    };
    if length.is_none() {
        notes.push(format!(
            "{mark}: the length of the blank is not known from the mesh; it is in no bar."
        ));
    }
    let mitres = [0, 1].map(|k| match straight {
        true => member
            .ends
            .get(k)
            .and_then(|end| mitre(&member.section, end)),
        false => None,
    });
    let (stock, standard) = stock_of(&member.section, &settings.prefer);
    Line {
        member: MemberLine {
            stock,
            standard,
            mark,
            length,
            waste,
            count: (part.quantity + part.opposite_hand).saturating_mul(quantity),
            opposite_hand: part.opposite_hand.saturating_mul(quantity),
            off_square: mitres.map(|m| m.map(|m| m.angle).filter(|a| *a > 0.0)),
            mass: part.mass,
        },
        mitres,
    }
}

/// From long point to long point: the longest edge, or the centreline and what stands out beyond it.
fn straight_length(member: &Member) -> Option<Quantity> {
    let plane = |end: &End| end.shape == EndShape::Plane;
    if member.ends.iter().all(plane) && member.longest_edge.is_some() {
        return member.longest_edge;
    }
    let own = member.centreline.length?;
    let beyond: Option<f64> = member.ends.iter().map(|end| beyond_end(member, end)).sum();
    Some(quantity(own.value + beyond?, own.plus_minus))
}

/// Angles below this are set up on no saw.
const SQUARE: f64 = 0.05;

fn mitre(section: &Section, end: &End) -> Option<Mitre> {
    let other = Mitre {
        angle: 0.0,
        depth: 0.0,
        sign: 1.0,
        plane: None,
    };
    match (end.shape, end.cuts.as_slice()) {
        (EndShape::Plane, [cut]) if cut.off_square.value < SQUARE => None,
        (EndShape::Plane, [cut]) => Some(single(section, cut).unwrap_or(Mitre {
            angle: cut.off_square.value,
            ..other
        })),
        // coped, cut twice or of unknown shape: cut off square first, shaped afterwards
        _ => None,
    }
}

fn single(section: &Section, cut: &Cut) -> Option<Mitre> {
    let angle = cut.off_square.value;
    let flat = |q: &Quantity| q.value.abs() < SQUARE;
    let (depth, plane) = match section.shape {
        Shape::Round | Shape::RoundBar => (section.diameter?, 0),
        Shape::Square | Shape::SquareBar if flat(&cut.tilt_width) || flat(&cut.tilt_height) => {
            (section.width.or(section.height)?, 0)
        }
        Shape::Rect | Shape::FlatBar if flat(&cut.tilt_height) => (section.width?, 1),
        Shape::Rect | Shape::FlatBar if flat(&cut.tilt_width) => (section.height?, 2),
        _ => return None,
    };
    Some(Mitre {
        angle,
        depth: depth.value,
        sign: match cut.tilt_width.value.abs() > cut.tilt_height.value.abs() {
            true => cut.tilt_width.value.signum(),
            false => cut.tilt_height.value.signum(),
        },
        plane: Some(plane),
    })
}

/// The stock a section is bought as, and the standard that lists it. A size no table lists stands as
/// measured.
fn stock_of(section: &Section, prefer: &[String]) -> (String, Option<String>) {
    let own = crate::report::section_words(section, Show::Millimetre);
    match &section.stock {
        Some(stock) if stock.exact => {
            let word = own
                .split(|c: char| c.is_ascii_digit())
                .next()
                .unwrap_or("")
                .trim();
            let name = match word.trim_end_matches(',') {
                "" => stock.designation.clone(),
                word if stock.designation.starts_with(word) => stock.designation.clone(),
                word => format!("{word} {}", stock.designation),
            };
            let standards = stock.standard.split(", ");
            let preferred = prefer
                .iter()
                .find_map(|p| standards.clone().find(|s| s.starts_with(p.as_str())));
            (
                name,
                Some(preferred.map_or_else(|| stock.standard.clone(), str::to_owned)),
            )
        }
        _ => (own, None),
    }
}

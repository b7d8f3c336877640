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

/// A cut off square, and what tells cuts apart that one saw cut can't make for two pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mitre {
    /// Angle off square, degrees.
    pub angle: f64,
    /// How far the short point stays behind the long one along the bar, mm.
    pub range: f64,
    /// Which way it leans: cuts at both ends with the same sign have their long points on the same side.
    pub sign: f64,
    /// Plane of the section the cut leans in: 0 where any will do, 1 over the width, 2 over the height;
    /// `None` where the piece can't be turned in the bar, so that only a like piece in the same position
    /// can share it.
    pub plane: Option<u8>,
    /// Tilts of the cut's plane over the width and the height, the same for parallel cuts at both ends,
    /// degrees.
    pub way: [f64; 2],
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
            .and_then(|end| mitre(&member.section, end, k)),
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

/// How much of a bar a straight piece takes by itself: the centreline and what stands out beyond it at
/// both ends. With both long points on one side that is the longest edge; with parallel cuts it is more.
fn straight_length(member: &Member) -> Option<Quantity> {
    let own = member.centreline.length?;
    let (mut length, mut doubt) = (own.value, own.plus_minus);
    for end in &member.ends {
        match (end.shape, end.cuts.as_slice()) {
            (EndShape::Plane, [cut]) => {
                let [far, _] = reach(&member.section, cut)?;
                let angle = cut.off_square.value.to_radians();
                let angle_doubt = cut.off_square.plus_minus.to_radians();
                length += far;
                // d(r tan a) = r da / cos² a
                if angle > SQUARE.to_radians() {
                    doubt += far * angle_doubt / (angle.sin() * angle.cos()).max(1e-3);
                }
            }
            _ => length += beyond_end(member, end)?,
        }
    }
    Some(quantity(length, doubt))
}

/// How far the longest and the shortest fibre of the section stand beyond the centreline's end under a
/// plane cut, mm; the shortest stays behind.
fn reach(section: &Section, cut: &Cut) -> Option<[f64; 2]> {
    if let (Shape::Round | Shape::RoundBar, Some(d)) = (section.shape, section.diameter) {
        let far = d.value / 2.0 * cut.off_square.value.to_radians().tan();
        return Some([far, -far]);
    }
    let [w, h] = [cut.tilt_width, cut.tilt_height].map(|t| t.value.to_radians().tan());
    let outline = section.contours.first()?;
    let reaches = outline.iter().map(|&[x, y]| -x * w - y * h);
    Some([reaches.clone().reduce(f64::max)?, reaches.reduce(f64::min)?])
}

/// Angles below this are set up on no saw.
const SQUARE: f64 = 0.05;

fn mitre(section: &Section, end: &End, number: usize) -> Option<Mitre> {
    match (end.shape, end.cuts.as_slice()) {
        (EndShape::Plane, [cut]) if cut.off_square.value < SQUARE => None,
        (EndShape::Plane, [cut]) => Some(single(section, cut, number)),
        // coped, cut twice or of unknown shape: cut off square first, shaped afterwards
        _ => None,
    }
}

fn single(section: &Section, cut: &Cut, number: usize) -> Mitre {
    let flat = |q: &Quantity| q.value.abs() < SQUARE;
    let plane = match section.shape {
        Shape::Round | Shape::RoundBar => Some(0),
        Shape::Square | Shape::SquareBar if flat(&cut.tilt_width) || flat(&cut.tilt_height) => {
            Some(0)
        }
        Shape::Rect | Shape::FlatBar if flat(&cut.tilt_height) => Some(1),
        Shape::Rect | Shape::FlatBar if flat(&cut.tilt_width) => Some(2),
        _ => None,
    };
    let [far, near] = reach(section, cut).unwrap_or([0.0; 2]);
    // seen along the path, the outward normal of end 0 looks back
    let along = if number == 0 { -1.0 } else { 1.0 };
    Mitre {
        angle: cut.off_square.value,
        range: far - near,
        sign: match cut.tilt_width.value.abs() > cut.tilt_height.value.abs() {
            true => cut.tilt_width.value.signum(),
            false => cut.tilt_height.value.signum(),
        },
        plane,
        way: [cut.tilt_width, cut.tilt_height].map(|t| along * t.value),
    }
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

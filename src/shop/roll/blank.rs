//! The blank: developed length and straight waste at its ends.

use schemars::JsonSchema;
use serde::Serialize;

use crate::measure::{Quantity, quantity};
use crate::member::{Member, Span};
use crate::plate::{Form, Plate};
use crate::report::ReportedPart;
use crate::shop::Refused;
use crate::shop::allowance::beyond_end;
use crate::shop::curved::{Curve, Edge, sum};

/// Straight stock a section or tube machine needs beyond the arc at each end when nobody says, mm: the
/// middle of the 150 to 600 mm that are usual for small machines. Common practice, no source.
pub const PLANNED: f64 = 300.0;

/// What the shop says about waste. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Waste {
    /// So much at each end, whatever the part has there.
    Each(f64),
    /// From the distance of the two outer rolls: half of it beyond the arc, and what the rolls grip.
    Rolls {
        /// Centre distance of the two outer rolls.
        spacing: f64,
        /// Length gripped beyond it.
        grip: f64,
    },
    /// Nothing said.
    Unsaid,
}

/// What a blank is made of. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Blank {
    /// Length to cut to.
    #[serde(skip)]
    pub length: Quantity,
    /// Length along the centreline (or the middle of the plate) from end to end.
    pub developed: Quantity,
    /// Developed length of the narrow edge of a cone.
    pub narrow_edge: Option<Quantity>,
    /// Extra length at end 0 and at end 1, cut off after rolling.
    pub waste: [f64; 2],
    /// How far the long point of each end's cut stands out beyond the centreline, within the waste.
    pub beyond_centreline: [f64; 2],
    /// Where the waste comes from, one sentence.
    pub basis: String,
}

/// The blank of a part with these arcs, and what to mind about it.
pub fn blank(
    part: &ReportedPart,
    curves: &[Curve],
    waste: &Waste,
) -> Result<(Blank, Vec<String>), Refused> {
    check(waste)?;
    match (&part.member, &part.plate) {
        (Some(member), _) => of_member(part, member, waste),
        (None, Some(plate)) => Ok(of_plate(plate, curves, waste)),
        (None, None) => Err(no_length(&part.mark)),
    }
}

fn check(waste: &Waste) -> Result<(), Refused> {
    let sizes = match *waste {
        Waste::Each(each) => [each, 0.0],
        Waste::Rolls { spacing, grip } => [spacing, grip],
        Waste::Unsaid => [0.0, 0.0],
    };
    if sizes.iter().all(|size| size.is_finite() && *size >= 0.0) {
        return Ok(());
    }
    Err(Refused::new(
        "The waste or the distance of the rolls is less than nothing.",
        "Give it as a length, as in --waste 200mm.",
    ))
}

fn no_length(mark: &str) -> Refused {
    Refused::new(
        format!("The developed length of {mark} is not known from the mesh."),
        "Look at the findings of `soapstone read`.",
    )
}

fn of_member(
    part: &ReportedPart,
    member: &Member,
    waste: &Waste,
) -> Result<(Blank, Vec<String>), Refused> {
    let developed = member
        .centreline
        .length
        .ok_or_else(|| no_length(&part.mark))?;
    let mut notes = Vec::new();
    let straight = straights(member);
    let beyond = beyond(member, &mut notes);
    let (extra, basis) = match *waste {
        Waste::Each(each) => ([each; 2], "Waste at each end as given.".to_owned()),
        Waste::Rolls { spacing, grip } => (
            straight.map(|own| (spacing / 2.0 + grip - own).max(0.0)),
            "Straight stock beyond the arc: half the distance of the outer rolls and the grip (common practice), less the straight the part has.".to_owned(),
        ),
        Waste::Unsaid => {
            notes.push("The waste is a planning figure (150 to 600 mm at each end is usual on small section machines, common practice): ask who owns the rolls and give it with --waste, or the distance of the outer rolls with --roll-spacing.".to_owned());
            (
                straight.map(|own| (PLANNED - own).max(0.0)),
                format!("Planning figure: {PLANNED} mm of straight stock beyond the arc, less the straight the part has."),
            )
        }
    };
    // A long point must lie on the blank, whatever the waste.
    let waste = [0, 1].map(|end| extra[end].max(beyond[end]));
    // Less than a tape can show is the rounding of a square cut.
    if (0..2).any(|end| waste[end] > extra[end] + 0.05) {
        notes.push(
            "The waste is lengthened so that the long point of an end cut lies on the blank."
                .into(),
        );
    }
    notes.push("The blank is reckoned along the middle of the section, which keeps its length; the outside grows, the inside shrinks. Try it on the first piece.".to_owned());
    Ok((made(developed, None, waste, beyond, basis), notes))
}

/// Straight pieces before the first and after the last arc.
fn straights(member: &Member) -> [f64; 2] {
    let own = |span: Option<&Span>| match span {
        Some(Span::Straight { length }) => length.value,
        _ => 0.0,
    };
    [own(member.spans.first()), own(member.spans.last())]
}

fn beyond(member: &Member, notes: &mut Vec<String>) -> [f64; 2] {
    [0, 1].map(|number| match member.ends.get(number) {
        None => 0.0,
        Some(end) => beyond_end(member, end).unwrap_or_else(|| {
            notes.push(format!("How far the long point of end {number} stands out is not known: leave enough waste there."));
            0.0
        }),
    })
}

fn of_plate(plate: &Plate, curves: &[Curve], waste: &Waste) -> (Blank, Vec<String>) {
    let length = |edge: Option<Edge>| curves.iter().find(|c| c.edge == edge).map(|c| c.length);
    let developed = length(None)
        .or_else(|| length(Some(Edge::Wide)))
        .unwrap_or(quantity(0.0, 0.0));
    let mut notes = Vec::new();
    let (each, basis) = match *waste {
        Waste::Each(each) => (each, "Waste at each end as given.".to_owned()),
        Waste::Rolls { spacing, grip } => (
            spacing / 2.0 + grip,
            "Half the distance of the outer rolls and the grip (common practice).".to_owned(),
        ),
        Waste::Unsaid => {
            notes.push(flat_ends(plate));
            (0.0, "No waste: the ends are pre-bent.".to_owned())
        }
    };
    if plate.form == Form::Cone {
        notes.push("The blank of a cone is a sector: cut it from its outline (`soapstone read`), the waste added along both straight edges.".into());
    }
    notes.push("The blank is reckoned on the middle of the thickness.".into());
    let narrow = length(Some(Edge::Narrow));
    (made(developed, narrow, [each; 2], [0.0; 2], basis), notes)
}

/// Flat end that rolls leave: 0.8 to 5 thicknesses on rolls that pre-bend (a maker's technical note);
/// on pyramid rolls about half the distance of the outer rolls (common practice).
fn flat_ends(plate: &Plate) -> String {
    let flat = plate.thickness.map_or_else(
        || "0.8 to 5 thicknesses".to_owned(),
        |t| {
            format!(
                "{:.0} to {:.0} mm",
                (0.8 * t.value).ceil(),
                (5.0 * t.value).ceil()
            )
        },
    );
    format!(
        "No waste is counted. Rolls that pre-bend leave a flat of about {flat} at each end, pyramid rolls about half the distance of their outer rolls: pre-bend the ends, or give --waste or --roll-spacing and trim."
    )
}

fn made(
    developed: Quantity,
    narrow_edge: Option<Quantity>,
    waste: [f64; 2],
    beyond_centreline: [f64; 2],
    basis: String,
) -> Blank {
    Blank {
        length: sum(developed, quantity(waste[0] + waste[1], 0.0)),
        developed,
        narrow_edge,
        waste,
        beyond_centreline,
        basis,
    }
}

//! The arcs of a part that are rolled or bent, member or plate, in one form.

use schemars::JsonSchema;
use serde::Serialize;

use super::Refused;
use crate::measure::{Quantity, quantity};
use crate::member::{Member, Span};
use crate::plate::{Form, Plate};
use crate::report::ReportedPart;

/// Which line of the section a number belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The outer side of the bend: the convex face.
    Outside,
    /// The side towards the centre of the bend: the hollow face.
    Inside,
    /// The line through the middle of the section (of a plate: the middle of its thickness).
    Centreline,
}

/// Which edge of a cone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Edge {
    Wide,
    Narrow,
}

/// One circular arc of a part. Lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Its number, from 1 at end 0.
    pub number: u32,
    /// Edge of the cone it runs along, read square to the axis.
    pub edge: Option<Edge>,
    /// Radius of the centreline or of the mid-surface.
    pub centreline: Quantity,
    /// Radius of the inside face.
    pub inside: Quantity,
    /// Radius of the outside face.
    pub outside: Quantity,
    /// Angle turned, degrees.
    pub angle: Quantity,
    /// Developed length.
    pub length: Quantity,
    /// Developed length before it, from end 0.
    pub start: Quantity,
}

impl Curve {
    /// Radius of one side.
    pub fn radius(&self, side: Side) -> Quantity {
        match side {
            Side::Outside => self.outside,
            Side::Inside => self.inside,
            Side::Centreline => self.centreline,
        }
    }

    /// What it is called in a part with `others` arcs: "arc 2", "wide edge", nothing when it is
    /// the only one.
    pub fn name(&self, only: bool) -> String {
        match self.edge {
            Some(Edge::Wide) => "wide edge".to_owned(),
            Some(Edge::Narrow) => "narrow edge".to_owned(),
            None if only => "the arc".to_owned(),
            None => format!("arc {}", self.number),
        }
    }
}

/// The arcs of a part in order from end 0, or why it has none that can be rolled by readings.
pub fn curves(part: &ReportedPart) -> Result<Vec<Curve>, Refused> {
    let found = match (&part.member, &part.plate) {
        (Some(member), _) => of_member(&part.mark, member)?,
        (None, Some(plate)) => of_plate(&part.mark, plate)?,
        (None, None) => Vec::new(),
    };
    if found.is_empty() {
        return Err(Refused::new(
            format!(
                "{} has no circular arc: there is nothing to roll.",
                part.mark
            ),
            "Ask for a rolled part; `soapstone read` lists them.",
        ));
    }
    Ok(found)
}

fn of_member(mark: &str, member: &Member) -> Result<Vec<Curve>, Refused> {
    let mut curves = Vec::new();
    let mut start = quantity(0.0, 0.0);
    for span in &member.spans {
        match span {
            Span::Straight { length } => start = sum(start, *length),
            Span::Arc {
                length,
                radius,
                angle,
                inside_radius,
                outside_radius,
                ..
            } => {
                let number = curves.len() as u32 + 1;
                let (Some(centreline), Some(inside), Some(outside)) =
                    (*radius, *inside_radius, *outside_radius)
                else {
                    return Err(Refused::new(
                        format!("The radius of arc {number} of {mark} is not known from the mesh."),
                        "Look at the findings of `soapstone read`, or ask for a finer export.",
                    ));
                };
                curves.push(Curve {
                    number,
                    edge: None,
                    centreline,
                    inside,
                    outside,
                    angle: *angle,
                    length: *length,
                    start,
                });
                start = sum(start, *length);
            }
            Span::Helix { .. } | Span::Free { .. } => {
                return Err(Refused::new(
                    format!(
                        "{mark} is no chain of straight pieces and circular arcs, so one reading does not hold along it."
                    ),
                    "Roll it to a full-size layout; `soapstone read --format json` gives points along its centreline where it has any.",
                ));
            }
        }
    }
    Ok(curves)
}

fn of_plate(mark: &str, plate: &Plate) -> Result<Vec<Curve>, Refused> {
    let not_known = || {
        Refused::new(
            format!("The radius, angle or thickness of {mark} is not known from the mesh."),
            "Look at the findings of `soapstone read`, or ask for a finer export.",
        )
    };
    match plate.form {
        Form::Flat | Form::Bent => Ok(Vec::new()),
        Form::Cylinder => {
            let (Some(inside), Some(outside), Some(angle)) =
                (plate.inside_radius, plate.outside_radius, plate.arc_angle)
            else {
                return Err(not_known());
            };
            let centreline = mean(inside, outside);
            Ok(vec![Curve {
                number: 1,
                edge: None,
                centreline,
                inside,
                outside,
                angle,
                length: arc_length(centreline, angle),
                start: quantity(0.0, 0.0),
            }])
        }
        Form::Cone => of_cone(plate).ok_or_else(not_known),
    }
}

/// Both edges of a cone, each as the circle it makes square to the axis.
fn of_cone(plate: &Plate) -> Option<Vec<Curve>> {
    let half = plate.half_angle?;
    let sector = plate.sector_angle?;
    let thickness = plate.thickness?;
    let (sine, cosine) = half.value.to_radians().sin_cos();
    let edge = |number, edge, slant: Quantity| {
        let middle = quantity(
            slant.value * sine,
            slant.plus_minus * sine + slant.value * cosine * half.plus_minus.to_radians(),
        );
        // Edges square to the wall: half the thickness, seen square to the axis.
        let off = thickness.scaled(cosine / 2.0);
        Curve {
            number,
            edge: Some(edge),
            centreline: middle,
            inside: quantity(middle.value - off.value, middle.plus_minus + off.plus_minus),
            outside: sum(middle, off),
            angle: sector.scaled(1.0 / sine),
            length: arc_length(slant, sector),
            start: quantity(0.0, 0.0),
        }
    };
    let wide = edge(1, Edge::Wide, plate.sector_outer_radius?);
    let narrow = plate
        .sector_inner_radius
        .map(|slant| edge(2, Edge::Narrow, slant))
        .filter(|curve| curve.inside.value > 0.0);
    Some(std::iter::once(wide).chain(narrow).collect())
}

/// Sum of two numbers off one model, whose errors go together.
pub fn sum(a: Quantity, b: Quantity) -> Quantity {
    quantity(a.value + b.value, a.plus_minus + b.plus_minus)
}

fn mean(a: Quantity, b: Quantity) -> Quantity {
    sum(a, b).scaled(0.5)
}

/// Length of an arc of `angle` degrees.
fn arc_length(radius: Quantity, angle: Quantity) -> Quantity {
    let turned = angle.value.to_radians();
    quantity(
        radius.value * turned,
        radius.plus_minus * turned + radius.value * angle.plus_minus.to_radians(),
    )
}

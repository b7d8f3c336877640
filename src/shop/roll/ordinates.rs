//! Ordinates of a full-size template.

use schemars::JsonSchema;
use serde::Serialize;

use super::Asked;
use super::gauge::longest_chord;
use crate::measure::{Quantity, Show};
use crate::shop::Refused;
use crate::shop::arc::{chord, fall, ordinate, rise_of};
use crate::shop::curved::{Curve, Edge, Side};

/// Most degrees of arc a template spans by itself: beyond, its ends stand too steep to mark.
const STEEPEST: f64 = 120.0;
/// About this many steps along the chord.
const STEPS: f64 = 20.0;
/// More ordinates than this nobody marks.
const MOST: f64 = 2000.0;

/// What the ordinates belong to. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Template {
    /// Number of the arc.
    pub arc: u32,
    /// Edge of a cone.
    pub edge: Option<Edge>,
    /// Face the template fits.
    pub on: Side,
    /// Radius of its curve.
    pub radius: Quantity,
    /// Chord from end to end of the template.
    pub chord: f64,
    /// Rise in the middle.
    pub rise: Quantity,
    /// Distance of the ordinates along the chord.
    pub pitch: f64,
}

/// One ordinate. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Ordinate {
    /// Along the chord from its middle.
    pub x: f64,
    /// Up from the chord to the curve.
    pub y: f64,
    /// Down from the tangent at the crown to the curve.
    pub from_tangent: f64,
}

/// Ordinates every pitch from the middle out, and at both ends.
pub(super) fn ordinates(
    curve: &Curve,
    asked: &Asked,
    notes: &mut Vec<String>,
) -> Result<(Template, Vec<Ordinate>), Refused> {
    let side = asked.template_side;
    let face = curve.radius(side);
    let length = match asked.template_chord {
        Some(length) => asked_for(length, curve, side, asked.show)?,
        None if curve.angle.value > STEEPEST => {
            notes.push(format!(
                "The template spans {STEEPEST}° of the arc; give another chord with --template-chord."
            ));
            chord(face.value, STEEPEST)
        }
        None => chord(face.value, curve.angle.value),
    };
    let pitch = asked
        .pitch
        .unwrap_or_else(|| round_pitch(length, asked.show));
    if !(pitch.is_finite() && pitch > 0.0) || length / pitch > MOST {
        return Err(Refused::new(
            "The pitch of the ordinates is too small.",
            "Give a larger one, as in --pitch 50mm.",
        ));
    }
    let rise = rise_of(face, length).ok_or_else(|| too_long(asked.show, 2.0 * face.value))?;
    let template = Template {
        arc: curve.number,
        edge: curve.edge,
        on: side,
        radius: face,
        chord: length,
        rise,
        pitch,
    };
    let at = |x: f64| {
        Some(Ordinate {
            x,
            y: ordinate(face.value, length, x)?,
            from_tangent: fall(face.value, x)?,
        })
    };
    let places = places(length, pitch);
    Ok((template, places.into_iter().filter_map(at).collect()))
}

fn asked_for(length: f64, curve: &Curve, side: Side, show: Show) -> Result<f64, Refused> {
    let longest = longest_chord(curve, side);
    if length.is_nan() || length <= 0.0 || length > longest {
        return Err(too_long(show, longest));
    }
    Ok(length)
}

fn too_long(show: Show, longest: f64) -> Refused {
    let unit = show.length_symbol();
    Refused::new(
        format!(
            "The chord of the template must lie between 0 and {} {unit}, the longest on this arc.",
            show.plain_length(longest)
        ),
        "Give another with --template-chord, or leave it out.",
    )
}

/// From end to end through 0; a step much shorter than the others is left out at the ends.
fn places(length: f64, pitch: f64) -> Vec<f64> {
    let half = length / 2.0;
    let steps = ((half / pitch) - 0.05).floor().max(0.0) as i64;
    let inner = (-steps..=steps).map(|k| k as f64 * pitch);
    std::iter::once(-half)
        .chain(inner)
        .chain(std::iter::once(half))
        .collect()
}

/// 1, 2 or 5 of a power of ten, in mm or in inches.
fn round_pitch(length: f64, show: Show) -> f64 {
    let unit = show.bare_unit().millimetres();
    let step = length / unit / STEPS;
    let power = 10_f64.powf(step.log10().floor());
    let digit = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|digit| digit * power >= step * 0.999)
        .unwrap_or(10.0);
    digit * power * unit
}

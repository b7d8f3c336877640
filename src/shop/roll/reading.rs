//! Readings of a chord gauge from straight to target, and where to slow down and stop.

use schemars::JsonSchema;
use serde::Serialize;

use super::Asked;
use super::gauge::longest_chord;
use crate::measure::{Quantity, quantity};
use crate::shop::Refused;
use crate::shop::arc::{chord, radius_per_rise, rise, rise_of};
use crate::shop::curved::{Curve, Edge, Side};

/// Shares of the target's curvature readings are given at. The steps shorten towards the end, since
/// there is no way back.
const STAGES: [f64; 6] = [0.0, 0.25, 0.5, 0.75, 0.9, 1.0];
/// Share of the target reading at which to take lighter passes. Common practice, no source.
const SLOW: f64 = 0.9;

/// One gauge on one side of one arc. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Reading {
    /// Number of the arc, from end 0.
    pub arc: u32,
    /// Edge of a cone.
    pub edge: Option<Edge>,
    /// Distance of the gauge's feet.
    pub chord: f64,
    /// Face the gauge stands on.
    pub on: Side,
    /// Radius of that face.
    pub radius: Quantity,
    /// Reading when the part is right.
    pub rise: Quantity,
    /// Reading from which to go in small steps.
    pub slow: f64,
    /// Reading never to pass: the target and the tolerance, less the error of a reading.
    pub stop: f64,
    /// Tolerance of the reading that `stop` stands on; 0 when none was given.
    pub tolerance: f64,
    /// How much the radius of that face changes for 1 mm of reading.
    pub radius_per_mm: f64,
    /// How much the rise of the whole arc (of half a circle where it turns farther) changes for 1 mm
    /// of reading, its length kept.
    pub whole_rise_per_mm: f64,
    /// Readings on the way.
    pub stages: Vec<Stage>,
}

/// A reading on the way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Stage {
    /// Share of the target's curvature, 0 straight, 1 done.
    pub share: f64,
    /// Radius of the centreline then, mm; null when straight.
    pub centreline_radius: Option<f64>,
    /// What the gauge reads, mm.
    pub rise: f64,
}

/// Chord and rise of a whole arc on one side, where it turns less than half a circle.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Whole {
    /// Number of the arc, from end 0.
    pub arc: u32,
    /// Edge of a cone.
    pub edge: Option<Edge>,
    /// Face.
    pub on: Side,
    /// Straight distance between the ends of the arc on that face, mm.
    pub chord: Quantity,
    /// Rise over that chord, mm.
    pub rise: Quantity,
}

/// Readings of every gauge on the outside and the inside of an arc.
pub(super) fn readings(
    curve: &Curve,
    gauges: &[f64],
    asked: &Asked,
    notes: &mut Vec<String>,
) -> Result<Vec<Reading>, Refused> {
    let mut out = Vec::new();
    for &gauge in gauges {
        for side in [Side::Outside, Side::Inside] {
            if gauge > longest_chord(curve, side) {
                notes.push(format!(
                    "A gauge of {length} {unit} does not stand on {} {}: there the longest is {} {unit}.",
                    match side {
                        Side::Outside => "the outside of",
                        _ => "the inside of",
                    },
                    curve.name(false),
                    asked.show.plain_length(longest_chord(curve, side)),
                    length = asked.show.plain_length(gauge),
                    unit = asked.show.length_symbol(),
                ));
                continue;
            }
            if let Some(reading) = one(curve, gauge, side, asked)? {
                out.push(reading);
            }
        }
    }
    too_coarse(&out, asked, notes);
    Ok(out)
}

fn one(curve: &Curve, gauge: f64, side: Side, asked: &Asked) -> Result<Option<Reading>, Refused> {
    let face = curve.radius(side);
    let Some(target) = rise_of(face, gauge) else {
        return Ok(None);
    };
    let tolerance = tolerance(curve, gauge, side, target.value, asked)?;
    let error = asked.reading.hypot(target.plus_minus);
    let stop = target.value + tolerance - if tolerance > 0.0 { error } else { 0.0 };
    let radius_per_mm = -radius_per_rise(gauge, target.value);
    // h = R (1 - cos(L/2R)) for a piece of length L: the metal keeps its length, its chord does not.
    let half = curve.angle.value.min(180.0).to_radians() / 2.0;
    let whole_per_radius = half * half.sin() + half.cos() - 1.0;
    Ok(Some(Reading {
        arc: curve.number,
        edge: curve.edge,
        chord: gauge,
        on: side,
        radius: face,
        rise: target,
        slow: (SLOW * target.value).min(target.value - tolerance).max(0.0),
        stop,
        tolerance,
        radius_per_mm,
        whole_rise_per_mm: radius_per_mm * whole_per_radius,
        stages: STAGES
            .iter()
            .filter_map(|&share| stage(curve, gauge, side, share))
            .collect(),
    }))
}

fn stage(curve: &Curve, gauge: f64, side: Side, share: f64) -> Option<Stage> {
    if share == 0.0 {
        return Some(Stage {
            share,
            centreline_radius: None,
            rise: 0.0,
        });
    }
    let centreline = curve.centreline.value / share;
    // The depth of the section does not change with the radius.
    let face = centreline + curve.radius(side).value - curve.centreline.value;
    Some(Stage {
        share,
        centreline_radius: Some(centreline),
        rise: rise(face, gauge)?,
    })
}

/// Tolerance of the reading: given as such, or worked back from the whole arc.
fn tolerance(
    curve: &Curve,
    gauge: f64,
    side: Side,
    target: f64,
    asked: &Asked,
) -> Result<f64, Refused> {
    if let Some(tolerance) = asked.tolerance {
        return Ok(tolerance);
    }
    let Some(of_piece) = asked.piece_tolerance else {
        return Ok(0.0);
    };
    let face = curve.radius(side).value;
    let whole_chord = chord(face, curve.angle.value);
    if curve.angle.value >= 170.0 {
        return Err(Refused::new(
            format!(
                "{} turns {:.0}°, too near a half circle for a rise over its own chord to tell its radius.",
                curve.name(false),
                curve.angle.value
            ),
            "Give the tolerance of the reading itself with --tol.",
        ));
    }
    let tight = rise(face, whole_chord)
        .and_then(|whole| crate::shop::arc::radius(whole_chord, whole + of_piece))
        .and_then(|tight| rise(tight, gauge));
    tight.map(|tight| tight - target).ok_or_else(|| {
        Refused::new(
            "The tolerance of the whole arc is too large for its gauge.",
            "Give the tolerance of the reading itself with --tol.",
        )
    })
}

/// Says when the error of a reading eats the tolerance.
fn too_coarse(readings: &[Reading], asked: &Asked, notes: &mut Vec<String>) {
    let hopeless =
        |r: &&Reading| r.tolerance > 0.0 && asked.reading.hypot(r.rise.plus_minus) >= r.tolerance;
    if let Some(reading) = readings.iter().find(hopeless) {
        notes.push(format!(
            "The error of a reading is as large as its tolerance ({} {} on the {} gauge): use a longer gauge, or read finer.",
            asked.show.plain_length(reading.tolerance),
            asked.show.length_symbol(),
            asked.show.plain_length(reading.chord),
        ));
    }
    if readings.iter().any(|r| r.tolerance == 0.0) {
        let words =
            "No tolerance was given (--tol), so the reading never to pass is the target itself.";
        if !notes.iter().any(|note| note == words) {
            notes.push(words.to_owned());
        }
    }
}

/// Chord and rise of the whole arc on every side.
pub(super) fn whole(curve: &Curve) -> Vec<Whole> {
    if curve.angle.value >= 180.0 {
        return Vec::new();
    }
    let one = |side| {
        let face = curve.radius(side);
        let half = curve.angle.value.to_radians() / 2.0;
        let half_error = curve.angle.plus_minus.to_radians() / 2.0;
        // c = 2R sin α/2, h = R (1 - cos α/2).
        Whole {
            arc: curve.number,
            edge: curve.edge,
            on: side,
            chord: quantity(
                2.0 * face.value * half.sin(),
                2.0 * (face.plus_minus * half.sin() + face.value * half.cos() * half_error),
            ),
            rise: quantity(
                face.value * (1.0 - half.cos()),
                face.plus_minus * (1.0 - half.cos()) + face.value * half.sin() * half_error,
            ),
        }
    };
    [Side::Outside, Side::Centreline, Side::Inside]
        .map(one)
        .into()
}

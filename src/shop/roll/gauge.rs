//! Which chord gauges to give readings for.

use super::Asked;
use crate::measure::Show;
use crate::shop::Refused;
use crate::shop::arc::chord;
use crate::shop::curved::{Curve, Side};

/// Lengths gauges are commonly made in, mm. Common practice, no source.
const METRIC: [f64; 13] = [
    50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 400.0, 500.0, 600.0, 750.0, 1000.0, 1500.0, 2000.0,
];
/// The same in inches.
const INCHES: [f64; 12] = [
    2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 18.0, 24.0, 36.0, 48.0, 60.0,
];
/// A gauge this share of the arc's chord can be set down in several places along it.
const SHARE: f64 = 0.4;

/// The gauges asked for, or one that suits the shortest arc.
pub(super) fn gauges(
    curves: &[&Curve],
    asked: &Asked,
    notes: &mut Vec<String>,
) -> Result<Vec<f64>, Refused> {
    if let Some(bad) = asked.gauges.iter().find(|c| !(c.is_finite() && **c > 0.0)) {
        return Err(Refused::new(
            format!("A gauge of {} can't be.", asked.show.plain_length(*bad)),
            "Give the distance of its feet, as in --gauge 300mm.",
        ));
    }
    if !asked.gauges.is_empty() {
        return Ok(asked.gauges.clone());
    }
    let shortest = curves
        .iter()
        .map(|curve| longest_chord(curve, Side::Inside))
        .fold(f64::INFINITY, f64::min);
    let metric = asked.show == Show::Millimetre;
    let listed: Vec<f64> = if metric {
        METRIC.to_vec()
    } else {
        INCHES.iter().map(|inches| inches * 25.4).collect()
    };
    let fits = |gauge: &&f64| **gauge <= SHARE * shortest;
    let Some(gauge) = listed.iter().rev().find(fits) else {
        notes.push(
            "The arc is too short for a usual chord gauge; use a template or check the angle."
                .into(),
        );
        return Ok(Vec::new());
    };
    notes.push(format!(
        "No gauge was given, one of {} {} was taken; give the distance of your gauge's feet with --gauge.",
        asked.show.plain_length(*gauge),
        asked.show.length_symbol()
    ));
    Ok(vec![*gauge])
}

/// Longest chord that stands wholly on the arc, mm.
pub(super) fn longest_chord(curve: &Curve, side: Side) -> f64 {
    chord(curve.radius(side).value, curve.angle.value.min(180.0))
}

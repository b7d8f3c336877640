//! A chord and a rise, read by hand.

use schemars::JsonSchema;
use serde::Serialize;

use super::interval::half_width;
use super::{Answer, Evidence, Tolerance, Verdict, to_centreline, tolerance_of_rise, verdict};
use crate::measure::{Quantity, Show, quantity};
use crate::report::{Report, ReportedPart};
use crate::shop::arc::{radius, rise, rise_of};
use crate::shop::curved::{Curve, Side};
use crate::shop::text::{fine, spoken, with_unit};
use crate::shop::{Origin, Refused};

/// What was read. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ChordReading {
    /// Straight distance of the feet, or the ends of the string.
    pub chord: f64,
    /// Rise over it.
    pub rise: f64,
    /// Face that was read.
    pub on: Side,
    /// 95 % half-width of the rise read.
    pub rise_error: f64,
    /// 95 % half-width of the chord.
    pub chord_error: f64,
    /// Rise asked for at this chord.
    pub asked: Quantity,
}

/// What the fabricator says. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Chord.
    pub chord: f64,
    /// Rise.
    pub rise: f64,
    /// Face.
    pub on: Side,
    /// 95 % half-width of the rise; half a millimetre is taken where nothing is said.
    pub rise_error: Option<f64>,
    /// 95 % half-width of the chord; that of the rise where nothing is said.
    pub chord_error: Option<f64>,
    /// How far off is still good.
    pub tolerance: Tolerance,
    /// Unit of the sentences.
    pub show: Show,
}

/// Error of a reading with a tape or a steel rule when nobody says, mm. Common practice, no source.
const TAPE: f64 = 0.5;

/// Compares a chord and a rise with the arc asked for.
///
/// The deviation is h − h_asked(c); its ± is the error of the rise, and that of the chord by
/// ∂h/∂c = c / 4√(R² − c²/4), with the ± of the model.
pub fn check(
    report: &Report,
    part: &ReportedPart,
    curve: &Curve,
    asked: &Asked,
) -> Result<Answer, Refused> {
    let mut answer = Answer::blank(
        part,
        Evidence::Reading,
        Origin::of(report, &[&part.mark]),
        asked.show,
    );
    let rise_error = asked.rise_error.unwrap_or(TAPE);
    let chord_error = asked.chord_error.unwrap_or(rise_error);
    usable(asked, rise_error, chord_error)?;
    let face = curve.radius(asked.on);
    let wanted = rise_of(face, asked.chord).ok_or_else(|| {
        Refused::new(
            format!(
                "A chord of {} does not fit on a radius of {}.",
                with_unit(asked.chord, asked.show),
                with_unit(face.value, asked.show)
            ),
            "Read a shorter chord, and check --on and --arc.",
        )
    })?;
    let (tolerance, source) = tolerance_of_rise(asked.tolerance, asked.chord, asked.show)?;
    let half = asked.chord / 2.0;
    let lean = half
        / (2.0
            * ((face.value - half) * (face.value + half))
                .max(1e-12)
                .sqrt());
    // Near a half circle the chord says nothing about the rise; the rise itself bounds it.
    let by_chord = (lean * chord_error).min(chord_error);
    let doubt = rise_error.hypot(by_chord);
    let deviation = quantity(asked.rise - wanted.value, doubt.hypot(wanted.plus_minus));
    answer.verdict = verdict(deviation, tolerance);
    answer.deviation = Some(deviation);
    answer.tolerance = Some(tolerance);
    answer.radius_asked = Some(curve.centreline);
    (answer.radius, answer.radius_interval) = as_made(curve, asked, doubt);
    answer.reading = Some(ChordReading {
        chord: asked.chord,
        rise: asked.rise,
        on: asked.on,
        rise_error,
        chord_error,
        asked: wanted,
    });
    answer.reasons = reasons(&answer, deviation, tolerance, asked.show);
    if asked.rise_error.is_none() {
        answer.reasons.push(format!(
            "No error of the reading was given: {} was taken (95 in 100 readings lie within it). Say yours with --reading.",
            with_unit(TAPE, asked.show)
        ));
    }
    answer.reasons.extend(source);
    if asked.on != Side::Centreline {
        answer.reasons.push(
            "The centreline radius counts on the depth of the section in the model: measure the stock.".into(),
        );
    }
    if asked.chord > longest(curve, asked.on) {
        answer.reasons.push(
            "The chord is longer than the arc itself: its ends stood on the straight pieces, and the rise asked for does not hold. Read a shorter chord.".into(),
        );
        answer.verdict = Verdict::Unclear;
    }
    Ok(answer)
}

fn longest(curve: &Curve, on: Side) -> f64 {
    let face = curve.radius(on).value;
    // A hundredth more: chords are read from arc end to arc end.
    1.01 * crate::shop::arc::chord(face, curve.angle.value.min(180.0))
}

fn usable(asked: &Asked, rise_error: f64, chord_error: f64) -> Result<(), Refused> {
    if !(asked.chord.is_finite() && asked.chord > 0.0 && asked.rise.is_finite()) {
        return Err(Refused::new(
            "The chord must be longer than nothing.",
            "Give the distance of the gauge's feet, as in --chord 600mm.",
        ));
    }
    if asked.rise > asked.chord / 2.0 {
        return Err(Refused::new(
            "The rise is more than half the chord: that is more than a half circle.",
            "Read a shorter chord.",
        ));
    }
    let fine = |error: f64| error.is_finite() && error >= 0.0;
    if !(fine(rise_error) && fine(chord_error)) {
        return Err(Refused::new(
            "The error of a reading can't be less than nothing.",
            "Give it as a length, as in --reading 0.5mm.",
        ));
    }
    Ok(())
}

/// Centreline radius as made, with its 95 % interval.
fn as_made(
    curve: &Curve,
    asked: &Asked,
    doubt: f64,
) -> (Option<Quantity>, Option<[Option<f64>; 2]>) {
    let centre = |face: f64| to_centreline(curve, asked.on, face);
    let face = radius(asked.chord, asked.rise);
    let bound = |rise: f64| radius(asked.chord, rise.min(asked.chord / 2.0)).map(centre);
    let interval = [bound(asked.rise + doubt), bound(asked.rise - doubt)];
    let width = face.and_then(|face| half_width(face, asked.rise, doubt, |r| rise(r, asked.chord)));
    let depth = curve
        .centreline
        .plus_minus
        .max(curve.radius(asked.on).plus_minus);
    let made = face
        .zip(width)
        // Where straight can't be excluded there is no half-width that means anything.
        .filter(|_| interval[1].is_some())
        .map(|(face, width)| quantity(centre(face), width.hypot(depth)));
    (made, Some(interval))
}

/// The answer in words, and how to go on.
pub(super) fn reasons(
    answer: &Answer,
    deviation: Quantity,
    tolerance: f64,
    show: Show,
) -> Vec<String> {
    let fine = fine(show);
    let off = spoken(quantity(deviation.value.abs(), deviation.plus_minus), fine);
    let limit = with_unit(tolerance, fine);
    let over = deviation.value > 0.0;
    let way = if over { "more" } else { "less" };
    let mut reasons = vec![match answer.verdict {
        Verdict::Yes => format!(
            "The rise is {off} {way} than asked at this chord, within the tolerance of {limit} whatever the error of the reading."
        ),
        Verdict::No if over => format!(
            "Bent too far: the rise is {off} more than asked at this chord, the tolerance is {limit}. It has to be opened, which rolls don't do evenly: ask before trying."
        ),
        Verdict::No => format!(
            "Not bent enough: {off} more rise at this chord, the tolerance is {limit}. Go on in light passes."
        ),
        Verdict::Unclear => format!(
            "Your readings can't tell: the rise is {off} {way} than asked at this chord, and the tolerance of {limit} lies within that ±."
        ),
    }];
    if answer.verdict == Verdict::Unclear {
        reasons.push(if deviation.plus_minus >= tolerance {
            "The error of the reading is larger than the tolerance: read finer, or over a longer chord with the tolerance for that.".to_owned()
        } else {
            "Read it finer, or several times in several places.".to_owned()
        });
    }
    if answer.radius.is_none() {
        reasons.push(match answer.radius_interval {
            Some([Some(low), None]) => format!(
                "Straight can't be excluded: the centreline radius is more than {}.",
                with_unit(low, show)
            ),
            _ => "No radius can be told from this rise.".to_owned(),
        });
    }
    reasons
}

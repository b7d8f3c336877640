//! What was made against what was asked.
//!
//! Four kinds of evidence: a chord and a rise read by hand ([`reading`]), points measured along the bend
//! ([`points`]), sizes read by hand ([`measured`]) and another mesh of the piece ([`scan`]). All answer
//! by the one rule of [`decision`].

pub mod csv;
pub mod decision;
pub mod interval;
pub mod items;
pub mod measured;
pub mod points;
pub mod reading;
pub mod scan;
pub mod table;

use schemars::JsonSchema;
use serde::Serialize;

pub use decision::{Verdict, verdict};
pub use measured::Line;
pub use points::{PointFit, Points};
pub use reading::ChordReading;
pub use scan::ScanFit;

use super::Origin;
use super::Refused;
use super::curved::{Curve, Side, curves};
use super::tolerance::Class;
use crate::measure::{Quantity, Show};
use crate::report::ReportedPart;

/// How far off is still good.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// So many mm to either side.
    Given(f64),
    /// By a standard.
    Class(Class),
}

/// What kind of evidence an answer stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Evidence {
    /// A chord and a rise.
    Reading,
    /// Points along the bend.
    Points,
    /// Sizes read by hand.
    Measured,
    /// Another mesh of the piece.
    Scan,
}

/// The answer. Lengths in mm, angles in degrees.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Answer {
    /// Yes, no, or the readings can't tell.
    pub verdict: Verdict,
    /// Mark of the part.
    pub part: String,
    /// What it is, in words.
    pub what: String,
    /// What the answer stands on.
    pub evidence: Evidence,
    /// Rise as made minus rise asked, at the chord of the reading or of the points; of a mesh the largest
    /// signed distance, positive where metal stands out too far; of hand-read sizes the worst line's.
    pub deviation: Option<Quantity>,
    /// Centreline radius as made, null where it does not apply or where straight can't be excluded.
    pub radius: Option<Quantity>,
    /// 95 % interval of that radius; no upper end where straight can't be excluded.
    pub radius_interval: Option<[Option<f64>; 2]>,
    /// Centreline radius asked.
    pub radius_asked: Option<Quantity>,
    /// Tolerance the verdict stands on; null where every line has its own.
    pub tolerance: Option<f64>,
    /// Why, and how to go on: plain sentences.
    pub reasons: Vec<String>,
    /// The chord and rise the answer stands on.
    pub reading: Option<ChordReading>,
    /// What the points say.
    pub points: Option<PointFit>,
    /// What a scan says.
    pub scan: Option<ScanFit>,
    /// Sizes read by hand, one line each.
    pub lines: Vec<Line>,
    /// Where the numbers asked for come from.
    #[serde(flatten)]
    pub origin: Origin,
}

impl Answer {
    /// An answer with nothing known yet.
    fn blank(part: &ReportedPart, evidence: Evidence, origin: Origin, show: Show) -> Answer {
        Answer {
            verdict: Verdict::Unclear,
            part: part.mark.clone(),
            what: crate::report::what(part, show),
            evidence,
            deviation: None,
            radius: None,
            radius_interval: None,
            radius_asked: None,
            tolerance: None,
            reasons: Vec::new(),
            reading: None,
            points: None,
            scan: None,
            lines: Vec::new(),
            origin,
        }
    }
}

/// The arc to check: the one with this number, or the only one.
pub fn curve(part: &ReportedPart, arc: Option<u32>) -> Result<Curve, Refused> {
    let all = curves(part)?;
    let last = all.len();
    match (arc, last) {
        (None, 1) => all.into_iter().next(),
        (None, _) => None,
        (Some(number), _) => all.into_iter().find(|curve| curve.number == number),
    }
    .ok_or_else(|| {
        let cause = match arc {
            None => format!("{} has {last} arcs.", part.mark),
            Some(number) => format!("{} has no arc {number}.", part.mark),
        };
        Refused::new(
            cause,
            format!("Say which was read with --arc, 1 to {last}, counted from end 0."),
        )
    })
}

/// Tolerance of a rise over this chord, and where it comes from.
///
/// Neither standard has a row for a rise: the linear tolerance of a size equal to the chord is used.
pub fn tolerance_of_rise(
    tolerance: Tolerance,
    chord: f64,
    show: Show,
) -> Result<(f64, Option<String>), Refused> {
    match tolerance {
        Tolerance::Given(mm) if mm > 0.0 && mm.is_finite() => Ok((mm, None)),
        Tolerance::Given(_) => Err(Refused::new(
            "The tolerance must be more than nothing.",
            "Give it as a length, as in --tol 1mm.",
        )),
        Tolerance::Class(class) => {
            let length = super::text::with_unit(chord, show);
            let found = class.linear(chord).ok_or_else(|| {
                Refused::new(
                    format!("{class} gives no tolerance for a length of {length}."),
                    "Give the tolerance itself with --tol.",
                )
            })?;
            Ok((
                found,
                Some(format!(
                    "{class} has no row for a rise; its linear tolerance for a size equal to the chord, {length}, was used: ±{}.",
                    super::text::with_unit(found, show)
                )),
            ))
        }
    }
}

/// The other radius of a section once one face is known, the depth of the section taken from the model.
fn to_centreline(curve: &Curve, side: Side, face: f64) -> f64 {
    face - curve.radius(side).value + curve.centreline.value
}

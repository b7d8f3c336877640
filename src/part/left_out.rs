//! Metal of a body that is not of the bar described.

use super::Part;
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;

/// A bar that explains less than this share of a body's skin does not explain all of it,
const MOST_OF_IT: f64 = 0.95;
/// if its volume is off as well by more than this share: holes alone leave it right.
const VOLUME_SHARE: f64 = 0.02;

/// A part that explains only the share `explained` of its body's skin, and not its volume either,
/// weighs what the body does, give or take the difference; that is said.
pub fn note(part: &mut Part, body: &Body, explained: f64) {
    let Some(v) = part.volume else { return };
    let off = body.volume - v.value;
    if explained >= MOST_OF_IT
        || !body.closed
        || off.abs() <= v.plus_minus + VOLUME_SHARE * body.volume
    {
        return;
    }
    part.volume = Some(Quantity::new(body.volume, v.plus_minus + off.abs()));
    part.surface_area = None;
    let share = 100.0 * off / body.volume;
    let text = if share > 0.0 {
        format!(
            "{share:.0} % of this body's metal is not of the bar described: a head, a stub or a lug. The mass given is the whole body's."
        )
    } else {
        format!(
            "This body has {:.0} % less metal than the bar described: something is cut away that is not listed. The mass given is the body's.",
            -share
        )
    };
    part.findings.push(Finding::new(
        Code::LeftOut,
        Severity::Warning,
        text,
        "Look at the model beside this sheet and add what is missing, or export the pieces as separate solids.",
    ));
}

//! Paint: the faces air gets at.

use std::f64::consts::PI;

use crate::measure::Quantity;
use crate::member::Shape;
use crate::report::ReportedPart;

/// Area of a piece's faces without the inside of a tube, mm². `None` where it can't be told.
///
/// Inside of a tube: its inner perimeter along the centreline, which is exact for cuts in one plane and
/// for arcs (Pappus).
pub fn outside(part: &ReportedPart) -> Option<Quantity> {
    let all = part.surface_area?;
    let Some(member) = &part.member else {
        return Some(all);
    };
    let section = &member.section;
    let perimeter = match section.shape {
        Shape::Round => PI * (section.diameter?.value - 2.0 * section.wall?.value),
        Shape::Square | Shape::Rect => {
            let wall = section.wall?.value;
            let (w, h) = (section.width?.value, section.height?.value);
            let r = section.inner_corner_radius.map_or(0.0, |r| r.value);
            2.0 * (w + h - 4.0 * wall) - (8.0 - 2.0 * PI) * r
        }
        _ => return Some(all),
    };
    let inside = perimeter * member.centreline.length?.value;
    // the inside is about as well known, in proportion, as the whole
    let doubt = all.plus_minus * (1.0 + inside / all.value.max(1.0));
    Some(Quantity::new(all.value - inside, doubt))
}

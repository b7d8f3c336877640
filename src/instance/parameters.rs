//! Whether two parts agree in everything that was measured on them.

use crate::measure::Quantity;
use crate::member::{Member, Span};
use crate::part::Part;
use crate::plate::Plate;

/// True when no measured number of the two parts contradicts that they are copies.
///
/// Compared as intervals: two numbers differ when their ± do not meet. What is null on one side
/// says nothing. Hand and the order in which a member is read are left to the fit.
pub fn agree(a: &Part, b: &Part) -> bool {
    a.class == b.class
        && meets(&a.volume, &b.volume)
        && meets(&a.surface_area, &b.surface_area)
        && match (&a.member, &b.member) {
            (Some(a), Some(b)) => members_agree(a, b),
            (None, None) => true,
            _ => false,
        }
        && match (&a.plate, &b.plate) {
            (Some(a), Some(b)) => plates_agree(a, b),
            (None, None) => true,
            _ => false,
        }
}

fn meets(a: &Option<Quantity>, b: &Option<Quantity>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a.agrees_with(*b),
        _ => true,
    }
}

/// Two lists agree when, sorted, they agree one by one.
fn lists_meet(a: Vec<Option<Quantity>>, b: Vec<Option<Quantity>>) -> bool {
    let sorted = |mut l: Vec<Option<Quantity>>| {
        let key = |q: &Option<Quantity>| q.map_or(f64::INFINITY, |q| q.value);
        l.sort_by(|p, q| key(p).total_cmp(&key(q)));
        l
    };
    a.len() == b.len()
        && sorted(a)
            .iter()
            .zip(sorted(b).iter())
            .all(|(p, q)| meets(p, q))
}

fn members_agree(a: &Member, b: &Member) -> bool {
    let (s, t) = (&a.section, &b.section);
    s.shape == t.shape
        && lists_meet(vec![s.width, s.height], vec![t.width, t.height])
        && meets(&s.diameter, &t.diameter)
        && meets(&s.wall, &t.wall)
        && meets(&s.web_thickness, &t.web_thickness)
        && meets(&s.flange_thickness, &t.flange_thickness)
        && meets(&s.corner_radius, &t.corner_radius)
        && a.centreline.closed == b.centreline.closed
        && meets(&a.centreline.length, &b.centreline.length)
        && meets(&a.centreline.chord, &b.centreline.chord)
        && lists_meet(lengths(a), lengths(b))
        && lists_meet(radii(a), radii(b))
        && lists_meet(cut_angles(a), cut_angles(b))
        && lists_meet(
            a.holes.iter().map(|h| h.diameter).collect(),
            b.holes.iter().map(|h| h.diameter).collect(),
        )
}

fn lengths(m: &Member) -> Vec<Option<Quantity>> {
    m.spans.iter().map(|s| Some(s.length())).collect()
}

fn radii(m: &Member) -> Vec<Option<Quantity>> {
    m.spans
        .iter()
        .filter_map(|s| match s {
            Span::Arc { radius, .. } => Some(*radius),
            Span::Helix { radius, .. } => Some(Some(*radius)),
            Span::Straight { .. } | Span::Free { .. } => None,
        })
        .collect()
}

fn cut_angles(m: &Member) -> Vec<Option<Quantity>> {
    m.ends
        .iter()
        .flat_map(|e| &e.cuts)
        .map(|c| Some(c.off_square))
        .collect()
}

fn plates_agree(a: &Plate, b: &Plate) -> bool {
    a.form == b.form
        && meets(&a.thickness, &b.thickness)
        && meets(&a.flat.length, &b.flat.length)
        && meets(&a.flat.width, &b.flat.width)
        && meets(&a.flat.area, &b.flat.area)
        && lists_meet(
            a.holes.iter().map(|h| h.diameter).collect(),
            b.holes.iter().map(|h| h.diameter).collect(),
        )
        && lists_meet(
            a.bends.iter().map(|h| Some(h.angle)).collect(),
            b.bends.iter().map(|h| Some(h.angle)).collect(),
        )
        && meets(&a.inside_radius, &b.inside_radius)
        && meets(&a.arc_angle, &b.arc_angle)
        && meets(&a.half_angle, &b.half_angle)
}

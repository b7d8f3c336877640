//! Curves that are neither straights, arcs nor helices.

use super::fit::Fitted;
use super::trace::Traced;
use super::{Member, Span};
use crate::geometry::Pt3;
use crate::measure::Quantity;

/// True when a chain of arcs only imitates the path: three or more in a row that leave the vertices
/// further off than the file's resolution explains. Bent stock, read from exact vertices, leaves none.
pub fn is_free(fitted: &Fitted, floor: f64) -> bool {
    let mut run = 0;
    let mut longest = 0;
    for p in &fitted.model.path.pieces {
        run = if p.curvature != 0.0 && p.torsion == 0.0 {
            run + 1
        } else {
            0
        };
        longest = longest.max(run);
    }
    longest >= 3 && fitted.scale > 20.0 * floor
}

/// Puts one free span in place of the chain that imitated it.
pub fn make_free(member: &mut Member, traced: &Traced) {
    let mut radii: Vec<Quantity> = Vec::new();
    for s in &member.spans {
        if let Span::Arc {
            radius: Some(r), ..
        } = s
        {
            radii.push(*r);
        }
    }
    // the imitating arcs differ from the curve's own radius by about as much as from their neighbours
    let doubtful = |q: &Quantity| Quantity::new(q.value, q.plus_minus + 0.2 * q.value);
    let length = match member.centreline.length {
        Some(l) => Quantity::new(l.value, l.plus_minus + 20.0 * traced.sigma + 2e-4 * l.value),
        None => return,
    };
    let least = radii
        .iter()
        .min_by(|a, b| a.value.total_cmp(&b.value))
        .map(doubtful);
    let most = radii
        .iter()
        .max_by(|a, b| a.value.total_cmp(&b.value))
        .map(doubtful);
    let wider =
        |q: Option<Quantity>| q.map(|q| Quantity::new(q.value, q.plus_minus + 10.0 * traced.sigma));
    member.centreline.length = Some(length);
    // where an imitation ends is as doubtful as how long it is
    let chord = member.centreline.chord;
    member.centreline.chord =
        chord.map(|q| Quantity::new(q.value, q.plus_minus + 20.0 * traced.sigma + 1e-4 * q.value));
    member.centreline.rise = wider(member.centreline.rise);
    let mut points: Vec<[f64; 3]> = traced
        .track
        .stations
        .iter()
        .map(|s| [s.centre.x, s.centre.y, s.centre.z])
        .collect();
    if let [first, last] = &member.ends[..] {
        let apart = |a: &[f64; 3], b: &[f64; 3]| (Pt3::from(*a) - Pt3::from(*b)).norm();
        // the track may run the other way
        if points
            .first()
            .is_some_and(|p| apart(p, &first.point) > apart(p, &last.point))
        {
            points.reverse();
        }
        points.insert(0, first.point);
        points.push(last.point);
    }
    member.spans = vec![Span::Free {
        length,
        radius_min: least,
        radius_max: most,
        points,
    }];
    let s = &mut member.section;
    for q in [
        &mut s.diameter,
        &mut s.width,
        &mut s.height,
        &mut s.wall,
        &mut s.web_thickness,
        &mut s.flange_thickness,
        &mut s.corner_radius,
        &mut s.inner_corner_radius,
    ] {
        *q = wider_by(*q, 3.0 * traced.sigma);
    }
    for h in &mut member.holes {
        h.station = wider(h.station);
    }
}

fn wider_by(q: Option<Quantity>, by: f64) -> Option<Quantity> {
    q.map(|q| Quantity::new(q.value, q.plus_minus + by))
}

//! The edge of an end that is neither plane, double cut nor cope, point by point.

use super::caps::Sorted;
use super::ends::face_tolerance;
use super::trace::Traced;
use super::{End, EndShape, Member, Ordinate};
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::measure::Quantity;
use crate::weld::NONE;

/// Most points given for one end: one every five degrees.
const MOST: usize = 72;

/// Fills in the ordinates of ends of any other shape.
pub fn fill(member: &mut Member, body: &Body, traced: &Traced, sorted: &Sorted) {
    let edge = edge(body, sorted);
    let plus_minus = face_tolerance(body, traced) + 1e-3;
    let ends = member.ends.clone();
    for (e, end) in member.ends.iter_mut().enumerate() {
        if end.shape != EndShape::Other {
            continue;
        }
        let nearest = |p: &Pt3| {
            ends.iter().enumerate().min_by(|(_, a), (_, b)| {
                (p - Pt3::from(a.point))
                    .norm_squared()
                    .total_cmp(&(p - Pt3::from(b.point)).norm_squared())
            })
        };
        let own = edge
            .iter()
            .filter(|p| nearest(p).is_some_and(|(n, _)| n == e));
        end.ordinates = thinned(own.map(|p| ordinate(end, p, plus_minus)).collect());
    }
}

/// Vertices of the outer contour where the swept surface stops.
fn edge(body: &Body, sorted: &Sorted) -> Vec<Pt3> {
    let mut vertices: Vec<u32> = Vec::new();
    for (f, across) in body.neighbours.iter().enumerate() {
        if sorted.contour[f] != 0 {
            continue;
        }
        for k in 0..3 {
            let beyond = across[k] == NONE || sorted.contour[across[k] as usize] == NONE;
            // the wall of a hole is swept surface on neither side, but not an end
            let hole = across[k] != NONE
                && sorted
                    .caps
                    .iter()
                    .any(|c| c.facing.abs() <= 0.25 && c.facets.contains(&across[k]));
            if beyond && !hole {
                vertices.extend([body.facets[f][k], body.facets[f][(k + 1) % 3]]);
            }
        }
    }
    vertices.sort_unstable();
    vertices.dedup();
    vertices
        .into_iter()
        .map(|v| body.vertices[v as usize])
        .collect()
}

fn ordinate(end: &End, p: &Pt3, plus_minus: f64) -> Ordinate {
    let d = p - Pt3::from(end.point);
    Ordinate {
        x: d.dot(&Vec3::from(end.width_axis)),
        y: d.dot(&Vec3::from(end.height_axis)),
        beyond: Quantity::new(d.dot(&Vec3::from(end.tangent)), plus_minus),
    }
}

/// In order about the centreline, from the width axis towards the height axis; of many, evenly spread
/// ones and always the one that reaches furthest and the one that stops first.
fn thinned(mut all: Vec<Ordinate>) -> Vec<Ordinate> {
    let about = |o: &Ordinate| {
        o.y.atan2(o.x)
            .rem_euclid(std::f64::consts::TAU)
            // the same direction from above and from below
            .rem_euclid(std::f64::consts::TAU - 1e-9)
    };
    all.sort_by(|a, b| {
        about(a)
            .total_cmp(&about(b))
            .then(a.beyond.value.total_cmp(&b.beyond.value))
    });
    let step = all.len().div_ceil(MOST).max(1);
    let extreme = |sign: f64| {
        (0..all.len())
            .max_by(|&i, &j| (sign * all[i].beyond.value).total_cmp(&(sign * all[j].beyond.value)))
    };
    let keep = [extreme(1.0), extreme(-1.0)];
    let mut k = 0;
    all.retain(|_| {
        let kept = k % step == 0 || keep.contains(&Some(k));
        k += 1;
        kept
    });
    all
}

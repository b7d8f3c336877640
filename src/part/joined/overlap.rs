//! Solids that run into each other: how deep the end of a member stands in another body.

use super::words;
use crate::body::Body;
use crate::geometry::bvh::{BoxTree, TriangleTree};
use crate::geometry::{Pt3, Vec3};
use crate::part::Part;

/// Files with both parts that the end of the one stands in the metal of the other.
///
/// Looks along the member from the middle of each end; O((parts + overlaps) log bodies) and the facets
/// of the bodies whose box holds an end.
pub fn note_overlaps(parts: &mut [Part], bodies: &[Body]) {
    let boxes = BoxTree::new(bodies.iter().map(bounds));
    let mut parts_of: Vec<Vec<usize>> = vec![Vec::new(); bodies.len()];
    for (j, part) in parts.iter().enumerate() {
        if let Some(own) = parts_of.get_mut(part.body as usize) {
            own.push(j);
        }
    }
    let mut found = Vec::new();
    for (i, part) in parts.iter().enumerate() {
        let ends = part.member.iter().flat_map(|m| &m.ends).enumerate();
        for (e, end) in ends {
            let (p, inward) = (Pt3::from(end.point), -Vec3::from(end.tangent));
            for b in boxes.holding(&p) {
                let body = &bodies[b as usize];
                // where several pieces share a body the one that is met isn't known
                let &[j] = &parts_of[b as usize][..] else {
                    continue;
                };
                if b == part.body || !body.closed || parts[j].unresolved.is_some() {
                    continue;
                }
                let depth = depth(body, &p, &inward).filter(|d| *d > 4.0 * body.quantum);
                found.extend(depth.map(|d| (i, e, j, d)));
            }
        }
    }
    for (i, e, j, depth) in found {
        let [mine, theirs] = words::overlap(&parts[i], e, &parts[j], depth);
        parts[i].findings.push(mine);
        parts[j].findings.push(theirs);
    }
}

/// Way from a point inside the metal to where it comes out, mm; `None` from outside.
fn depth(body: &Body, from: &Pt3, along: &Vec3) -> Option<f64> {
    let out = body
        .facets
        .iter()
        .filter_map(|f| {
            let [a, b, c] = f.map(|v| body.vertices[v as usize] - from);
            // the line meets the facet when it passes its edges on one side
            let sides = [(a, b), (b, c), (c, a)].map(|(p, q)| along.dot(&p.cross(&q)));
            let meets = sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0);
            let normal = (b - a).cross(&(c - a));
            let speed = normal.dot(along);
            let way = normal.dot(&a) / speed;
            (meets && speed > 0.0 && way > 0.0).then_some(way)
        })
        .min_by(f64::total_cmp)?;
    TriangleTree::new(&body.vertices, &body.facets)
        .holds(&(from + along * (0.5 * out)))
        .then_some(out)
}

fn bounds(body: &Body) -> (Pt3, Pt3) {
    let start = (
        Pt3::from(Vec3::repeat(f64::INFINITY)),
        Pt3::from(Vec3::repeat(f64::NEG_INFINITY)),
    );
    body.vertices
        .iter()
        .fold(start, |(low, high), p| (low.inf(p), high.sup(p)))
}

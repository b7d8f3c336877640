//! Is the mesh a scan, and how noisy?

use super::facets::{Shape, corners};
use crate::body::Body;

/// Standard deviation of the vertices' noise, mm, or `None` for a drawn model.
///
/// In a drawn model neighbouring facets are either flush or part of something curved or cornered;
/// most of its area is flush to the last digit or made of few facets. In a scan no two facets are
/// flush. Half the far-corner heights of a flat scan lie within 1.35 σ (the height of the far
/// corner over the facet next to it is the sum of four vertices’ noise, 2 σ).
pub(super) fn estimate(body: &Body, shape: &Shape, exact: f64) -> Option<f64> {
    let mut heights = Vec::new();
    let mut flush = 0usize;
    for f in 0..body.facets.len() {
        for (k, &g) in body.neighbours[f].iter().enumerate() {
            if g == crate::weld::NONE
                || (g as usize) < f
                || shape.height[f] <= exact
                || shape.height[g as usize] <= exact
            {
                continue;
            }
            let edge = [body.facets[f][k], body.facets[f][(k + 1) % 3]];
            let Some(far) = body.facets[g as usize]
                .iter()
                .position(|v| !edge.contains(v))
            else {
                continue;
            };
            let h = (corners(body, g)[far] - corners(body, f as u32)[0])
                .dot(&shape.normal[f])
                .abs();
            if h <= exact {
                flush += 1;
            }
            heights.push(h);
        }
    }
    // Few edges say nothing; a fair share of flush ones says it was drawn.
    if heights.len() < 500 || flush * 10 > heights.len() {
        return None;
    }
    heights.sort_by(f64::total_cmp);
    let sigma = heights[heights.len() / 2] / 1.35;
    // Facets much larger than their unevenness are a noisy flat; comparable, a curved model.
    let mut edges: Vec<f64> = shape.area.iter().map(|a| (2.0 * a).sqrt()).collect();
    edges.sort_by(f64::total_cmp);
    let edge = edges[edges.len() / 2];
    (sigma < 0.05 * edge && rough(body, shape)).then_some(sigma)
}

/// True when neighbouring edges bend both ways about as often: curved surfaces of a drawn model
/// bend mostly one way.
fn rough(body: &Body, shape: &Shape) -> bool {
    let (mut out, mut inward) = (0usize, 0usize);
    for f in 0..body.facets.len() {
        for (k, &g) in body.neighbours[f].iter().enumerate() {
            if g == crate::weld::NONE || (g as usize) < f {
                continue;
            }
            let [a, b] =
                [body.facets[f][k], body.facets[f][(k + 1) % 3]].map(|v| body.vertices[v as usize]);
            if shape.normal[f]
                .cross(&shape.normal[g as usize])
                .dot(&(b - a))
                > 0.0
            {
                out += 1
            } else {
                inward += 1
            }
        }
    }
    let (few, many) = (out.min(inward), out.max(inward));
    few * 10 > many * 6
}

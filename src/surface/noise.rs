//! Is the mesh a scan, and how noisy?

use super::facets::{Shape, corners};
use super::flat::{Flat, Flats};
use super::grow::Curved;
use crate::body::Body;

/// True when a third of the area lies in flats of several facets or in curved surfaces.
pub(super) fn mostly_recognised(flats: &Flats, curved: &[Curved]) -> bool {
    share(flats, curved, |f| f.facets.len() >= 3) * 3.0 > 1.0
}

/// Share of the area in curved surfaces and in sizeable flats whose vertices scatter about their
/// plane by no more than the noise: a band of a curved surface scatters more.
pub(super) fn share_recognised(body: &Body, flats: &Flats, curved: &[Curved], sigma: f64) -> f64 {
    share(flats, curved, |f| {
        let squares: f64 = f
            .vertices
            .iter()
            .map(|&v| (body.vertices[v as usize] - f.point).dot(&f.normal).powi(2))
            .sum();
        f.facets.len() >= 16 && squares <= (1.45 * sigma).powi(2) * f.vertices.len() as f64
    })
}

fn share(flats: &Flats, curved: &[Curved], sound: impl Fn(&Flat) -> bool) -> f64 {
    let mut known: Vec<bool> = flats.list.iter().map(sound).collect();
    for &f in curved.iter().flat_map(|c| &c.flats) {
        known[f as usize] = true;
    }
    let total: f64 = flats.list.iter().map(|f| f.area).sum();
    let area = flats
        .list
        .iter()
        .zip(known)
        .filter(|(_, k)| *k)
        .map(|(f, _)| f.area);
    area.sum::<f64>() / total.max(f64::MIN_POSITIVE)
}

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
    (sigma < 0.3 * edge && rough(body, shape)).then_some(sigma)
}

/// True when most facets have edges bent both ways: on a curved surface of a drawn model a facet's
/// edges bend one way.
fn rough(body: &Body, shape: &Shape) -> bool {
    let (mut mixed, mut all) = (0usize, 0usize);
    for f in 0..body.facets.len() {
        let bends = body.neighbours[f]
            .iter()
            .enumerate()
            .filter(|(_, g)| **g != crate::weld::NONE)
            .map(|(k, &g)| {
                let [a, b] = [body.facets[f][k], body.facets[f][(k + 1) % 3]]
                    .map(|v| body.vertices[v as usize]);
                shape.normal[f]
                    .cross(&shape.normal[g as usize])
                    .dot(&(b - a))
                    > 0.0
            });
        let (out, count) = bends.fold((0, 0), |(o, c), convex| (o + usize::from(convex), c + 1));
        if count == 3 {
            all += 1;
            mixed += usize::from(out == 1 || out == 2);
        }
    }
    mixed * 2 > all
}

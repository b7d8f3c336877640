//! Outlines of rounded surfaces: where the surface turns away from the eye.
//!
//! The normal is averaged over the facets about a corner as far as the surface is smooth; the
//! outline runs where the averaged normal is square to the eye, found along the facets' edges, so
//! it is smooth where the facets are not ("Introduction to 3D non-photorealistic rendering:
//! silhouettes and outlines", SIGGRAPH course notes, 1999). Where the surface is hollow along the
//! line of sight, as in the bore of a tube, the metal itself hides it ("What does the occluding
//! contour tell us about solid shape?", Perception 13, 1984).

use std::collections::BTreeMap;

use super::Edge;
use super::creases::Solid;
use crate::geometry::union_find::UnionFind;
use crate::geometry::{Pt3, Vec3};
use crate::weld::NONE;

pub(super) fn outlines(solid: &Solid, eye: &Vec3) -> Vec<Edge> {
    let tilt = tilts(solid, eye);
    let turning = turning(solid, &tilt, eye);
    let mut edges = Vec::new();
    for (f, facet) in solid.facets.iter().enumerate() {
        let Some(g) = tilt.get(f) else { continue };
        if turning.get(f).is_none_or(|sum| *sum <= 0.0) {
            continue;
        }
        let ends: Vec<Pt3> = (0..3)
            .filter_map(|k| {
                let j = (k + 1) % 3;
                if (g[k] >= 0.0) == (g[j] >= 0.0) {
                    return None;
                }
                let a = solid.vertices.get(facet[k] as usize)?;
                let b = solid.vertices.get(facet[j] as usize)?;
                Some(a + (b - a) * (g[k] / (g[k] - g[j])))
            })
            .collect();
        if let [p, q] = ends.as_slice()
            && p != q
        {
            edges.push([*p, *q]);
        }
    }
    edges
}

/// Rounds of asking the neighbours.
const ROUNDS: usize = 3;

/// For each facet the outline crosses, whether the surface turns to the eye there (positive) or away
/// (negative), its neighbours along the outline asked too: normals averaged over uneven facets mislead
/// a single one. 0 elsewhere.
fn turning(solid: &Solid, tilt: &[[f64; 3]], eye: &Vec3) -> Vec<f64> {
    let crossed = |g: &[f64; 3], k: usize| (g[k] >= 0.0) != (g[(k + 1) % 3] >= 0.0);
    let mut votes: Vec<f64> = solid
        .facets
        .iter()
        .zip(tilt)
        .map(|(facet, g)| {
            let is_crossed = (0..3).any(|k| crossed(g, k));
            match (is_crossed, turns_to_the_eye(solid, facet, g, eye)) {
                (false, _) => 0.0,
                (true, true) => 1.0,
                (true, false) => -1.0,
            }
        })
        .collect();
    for _ in 0..ROUNDS {
        let before = votes.clone();
        for (f, vote) in votes.iter_mut().enumerate().filter(|(_, v)| **v != 0.0) {
            let (Some(g), Some(around)) = (tilt.get(f), solid.neighbours.get(f)) else {
                continue;
            };
            let along = (0..3).filter(|&k| crossed(g, k));
            let theirs = along.filter_map(|k| before.get(around[k] as usize));
            *vote = (*vote + theirs.sum::<f64>()) / 3.0;
        }
    }
    votes
}

/// True where the surface turns more towards the eye the nearer it comes to it.
fn turns_to_the_eye(solid: &Solid, facet: &[u32; 3], g: &[f64; 3], eye: &Vec3) -> bool {
    let corner = |k: usize| solid.vertices.get(facet[k] as usize);
    let (Some(p), Some(q), Some(r)) = (corner(0), corner(1), corner(2)) else {
        return false;
    };
    let (u, v) = (q - p, r - p);
    let (uu, uv, vv) = (u.dot(&u), u.dot(&v), v.dot(&v));
    let (a, b) = (eye.dot(&u), eye.dot(&v));
    // The eye's direction in the facet as x u + y v, both times the same positive number.
    let (x, y) = (a * vv - b * uv, b * uu - a * uv);
    x * (g[1] - g[0]) + y * (g[2] - g[0]) > 0.0
}

/// How far the averaged normal at each corner of each facet leans towards the eye.
fn tilts(solid: &Solid, eye: &Vec3) -> Vec<[f64; 3]> {
    let corners = solid.facets.len() * 3;
    let mut same = UnionFind::new(corners);
    for (f, around) in solid.neighbours.iter().enumerate() {
        for (k, &g) in around.iter().enumerate() {
            let sharp = solid.sharp.get(f).is_none_or(|s| s[k]);
            if g == NONE || sharp {
                continue;
            }
            let (Some(mine), Some(theirs)) = (solid.facets.get(f), solid.facets.get(g as usize))
            else {
                continue;
            };
            for v in [mine[k], mine[(k + 1) % 3]] {
                let at = |facet: &[u32; 3]| facet.iter().position(|&u| u == v);
                if let (Some(i), Some(j)) = (at(mine), at(theirs)) {
                    same.join((f * 3 + i) as u32, (g as usize * 3 + j) as u32);
                }
            }
        }
    }
    let mut sums: BTreeMap<u32, Vec3> = BTreeMap::new();
    for (f, facet) in solid.facets.iter().enumerate() {
        let Some(normal) = solid.normals.get(f) else {
            continue;
        };
        for k in 0..3 {
            let corner = |j: usize| solid.vertices.get(facet[j % 3] as usize).copied();
            let (Some(p), Some(q), Some(r)) = (corner(k), corner(k + 1), corner(k + 2)) else {
                continue;
            };
            let (u, v) = (q - p, r - p);
            let angle = u.cross(&v).norm().atan2(u.dot(&v));
            let root = same.root((f * 3 + k) as u32);
            *sums.entry(root).or_insert_with(Vec3::zeros) += normal * angle;
        }
    }
    (0..solid.facets.len())
        .map(|f| {
            [0, 1, 2].map(|k| {
                let root = same.root((f * 3 + k) as u32);
                let sum = sums.get(&root).copied().unwrap_or_default();
                let lean = sum.try_normalize(0.0).unwrap_or_default().dot(eye);
                // Faces that stand edge on count as seen: rounding must not draw their facets.
                if lean.abs() < 1e-6 { 0.0 } else { lean }
            })
        })
        .collect()
}

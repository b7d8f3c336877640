//! Curved surfaces grown over flat groups as long as their vertices lie on them.

use std::collections::HashSet;

use nalgebra::{Point3, Vector3};

use super::flat::{Flat, Flats};
use super::revolved::{self, Revolved, square_to};
use super::seed;
use crate::body::Body;

/// A cylinder or cone and the flat groups on it.
pub(super) struct Curved {
    pub fit: Revolved,
    pub flats: Vec<u32>,
    pub convex: bool,
}

/// Widest flat on a curved surface, radians about its axis: eight to the turn, and a little.
const WIDEST: f64 = 0.9;
/// Seeds that may fail, or lead to a scrap, before the rest is taken as free form.
pub(super) const ATTEMPTS: usize = 8_000;
/// Where the mesh looks noisy a seed seldom leads anywhere.
pub(super) const FEW_ATTEMPTS: usize = 500;

/// All cylinders and cones of a body; gives up after `attempts` seeds in vain.
pub(super) fn curved(body: &Body, flats: &Flats, tolerance: f64, attempts: usize) -> Vec<Curved> {
    let mut free = vec![true; flats.list.len()];
    let mut out = Vec::new();
    let mut failed = 0;
    for flat in 0..flats.list.len() as u32 {
        if !free[flat as usize] || failed > attempts {
            continue;
        }
        let found = seed::regions(flats, &free, flat)
            .into_iter()
            .find_map(|region| {
                let fit = seed::surface(body, flats, &region, tolerance)?;
                grow(body, flats, &free, region, fit, tolerance)
            });
        match found {
            Some(curved) => {
                // Scraps of a surface of another kind pass for round ones without end.
                failed += usize::from(curved.flats.len() * 1000 < flats.list.len());
                for &f in &curved.flats {
                    free[f as usize] = false;
                }
                out.push(curved);
            }
            None => failed += 1,
        }
    }
    merge(body, flats, tolerance, &mut out);
    out
}

/// Joins neighbouring patches that lie on one surface after all: a small seed may have kept facets
/// from a better one.
fn merge(body: &Body, flats: &Flats, tolerance: f64, curved: &mut Vec<Curved>) {
    let mut owner = vec![usize::MAX; flats.list.len()];
    for (i, c) in curved.iter().enumerate() {
        for &f in &c.flats {
            owner[f as usize] = i;
        }
    }
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (f, flat) in flats.list.iter().enumerate() {
        for &(g, _) in &flat.beside {
            let (a, b) = (owner[f], owner[g as usize]);
            if a < b && b != usize::MAX {
                pairs.push((a, b));
            }
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    let mut now: Vec<usize> = (0..curved.len()).collect();
    for (a, b) in pairs {
        let root = |mut i: usize| {
            while now[i] != i {
                i = now[i];
            }
            i
        };
        let (a, b) = (root(a), root(b));
        if a == b || curved[a].convex != curved[b].convex {
            continue;
        }
        let (large, small) = if curved[a].flats.len() >= curved[b].flats.len() {
            (a, b)
        } else {
            (b, a)
        };
        let fit = &curved[large].fit;
        let near = seed::points_of(body, flats, &curved[small].flats)
            .iter()
            .all(|p| fit.distance(p).abs() <= 20.0 * tolerance);
        if !near {
            continue;
        }
        let both: Vec<u32> = curved[large]
            .flats
            .iter()
            .chain(&curved[small].flats)
            .copied()
            .collect();
        let slope = (fit.slope != 0.0).then_some(fit.slope);
        if let Some(fit) = revolved::fit(&seed::points_of(body, flats, &both), &fit.axis, slope, 30)
            .filter(|f| f.largest <= 1.5 * tolerance)
        {
            curved[large].fit = fit;
            curved[large].flats = both;
            curved[small].flats = Vec::new();
            now[small] = large;
        }
    }
    curved.retain(|c| !c.flats.is_empty());
}

fn grow(
    body: &Body,
    flats: &Flats,
    free: &[bool],
    region: Vec<u32>,
    fit: Revolved,
    tolerance: f64,
) -> Option<Curved> {
    let side = |fit: &Revolved, flat: &Flat| flat.normal.dot(&fit.normal(&flat.point));
    let convex = region
        .iter()
        .map(|&f| side(&fit, &flats.list[f as usize]))
        .sum::<f64>()
        > 0.0;
    let sign = if convex { 1.0 } else { -1.0 };
    let belongs = |fit: &Revolved, f: u32| {
        let flat = &flats.list[f as usize];
        side(fit, flat) * sign > 0.3
            && flat
                .vertices
                .iter()
                .all(|&v| fit.distance(&body.vertices[v as usize]).abs() <= tolerance)
            && width(body, fit, flat) <= WIDEST
    };
    if !region.iter().all(|&f| belongs(&fit, f)) {
        return None;
    }
    let mut member: HashSet<u32> = region.iter().copied().collect();
    let mut list = region;
    let mut fit = fit;
    let mut fitted = list.len();
    let mut frontier = 0;
    loop {
        let end = list.len();
        for k in frontier..end {
            for &(g, _) in &flats.list[list[k] as usize].beside {
                if free[g as usize] && !member.contains(&g) && belongs(&fit, g) {
                    member.insert(g);
                    list.push(g);
                }
            }
        }
        frontier = end;
        // A better fit may reach further; tried as soon as the patch has grown by a fifth, or stalls.
        if list.len() * 5 > fitted * 6 || list.len() == end {
            if list.len() == fitted {
                break;
            }
            fitted = list.len();
            let slope = (fit.slope != 0.0).then_some(fit.slope);
            fit = revolved::fit(&seed::points_of(body, flats, &list), &fit.axis, slope, 30)
                .filter(|f| f.largest <= 1.5 * tolerance)?;
            frontier = 0;
        }
    }
    proven(body, flats, &list, &fit, tolerance).then_some(Curved {
        fit,
        flats: list,
        convex,
    })
}

/// Angle a flat group spans about the axis, radians.
fn width(body: &Body, fit: &Revolved, flat: &Flat) -> f64 {
    let (mut low, mut high) = (0.0f64, 0.0f64);
    let middle = flat.point - fit.point;
    let toward = middle - fit.axis * middle.dot(&fit.axis);
    for &v in &flat.vertices {
        let d = body.vertices[v as usize] - fit.point;
        let d = d - fit.axis * d.dot(&fit.axis);
        if d.norm() > 1e-9 * fit.radius {
            let angle = toward.cross(&d).dot(&fit.axis).atan2(toward.dot(&d));
            low = low.min(angle);
            high = high.max(angle);
        }
    }
    high - low
}

/// True when the vertices stand at enough places round the axis to prove the surface: five, or four
/// evenly spaced (three chords), or three or four with the faces beside them tangent.
fn proven(body: &Body, flats: &Flats, list: &[u32], fit: &Revolved, tolerance: f64) -> bool {
    let points = seed::points_of(body, flats, list);
    let places = places(&points, fit, tolerance);
    match places.len() {
        0..=2 => false,
        3 => tangent_sides(flats, list, fit, tolerance) >= 2,
        4 => {
            let gaps: Vec<f64> = places.windows(2).map(|w| w[1] - w[0]).collect();
            let (low, high) = (
                gaps.iter().copied().fold(f64::INFINITY, f64::min),
                gaps.iter().copied().fold(0.0, f64::max),
            );
            (high - low) * fit.radius <= 6.0 * tolerance
                || tangent_sides(flats, list, fit, tolerance) >= 2
        }
        _ => true,
    }
}

/// Different angles about the axis at which points stand, ascending, the widest gap outside.
pub(super) fn places(points: &[Point3<f64>], fit: &Revolved, tolerance: f64) -> Vec<f64> {
    let (u, v) = square_to(&fit.axis);
    let mut angles: Vec<f64> = points
        .iter()
        .map(|p| p - fit.point)
        .filter(|d| d.cross(&fit.axis).norm() > 0.05 * fit.radius)
        .map(|d| d.dot(&v).atan2(d.dot(&u)))
        .collect();
    angles.sort_by(f64::total_cmp);
    let step = (4.0 * tolerance / fit.radius).max(1e-9);
    angles.dedup_by(|b, a| *b - *a <= step);
    let n = angles.len();
    if n < 2 {
        return angles;
    }
    // Start after the widest gap, so that an open patch is in one piece.
    let gap = |i: usize| {
        if i == 0 {
            angles[0] + std::f64::consts::TAU - angles[n - 1]
        } else {
            angles[i] - angles[i - 1]
        }
    };
    let start = (0..n)
        .max_by(|&a, &b| gap(a).total_cmp(&gap(b)))
        .unwrap_or(0);
    let mut out: Vec<f64> = (0..n)
        .map(|k| {
            if start + k < n {
                angles[start + k]
            } else {
                angles[start + k - n] + std::f64::consts::TAU
            }
        })
        .collect();
    if gap(start) <= step {
        out.pop();
    }
    out
}

/// Number of flat groups beside the patch whose plane touches the cylinder.
pub(super) fn tangent_sides(flats: &Flats, list: &[u32], fit: &Revolved, tolerance: f64) -> usize {
    let own: HashSet<u32> = list.iter().copied().collect();
    let mut sides: Vec<u32> = list
        .iter()
        .flat_map(|&f| flats.list[f as usize].beside.iter().map(|b| b.0))
        .filter(|g| !own.contains(g))
        .collect();
    sides.sort_unstable();
    sides.dedup();
    sides
        .into_iter()
        .filter(|&g| touches(&flats.list[g as usize], fit, 6.0 * tolerance))
        .count()
}

/// True when the plane of a flat group touches a cylinder.
pub(super) fn touches(flat: &Flat, fit: &Revolved, slack: f64) -> bool {
    let d: Vector3<f64> = fit.point - flat.point;
    flat.normal.dot(&fit.axis).abs() <= 1e-3_f64.max(slack / fit.radius)
        && (d.dot(&flat.normal).abs() - fit.radius).abs() <= slack
}

//! Which faceting a bend has: true sections at its rings, or true sections across its flats.
//!
//! A polygon modeller may mitre equal prisms, so that the rings where they meet are stretched by
//! 1/cos(half step) towards the bend's centre while the end rings are true. A wall that is equal all
//! round, or end rings that agree with the rest, tell which.

use super::fit::{Fitted, fit};
use super::lateral::Observation;
use super::model::{Model, straightened};
use super::profile::Contour;
use super::residual::{quantile, residuals};

/// Angle between the rings of a piece, radians, when its vertices stand on evenly spaced rings.
fn ring_step(model: &Model, observations: &[Observation], piece: usize) -> Option<f64> {
    let curvature = model.path.pieces[piece].curvature.abs();
    let mut at: Vec<f64> = observations
        .iter()
        .filter(|o| o.interior)
        .filter_map(|o| {
            let (_, s, i) = straightened(model, &o.point, o.near);
            (i == piece).then_some(s)
        })
        .collect();
    if at.len() < 9 || curvature == 0.0 {
        return None;
    }
    at.sort_by(f64::total_cmp);
    let near = 1e-3 * (at[at.len() - 1] - at[0]) / 10.0;
    let mut rings: Vec<(f64, usize)> = Vec::new();
    for s in at {
        match rings.last_mut() {
            Some((r, n)) if s - *r < near => *n += 1,
            _ => rings.push((s, 1)),
        }
    }
    if rings.len() < 3 || rings.iter().any(|r| r.1 < 2) {
        return None;
    }
    let gaps: Vec<f64> = rings.windows(2).map(|w| w[1].0 - w[0].0).collect();
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    gaps.iter()
        .all(|g| (g - mean).abs() < 0.02 * mean)
        .then_some(mean * curvature)
}

/// How far the middle of a flat lies inside the true bend, mm: the largest over the pieces whose
/// vertices stand on rings, zero where none do.
pub fn sag(model: &Model, observations: &[Observation]) -> f64 {
    (0..model.path.pieces.len())
        .filter_map(|i| {
            let step = ring_step(model, observations, i)?;
            Some((1.0 - (0.5 * step).cos()) / model.path.pieces[i].curvature.abs())
        })
        .fold(0.0, f64::max)
}

/// How unequal a rectangular tube's walls are, mm.
fn wall_mismatch(model: &Model) -> Option<f64> {
    let [Contour::Sides(a), Contour::Sides(b)] = &model.profile.contours[..] else {
        return None;
    };
    if a.len() != 4 || b.len() != 4 {
        return None;
    }
    let wall = |k: usize| {
        let along = |s: &[super::profile::Side]| -> f64 {
            s.iter()
                .filter(|x| (x.normal.cos().abs() > 0.5) == (k == 0))
                .map(|x| x.offset)
                .sum()
        };
        0.5 * (along(a) - along(b))
    };
    Some((wall(0) - wall(1)).abs())
}

/// The fit under the faceting that explains the vertices better; true sections unless the other is
/// clearly so. `with_ends` says that the first and last rings are the member's ends, true in both.
pub fn true_section(
    fitted: Fitted,
    observations: &[Observation],
    floor: f64,
    with_ends: bool,
) -> Fitted {
    let model = &fitted.model;
    let mut stretch = vec![1.0; model.path.pieces.len()];
    for (i, s) in stretch.iter_mut().enumerate() {
        if let Some(step) = ring_step(model, observations, i) {
            *s = 1.0 / (0.5 * step).cos();
        }
    }
    if stretch.iter().all(|s| *s == 1.0) {
        return fitted;
    }
    let along: Vec<f64> = observations
        .iter()
        .map(|o| straightened(model, &o.point, o.near).1)
        .collect();
    let (first, last) = along
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| {
            (a.min(*s), b.max(*s))
        });
    let margin = 1e-4 * (last - first);
    let other = Model {
        stretch,
        stretched_between: if with_ends {
            [first + margin, last - margin]
        } else {
            [f64::NEG_INFINITY, f64::INFINITY]
        },
        ..model.clone()
    };
    let Some(other) = fit(&other, observations, floor) else {
        return fitted;
    };
    let misfit = |f: &Fitted| quantile(&residuals(&f.model, observations), 0.98).max(floor);
    let (a, b) = (misfit(&fitted), misfit(&other));
    let walls = |f: &Fitted| wall_mismatch(&f.model).unwrap_or(0.0).max(floor);
    let worse_by_fit = a > 3.0 * b;
    let worse_by_wall = b < 3.0 * a && walls(&fitted) > 5.0 * walls(&other);
    if worse_by_fit || worse_by_wall {
        other
    } else {
        fitted
    }
}

//! Which faceting a bend has: true sections at its rings, or true sections across its flats.
//!
//! A polygon modeller may mitre equal prisms, so that the rings where they meet are stretched by
//! 1/cos(half step) towards the bend's centre; the end rings may be true or stretched alike. Round
//! outlines, a wall that is equal all round, or end rings that agree with the rest, tell which.

use super::fit::{Fitted, fit};
use super::lateral::Observation;
use super::legs;
use super::model::{Model, straightened};
use super::numbers::centred_path;
use super::profile::{Contour, Side, unit};
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

/// How unequal sizes are that a section mostly has alike, mm: the walls of a rectangular tube, the
/// legs of an angle or channel, the sides of a bar.
fn mismatch(model: &Model) -> Option<f64> {
    let across = |s: &[Side], k: usize| -> f64 {
        s.iter()
            .filter(|x| (x.normal.cos().abs() > 0.5) == (k == 0))
            .map(|x| x.offset)
            .sum()
    };
    let apart = match &model.profile.contours[..] {
        [Contour::Sides(a), Contour::Sides(b)] if a.len() == 4 && b.len() == 4 => {
            let wall = |k: usize| 0.5 * (across(a, k) - across(b, k));
            wall(0) - wall(1)
        }
        [Contour::Sides(a)] if a.len() == 4 => across(a, 0) - across(a, 1),
        [Contour::Sides(a)] => {
            let legs = legs::legs(&legs::corners(a)).into_iter();
            let thick = legs.map(|(i, j)| (a[i].offset + a[j].offset).abs());
            let (least, most) = thick.fold((f64::INFINITY, 0.0f64), |(least, most), t| {
                (least.min(t), most.max(t))
            });
            most - least
        }
        _ => return None,
    };
    apart.is_finite().then_some(apart.abs())
}

/// The model with the sections of its bends true across the flats, between the ends or at them too;
/// `None` where no bend has rings.
fn stretched(model: &Model, observations: &[Observation], to_the_ends: bool) -> Option<Model> {
    let mut stretch = vec![1.0; model.path.pieces.len()];
    for (i, s) in stretch.iter_mut().enumerate() {
        if let Some(step) = ring_step(model, observations, i) {
            *s = 1.0 / (0.5 * step).cos();
        }
    }
    if stretch.iter().all(|s| *s == 1.0) {
        return None;
    }
    let (first, last) = observations
        .iter()
        .map(|o| straightened(model, &o.point, o.near).1)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| {
            (a.min(s), b.max(s))
        });
    let margin = 1e-4 * (last - first);
    let about_its_centroid = centred(model);
    Some(Model {
        stretch,
        stretched_between: if to_the_ends {
            [f64::NEG_INFINITY, f64::INFINITY]
        } else {
            [first + margin, last - margin]
        },
        ..about_its_centroid
    })
}

/// The model with its path through the centroid of its section, about which sections are stretched.
fn centred(model: &Model) -> Model {
    let mut profile = model.profile.clone();
    let (path, g) = centred_path(model);
    for c in &mut profile.contours {
        match c {
            Contour::Circle { .. } => return model.clone(),
            Contour::Sides(sides) => {
                for s in sides {
                    s.offset -= unit(s.normal).dot(&g.coords);
                }
            }
        }
    }
    Model {
        path,
        profile,
        ..model.clone()
    }
}

/// What nearly all vertices lie within, mm; no less than `floor`.
fn misfit(f: &Fitted, observations: &[Observation], floor: f64) -> f64 {
    quantile(&residuals(&f.model, observations), 0.98).max(floor)
}

/// Whether `b` is clearly the better reading of the two: its vertices lie nearer, or as near and sizes
/// come out alike that don't in `a`.
fn clearly_better(a: &Fitted, b: &Fitted, observations: &[Observation], floor: f64) -> bool {
    let noise = a.scale.min(b.scale) * (32.0 / observations.len() as f64).sqrt();
    let unlike = |f: &Fitted| mismatch(&f.model).unwrap_or(0.0).max(floor).max(noise);
    let [x, y] = [a, b].map(|f| misfit(f, observations, floor));
    x > 3.0 * y || y < 3.0 * x && unlike(a) > 5.0 * unlike(b)
}

/// The fit under the faceting that explains the vertices better; true sections unless another is
/// clearly so. `with_ends` says that the first and last rings are the member's ends, which may be true
/// where the rings between are not.
pub fn true_section(
    fitted: Fitted,
    observations: &[Observation],
    floor: f64,
    with_ends: bool,
) -> Fitted {
    let unlike = mismatch(&fitted.model).unwrap_or(0.0);
    if unlike <= 5.0 * floor && misfit(&fitted, observations, floor) <= 3.0 * floor {
        // nothing can be clearly better
        return fitted;
    }
    let plain = fitted.model.clone();
    let mut best = fitted;
    let ways: &[bool] = if with_ends { &[false, true] } else { &[true] };
    for to_the_ends in ways {
        let other = stretched(&plain, observations, *to_the_ends)
            .and_then(|other| fit(&other, observations, floor));
        match other {
            Some(other) if clearly_better(&best, &other, observations, floor) => best = other,
            _ => {}
        }
    }
    best
}

/// By how much of itself a section may be narrower towards the bend's centre than it was read: where
/// all rings are of one bend, those of the ends too, nothing else may tell true sections from stretched
/// ones. Zero where the vertices or sizes that come out alike do.
pub fn doubt(fitted: &Fitted, observations: &[Observation], floor: f64) -> f64 {
    let model = &fitted.model;
    if model.stretch.iter().any(|s| *s != 1.0) {
        return 0.0;
    }
    let Some(other) = stretched(model, observations, true) else {
        return 0.0;
    };
    let most = other.stretch.iter().copied().fold(1.0, f64::max);
    if other.stretch.contains(&1.0) {
        return 0.0;
    }
    match fit(&other, observations, floor) {
        Some(other) if !clearly_better(&other, fitted, observations, floor) => most - 1.0,
        _ => 0.0,
    }
}

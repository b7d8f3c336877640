//! From a body to a fitted member model.

use super::fit::{Fitted, Model, fit, residuals, robust_scale, straightened};
use super::lateral::{Lateral, Observation, lateral};
use super::path::Frame;
use super::profile::{Contour, Profile};
use super::recognise::recognise;
use super::spans::{first_path, stretches};
use super::track::{Facets, Station, Track, walk};
use crate::body::Body;

/// A body understood as a member.
pub struct Traced {
    /// Stations walked.
    pub track: Track,
    /// The swept surface.
    pub lateral: Lateral,
    /// The fit.
    pub fitted: Fitted,
    /// Standard deviation of a vertex about the true surface, mm: the file's rounding or its noise.
    pub sigma: f64,
    /// Share of the swept surface's vertices that the model explains.
    pub explained: f64,
}

/// Most vertices a fit uses; more add time and, for exact vertices, nothing else.
const ENOUGH: usize = 1500;

/// An even, repeatable choice of at most `most` observations.
fn thinned(all: &[Observation], most: usize) -> Vec<Observation> {
    let step = all.len().div_ceil(most).max(1);
    all.iter().step_by(step).copied().collect()
}

/// The station whose section is cleanest, the longest straight run first.
fn cleanest(track: &Track) -> &Station {
    let quiet = |i: usize| {
        let t = |k: usize| &track.stations[k.min(track.stations.len() - 1)].tangent;
        let turn = t(i).angle(t(i + 1)) + t(i.saturating_sub(1)).angle(t(i));
        track.stations[i].tilt_square + 1e-2 * turn
    };
    let best = (0..track.stations.len())
        .min_by(|&a, &b| quiet(a).total_cmp(&quiet(b)).then(a.cmp(&b)))
        .unwrap_or(0);
    &track.stations[best]
}

/// The body as a member, starting from the section `seed`; `None` when no path and profile explain it.
pub fn trace(body: &Body, facets: &Facets, seed: &Station) -> Option<Traced> {
    let track = walk(body, facets, seed);
    let clean = cleanest(&track);
    let guess = recognise(clean, facets);
    if std::env::var("DBG2").is_ok() { eprintln!("guess {guess:?}"); }
    let guess = guess?;
    let lateral = lateral(body, facets, &track);
    let mut observations = thinned(&lateral.observations, ENOUGH);
    observations.sort_by(|a, b| a.near.total_cmp(&b.near).then(a.vertex.cmp(&b.vertex)));
    // standard deviation of a uniform rounding of half-width q
    let floor = body.quantum / 3f64.sqrt();
    let mut best: Option<(f64, Fitted)> = None;
    let mut tried: Vec<Vec<super::spans::Stretch>> = Vec::new();
    for stair in [0.004, 0.015, 0.05, 0.12] {
        let steady = stretches(&track, stair);
        if steady.len() > 24 || tried.contains(&steady) {
            continue;
        }
        tried.push(steady.clone());
        if std::env::var("DBG2").is_ok() { eprintln!("steady {steady:?}"); }
        let Some(fitted) = fit_stretches(&track, &steady, clean, &guess, &observations, floor) else {
            continue;
        };
        // fewer pieces win unless more explain the vertices clearly better
        let merit = fitted.scale.max(floor) * 1.3f64.powi(fitted.model.path.pieces.len() as i32);
        if best.as_ref().is_none_or(|(m, _)| merit < *m) {
            best = Some((merit, fitted));
        }
    }
    let (_, fitted) = best?;
    let sigma = fitted.scale.max(floor);
    let all = residuals(&fitted.model, &observations);
    let explained = all.iter().filter(|r| r.abs() < 5.0 * sigma).count() as f64 / all.len() as f64;
    Some(Traced { track, lateral, fitted, sigma, explained })
}

fn fit_stretches(
    track: &Track,
    steady: &[super::spans::Stretch],
    clean: &Station,
    guess: &super::recognise::Guess,
    observations: &[Observation],
    floor: f64,
) -> Option<Fitted> {
    let first = &track.stations[0];
    let t = steady.first().map(|s| if s.rate == 0.0 { mean_tangent(track, s) } else { first.tangent })?;
    let (w, h) = crate::geometry::perpendicular_pair(&t);
    let start = Frame { point: first.centre, w, h, t };
    let path = first_path(track, steady, start);
    // the path through the section centres first: it brings long chains near enough for the vertices
    let centres: Vec<Observation> = track
        .stations
        .iter()
        .map(|s| Observation { vertex: 0, point: s.centre, contour: 0, near: s.walked, interior: true })
        .collect();
    let dot = Model {
        stretch: vec![1.0; path.pieces.len()],
        path,
        profile: Profile { contours: vec![Contour::Circle { radius: 1e-6 }] },
    };
    let coarse = super::fit::fit_path(&dot, &centres).unwrap_or(dot);
    // turn the section axes so that they agree with the guess at its station
    let seen = coarse.path.at(clean.walked);
    let roll = guess.w.dot(&seen.h).atan2(guess.w.dot(&seen.w));
    let model = Model {
        path: super::fit::rolled(&coarse.path, roll),
        profile: guess.profile.clone(),
        stretch: coarse.stretch.clone(),
    };
    fit(&model, observations, floor)
}

fn mean_tangent(track: &Track, s: &super::spans::Stretch) -> crate::geometry::Vec3 {
    track.stations[s.from..=s.to].iter().map(|x| x.tangent).sum::<crate::geometry::Vec3>().normalize()
}

/// Robust scale of the residuals of some observations under the fitted model, mm.
pub fn scale_of(model: &Model, observations: &[Observation]) -> f64 {
    robust_scale(&residuals(model, observations))
}

/// Section coordinates and distance along the path of a point.
pub fn seen(model: &Model, o: &Observation) -> (super::profile::Pt2, f64) {
    let (q, s, _) = straightened(model, &o.point, o.near);
    (q, s)
}

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

/// Most vertices the last fit uses; more add time and, for exact vertices, nothing else.
const ENOUGH: usize = 1200;
/// Most vertices used while the structure of the path is searched.
const ENOUGH_TO_SEARCH: usize = 400;
/// No section is stretched.
const UNSTRETCHED: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];

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
    let guess = recognise(clean, facets)?;
    let lateral = lateral(body, facets, &track);
    let mut observations = thinned(&lateral.observations, ENOUGH);
    observations.sort_by(|a, b| a.near.total_cmp(&b.near).then(a.vertex.cmp(&b.vertex)));
    // standard deviation of a uniform rounding of half-width q
    let floor = body.quantum / 3f64.sqrt();
    let few = thinned(&observations, ENOUGH_TO_SEARCH);
    let mut candidates: Vec<Fitted> = Vec::new();
    let mut tried: Vec<Vec<super::spans::Stretch>> = Vec::new();
    // coarse stairs first: they ask for the fewest pieces
    for stair in [0.12, 0.05, 0.015, 0.004] {
        let steady = stretches(&track, stair);
        if steady.len() > 24 || tried.contains(&steady) {
            continue;
        }
        tried.push(steady.clone());
        let Some(fitted) = fit_stretches(&track, &steady, clean, &guess, &few, floor) else {
            continue;
        };
        let fitted = simplified(fitted, &few, floor);
        let finished = merit(&fitted, &few, floor) < 1.2 * few.len() as f64 + PRICE * fitted.model.path.pieces.len() as f64;
        candidates.push(fitted);
        if finished {
            break;
        }
    }
    let sigma = candidates.iter().map(|f| f.scale).fold(f64::INFINITY, f64::min).max(floor);
    let rough = candidates
        .iter()
        .min_by(|a, b| merit(a, &few, sigma).total_cmp(&merit(b, &few, sigma)))?;
    let fitted = fit(&rough.model, &observations, floor)?;
    let fitted = super::stretch::true_section(fitted, &observations, floor);
    let (area, ..) = fitted.model.profile.moments();
    if !((area - clean.area).abs() < 0.25 * clean.area) || fitted.scale > 0.02 * track.reach {
        return None;
    }
    let sigma = fitted.scale.max(floor);
    let all = residuals(&fitted.model, &observations);
    let explained = all.iter().filter(|r| r.abs() < 5.0 * sigma).count() as f64 / all.len() as f64;
    Some(Traced { track, lateral, fitted, sigma, explained })
}

/// What one more piece of path must gain, in units of squared standard deviations (of the order of
/// the Bayesian information criterion's ln n for each of its numbers).
const PRICE: f64 = 20.0;

/// Squared residuals in units of `sigma`, each vertex counting for five standard deviations at most,
/// and the price of the pieces: the smaller the better.
fn merit(fitted: &Fitted, observations: &[Observation], sigma: f64) -> f64 {
    let misfit: f64 = residuals(&fitted.model, observations)
        .iter()
        .map(|r| (r / sigma).powi(2).min(25.0))
        .sum();
    let pieces = &fitted.model.path.pieces;
    misfit + PRICE * pieces.iter().map(|p| if p.curvature == 0.0 { 1.0 } else { 1.3 }).sum::<f64>()
}

/// The fit with pieces taken out that the vertices do not ask for: bends no different from straight,
/// neighbours no different from each other, and stumps.
fn simplified(mut fitted: Fitted, observations: &[Observation], floor: f64) -> Fitted {
    loop {
        let pieces = &fitted.model.path.pieces;
        let mut attempts: Vec<Vec<super::path::Piece>> = Vec::new();
        for i in 0..pieces.len() {
            let p = pieces[i];
            let bend_of_piece = p.curvature.abs() * p.length * p.length / 8.0;
            if p.curvature != 0.0 && bend_of_piece < 1e-3 * p.length {
                let mut with = pieces.clone();
                with[i] = super::path::Piece::straight(p.length);
                attempts.push(with);
            }
            for j in [i.wrapping_sub(1), i + 1] {
                if let Some(q) = pieces.get(j) {
                    let mut with = pieces.clone();
                    with[j].length += p.length;
                    if p.curvature != 0.0 && q.curvature != 0.0 && p.length > q.length {
                        // the longer bend speaks for both
                        with[j] = super::path::Piece { length: with[j].length, ..p };
                    }
                    with.remove(i);
                    attempts.push(with);
                }
            }
        }
        let sigma = fitted.scale.max(floor);
        let before = merit(&fitted, observations, sigma);
        let better = attempts
            .into_iter()
            .find_map(|pieces| {
                let model = Model {
                    stretch: vec![1.0; pieces.len()],
                    stretched_between: UNSTRETCHED,
                    path: super::path::Path::new(fitted.model.path.start, pieces),
                    profile: fitted.model.profile.clone(),
                };
                let f = fit(&model, observations, floor)?;
                let m = merit(&f, observations, sigma);
                (m < before).then_some(f)
            });
        match better {
            Some(f) => fitted = f,
            None => return fitted,
        }
    }
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
        .map(|s| Observation { vertex: 0, point: s.centre, contour: 0, near: s.walked, interior: true, sharp: false })
        .collect();
    let dot = Model {
        stretch: vec![1.0; path.pieces.len()],
        stretched_between: UNSTRETCHED,
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
        stretched_between: UNSTRETCHED,
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

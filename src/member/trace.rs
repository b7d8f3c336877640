//! From a body to a fitted member model.

use super::fit::{Fitted, fit, fit_within};
use super::lateral::{Lateral, Observation, lateral};
use super::model::{Model, straightened};
use super::one_arc::one_arc;
use super::path::{Frame, Path};
use super::profile::{Contour, Profile};
use super::recognise::{Guess, recognise};
use super::residual::{residuals, robust_scale};
use super::spans::{first_path, stretches};
use super::track::{Facets, Station, Track};
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
    /// Share by which the section may be narrower towards the bend's centre (see [`super::stretch`]).
    pub narrower: f64,
}

/// Most vertices the last fit uses; more add time and, for exact vertices, nothing else.
const ENOUGH: usize = 1200;
/// Most vertices used while the structure of the path is searched.
const ENOUGH_TO_SEARCH: usize = 400;
/// A path of more steady stretches than this is no bent stock but a free curve.
const MOST_STRETCHES: usize = 16;
/// Most fits spent on simplifying one candidate.
const MOST_ATTEMPTS: usize = 40;
/// A fit that leaves more than this share of the section unexplained has not understood it.
const WORST_SCALE: f64 = 0.02;
/// No section is stretched.
const UNSTRETCHED: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];

/// An even, repeatable choice of about `most` observations. Multiples of the golden section fall evenly
/// whatever the stride: every second vertex of a mesh may be every second ring, or miss the end's.
fn thinned<'a>(
    all: impl IntoIterator<Item = &'a Observation, IntoIter: Clone>,
    most: usize,
) -> Vec<Observation> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let all = all.into_iter();
    let share = most as f64 / all.clone().count().max(1) as f64;
    let kept = |i: usize| share >= 1.0 || (i as f64 * GOLDEN).fract() < share;
    let chosen = all.enumerate().filter(|(i, _)| kept(*i));
    chosen.map(|(_, o)| *o).collect()
}

/// The station whose section is cleanest, the longest straight run first.
pub fn cleanest(track: &Track) -> &Station {
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

/// 95 % half-width of a coordinate's rounding, mm: the file's own or, where the file writes more
/// digits than that, what 32-bit floats leave, since most models pass through them on their way.
pub fn rounding(body: &Body) -> f64 {
    let far = body
        .vertices
        .iter()
        .flat_map(|p| p.iter())
        .fold(0.0f64, |a, x| a.max(x.abs()));
    body.quantum.max(far * 2f64.powi(-24))
}

/// The body as a member along the stations of `track`; `None` when no path and profile explain it.
pub fn trace(body: &Body, facets: &Facets, track: Track) -> Option<Traced> {
    let clean = cleanest(&track);
    let guess = recognise(clean, facets)?;
    let lateral = lateral(body, facets, &track);
    let guess = sharpened(guess, &lateral.observations);
    // vertices of a cut may stand on the flats of a facetted bend, inside its true surface
    let inner = lateral.observations.iter().filter(|o| o.interior);
    let spread = |o: &mut dyn Iterator<Item = &Observation>| {
        let (a, b) = o.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
            (a.min(x.near), b.max(x.near))
        });
        b - a
    };
    let suffices = inner.clone().count() >= 24
        && spread(&mut inner.clone()) > 0.5 * spread(&mut lateral.observations.iter());
    let sorted = |mut o: Vec<Observation>| {
        o.sort_by(|a, b| a.near.total_cmp(&b.near).then(a.vertex.cmp(&b.vertex)));
        o
    };
    let observations = sorted(thinned(&lateral.observations, ENOUGH));
    // standard deviation of a uniform rounding of half-width q
    let floor = body.quantum / 3f64.sqrt();
    let few = thinned(&observations, ENOUGH_TO_SEARCH);
    let inner = sorted(thinned(inner, ENOUGH));
    let few_inner = thinned(&inner, ENOUGH_TO_SEARCH);
    let mut cut_on_flats = false;
    let mut candidates: Vec<Fitted> = Vec::new();
    let mut tried: Vec<Vec<super::spans::Stretch>> = Vec::new();
    let good_enough = |f: &Fitted| {
        merit(f, &few, floor) < 1.2 * few.len() as f64 + PRICE * f.model.path.pieces.len() as f64
    };
    // where the mesh has lines of vertices from end to end, they show where bends begin
    let mut search = true;
    if !track.closed {
        for path in guided_paths(body, facets, &track, &lateral, clean) {
            let (l, _) = path.local(&clean.centre, clean.walked);
            let model = with_section(&path, l.s, &guess);
            let Some(fitted) = fit(&model, &few, floor) else {
                continue;
            };
            let fitted = super::stretch::true_section(fitted, &few, floor, true);
            // the pieces are the mesh's own, so a few strays do not call them in doubt
            let exact = fitted.scale < 2.0 * floor
                && super::residual::quantile(&residuals(&fitted.model, &few), 0.9) < 8.0 * floor;
            search = !exact && !good_enough(&fitted);
            candidates.push(fitted);
            if !search {
                break;
            }
        }
    }
    // coarse stairs first: they ask for the fewest pieces
    for stair in [0.12, 0.05, 0.015, 0.004].into_iter().filter(|_| search) {
        let steady = stretches(&track, stair);
        if steady.len() > MOST_STRETCHES || tried.contains(&steady) {
            continue;
        }
        tried.push(steady.clone());
        let Some(fitted) = fit_stretches(&track, &steady, stair, clean, &guess, &few, floor) else {
            continue;
        };
        // fewer pieces fit no better, and this is not what a member looks like
        if fitted.scale > 1.5 * WORST_SCALE * track.reach {
            continue;
        }
        let mut fitted = super::stretch::true_section(
            simplified(fitted, &few, floor, track.reach),
            &few,
            floor,
            true,
        );
        let mut finished = good_enough(&fitted);
        if !finished
            && suffices
            && let Some(f) = past_flat_cuts(&fitted, &few, &few_inner, floor)
        {
            fitted = f;
            finished = true;
            cut_on_flats = true;
        }
        candidates.push(fitted);
        if finished {
            break;
        }
    }
    let sigma = candidates
        .iter()
        .map(|f| f.scale)
        .fold(f64::INFINITY, f64::min)
        .max(floor);
    let rough = candidates
        .iter()
        .min_by(|a, b| merit(a, &few, sigma).total_cmp(&merit(b, &few, sigma)))?;
    let rough = if cut_on_flats {
        candidates.last()?
    } else {
        rough
    };
    let fitted = fit(
        &rough.model,
        if cut_on_flats { &inner } else { &observations },
        floor,
    )?;
    let fitted = super::rounded::rounded(
        fitted,
        if cut_on_flats { &inner } else { &observations },
        floor,
    );
    let (area, ..) = fitted.model.profile.moments();
    if !((area - clean.area).abs() < 0.25 * clean.area) || fitted.scale > WORST_SCALE * track.reach
    {
        return None;
    }
    let slack = WORST_SCALE * track.reach;
    if !fitted
        .model
        .profile
        .contours
        .iter()
        .all(|c| c.drawable(slack))
    {
        return None;
    }
    // a screw that leaves its vertices scattered is a section or path not understood, and its numbers
    // would be off by more than any scatter tells
    let screw = fitted.model.path.pieces.iter().any(|p| p.torsion != 0.0);
    if screw && fitted.scale > (50.0 * floor).max(2e-4 * track.reach) {
        return None;
    }
    let sigma = fitted.scale.max(floor);
    let left = residuals(&fitted.model, &observations);
    let explained =
        left.iter().filter(|r| r.abs() < 5.0 * sigma).count() as f64 / left.len() as f64;
    let narrower = super::stretch::doubt(&fitted, &few, floor);
    Some(Traced {
        track,
        lateral,
        fitted,
        sigma,
        explained,
        narrower,
    })
}

/// The guess with sharp corners on every contour whose vertices all stand on sharp edges: a section
/// across a twisted flat shows short runs there that pass for rounded corners.
fn sharpened(mut guess: Guess, observations: &[Observation]) -> Guess {
    for (i, contour) in guess.profile.contours.iter_mut().enumerate() {
        let Contour::Sides(sides) = contour else {
            continue;
        };
        let own = || observations.iter().filter(|o| o.contour == i);
        if own().filter(|o| !o.sharp).count() * 50 <= own().count() {
            sides.iter_mut().for_each(|s| s.corner = 0.0);
        }
    }
    guess
}

/// A cut across the flats of a facetted bend puts its vertices inside the true surface by up to the
/// flats' sag, and a fit may have bent an end piece to reach them. Where the vertices between the cuts
/// suffice and the cut's own lie within the sag, the bend runs on to the cut unbent.
fn past_flat_cuts(
    fitted: &Fitted,
    all: &[Observation],
    inner: &[Observation],
    floor: f64,
) -> Option<Fitted> {
    let pieces = &fitted.model.path.pieces;
    let n = pieces.len();
    for (head, tail) in [(1, 1), (1, 0), (0, 1), (0, 0)] {
        if n < head + tail + 1 {
            continue;
        }
        let mut kept = pieces[head..n - tail].to_vec();
        let mut start = *fitted.model.path.frame_of(head);
        if head > 0 {
            // carried back over the length of the piece left out
            let back = pieces[0].length;
            start = super::path::carry(&start, &kept[0], -back);
            kept[0].length += back;
        }
        if tail > 0
            && let Some(last) = kept.last_mut()
        {
            last.length += pieces[n - 1].length;
        }
        let model = Model {
            stretch: vec![1.0; kept.len()],
            stretched_between: UNSTRETCHED,
            path: Path::new(start, kept),
            profile: fitted.model.profile.clone(),
        };
        let Some(f) = fit(&model, inner, floor) else {
            continue;
        };
        let f = super::stretch::true_section(f, inner, floor, false);
        let sag = super::stretch::sag(&f.model, inner);
        if sag <= 4.0 * floor || f.scale > 4.0 * floor.max(0.1 * fitted.scale) {
            continue;
        }
        let edge: Vec<Observation> = all.iter().filter(|o| !o.interior).copied().collect();
        let off = residuals(&f.model, &edge);
        let beyond = off
            .iter()
            .filter(|r| r.abs() > 8.0 * f.scale.max(floor))
            .count();
        let near = off
            .iter()
            .filter(|r| r.abs() < 1.1 * sag + 8.0 * f.scale.max(floor))
            .count();
        let explained =
            super::residual::quantile(&residuals(&f.model, inner), 0.97) < 8.0 * f.scale.max(floor);
        if explained && beyond > 0 && near as f64 > 0.95 * off.len() as f64 {
            return Some(f);
        }
    }
    None
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
    misfit
        + PRICE
            * pieces
                .iter()
                .map(|p| if p.curvature == 0.0 { 1.0 } else { 1.3 })
                .sum::<f64>()
}

/// Nearer than this share of a section's reach a path of several pieces may be one arc.
const ONE_ARC: f64 = 0.2;

/// The fit with pieces taken out that the vertices do not ask for: bends no different from straight,
/// neighbours no different from each other, and stumps.
fn simplified(mut fitted: Fitted, observations: &[Observation], floor: f64, reach: f64) -> Fitted {
    let mut spent = 0;
    // what hardly passes for a member is not worth much time
    let most = if fitted.scale > 0.5 * WORST_SCALE * reach {
        MOST_ATTEMPTS / 4
    } else {
        MOST_ATTEMPTS
    };
    loop {
        let path = &fitted.model.path;
        let pieces = &path.pieces;
        let mut attempts: Vec<Path> = one_arc(path, ONE_ARC * reach).into_iter().collect();
        let mut attempt = |with: Vec<super::path::Piece>| {
            attempts.push(Path::new(path.start, with));
        };
        for i in 0..pieces.len() {
            let p = pieces[i];
            let bend_of_piece = p.curvature.abs() * p.length * p.length / 8.0;
            if p.curvature != 0.0 && bend_of_piece < 1e-3 * p.length {
                let mut with = pieces.clone();
                with[i] = super::path::Piece::straight(p.length);
                attempt(with);
            }
            for j in [i.wrapping_sub(1), i + 1] {
                if let Some(q) = pieces.get(j) {
                    let mut with = pieces.clone();
                    with[j].length += p.length;
                    if p.curvature != 0.0 && q.curvature != 0.0 && p.length > q.length {
                        // the longer bend speaks for both
                        with[j] = super::path::Piece {
                            length: with[j].length,
                            ..p
                        };
                    }
                    with.remove(i);
                    attempt(with);
                }
            }
        }
        let sigma = fitted.scale.max(floor);
        let before = merit(&fitted, observations, sigma);
        let better = attempts
            .into_iter()
            .take_while(|_| {
                spent += 1;
                spent <= most
            })
            .find_map(|path| {
                let model = Model {
                    stretch: vec![1.0; path.pieces.len()],
                    stretched_between: UNSTRETCHED,
                    path,
                    profile: fitted.model.profile.clone(),
                };
                // it starts where the fit before it ended
                let f = fit_within(&model, observations, floor, 15)?;
                let m = merit(&f, observations, sigma);
                (m < before).then_some(f)
            });
        match better {
            Some(f) => fitted = f,
            None => return fitted,
        }
    }
}

/// Most paths along guides that are tried.
const MOST_GUIDED: usize = 3;

/// Different paths along lines of vertices, those of the fewest pieces first.
fn guided_paths(
    body: &Body,
    facets: &Facets,
    track: &Track,
    lateral: &Lateral,
    clean: &Station,
) -> Vec<Path> {
    let mut found: Vec<Path> = Vec::new();
    for guide in super::guide::guides(body, facets, track, lateral, clean) {
        let Some(path) = super::guided::along(&guide, rounding(body), &clean.centre, clean.walked)
        else {
            continue;
        };
        let kinds =
            |p: &Path| -> Vec<bool> { p.pieces.iter().map(|x| x.curvature == 0.0).collect() };
        if path.pieces.len() <= MOST_STRETCHES && !found.iter().any(|f| kinds(f) == kinds(&path)) {
            found.push(path);
        }
    }
    found.sort_by_key(|p| p.pieces.len());
    found.truncate(MOST_GUIDED);
    found
}

/// A model of the guessed section along a path, its axes as the guess has them at distance `s`.
fn with_section(path: &Path, s: f64, guess: &Guess) -> Model {
    let seen = path.at(s);
    let roll = guess.w.dot(&seen.h).atan2(guess.w.dot(&seen.w));
    Model {
        stretch: vec![1.0; path.pieces.len()],
        stretched_between: UNSTRETCHED,
        path: super::model::rolled(path, roll),
        profile: guess.profile.clone(),
    }
}

fn fit_stretches(
    track: &Track,
    steady: &[super::spans::Stretch],
    stair: f64,
    clean: &Station,
    guess: &Guess,
    observations: &[Observation],
    floor: f64,
) -> Option<Fitted> {
    let first = &track.stations[0];
    let t = steady.first().map(|s| {
        if s.rate == 0.0 {
            mean_tangent(track, s)
        } else {
            first.tangent
        }
    })?;
    let (w, h) = crate::geometry::perpendicular_pair(&t);
    let start = Frame {
        point: first.centre,
        w,
        h,
        t,
    };
    let path = first_path(track, steady, start, stair);
    // the path through the section centres first: it brings long chains near enough for the vertices
    let centres: Vec<Observation> = track
        .stations
        .iter()
        .map(|s| Observation {
            vertex: 0,
            point: s.centre,
            contour: 0,
            near: s.walked,
            interior: true,
            sharp: false,
        })
        .collect();
    let dot = Model {
        stretch: vec![1.0; path.pieces.len()],
        stretched_between: UNSTRETCHED,
        path,
        profile: Profile {
            contours: vec![Contour::Circle { radius: 1e-6 }],
        },
    };
    let coarse = super::centres::fit_path(&dot, &centres).unwrap_or(dot);
    let model = Model {
        stretch: coarse.stretch.clone(),
        ..with_section(&coarse.path, clean.walked, guess)
    };
    let whole = fit(&model, observations, floor);
    let pieces = model.path.pieces.len();
    if pieces < 4
        || whole
            .as_ref()
            .is_some_and(|f| merit(f, observations, floor) < 3.0 * observations.len() as f64)
    {
        return whole;
    }
    // a long chain may start too far off at its far end: fit it piece by piece
    let grown = piece_by_piece(&model, observations, floor);
    match (whole, grown) {
        (Some(a), Some(b)) => {
            let sigma = a.scale.min(b.scale).max(floor);
            Some(
                if merit(&a, observations, sigma) <= merit(&b, observations, sigma) {
                    a
                } else {
                    b
                },
            )
        }
        (a, b) => a.or(b),
    }
}

/// Fits ever longer beginnings of a path, each from the one before.
fn piece_by_piece(model: &Model, observations: &[Observation], floor: f64) -> Option<Fitted> {
    let n = model.path.pieces.len();
    let mut so_far: Option<Fitted> = None;
    for k in (2..=n).filter(|k| k % 2 == 1 || *k == n) {
        let (start, profile, mut pieces) = match &so_far {
            None => (model.path.start, model.profile.clone(), Vec::new()),
            Some(f) => (
                f.model.path.start,
                f.model.profile.clone(),
                f.model.path.pieces.clone(),
            ),
        };
        if let Some(last) = pieces.last_mut() {
            // the last piece of a beginning was cut short by where its vertices stopped
            last.length = model.path.pieces
                [so_far.as_ref().map_or(0, |f| f.model.path.pieces.len() - 1)]
            .length;
        }
        let have = pieces.len();
        pieces.extend_from_slice(&model.path.pieces[have..k]);
        let end = if k == n {
            f64::INFINITY
        } else {
            model.path.start_of(k)
        };
        let here: Vec<Observation> = observations
            .iter()
            .filter(|o| o.near <= end)
            .copied()
            .collect();
        let beginning = Model {
            stretch: vec![1.0; k],
            stretched_between: UNSTRETCHED,
            path: Path::new(start, pieces),
            profile,
        };
        match fit(&beginning, &here, floor) {
            Some(f) => so_far = Some(f),
            None if so_far.is_none() => return None,
            None => {}
        }
    }
    so_far.filter(|f| f.model.path.pieces.len() == n)
}

fn mean_tangent(track: &Track, s: &super::spans::Stretch) -> crate::geometry::Vec3 {
    track.stations[s.from..=s.to]
        .iter()
        .map(|x| x.tangent)
        .sum::<crate::geometry::Vec3>()
        .normalize()
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

//! Which plate of a model a piece of the program is, and at which scale.

use super::compare::{Comparison, Ready, Worst, lay, worst, worst_of};
use super::design::Design;
use super::piece::Place;
use super::pose::{Pose, likely};
use super::refine::{Fit, Free};

/// Hand of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Hand {
    Same,
    Opposite,
}

/// A plate of the model, either hand.
pub struct Candidate {
    /// Number of its part in the report.
    pub part: usize,
    /// As modelled.
    pub same: Design,
    /// Mirror image.
    pub opposite: Option<Design>,
}

/// How a piece was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Number of the candidate.
    pub candidate: usize,
    /// Hand.
    pub hand: Hand,
    /// Program size ÷ design size.
    pub scale: f64,
    /// The piece on the plate.
    pub comparison: Comparison,
    /// Where it is off most; `None` where nothing was found of it.
    pub worst: Option<Worst>,
    /// True where a larger or smaller plate without kerf reads as well as one with this kerf.
    pub ambiguous: bool,
    /// How bad it is; for choosing only.
    score: f64,
}

/// What is known beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Half the kerf, where the fabricator or the program says it.
    pub offset: Option<f64>,
    /// Departure that is still good, mm.
    pub tolerance: f64,
}

/// Mix-ups of units: inches and millimetres, centimetres and metres.
const SLIPS: [f64; 8] = [25.4, 1.0 / 25.4, 10.0, 0.1, 1000.0, 0.001, 100.0, 0.01];
/// Poses tried for one hand of a plate.
const POSES: usize = 16;
/// What it costs a reading that it leaves something unexplained: more than any scale does.
const UNEXPLAINED: f64 = 0.05;
/// Wider kerfs are no kerf, mm (common practice, no source: flame and water stay well under it).
const WIDEST_KERF: f64 = 10.0;

/// The best reading of a piece; `None` where no plate is like it.
pub fn recognise(piece: &Ready, candidates: &[Candidate], known: Known) -> Vec<Reading> {
    let mut readings: Vec<Reading> = Vec::new();
    for (number, candidate) in candidates.iter().enumerate() {
        let hands = [
            (Hand::Same, Some(&candidate.same)),
            (Hand::Opposite, candidate.opposite.as_ref()),
        ];
        for (hand, design) in hands {
            let Some(design) = design else { continue };
            if let Some(found) = best(piece, design, known) {
                readings.push(Reading {
                    candidate: number,
                    hand,
                    ..found
                });
            }
        }
    }
    // A plate that is its own mirror image keeps the hand it was modelled in.
    let rank = |r: &Reading| r.score + if r.hand == Hand::Opposite { 1e-3 } else { 0.0 };
    readings.sort_by(|a, b| rank(a).total_cmp(&rank(b)));
    readings
}

fn best(piece: &Ready, design: &Design, known: Known) -> Option<Reading> {
    let outline = likely(piece.outer.ring(), &design.outer.points, POSES);
    let starts = match outline.round || outline.poses.len() >= POSES {
        true => by_holes(piece, design, &outline.poses),
        false => outline.poses,
    };
    // The best of each kind of scale: as drawn, a mix-up of units, any other.
    let mut found: Vec<(f64, Reading)> = Vec::new();
    for start in starts {
        for (scale, price) in scales(start.scale()) {
            let pose = match scale {
                Some(scale) => start.scaled_to(scale, piece.outer.centre),
                None => start,
            };
            let free = Free {
                scale: scale.is_none(),
                offset: true,
            };
            let comparison = lay(piece, design, Fit { pose, offset: 0.0 }, free);
            let Some(reading) = judged(design, comparison, known, price) else {
                continue;
            };
            match found.iter_mut().find(|(paid, _)| *paid == price) {
                Some((_, best)) if reading.score < best.score - 1e-12 => *best = reading,
                Some(_) => {}
                None => found.push((price, reading)),
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, reading) in &mut found {
        reading.worst = worst(piece, design, &reading.comparison);
    }
    // The simplest that explains everything; the likeliest where none does.
    let sound = found.iter().position(|(_, r)| r.sound(design, known));
    let likeliest = || {
        let scores = found.iter().enumerate().map(|(k, (_, r))| (k, r.score));
        scores.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
    };
    let chosen = sound.or_else(likeliest)?;
    let plainer = plainer_than(chosen, &found, piece, design, known);
    let sound = sound.filter(|_| plainer.is_none());
    let chosen = plainer.unwrap_or(chosen);
    let mut found = found.swap_remove(chosen).1;
    if sound.is_none() {
        found.score += UNEXPLAINED;
    }
    found.ambiguous =
        known.offset.is_none() && sound.is_some() && also_by_scale(piece, design, &found);
    if let Some(offset) = known.offset {
        // Which plate it is does not hang on the kerf; what comes out does.
        let comparison = &mut found.comparison;
        let more = offset / found.scale - comparison.fit.offset;
        comparison.fit.offset += more;
        for hole in &mut comparison.matches {
            hole.small -= more;
        }
        found.worst = worst(piece, design, &found.comparison);
    }
    Some(found)
}

/// The reading at full size, where it explains everything but the size of holes with a likelier kerf
/// than the one at number `chosen`, which is of another scale. An outline whose sides all touch one circle
/// looks the same smaller with a wider kerf, and a single hole made too small would be its only witness.
fn plainer_than(
    chosen: usize,
    found: &[(f64, Reading)],
    piece: &Ready,
    design: &Design,
    known: Known,
) -> Option<usize> {
    let (price, other) = found.get(chosen)?;
    let plain = found.iter().position(|(price, _)| *price == 0.0)?;
    if *price < 0.03 || plain == chosen {
        return None;
    }
    let own = &found[plain].1;
    let unlikely = |r: &Reading| {
        let half = r.comparison.fit.offset * r.scale;
        (half - known.offset.unwrap_or(0.0)).abs()
    };
    let comparison = &own.comparison;
    let outer = worst_of(&piece.outer, &design.outer, None, &comparison.fit)?;
    let astray = |m: &super::compare::Match| {
        let doubt = design.holes.get(m.hole).map_or(0.0, |ring| ring.doubt);
        m.astray > known.tolerance + doubt
    };
    let explained = comparison.missing.is_empty()
        && comparison.extra.is_empty()
        && comparison.fit.offset >= -known.tolerance
        && outer.departure.abs() <= known.tolerance + outer.doubt
        && !comparison.matches.iter().any(astray);
    (explained && unlikely(own) < unlikely(other)).then_some(plain)
}

/// Scales worth trying near the one the outline suggests, and what each costs.
fn scales(seen: f64) -> Vec<(Option<f64>, f64)> {
    let near = |scale: f64| (seen / scale).ln().abs() < 0.25;
    let mut list = Vec::new();
    if near(1.0) {
        list.push((Some(1.0), 0.0));
    }
    list.extend(
        SLIPS
            .into_iter()
            .filter(|s| near(*s))
            .map(|s| (Some(s), 0.02)),
    );
    list.push((None, 0.04));
    list
}

/// A reading with its score; `None` where the outline is another.
fn judged(design: &Design, comparison: Comparison, known: Known, price: f64) -> Option<Reading> {
    let size = design.outer.size().max(1e-9);
    let kerf = 2.0 * comparison.fit.offset;
    if !(comparison.misfit <= 0.02 * size + known.tolerance) || !(kerf.abs() <= WIDEST_KERF) {
        return None;
    }
    let sizes_off = comparison
        .matches
        .iter()
        .filter(|m| m.small.abs() > known.tolerance || m.astray > 2.0 * known.tolerance)
        .count();
    let holes = design
        .holes
        .len()
        .max(comparison.matches.len() + comparison.extra.len());
    let wrong = comparison.missing.len() + comparison.extra.len();
    let share = (wrong as f64 + 0.7 * sizes_off as f64) / (holes as f64 + 1.0);
    let small: f64 = comparison
        .matches
        .iter()
        .map(|m| m.small.abs() + m.astray)
        .sum();
    let score = 20.0 * comparison.misfit / size
        + 0.5 * share
        + small / size / (holes as f64 + 1.0)
        // A wide kerf is less likely than a narrow one, one on the wrong side than either.
        + 0.002 * kerf.abs()
        + if kerf < -known.tolerance { 0.02 } else { 0.0 }
        + price;
    // A scale of its own needs more than the outline to be believed.
    let scale = comparison.fit.pose.scale();
    if price > 0.03 && wrong * 2 > holes {
        return None;
    }
    score.is_finite().then_some(Reading {
        candidate: 0,
        hand: Hand::Same,
        scale: if (scale - 1.0).abs() < 1e-9 {
            1.0
        } else {
            scale
        },
        comparison,
        worst: None,
        ambiguous: false,
        score,
    })
}

/// True where the path reads as a larger or smaller plate without kerf as well as it does with its kerf.
fn also_by_scale(piece: &Ready, design: &Design, found: &Reading) -> bool {
    let fit = found.comparison.fit;
    if found.scale != 1.0 || fit.offset.abs() < 0.02 {
        return false;
    }
    let free = Free {
        scale: true,
        offset: false,
    };
    let start = Fit {
        pose: fit.pose,
        offset: 0.0,
    };
    let other = lay(piece, design, start, free);
    let off = |c: &Comparison| worst(piece, design, c).map_or(f64::INFINITY, |w| w.departure.abs());
    let holes_agree = other.missing.is_empty() && other.extra.is_empty();
    holes_agree && off(&other) <= 0.02 + 2.0 * off(&found.comparison)
}

/// Turns that bring holes of the program onto holes of the plate, where the outline tells none.
fn by_holes(piece: &Ready, design: &Design, poses: &[Pose]) -> Vec<Pose> {
    let Some(&start) = poses.first() else {
        return Vec::new();
    };
    let middle = design.outer.centre;
    let arm = |centre: Place| centre - middle;
    let mut cuts: Vec<Place> = piece
        .holes
        .iter()
        .map(|h| start.to_plate(h.centre))
        .collect();
    // The farther out, the better it tells the turn.
    cuts.sort_by(|a, b| arm(*b).norm().total_cmp(&arm(*a).norm()));
    let mut found = vec![start];
    for cut in cuts.iter().take(3) {
        for hole in design.holes.iter().take(40) {
            let (a, b) = (arm(*cut), arm(hole.centre));
            let reach = 0.05 * design.outer.size();
            if (a.norm() - b.norm()).abs() <= reach && a.norm() > 1e-3 {
                found.push(start.turned(a.perp(&b).atan2(a.dot(&b)), middle));
            }
        }
    }
    found
}

impl Reading {
    /// True where it explains everything: every hole, and the whole edge within the tolerance.
    fn sound(&self, design: &Design, known: Known) -> bool {
        let comparison = &self.comparison;
        let allowed = |doubt: f64| known.tolerance + doubt;
        let hole = |m: &super::compare::Match| {
            let doubt = design.holes.get(m.hole).map_or(0.0, |ring| ring.doubt);
            m.small.abs() <= allowed(doubt) && m.astray <= allowed(doubt)
        };
        comparison.missing.is_empty()
            && comparison.extra.is_empty()
            && comparison.fit.offset >= -known.tolerance
            && comparison.matches.iter().all(hole)
            && self
                .worst
                .is_some_and(|w| w.departure.abs() <= allowed(w.doubt))
    }

    /// True where nothing but the thickness or the mark tells the two apart.
    pub fn as_good_as(&self, other: &Reading) -> bool {
        (self.score - other.score).abs() < 1e-3 && self.scale == other.scale
    }
}

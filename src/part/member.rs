//! One body looked at as a member or plate, each look made once.

use std::cell::OnceCell;

use super::classify::{TUBE_SLENDER, as_plate};
use crate::body::Body;
use crate::measure::Quantity;
use crate::member::describe::{Described, describe};
use crate::member::trace::trace;
use crate::member::track::{Facets, Station, Track, facets, hollow_seed, seeds, walk};
use crate::member::{Shape, Span};
use crate::plate::{self, Neutral};
use crate::surface::Patches;

/// Share of a body's facet area that a description must explain to be believed.
pub(super) const BELIEVABLE: f64 = 0.9;
/// The same for a bar whose section and bends were found exactly: it may carry a head or a stub.
const BELIEVABLE_BENT: f64 = 0.8;
/// A walk that sweeps less than this share of the body's area hardly followed the piece.
const FOLLOWED: f64 = 0.5;
/// Most walks worth a fit, and most of those that are not.
const MOST_TRIED: [usize; 2] = [6, 3];
/// A description of more than this share leaves nothing to look for.
pub(super) const WHOLE: f64 = 0.995;

/// A body and what was seen of it so far.
pub(super) struct Seen<'a> {
    pub body: &'a Body,
    facets: Facets,
    seeds: OnceCell<Vec<Station>>,
    member: OnceCell<Option<Described>>,
    patches: OnceCell<Patches>,
    plate: OnceCell<Option<plate::Measured>>,
}

impl<'a> Seen<'a> {
    pub fn new(body: &'a Body) -> Self {
        Seen {
            body,
            facets: facets(body),
            seeds: OnceCell::new(),
            member: OnceCell::new(),
            patches: OnceCell::new(),
            plate: OnceCell::new(),
        }
    }

    /// The surfaces of the body.
    pub fn patches(&self) -> &Patches {
        self.patches
            .get_or_init(|| crate::surface::segment(self.body))
    }

    /// The surfaces, if they were asked for.
    pub fn into_patches(self) -> Option<Patches> {
        self.patches.into_inner()
    }

    /// The body as a plate, small gaps closed; always asked with the same neutral surface.
    pub fn as_plate(&self, neutral: &Neutral) -> Option<&plate::Measured> {
        let look = || match crate::surface::fill_gaps(self.body) {
            Some(whole) => as_plate(&whole, &crate::surface::segment(&whole), neutral),
            None => as_plate(self.body, self.patches(), neutral),
        };
        self.plate.get_or_init(look).as_ref()
    }

    fn seeds(&self) -> &[Station] {
        self.seeds.get_or_init(|| seeds(self.body, &self.facets))
    }

    /// The most complete description of the body as a member.
    pub fn as_member(&self) -> Option<&Described> {
        self.member
            .get_or_init(|| self.as_member_that(|_| true))
            .as_ref()
    }

    /// The body as a long tube that one section explains whole: no reading as a plate would be
    /// preferred, and none needs to be tried.
    pub fn plainly_a_tube(&self) -> Option<Described> {
        let first = hollow_seed(self.body, &self.facets)?;
        let track = walk(self.body, &self.facets, &first);
        if track.closed || track.swept(&self.facets) < FOLLOWED {
            return None;
        }
        self.described(track).filter(|d| {
            let section = &d.member.section;
            let wide = [section.diameter, section.width, section.height]
                .into_iter()
                .flatten()
                .fold(0.0, |a, q| f64::max(a, q.value));
            let long = d.member.centreline.length.map_or(0.0, |l| l.value);
            // half as long again as where a rolled plate may be meant
            hollow(d) && whole(d) && long > 1.5 * TUBE_SLENDER * wide
        })
    }

    fn described(&self, track: Track) -> Option<Described> {
        trace(self.body, &self.facets, track)
            .and_then(|t| describe(self.body, &self.facets, &t, BELIEVABLE_BENT))
            .filter(|d| says_something(d, self.body))
    }

    /// The same among the descriptions that suit.
    pub fn as_member_that(&self, suits: impl Fn(&Described) -> bool) -> Option<Described> {
        let mut best: Option<Described> = None;
        // true when nothing better is to be expected
        let consider = |track: Track, best: &mut Option<Described>| -> bool {
            let Some(described) = self.described(track).filter(|d| suits(d)) else {
                return false;
            };
            let done = whole(&described);
            if best
                .as_ref()
                .is_none_or(|b| worth(&described) > worth(b) + 0.02)
            {
                *best = Some(described);
            }
            done
        };
        let mut tried = 0;
        let mut aside: Vec<(f64, Track)> = Vec::new();
        let mut walked: Vec<Track> = Vec::new();
        for seed in self.seeds() {
            if walked.iter().any(|t| t.passed(seed)) {
                continue;
            }
            let track = walk(self.body, &self.facets, seed);
            walked.push(track.trail());
            let swept = track.swept(&self.facets);
            if swept < FOLLOWED {
                aside.push((swept, track));
                continue;
            }
            tried += 1;
            if consider(track, &mut best) || tried == MOST_TRIED[0] {
                break;
            }
        }
        if best
            .as_ref()
            .is_none_or(|b| b.explained <= BELIEVABLE && !b.exact_bends)
        {
            // a short piece with long cuts is walked over a small part of its length only
            aside.sort_by(|a, b| b.0.total_cmp(&a.0));
            for (_, track) in aside.into_iter().take(MOST_TRIED[1]) {
                if consider(track, &mut best) {
                    break;
                }
            }
        }
        best.filter(|d| d.explained > BELIEVABLE || d.explained > BELIEVABLE_BENT && d.exact_bends)
    }
}

/// True for a tube.
pub(super) fn hollow(d: &Described) -> bool {
    matches!(
        d.member.section.shape,
        Shape::Round | Shape::Square | Shape::Rect
    )
}

/// True when nothing of the body is left to explain.
fn whole(d: &Described) -> bool {
    d.explained > WHOLE && d.volume.is_some()
}

/// How good a description is: what it explains, and whether both its ends are known and so its volume.
fn worth(d: &Described) -> f64 {
    d.explained + if d.volume.is_some() { 0.1 } else { 0.0 }
}

/// An arc whose angle is not known to this many degrees was not seen.
const WORST_ANGLE: f64 = 30.0;
/// The least ± of any number is a thousandth, in whatever unit the file was read: an area or volume
/// known to this may be small rather than unsure.
pub(super) const NEAR_FLOOR: f64 = 0.05;
/// A description whose volume is off the body's by more than this share describes something else.
/// Facets stand inside or outside the true surface: a ring of eight has a tenth less.
pub(super) const WORST_VOLUME: f64 = 0.2;

/// A description unsure of its own bends or of most of its own metal describes nothing, and one that
/// does not have the body's volume describes something else.
fn says_something(d: &Described, body: &Body) -> bool {
    let known = |q: Quantity| q.plus_minus < (0.5 * q.value).max(NEAR_FLOOR);
    let bends = d.member.spans.iter().all(|s| match s {
        Span::Arc { angle, .. } => angle.plus_minus < WORST_ANGLE,
        _ => true,
    });
    let metal = d.member.section.area.is_none_or(known) && d.volume.is_none_or(known);
    let long = (d.member.centreline.length).is_none_or(|l| l.plus_minus < l.value.max(NEAR_FLOOR));
    let volume = d.volume.or_else(|| {
        // the ends are not known, but they lie within the length
        let (a, l) = (d.member.section.area?, d.member.centreline.length?);
        Some(Quantity::new(a.value * l.value, a.value * l.plus_minus))
    });
    let agrees = !body.closed
        || volume.is_none_or(|v| {
            (v.value - body.volume).abs() < WORST_VOLUME * body.volume + v.plus_minus
        });
    // corners of a section of no known kind can't be told from noise
    let section = d.member.section.shape != Shape::Other || !d.noisy;
    bends && metal && long && agrees && section
}

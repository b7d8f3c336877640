//! The unit of a file that names none, from the sizes found in it.
//!
//! Every size is read in each unit in turn. How well it then fits what shops buy and designers draw
//! is a likelihood (see `background`); the likelihoods of all sizes and a prior for the unit
//! multiply (Bayes' rule), and the odds between the best unit and the next say how sure it is.

use std::sync::LazyLock;

use super::background::{
    EXTENT, HOLE, OUTSIDE, PLATE, Usual, WALL, beyond_chance, drawn, is_listed, magnitude,
};
use super::catalogue::{Entry, Family, entries};
use super::hole_size::hole_diameters;
use super::plate_size::thicknesses;
use super::unit_words::{Tally, reason};
use crate::measure::Unit;

/// Sizes measured in a file, in the file's own unit. Anything not found stays empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Round tubes: outside diameter, wall.
    pub round: Vec<(f64, f64)>,
    /// Square and rectangular tubes: width, height, wall.
    pub rect: Vec<(f64, f64, f64)>,
    /// Solid rounds: diameter.
    pub round_bar: Vec<f64>,
    /// Solid squares and flats: width, thickness.
    pub flat_bar: Vec<(f64, f64)>,
    /// Angles: both legs, thickness.
    pub angle: Vec<(f64, f64, f64)>,
    /// Channels: height, width, thickness.
    pub channel: Vec<(f64, f64, f64)>,
    /// Plate thicknesses.
    pub thickness: Vec<f64>,
    /// Hole diameters and slot widths.
    pub holes: Vec<f64>,
    /// Lengths of parts, sides of plates.
    pub lengths: Vec<f64>,
    /// Largest size of everything in the file.
    pub extent: f64,
}

/// The unit that fits best.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitGuess {
    /// Millimetres in one unit of the file.
    pub mm_per_unit: f64,
    /// What speaks for it, and the next best, in a sentence or two.
    pub reason: String,
    /// Millimetres in one unit of the next best unit.
    pub runner_up: Option<f64>,
    /// False when the sizes leave a doubt worth a warning; millimetres were assumed where they
    /// hardly tell at all.
    pub certain: bool,
}

/// How often files come in a unit before their sizes are looked at. Judgement, no source.
fn prior(unit: Unit) -> f64 {
    match unit {
        Unit::Millimetre => 0.6,
        Unit::Inch => 0.18,
        Unit::Metre => 0.12,
        Unit::Centimetre => 0.08,
        Unit::Foot => 0.02,
    }
}

/// Odds above which a unit is called certain.
const CERTAIN: f64 = 100.0;
/// Odds below which the sizes hardly tell, and millimetres are assumed.
const HARDLY: f64 = 3.0;
/// Sizes of one kind beyond this many add nothing: they are drawn by one designer in one habit.
const INDEPENDENT: f64 = 6.0;

/// The unit in which the sizes found become sizes a shop buys and draws.
pub fn infer_unit(evidence: &Evidence) -> UnitGuess {
    let groups = groups(evidence);
    let extent = evidence.extent;
    let mut ranked: Vec<(Unit, f64)> = Unit::ALL
        .into_iter()
        .map(|unit| (unit, weigh(unit, &groups, extent)))
        .collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let (Some(&(best, weight)), Some(&(next, next_weight))) = (ranked.first(), ranked.get(1))
    else {
        return UnitGuess {
            mm_per_unit: 1.0,
            reason: String::new(),
            runner_up: None,
            certain: false,
        };
    };
    let odds = (weight - next_weight).exp();
    let told = odds >= HARDLY && groups.iter().any(|g| !g.sizes.is_empty());
    let chosen = if told { best } else { Unit::Millimetre };
    let runner_up = if chosen == best { next } else { best };
    let tally = |unit: Unit| tally(&groups, unit.millimetres(), extent);
    UnitGuess {
        mm_per_unit: chosen.millimetres(),
        reason: reason(
            (chosen, &tally(chosen)),
            (runner_up, &tally(runner_up)),
            told,
        ),
        runner_up: Some(runner_up.millimetres()),
        certain: told && odds >= CERTAIN,
    }
}

fn weigh(unit: Unit, groups: &[Group], extent: f64) -> f64 {
    let k = unit.millimetres();
    let mut sum = prior(unit).ln();
    let mut deviations = Vec::new();
    if extent > 0.0 && extent.is_finite() {
        deviations.push(EXTENT.deviation(extent * k));
    }
    for group in groups.iter().filter(|g| !g.sizes.is_empty()) {
        let n = group.sizes.len() as f64;
        let gain: f64 = group.sizes.iter().map(|sizes| group.gain(sizes, k)).sum();
        sum += gain * (INDEPENDENT / n).min(1.0);
        for (place, usual) in group.usual.iter().enumerate() {
            let each = group.sizes.iter().filter_map(|sizes| sizes.get(place));
            let all: Vec<f64> = each.map(|x| usual.deviation(x * k)).collect();
            if !all.is_empty() {
                deviations.push(all.iter().sum::<f64>() / all.len() as f64);
            }
        }
    }
    sum + magnitude(&deviations)
}

fn tally(groups: &[Group], k: f64, extent: f64) -> Tally {
    let mut tally = Tally {
        extent_mm: extent * k,
        ..Tally::default()
    };
    for group in groups {
        let of = group.sizes.len();
        let listed = group
            .sizes
            .iter()
            .filter(|sizes| group.is_listed(sizes, k))
            .count();
        let place = match group.kind {
            Kind::Section(_) => &mut tally.sections,
            Kind::Plate => &mut tally.plates,
            Kind::Hole => &mut tally.holes,
            Kind::Length => continue,
        };
        place.0 += listed;
        place.1 += of;
    }
    tally
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Section(Family),
    Plate,
    Hole,
    Length,
}

/// Sizes of one kind, each once, file units.
struct Group {
    kind: Kind,
    usual: &'static [Usual],
    sizes: Vec<Vec<f64>>,
}

/// Listed sizes of a kind, all described by as many numbers, mm.
type Listed = Vec<Vec<f64>>;

impl Group {
    fn new(kind: Kind, usual: &'static [Usual], sizes: impl IntoIterator<Item = Vec<f64>>) -> Self {
        let mut group = Group {
            kind,
            usual,
            sizes: Vec::new(),
        };
        for size in sizes {
            let sound = size.iter().all(|v| *v > 0.0 && v.is_finite());
            if sound && !group.sizes.iter().any(|known| same(known, &size)) {
                group.sizes.push(size);
            }
        }
        group
    }

    fn gain(&self, sizes: &[f64], k: f64) -> f64 {
        let mm: Vec<f64> = sizes.iter().map(|v| v * k).collect();
        match self.kind {
            Kind::Length => drawn(&mm).ln(),
            _ => beyond_chance(&mm, self.listed(mm.len()).iter().map(Vec::as_slice)),
        }
    }

    fn is_listed(&self, sizes: &[f64], k: f64) -> bool {
        let mm: Vec<f64> = sizes.iter().map(|v| v * k).collect();
        self.listed(mm.len())
            .iter()
            .any(|entry| is_listed(&mm, entry))
    }

    fn listed(&self, numbers: usize) -> &'static [Vec<f64>] {
        let found = TABLES
            .iter()
            .find(|(kind, n, _)| *kind == self.kind && *n == numbers);
        found.map_or(&[], |(_, _, listed)| listed)
    }
}

/// Two readings of one size: nearer to each other than meshes tell.
fn same(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len()
        && a.iter()
            .zip(b)
            .all(|(x, y)| (x - y).abs() <= 1e-3 * x.max(*y))
}

fn groups(e: &Evidence) -> Vec<Group> {
    // Equal sides are one number: a square is drawn with one size, not with two that agree.
    let sides = |a: f64, b: f64| {
        if same(&[a], &[b]) {
            vec![a]
        } else {
            vec![a.max(b), a.min(b)]
        }
    };
    let three = |list: &[(f64, f64, f64)]| -> Vec<Vec<f64>> {
        list.iter()
            .map(|&(a, b, t)| [vec![t], sides(a, b)].concat())
            .collect()
    };
    const TUBE: &[Usual] = &[WALL, OUTSIDE];
    const SOLID: &[Usual] = &[OUTSIDE];
    const FLAT: &[Usual] = &[PLATE, OUTSIDE];
    let one = |list: &[f64]| list.iter().map(|v| vec![*v]).collect::<Vec<_>>();
    let (square, flat): (Vec<_>, Vec<_>) = e.flat_bar.iter().partition(|(a, b)| same(&[*a], &[*b]));
    vec![
        Group::new(
            Kind::Section(Family::RoundTube),
            TUBE,
            e.round.iter().map(|&(d, t)| vec![t, d]),
        ),
        Group::new(Kind::Section(Family::RectTube), TUBE, three(&e.rect)),
        Group::new(Kind::Section(Family::RoundBar), SOLID, one(&e.round_bar)),
        Group::new(
            Kind::Section(Family::FlatBar),
            SOLID,
            square.iter().map(|(a, _)| vec![*a]),
        ),
        Group::new(
            Kind::Section(Family::FlatBar),
            FLAT,
            flat.iter().map(|(a, b)| vec![a.min(*b), a.max(*b)]),
        ),
        Group::new(Kind::Section(Family::Angle), TUBE, three(&e.angle)),
        Group::new(Kind::Section(Family::Channel), TUBE, three(&e.channel)),
        Group::new(Kind::Plate, &[PLATE], one(&e.thickness)),
        Group::new(Kind::Hole, &[HOLE], one(&e.holes)),
        Group::new(Kind::Length, &[], one(&e.lengths)),
    ]
}

/// The listed sizes by kind and by how many numbers describe one, in the order of [`groups`].
static TABLES: LazyLock<Vec<(Kind, usize, Listed)>> = LazyLock::new(|| {
    let mut tables: Vec<(Kind, usize, Listed)> = Vec::new();
    let mut put = |kind: Kind, sizes: Vec<f64>| {
        let place = tables
            .iter_mut()
            .find(|t| t.0 == kind && t.1 == sizes.len());
        match place {
            Some(table) => table.2.push(sizes),
            None => tables.push((kind, sizes.len(), vec![sizes])),
        }
    };
    for entry in entries() {
        put(Kind::Section(entry.family), described(entry));
    }
    for thickness in thicknesses() {
        put(Kind::Plate, vec![thickness]);
    }
    for diameter in hole_diameters() {
        put(Kind::Hole, vec![*diameter]);
    }
    tables
});

/// Thickness first, then the outside; equal sides once.
fn described(entry: &Entry) -> Vec<f64> {
    let mut outside = entry.outside.clone();
    outside.dedup();
    if entry.family == Family::FlatBar {
        outside.reverse();
    }
    [entry.wall.iter().take(1).copied().collect(), outside].concat()
}

#[cfg(test)]
mod tests;

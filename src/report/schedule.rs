//! The hole schedule of a part: its holes by size, what each size takes, and their places.

use schemars::JsonSchema;
use serde::Serialize;

use super::ReportedPart;
use crate::measure::{Quantity, Show, quantity};
use crate::member::{self, MemberHole};
use crate::plate::{HoleKind, Plate, PlateFace, PlateHole, Segment};
use crate::stock::{self, Clears, Fit, Head, TapDrill, TapSize};

/// The holes of a part by size.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct HoleSchedule {
    /// Straight edge of the flat that lies along its left side, from which x runs, mm; null where
    /// none does (then hold the square to the rectangle's side) and for members.
    pub left_edge: Option<f64>,
    /// Straight edge along its lower side, from which y runs, mm; null as before.
    pub lower_edge: Option<f64>,
    /// One entry per kind and size.
    pub sizes: Vec<HoleSize>,
}

/// Holes of one kind and size.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct HoleSize {
    /// Kind.
    pub kind: HoleKind,
    /// Diameter (a slot's width), mm; the mean of the holes.
    pub diameter: Option<Quantity>,
    /// Length of a slot over its ends, or longer side of the rectangle around a cut-out, mm.
    pub length: Option<Quantity>,
    /// Shorter side of the rectangle around a cut-out, mm.
    pub width: Option<Quantity>,
    /// Corner radius of a rectangular cut-out, 0 where its corners are sharp; null for other shapes, mm.
    pub corner_radius: Option<Quantity>,
    /// Head diameter of a countersink, bore of a counterbore, mm.
    pub countersink_diameter: Option<Quantity>,
    /// Full angle of a countersink, degrees.
    pub countersink_angle: Option<Quantity>,
    /// Depth of a blind hole or counterbore, mm.
    pub depth: Option<Quantity>,
    /// Face it is countersunk, counterbored or, blind, drilled from.
    pub made_from: Option<PlateFace>,
    /// How many.
    pub count: usize,
    /// Where they are.
    pub places: Vec<HolePlace>,
    /// Fasteners they clear.
    pub clears: Vec<Clears>,
    /// Threads whose tap drill they equal; whether they are to be tapped a mesh can't tell.
    pub tap_drills: Vec<TapDrill>,
    /// Countersunk screw their countersink takes.
    pub head: Option<Head>,
}

/// Where one hole is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct HolePlace {
    /// Its number in the part's list of holes, from 0.
    pub hole: usize,
    /// Running dimension from the left side of the flat, mm; null for members (see their stations).
    pub x: Option<Quantity>,
    /// Running dimension from its lower side, mm.
    pub y: Option<Quantity>,
}

/// Sizes that print alike are drilled with one drill, mm.
const ALIKE: f64 = 0.01;
/// The same of a head's angle, degrees.
const ALIKE_ANGLE: f64 = 0.1;

/// The schedule of a part; `None` without holes.
pub(super) fn schedule(part: &ReportedPart) -> Option<HoleSchedule> {
    let mut sizes: Vec<HoleSize> = Vec::new();
    match (&part.member, &part.plate) {
        (Some(member), _) => {
            for (k, hole) in member.holes.iter().enumerate() {
                add(&mut sizes, of_member(k, hole));
            }
        }
        (None, Some(plate)) => {
            for (k, hole) in plate.holes.iter().enumerate() {
                add(&mut sizes, of_plate(k, hole));
            }
        }
        (None, None) => {}
    }
    if sizes.is_empty() {
        return None;
    }
    let rank = |s: &HoleSize| {
        let first = s.diameter.or(s.length);
        (s.kind as u8, first.map_or(f64::INFINITY, |d| d.value))
    };
    sizes.sort_by(|a, b| {
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    for size in &mut sizes {
        take(size);
    }
    let plate = part.plate.as_ref().filter(|_| part.member.is_none());
    Some(HoleSchedule {
        left_edge: plate.and_then(|p| edge_along(p, 0)),
        lower_edge: plate.and_then(|p| edge_along(p, 1)),
        sizes,
    })
}

fn of_plate(number: usize, hole: &PlateHole) -> HoleSize {
    HoleSize {
        kind: hole.kind,
        diameter: hole.diameter,
        length: hole.length,
        width: hole.width,
        corner_radius: hole.corner_radius,
        countersink_diameter: hole.countersink_diameter,
        countersink_angle: hole.countersink_angle,
        depth: hole.depth,
        made_from: hole.made_from,
        count: 1,
        places: vec![HolePlace {
            hole: number,
            x: hole.x,
            y: hole.y,
        }],
        clears: Vec::new(),
        tap_drills: Vec::new(),
        head: None,
    }
}

fn of_member(number: usize, hole: &MemberHole) -> HoleSize {
    HoleSize {
        kind: match hole.kind {
            member::HoleKind::Round => HoleKind::Round,
            member::HoleKind::Slot => HoleKind::Slot,
            member::HoleKind::Cutout => HoleKind::Cutout,
        },
        diameter: hole.diameter,
        length: hole.length,
        width: hole.width,
        corner_radius: hole.corner_radius,
        countersink_diameter: None,
        countersink_angle: None,
        depth: None,
        made_from: None,
        count: 1,
        places: vec![HolePlace {
            hole: number,
            x: None,
            y: None,
        }],
        clears: Vec::new(),
        tap_drills: Vec::new(),
        head: None,
    }
}

/// Adds a hole to the size it has, or as a size of its own. Two shapes in rectangles of one size may
/// still differ, two rectangles with like corners don't.
fn add(sizes: &mut Vec<HoleSize>, hole: HoleSize) {
    let known = hole.diameter.is_some() || hole.corner_radius.is_some();
    let same = sizes.iter_mut().find(|s| known && is_alike(s, &hole));
    match same {
        Some(size) => {
            let n = size.count as f64;
            let mean = |a: Option<Quantity>, b: Option<Quantity>| {
                let (a, b) = a.zip(b)?;
                Some(quantity(
                    (a.value * n + b.value) / (n + 1.0),
                    a.plus_minus.max(b.plus_minus),
                ))
            };
            size.diameter = mean(size.diameter, hole.diameter);
            size.length = mean(size.length, hole.length);
            size.width = mean(size.width, hole.width);
            size.corner_radius = mean(size.corner_radius, hole.corner_radius);
            size.countersink_diameter = mean(size.countersink_diameter, hole.countersink_diameter);
            size.countersink_angle = mean(size.countersink_angle, hole.countersink_angle);
            size.depth = mean(size.depth, hole.depth);
            size.count += 1;
            size.places.extend(hole.places);
        }
        None => sizes.push(hole),
    }
}

fn is_alike(a: &HoleSize, b: &HoleSize) -> bool {
    let same = |a: Option<Quantity>, b: Option<Quantity>, slack: f64| match (a, b) {
        (Some(a), Some(b)) => (a.value - b.value).abs() <= (a.plus_minus + b.plus_minus).max(slack),
        (None, None) => true,
        _ => false,
    };
    a.kind == b.kind
        && a.made_from == b.made_from
        && same(a.diameter, b.diameter, ALIKE)
        && same(a.length, b.length, ALIKE)
        && same(a.width, b.width, ALIKE)
        && same(a.corner_radius, b.corner_radius, ALIKE)
        && same(a.countersink_diameter, b.countersink_diameter, ALIKE)
        && same(a.countersink_angle, b.countersink_angle, ALIKE_ANGLE)
        && same(a.depth, b.depth, ALIKE)
}

/// What holes of this size take.
fn take(size: &mut HoleSize) {
    let Some(diameter) = size.diameter else {
        return;
    };
    if !matches!(size.kind, HoleKind::Blind | HoleKind::Cutout) {
        size.clears = stock::clears(diameter);
    }
    if matches!(size.kind, HoleKind::Round | HoleKind::Blind) {
        size.tap_drills = stock::tap_drills(diameter);
    }
    if let (HoleKind::Countersunk, Some(sunk), Some(angle)) =
        (size.kind, size.countersink_diameter, size.countersink_angle)
    {
        size.head = stock::head(diameter, sunk, angle);
    }
}

/// Length of straight outline along the left (axis 0) or lower (axis 1) side of the rectangle.
fn edge_along(plate: &Plate, axis: usize) -> Option<f64> {
    let on_side = |p: &[f64; 2], slack: f64| p[axis].abs() <= slack;
    let length: f64 = plate
        .outline
        .iter()
        .filter_map(|s| match s {
            Segment::Line { length, start, end } => {
                let slack = 2.0 * length.plus_minus + ALIKE;
                (on_side(start, slack) && on_side(end, slack)).then_some(length.value)
            }
            Segment::Arc { .. } => None,
        })
        .sum();
    (length > 0.0).then_some(length)
}

impl HoleSize {
    /// `M12 medium, M10 coarse`, or with how much the hole is larger; empty when nothing is known.
    pub fn clears_metric(&self, show: Show) -> String {
        self.clears_words(true, show)
    }

    /// The same for inch fasteners.
    pub fn clears_inch(&self, show: Show) -> String {
        self.clears_words(false, show)
    }

    fn clears_words(&self, metric: bool, show: Show) -> String {
        let own = self
            .clears
            .iter()
            .filter(|c| c.fastener.starts_with('M') == metric);
        let words: Vec<String> = own
            .map(|c| {
                let fit = match c.fit {
                    Fit::Fine => "fine",
                    Fit::Medium => "medium",
                    Fit::Coarse => "coarse",
                    Fit::Close => "close",
                    Fit::Free => "free",
                };
                let over = match c.over > 0.0 {
                    true => format!(" + {}", spoken(c.over, show)),
                    false => String::new(),
                };
                format!("{} {fit}{over}", c.fastener)
            })
            .collect();
        words.join(", ")
    }

    /// `M8 (d - P)`, `1/4-20 (chart drill)`; empty when the hole is no tap drill.
    pub fn tap_words(&self) -> String {
        let words: Vec<String> = self
            .tap_drills
            .iter()
            .map(|t| {
                let which = match t.is {
                    TapSize::DiameterLessPitch => "d - P",
                    TapSize::ChartDrill => "chart drill",
                    TapSize::MinorDiameter => "minor diameter",
                };
                format!("{} ({which})", t.thread)
            })
            .collect();
        words.join(", ")
    }

    /// `M6, flush`, `M6, head 0.2 proud`; empty without a screw that fits.
    pub fn head_words(&self, show: Show) -> String {
        match &self.head {
            Some(head) if head.proud > 0.0 => {
                format!(
                    "{} {}, up to {} proud",
                    head.standard,
                    head.fastener,
                    spoken(head.proud, show)
                )
            }
            Some(head) => format!("{} {}, flush", head.standard, head.fastener),
            None => String::new(),
        }
    }

    /// Numbers of its holes from 1, runs drawn together: `1-4, 7`.
    pub fn numbers(&self) -> String {
        let mut runs: Vec<(usize, usize)> = Vec::new();
        for n in self.places.iter().map(|p| p.hole + 1) {
            match runs.last_mut() {
                Some(run) if run.1 + 1 == n => run.1 = n,
                _ => runs.push((n, n)),
            }
        }
        let words: Vec<String> = runs
            .iter()
            .take(RUNS_SHOWN)
            .map(|&(a, b)| match a == b {
                true => a.to_string(),
                false => format!("{a}-{b}"),
            })
            .collect();
        let more = if runs.len() > RUNS_SHOWN { ", ..." } else { "" };
        words.join(", ") + more
    }
}

/// More runs of numbers than this make no column to read.
const RUNS_SHOWN: usize = 6;

/// A small length as it is spoken of: no ±, no zeros at the end.
fn spoken(mm: f64, show: Show) -> String {
    let text = show
        .size(quantity(mm, 0.0))
        .map_or_else(String::new, |w| w.value);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// Which edges the running dimensions start from, in words.
pub fn datum_words(schedule: &HoleSchedule, show: Show) -> String {
    let side = |letter: &str, name: &str, edge: Option<f64>| match edge {
        Some(length) => format!(
            "{letter} from the {name} edge ({} straight)",
            spoken(length, show)
        ),
        None => format!("{letter} from the {name} side of the rectangle (no straight edge there)"),
    };
    format!(
        "{}, {}",
        side("x", "left", schedule.left_edge),
        side("y", "lower", schedule.lower_edge)
    )
}

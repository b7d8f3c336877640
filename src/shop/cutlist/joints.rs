//! Joints: holes that line up through neighbouring parts, and the bolts that go through.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::Settings;
use super::stand::Stand;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::union_find::UnionFind;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::measure::{Quantity, Show};
use crate::shop::text::{distance, place};
use crate::{member, plate};

/// A hole of a joint.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct JointHole {
    /// Piece mark.
    pub mark: String,
    /// Diameter, mm.
    pub diameter: Quantity,
    /// Metal it goes through, mm.
    pub thickness: Quantity,
}

/// A bolt that goes through.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Bolt {
    /// Thread.
    pub thread: String,
    /// Widest series of clearance holes the way through has room for.
    pub fit: String,
    /// Drill where the last part is tapped instead, mm.
    pub tap_drill: f64,
    /// Coupling nut: across the flats and length, mm; null where none is listed.
    pub coupling_nut: Option<[f64; 2]>,
}

/// Holes that line up. Never a statement of strength.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Joint {
    /// Its holes, from one face to the other.
    pub holes: Vec<JointHole>,
    /// How many there are alike, in all models.
    pub count: u32,
    /// From the first face to the last, mm.
    pub grip: Quantity,
    /// Open room between the parts in it, mm.
    pub gap: f64,
    /// Largest distance between two of its axes, mm.
    pub off: Quantity,
    /// Largest round bar that goes through all of it, mm.
    pub clear: f64,
    /// Largest bolts that go through: ISO metric and Unified.
    pub bolts: Vec<Bolt>,
    /// Middle of one of them, file frame, mm.
    pub at: [f64; 3],
}

/// The joints of a model.
#[derive(Clone, Debug, Default)]
pub struct Joints {
    /// Alike ones in one line.
    pub lines: Vec<Joint>,
    /// Pairs of pieces that a joint holds together.
    pub pairs: Vec<(usize, usize)>,
}

/// Metal with a hole in it.
struct Layer {
    piece: usize,
    /// Where the axis enters the metal.
    point: Pt3,
    axis: Vec3,
    thickness: Quantity,
    diameter: Quantity,
}

/// Directions that differ by less are the same way through, degrees.
const PARALLEL: f64 = 2.0;

/// Finds the joints.
pub fn find(stand: &Stand, settings: &Settings, findings: &mut Vec<Finding>) -> Joints {
    let layers = layers(stand);
    let mut groups = UnionFind::new(layers.len());
    for i in 0..layers.len() {
        for j in 0..i {
            if layers[i].piece != layers[j].piece && meet(&layers[i], &layers[j], settings.reach) {
                groups.join(i as u32, j as u32);
            }
        }
    }
    let mut by_root: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for i in 0..layers.len() {
        by_root
            .entry(groups.root(i as u32) as usize)
            .or_default()
            .push(i);
    }
    let mut out = Joints::default();
    let mut alike: BTreeMap<String, usize> = BTreeMap::new();
    for members in by_root.values().filter(|m| m.len() > 1) {
        let held: Vec<&Layer> = members.iter().map(|&i| &layers[i]).collect();
        for a in &held {
            out.pairs.extend(
                held.iter()
                    .filter(|b| b.piece > a.piece)
                    .map(|b| (a.piece, b.piece)),
            );
        }
        let joint = joint(stand, &held);
        let key = key(&joint);
        match alike.get(&key) {
            Some(&k) => out.lines[k].count += stand.quantity,
            None => {
                alike.insert(key, out.lines.len());
                out.lines.push(joint);
            }
        }
    }
    out.lines.sort_by(|a, b| {
        let marks = |j: &Joint| j.holes.iter().map(|h| h.mark.clone()).collect::<Vec<_>>();
        marks(a).cmp(&marks(b)).then(a.clear.total_cmp(&b.clear))
    });
    findings.extend(
        out.lines
            .iter()
            .filter_map(|joint| off(joint, settings.show)),
    );
    out
}

/// What tells joints apart: parts, sizes, grip and offset to a tenth.
fn key(joint: &Joint) -> String {
    let holes: Vec<String> = joint
        .holes
        .iter()
        .map(|h| {
            format!(
                "{} {:.1} {:.1}",
                h.mark, h.diameter.value, h.thickness.value
            )
        })
        .collect();
    format!("{holes:?} {:.1} {:.1}", joint.grip.value, joint.off.value)
}

fn meet(a: &Layer, b: &Layer, reach: f64) -> bool {
    let same = a.axis.dot(&b.axis);
    if same.abs() < PARALLEL.to_radians().cos() {
        return false;
    }
    let between = b.point - a.point;
    let way = between.dot(&a.axis);
    let aside = (between - a.axis * way).norm();
    let least = a.diameter.value.min(b.diameter.value);
    let (start, end) = match same > 0.0 {
        true => (way, way + b.thickness.value),
        false => (way - b.thickness.value, way),
    };
    let apart = (start - a.thickness.value).max(-end);
    aside < least / 2.0 && apart <= reach
}

fn joint(stand: &Stand, held: &[&Layer]) -> Joint {
    let (origin, axis) = (held[0].point, held[0].axis);
    let span = |layer: &Layer| {
        let at = (layer.point - origin).dot(&axis);
        let far = at + layer.thickness.value * layer.axis.dot(&axis);
        (at.min(far), at.max(far))
    };
    let mut sorted: Vec<&&Layer> = held.iter().collect();
    sorted.sort_by(|a, b| span(a).0.total_cmp(&span(b).0));
    let start = sorted
        .iter()
        .map(|l| span(l).0)
        .fold(f64::INFINITY, f64::min);
    let end = sorted
        .iter()
        .map(|l| span(l).1)
        .fold(f64::NEG_INFINITY, f64::max);
    let doubt: f64 = sorted.iter().map(|l| l.thickness.plus_minus).sum();
    let metal: f64 = sorted.iter().map(|l| l.thickness.value).sum();
    let (mut off, mut clear) = (Quantity::new(0.0, 0.0), f64::INFINITY);
    for (k, a) in sorted.iter().enumerate() {
        clear = clear.min(a.diameter.value);
        for b in &sorted[..k] {
            let between = b.point - a.point;
            let aside = (between - axis * between.dot(&axis)).norm();
            let both = a.diameter.plus_minus + b.diameter.plus_minus;
            clear = clear.min((a.diameter.value + b.diameter.value) / 2.0 - aside);
            if aside > off.value {
                off = Quantity::new(aside, both);
            }
        }
    }
    // read from the mark that comes first, so that joints alike read alike
    let first = &stand.pieces[sorted[0].piece].mark;
    let last = &stand.pieces[sorted[sorted.len() - 1].piece].mark;
    if last < first {
        sorted.reverse();
    }
    Joint {
        holes: sorted
            .iter()
            .map(|layer| JointHole {
                mark: stand.pieces[layer.piece].mark.clone(),
                diameter: layer.diameter,
                thickness: layer.thickness,
            })
            .collect(),
        count: stand.quantity,
        grip: Quantity::new(end - start, doubt),
        gap: (end - start - metal).max(0.0),
        off,
        clear,
        bolts: [true, false]
            .into_iter()
            .filter_map(|metric| bolt(clear, metric))
            .collect(),
        at: (origin + axis * ((start + end) / 2.0)).into(),
    }
}

fn bolt(clear: f64, metric: bool) -> Option<Bolt> {
    let (thread, fit) = crate::stock::largest_through(clear, metric)?;
    Some(Bolt {
        thread: thread.name.clone(),
        fit: fit.to_owned(),
        tap_drill: thread.tap_drill,
        coupling_nut: thread.coupling_nut,
    })
}

/// Holes off by less than this are drilled so by any hand, mm.
const TRUE_ENOUGH: f64 = 0.2;

fn off(joint: &Joint, show: Show) -> Option<Finding> {
    if joint.off.value - joint.off.plus_minus <= TRUE_ENOUGH {
        return None;
    }
    let least = joint
        .holes
        .iter()
        .map(|h| h.diameter.value)
        .fold(f64::INFINITY, f64::min);
    let alone = crate::stock::largest_through(least, true).map(|(t, _)| t.name.as_str());
    let still = joint.bolts.first().map(|b| b.thread.as_str());
    let marks: Vec<&str> = joint.holes.iter().map(|h| h.mark.as_str()).collect();
    let (severity, what) = match alone == still {
        true => (Severity::Note, "the bolt still goes through".to_owned()),
        false => (
            Severity::Warning,
            format!(
                "{} goes through each hole, {} through all of them",
                alone.unwrap_or("a bolt"),
                still.unwrap_or("none")
            ),
        ),
    };
    // the last digit that is written
    let least_shown = match show {
        Show::Millimetre => 0.01,
        Show::Inch | Show::InchFraction(_) => 0.0254,
    };
    let mut finding = Finding::new(
        Code::HolesOff,
        severity,
        format!(
            "Holes of {} that face each other are off by {} ±{} ({} times, one at {}): {what}.",
            marks.join(" and "),
            distance(joint.off.value, show),
            distance(joint.off.plus_minus.max(least_shown), show),
            joint.count,
            place(joint.at, show)
        ),
        "Ask which part is right before drilling, or drill one through the other.",
    );
    finding.part = marks.first().map(|m| (*m).to_owned());
    Some(finding)
}

fn layers(stand: &Stand) -> Vec<Layer> {
    let mut out = Vec::new();
    for (k, piece) in stand.pieces.iter().enumerate() {
        if let Some(plate) = &piece.part.plate {
            out.extend(
                plate
                    .holes
                    .iter()
                    .filter_map(|hole| of_plate(plate, hole, k)),
            );
        }
        for hole in piece.part.member.iter().flat_map(|m| &m.holes) {
            if hole.kind == member::HoleKind::Round {
                of_member(stand, hole, k, &mut out);
            }
        }
    }
    out
}

fn of_plate(plate: &plate::Plate, hole: &plate::PlateHole, piece: usize) -> Option<Layer> {
    use plate::HoleKind::{Counterbored, Countersunk, Round};
    matches!(hole.kind, Round | Countersunk | Counterbored).then_some(())?;
    Some(Layer {
        piece,
        point: Pt3::from(hole.point),
        axis: Vec3::from(hole.axis),
        thickness: plate.thickness?,
        diameter: hole.diameter?,
    })
}

/// Lines around a hole, just outside its rim.
const LINES: usize = 12;

/// The walls a member's hole goes through, by lines through the metal beside it.
fn of_member(stand: &Stand, hole: &member::MemberHole, piece: usize, out: &mut Vec<Layer>) {
    let Some(diameter) = hole.diameter else {
        return;
    };
    let (point, axis) = (Pt3::from(hole.point), Vec3::from(hole.axis));
    let body = stand.pieces[piece].body;
    let reach = 4.0 * size(stand, body);
    let (u, v) = perpendicular_pair(&axis);
    let ring = |share: f64, k: usize| {
        let turn = std::f64::consts::TAU * k as f64 / LINES as f64;
        point + (u * turn.cos() + v * turn.sin()) * (share * diameter.value / 2.0)
    };
    let wall = |k: usize, nth: usize| {
        let met = stand.crossings(body, &ring(1.1, k), &axis, reach);
        let mut spans = met
            .windows(2)
            .filter(|w| w[0].inward && !w[1].inward)
            .map(|w| (w[0].way, w[1].way))
            .filter(|(start, _)| *start > -diameter.value / 2.0);
        spans.nth(nth)
    };
    for nth in 0..hole.walls.max(1) as usize {
        let spans: Vec<(f64, f64)> = (0..LINES).filter_map(|k| wall(k, nth)).collect();
        if spans.len() < LINES / 2 {
            return;
        }
        let start = median(spans.iter().map(|s| s.0));
        let thickness = median(spans.iter().map(|s| s.1 - s.0));
        // a wall that is not drilled stands in the way
        let middle = start + thickness / 2.0;
        let blocked = (0..LINES).any(|k| {
            let met = stand.crossings(body, &ring(0.5, k), &axis, reach);
            met.windows(2)
                .any(|w| w[0].inward && w[0].way < middle && w[1].way > middle)
        });
        if blocked {
            return;
        }
        let doubt = stand.pieces[piece]
            .part
            .member
            .as_ref()
            .and_then(|m| m.section.wall);
        out.push(Layer {
            piece,
            point: point + axis * start,
            axis,
            thickness: Quantity::new(thickness, doubt.map_or(0.05, |w| w.plus_minus)),
            diameter,
        });
    }
}

fn size(stand: &Stand, body: usize) -> f64 {
    let (low, high) = stand.boxes[body];
    (high - low).norm()
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}

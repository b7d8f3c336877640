//! Counted parts to a report.

use std::cmp::Reverse;
use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::{
    LengthUnit, PieceCopy, Report, ReportedPart, Source, Tool, Unresolved, finite, schedule,
};
use crate::finding::Finding;
use crate::instance::{Counted, Placement};
use crate::measure;
use crate::member::{Member, Span};
use crate::plate::Frame;

/// What a report is made of.
#[derive(Clone, Debug)]
pub struct Assembly {
    /// The model file.
    pub source: Source,
    /// Its unit.
    pub length_unit: LengthUnit,
    /// Findings about the whole file, or already filed under a mark.
    pub findings: Vec<Finding>,
    /// The parts, in the order they are to be listed.
    pub counted: Vec<Counted>,
    /// Facets of each body, by body number.
    pub body_facets: Vec<u64>,
    /// Density of the metal, kg/m³.
    pub density: f64,
}

/// The report of a model: masses added, numbers that are not finite taken out, each part's findings
/// filed under its mark, findings sorted worst first.
pub fn assemble(from: Assembly) -> Report {
    let mut findings = from.findings;
    let mut parts = Vec::with_capacity(from.counted.len());
    let mut unresolved = Vec::new();
    for counted in from.counted {
        if let Some(reason) = &counted.part.unresolved {
            unresolved.push(unresolved_of(&counted, reason, &from.body_facets));
        }
        let own = findings.len();
        findings.extend(counted.part.findings.iter().cloned());
        let mut part = reported(counted, from.density);
        findings.extend(finite::keep_finite(&mut part));
        part.hole_schedule = schedule::schedule(&part);
        for finding in &mut findings[own..] {
            finding.part.get_or_insert_with(|| part.mark.clone());
        }
        parts.push(part);
    }
    worst_first(&mut findings, &parts);
    Report {
        schema: 1,
        tool: Tool {
            name: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        },
        source: from.source,
        length_unit: from.length_unit,
        findings,
        parts,
        unresolved,
    }
}

/// The same report with one part and what concerns it, or `None` when no part has that mark.
pub fn only_part(mut report: Report, mark: &str) -> Option<Report> {
    report.parts.retain(|part| part.mark == mark);
    report.unresolved.retain(|body| body.part == mark);
    report
        .findings
        .retain(|finding| finding.part.as_deref().is_none_or(|own| own == mark));
    (!report.parts.is_empty()).then_some(report)
}

fn reported(counted: Counted, density: f64) -> ReportedPart {
    let part = counted.part;
    let frame = match (&part.member, &part.plate) {
        (Some(member), _) => member_frame(member),
        (None, Some(plate)) => plate.frame,
        (None, None) => None,
    };
    let copies = (counted.places.iter().enumerate())
        .map(|(i, place)| PieceCopy {
            body: place.body,
            mirrored: place.mirrored,
            frame: match (frame, place.placement) {
                (frame, _) if i == 0 => frame,
                (Some(frame), Some(placement)) => Some(moved(&frame, &placement)),
                _ => None,
            },
        })
        .collect();
    ReportedPart {
        mark: counted.mark,
        name: part.name,
        class: part.class,
        quantity: counted.quantity,
        opposite_hand: counted.opposite_hand,
        bodies: counted.bodies,
        body: part.body,
        volume: part.volume,
        surface_area: part.surface_area,
        mass: part.volume.map(|volume| measure::mass(volume, density)),
        density,
        frame,
        copies,
        member: part.member,
        plate: part.plate,
        hole_schedule: None,
    }
}

fn moved(frame: &Frame, place: &Placement) -> Frame {
    let turn = |d: [f64; 3]| (place.linear * Vector3::from(d)).into();
    Frame {
        origin: place.apply(&Point3::from(frame.origin)).into(),
        x: turn(frame.x),
        y: turn(frame.y),
        z: turn(frame.z),
    }
}

/// Frame of the section where the path begins.
fn member_frame(member: &Member) -> Option<Frame> {
    match (member.ends.first(), member.spans.first()) {
        (Some(end), _) => Some(Frame {
            origin: end.point,
            x: end.width_axis,
            y: end.height_axis,
            z: end.tangent.map(|t| -t),
        }),
        // A ring begins anywhere: take the direction square to its axis that leans least on it.
        (
            None,
            Some(Span::Arc {
                radius: Some(radius),
                centre,
                axis,
                ..
            }),
        ) => {
            let outward = square_to(*axis);
            Some(Frame {
                origin: std::array::from_fn(|k| centre[k] + radius.value * outward[k]),
                x: *axis,
                y: outward,
                z: cross(*axis, outward),
            })
        }
        _ => None,
    }
}

fn square_to(axis: [f64; 3]) -> [f64; 3] {
    let least = (0..3)
        .min_by(|&a, &b| axis[a].abs().total_cmp(&axis[b].abs()))
        .unwrap_or(0);
    let mut unit = [0.0; 3];
    unit[least] = 1.0;
    let side = cross(axis, unit);
    let length = side.iter().map(|s| s * s).sum::<f64>().sqrt();
    side.map(|s| s / length)
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn unresolved_of(counted: &Counted, reason: &str, body_facets: &[u64]) -> Unresolved {
    let facets_of = |body: &u32| body_facets.get(*body as usize).copied().unwrap_or(0);
    Unresolved {
        part: counted.mark.clone(),
        bodies: counted.bodies.clone(),
        facets: counted.bodies.iter().map(facets_of).sum(),
        reason: reason.to_owned(),
    }
}

/// Worst first; then the file before its parts, parts as listed, and codes in their published order.
fn worst_first(findings: &mut [Finding], parts: &[ReportedPart]) {
    let places: HashMap<&str, usize> = (parts.iter().zip(0..))
        .map(|(part, place)| (part.mark.as_str(), place))
        .collect();
    let place = |finding: &Finding| places.get(finding.part.as_deref()?).copied();
    findings.sort_by_key(|finding| (Reverse(finding.severity), place(finding), finding.code));
}

//! Member, plate or neither: the class rule of the report.

use super::{Class, Part};
use crate::body::Body;
use crate::member::Span;
use crate::member::describe::{Described, describe};
use crate::member::trace::trace;
use crate::member::track::{facets, seeds};

/// Share of a body's facet area that a description must explain to be believed.
const BELIEVABLE: f64 = 0.9;

/// Measures one body.
pub fn measure(body: &Body) -> Part {
    let mut part = Part {
        body: body.index,
        name: body.name.clone(),
        class: Class::Other,
        volume: None,
        surface_area: None,
        member: None,
        plate: None,
        findings: Vec::new(),
        unresolved: None,
    };
    let Some(described) = as_member(body) else {
        part.unresolved = Some("Neither a section moved along a path nor a plate was recognised.".to_owned());
        return part;
    };
    part.class = class_of(&described);
    part.volume = described.volume;
    part.surface_area = described.surface_area;
    part.findings = described.findings;
    part.member = Some(described.member);
    part
}

/// The most complete description of the body as a member.
fn as_member(body: &Body) -> Option<Described> {
    let facets = facets(body);
    let mut best: Option<Described> = None;
    for seed in seeds(body, &facets).iter().take(6) {
        let Some(described) = trace(body, &facets, seed).and_then(|t| describe(body, &facets, &t)) else {
            continue;
        };
        if best.as_ref().is_none_or(|b| described.explained > b.explained + 0.02) {
            best = Some(described);
        }
    }
    best.filter(|d| d.explained > BELIEVABLE)
}

fn class_of(d: &Described) -> Class {
    let arcs = d.member.spans.iter().filter(|s| matches!(s, Span::Arc { .. })).count();
    let others = d.member.spans.iter().any(|s| matches!(s, Span::Helix { .. }));
    let free = d.member.spans.iter().any(|s| matches!(s, Span::Free { .. }));
    match (free, others, arcs) {
        (true, ..) => Class::Other,
        (_, true, _) => Class::BentMember,
        (_, _, 0) => Class::StraightMember,
        (_, _, 1) => Class::RolledMember,
        _ => Class::BentMember,
    }
}

//! Every number of a member seen one way round.

use super::ends::{end_list, twist};
use super::measured::{FLOOR, Measured, measured_extent, spread_to_integrals};
use super::section::section;
use super::spans::{rise, spans};
use crate::body::Body;
use crate::member::caps::Sorted;
use crate::member::ends::Closing;
use crate::member::model::Model;
use crate::member::numbers::{Setting, centred_path, numbers};
use crate::member::trace::Traced;
use crate::member::track::Facets;
use crate::member::{Centreline, Member, Span};

#[allow(clippy::too_many_arguments)]
pub(super) fn measure(
    body: &Body,
    facets: &Facets,
    traced: &Traced,
    sorted: &Sorted,
    ends: &[Closing],
    view: &dyn Fn(&Model) -> Model,
    near: [f64; 2],
    kept: &[usize],
) -> Option<(Member, Measured)> {
    let setting = Setting {
        closings: ends,
        near,
    };
    let nominal = view(&traced.fitted.model);
    let named = numbers(&nominal, &setting, kept, true);
    let straight = nominal.path.pieces.iter().all(|p| p.curvature == 0.0);
    let plain = ends
        .iter()
        .all(|e| matches!(e, Closing::Planes(p) if p.len() == 1));
    // directions jump by a turn at ±180 degrees; their differences must not
    let directions: Vec<usize> = named
        .index
        .iter()
        .filter(|(name, _)| name.ends_with(".rotation") || name.ends_with(".lean"))
        .map(|(_, &i)| i)
        .collect();
    let (_, mut uncertainty) = traced.fitted.propagate(&|m| {
        let mut values =
            crate::member::numbers::values(&view(m), &setting, kept, straight && plain);
        for &i in &directions {
            if let (Some(v), Some(at)) = (values.get_mut(i), named.values.get(i)) {
                *v -= 360.0 * ((*v - at) / 360.0).round();
            }
        }
        values
    });
    spread_to_integrals(&named, &mut uncertainty);
    let measured = Measured {
        numbers: named,
        uncertainty,
        floor: FLOOR.max(crate::member::trace::rounding(body)),
    };
    let (path, g) = centred_path(&nominal);
    let section = section(&nominal, &measured, &g)?;
    let face_u = |c: &Closing| match c {
        Closing::Planes(p) => p.first().map_or(0.0, |p| {
            2.0 * p.rms.max(traced.sigma) / (p.count as f64).sqrt()
        }),
        Closing::Saddle(c) => c.plus_minus,
        Closing::Other { from, to } => (to - from).abs(),
        Closing::Open { .. } => 10.0 * traced.sigma + 0.5,
    };
    let ends_u: Vec<f64> = ends.iter().map(face_u).collect();
    let both = ends_u.iter().map(|u| u * u).sum::<f64>().sqrt();
    // ends that pass each other leave nothing between them
    let spans = spans(&nominal, &path, kept, &measured, &ends_u).filter(|s| !s.is_empty())?;
    let closed = ends.is_empty();
    let rise = rise(&spans, &path, &measured, both);
    let centreline = Centreline {
        length: measured.with("length", both),
        chord: if closed {
            None
        } else {
            measured.with("chord", both)
        },
        rise,
        closed,
    };
    let described_ends = if closed {
        Vec::new()
    } else {
        end_list(&path, &measured, ends, traced)
    };
    let straight = spans.iter().all(|s| matches!(s, Span::Straight { .. }));
    let twist = twist(&measured, &described_ends);
    let holes = crate::member::holes::holes(
        body,
        facets,
        traced,
        sorted,
        &path,
        &measured_extent(&measured),
    );
    let member = Member {
        section,
        centreline,
        spans,
        longest_edge: if straight {
            measured.with("longest", both)
        } else {
            None
        },
        shortest_edge: if straight {
            measured.with("shortest", both)
        } else {
            None
        },
        twist,
        ends: described_ends,
        holes,
    };
    Some((member, measured))
}

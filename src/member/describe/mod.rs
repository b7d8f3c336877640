//! From the fitted model to the numbers a shop reads.

mod convention;
mod ends;
mod measure;
mod measured;
mod section;
mod shape;
mod spans;
mod volume;

use super::caps::sort;
use super::ends::{Closing, closings, extent, face_tolerance};
use super::legs::Corners;
use super::model::Model;
use super::numbers::{centred_path, trimmed};
use super::orient::{reversed, turned};
use super::skin::{Inside, inside, take_back};
use super::trace::Traced;
use super::track::Facets;
use super::{Member, Shape, Span, legs};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use convention::{comes_first, turn_to_convention};
use measure::measure;
use shape::thinnest;
use volume::volume_and_area;

/// A member and what goes with it.
#[derive(Clone)]
pub struct Described {
    /// The member.
    pub member: Member,
    /// Volume of the design solid, mm³.
    pub volume: Option<Quantity>,
    /// Area of all its faces, mm².
    pub surface_area: Option<Quantity>,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Share of the body's facet area the member explains as swept surface and plain ends.
    pub explained: f64,
    /// True when the section has a hollow.
    pub hollow: bool,
    /// How the corners of an angle or channel were made.
    pub corners: Corners,
    /// True when the path bends and all its vertices stand where the model puts them, to the file's
    /// resolution: nothing but a bent bar does that.
    pub exact_bends: bool,
    /// True when the vertices scatter by far more than the file's resolution.
    pub noisy: bool,
}

/// Scatter of the vertices, in units of the file's resolution, from which on it is noise.
const NOISY: f64 = 30.0;

/// Describes a traced body; `None` too where less than the share `least` of its facet area is swept
/// surface and plain ends.
pub fn describe(body: &Body, facets: &Facets, traced: &Traced, least: f64) -> Option<Described> {
    let mut findings = Vec::new();
    let tolerance = face_tolerance(body, traced);
    let sag = super::stretch::sag(&traced.fitted.model, &traced.lateral.observations);
    let thin = thinnest(&traced.fitted.model.profile);
    let slack = tolerance.max((1.1 * sag).min(0.9 * thin));
    let sorted = sort(
        body,
        facets,
        &traced.track,
        &traced.lateral.contour,
        &traced.fitted.model,
        slack,
        slack.max(0.5 * thin),
    );
    let explained_area: f64 = (0..body.facets.len())
        .filter(|&f| sorted.contour[f] != crate::weld::NONE)
        .map(|f| facets.area[f])
        .sum::<f64>()
        + sorted
            .caps
            .iter()
            .filter(|c| c.facing.abs() > 0.25)
            .flat_map(|c| &c.facets)
            .map(|&f| facets.area[f as usize])
            .sum::<f64>();
    let total: f64 = facets.area.iter().sum();
    let explained = if total > 0.0 {
        explained_area / total
    } else {
        0.0
    };
    if explained < least {
        return None;
    }
    let mut ends: Vec<Closing> = if traced.track.closed {
        Vec::new()
    } else {
        closings(body, facets, traced, &sorted).to_vec()
    };
    let (first, last) = extent(&sorted);
    let kept = kept_pieces(&traced.fitted.model, &ends, [first, last]);
    let angle = turn_to_convention(&traced.fitted.model, &kept, &ends);
    let forward = |m: &Model| turned(m, angle);
    let described = measure(
        body,
        facets,
        traced,
        &sorted,
        &ends,
        &forward,
        [first, last],
        &kept,
    )?;
    let mut member = described.0;
    let mut numbers = described.1;
    if !ends.is_empty() {
        // the other reading: ends swapped, path reversed, axes to the convention again
        let total = traced.fitted.model.path.length();
        let back_ends: Vec<Closing> = ends.iter().rev().map(|c| flip_closing(c, total)).collect();
        let kept_back = kept_pieces(
            &reversed(&traced.fitted.model),
            &back_ends,
            [total - last, total - first],
        );
        let angle_back =
            turn_to_convention(&reversed(&traced.fitted.model), &kept_back, &back_ends);
        let backward = |m: &Model| turned(&reversed(m), angle_back);
        let other = measure(
            body,
            facets,
            traced,
            &sorted,
            &back_ends,
            &backward,
            [total - last, total - first],
            &kept_back,
        )?;
        if comes_first(&other.0, &member) {
            member = other.0;
            numbers = other.1;
            ends = back_ends;
        }
    }
    for (e, closing) in ends.iter().enumerate() {
        match closing {
            Closing::Other { .. } => findings.push(Finding::new(
                Code::EndAssumed,
                Severity::Warning,
                format!("End {e} is cut by neither one plane, two planes nor another tube; its length is taken to where the first metal is missing."),
                "Mark this end from the model or ask for a drawing of it.",
            )),
            Closing::Open { .. } => findings.push(Finding::new(
                Code::EndAssumed,
                Severity::Warning,
                format!("End {e} has no face in the model; it is taken to be where the surface stops."),
                "Export the model again as closed solids.",
            )),
            _ => {}
        }
    }
    super::ordinates::fill(&mut member, body, traced, &sorted);
    let corners = match member.section.shape {
        Shape::Angle | Shape::Channel => legs::judge(&member.section),
        _ => Corners::Rolled,
    };
    let cut_faces: f64 = sorted
        .caps
        .iter()
        .filter(|c| c.facing.abs() > 0.25)
        .flat_map(|c| &c.facets)
        .map(|&f| facets.area[f as usize])
        .sum();
    let (mut volume, mut surface_area) = volume_and_area(&numbers, &ends, &member, cut_faces);
    if let Inside::Unseen { rim } = inside(body, traced, &sorted, 0.5 * (first + last))
        && take_back(&mut member, &mut volume, &ends, rim, &mut findings)
    {
        surface_area = None;
    }
    if traced.narrower > 0.0 {
        widen(&mut member, traced.narrower);
        for q in [&mut volume, &mut surface_area].into_iter().flatten() {
            q.plus_minus += traced.narrower * q.value;
        }
    }
    let floor = super::trace::rounding(body) / 3f64.sqrt();
    let free = super::free::is_free(&traced.fitted, floor);
    if free {
        super::free::make_free(&mut member, traced);
    }
    arc_findings(&member, &mut findings);
    let bends = traced
        .fitted
        .model
        .path
        .pieces
        .iter()
        .any(|p| p.curvature != 0.0);
    let exact = traced.fitted.scale < 3.0 * floor && traced.explained > 0.95;
    findings.extend(super::flats::finding(traced, facets));
    Some(Described {
        volume,
        surface_area,
        findings,
        explained,
        hollow: traced.fitted.model.profile.contours.len() > 1,
        corners,
        exact_bends: bends && exact && !free,
        noisy: traced.fitted.scale > NOISY * floor,
        member,
    })
}

/// ± of a section that may be narrower towards the centre of its bends by the share `narrower`.
fn widen(member: &mut Member, narrower: f64) {
    let s = &mut member.section;
    let sizes = [&mut s.diameter, &mut s.height, &mut s.area];
    for q in sizes.into_iter().flatten() {
        q.plus_minus += narrower * q.value;
    }
    let across = s.height.or(s.diameter).map_or(0.0, |q| q.value);
    for span in &mut member.spans {
        if let Span::Arc {
            inside_radius,
            outside_radius,
            ..
        } = span
        {
            for q in [inside_radius, outside_radius].into_iter().flatten() {
                q.plus_minus += 0.5 * narrower * across;
            }
        }
    }
}

/// A closing read from the far end of a path `total` mm long. Faces stand in the file's frame.
fn flip_closing(c: &Closing, total: f64) -> Closing {
    match c {
        Closing::Other { from, to } => Closing::Other {
            from: total - from,
            to: total - to,
        },
        Closing::Open { at } => Closing::Open { at: total - at },
        Closing::Planes(_) | Closing::Saddle(_) => c.clone(),
    }
}

fn kept_pieces(model: &Model, ends: &[Closing], near: [f64; 2]) -> Vec<usize> {
    let (path, _) = centred_path(model);
    if ends.len() < 2 {
        return (0..path.pieces.len()).collect();
    }
    let from = super::numbers::centreline_end(&path, &ends[0], -1.0, near[0]);
    let to = super::numbers::centreline_end(&path, &ends[1], 1.0, near[1]);
    trimmed(&path, from, to)
        .into_iter()
        .map(|(i, ..)| i)
        .collect()
}

fn arc_findings(member: &Member, findings: &mut Vec<Finding>) {
    for (k, s) in member.spans.iter().enumerate() {
        if let Span::Arc {
            radius: None,
            curvature,
            length,
            ..
        } = s
        {
            let least = 1.0 / (curvature.value + curvature.plus_minus);
            findings.push(Finding::new(
                Code::ArcUnclear,
                Severity::Warning,
                format!(
                    "Span {} bends so little over its {:.0} mm that straight cannot be ruled out: its radius is at least {:.0} mm.",
                    k + 1,
                    length.value,
                    least
                ),
                "Go by the rise, not by the radius, or ask for the radius.",
            ));
        }
    }
}

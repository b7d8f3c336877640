//! Flats along a bar or tube that is round otherwise: its vertices all stand on the circle, so only
//! the length of the chords tells.

use super::profile::Contour;
use super::trace::{Traced, cleanest};
use super::track::Facets;
use crate::finding::{Code, Finding, Severity};

/// A chord this many times as long as the usual one is no facet of the round,
const MUCH_LONGER: f64 = 3.0;
/// if it is also at least this share of the diameter.
const LONG_ENOUGH: f64 = 0.1;
/// Chords whose normals differ by less than this are one flat (cosine of a tenth of a degree).
const ALIKE: f64 = 1.0 - 1.5e-6;

/// The flats of a section that is reported as round: how many and how deep.
pub fn finding(traced: &Traced, facets: &Facets) -> Option<Finding> {
    let Contour::Circle { radius } = traced.fitted.model.profile.contours.first()? else {
        return None;
    };
    let chords = &cleanest(&traced.track).contours.first()?.chords;
    let mut runs: Vec<(u32, f64)> = Vec::new();
    for c in chords {
        let length = (c.to - c.from).norm();
        match runs.last_mut() {
            Some((f, l))
                if facets.normal[*f as usize].dot(&facets.normal[c.facet as usize]) > ALIKE =>
            {
                *l += length
            }
            _ => runs.push((c.facet, length)),
        }
    }
    if let [first, .., last] = runs[..]
        && facets.normal[first.0 as usize].dot(&facets.normal[last.0 as usize]) > ALIKE
    {
        runs[0].1 += last.1;
        runs.pop();
    }
    let mut lengths: Vec<f64> = runs.iter().map(|r| r.1).collect();
    lengths.sort_by(f64::total_cmp);
    let usual = *lengths.get(lengths.len() / 2)?;
    let flats: Vec<f64> = lengths
        .into_iter()
        .filter(|l| *l > MUCH_LONGER * usual && *l > LONG_ENOUGH * 2.0 * radius)
        .collect();
    // a round of few facets, all alike, has none
    let widest = flats.iter().copied().fold(0.0, f64::max);
    if flats.is_empty() || runs.len() < 8 {
        return None;
    }
    let half = (0.5 * widest).min(*radius);
    let depth = radius - (radius * radius - half * half).sqrt();
    Some(Finding::new(
        Code::SectionFlats,
        Severity::Warning,
        format!(
            "The section is round but for {} along it, up to {widest:.2} mm wide and {depth:.2} mm deep. The diameter given is that of the round.",
            match flats.len() {
                1 => "one flat".to_owned(),
                n => format!("{n} flats"),
            }
        ),
        "Grind or mill the flats if the job needs them; they may only be there to print or seat the model.",
    ))
}

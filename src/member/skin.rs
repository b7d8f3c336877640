//! A model that shows only the outside of a piece: whether it is hollow, the surface can't tell.

use super::caps::Sorted;
use super::ends::Closing;
use super::profile::Contour;
use super::trace::Traced;
use super::{Member, Shape};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::measure::Quantity;
use crate::weld::NONE;

/// Share of the section that the faces of an end must cover to show that it is full.
const FULL: f64 = 0.7;
/// A strip this many times as wide as thick is no tube (common practice, no source).
const STRIP: f64 = 4.0;
/// Fewest vertices of a rim, and the share of the radius they may scatter by.
const RIM: (usize, f64) = (8, 0.01);

/// What the model shows of the inside.
pub enum Inside {
    /// The metal is what the surface encloses.
    Seen,
    /// Hollow or full can't be told; the wall of a round one may show at the rims of its end faces.
    Unseen {
        /// Inside radius at the rims, mm.
        rim: Option<Quantity>,
    },
}

/// Looks at the ends of a body with an open surface: a full face on either shows a solid bar.
pub fn inside(body: &Body, traced: &Traced, sorted: &Sorted, middle: f64) -> Inside {
    let contours = &traced.fitted.model.profile.contours;
    if body.closed || contours.len() > 1 || traced.track.closed {
        return Inside::Seen;
    }
    let covered = |side: f64| -> f64 {
        sorted
            .caps
            .iter()
            .filter(|c| (0.5 * (c.from + c.to) - middle) * side > 0.0)
            .map(|c| c.facing.abs())
            .sum()
    };
    if covered(-1.0).max(covered(1.0)) > FULL {
        return Inside::Seen;
    }
    let rim = match contours[0] {
        Contour::Circle { radius } => rim(body, traced, sorted, radius),
        Contour::Sides(_) => None,
    };
    Inside::Unseen { rim }
}

/// Inside radius where the end faces of a round tube stop at an open edge.
fn rim(body: &Body, traced: &Traced, sorted: &Sorted, radius: f64) -> Option<Quantity> {
    let mut vertices: Vec<u32> = sorted
        .caps
        .iter()
        .flat_map(|c| &c.facets)
        .flat_map(|&f| {
            let (corner, next) = (body.facets[f as usize], body.neighbours[f as usize]);
            (0..3)
                .filter(move |&k| next[k] == NONE)
                .flat_map(move |k| [corner[k], corner[(k + 1) % 3]])
        })
        .collect();
    vertices.sort_unstable();
    vertices.dedup();
    let radii: Vec<f64> = vertices
        .iter()
        .map(|&v| sorted.seen[v as usize].0.coords.norm())
        .filter(|r| *r < (1.0 - RIM.1) * radius)
        .collect();
    let mean = radii.iter().sum::<f64>() / radii.len().max(1) as f64;
    let scatter = radii.iter().map(|r| (r - mean).abs()).fold(0.0, f64::max);
    (radii.len() >= RIM.0 && scatter < RIM.1 * radius)
        .then(|| Quantity::new(mean, scatter + 2.0 * traced.sigma + 1e-3))
}

/// Takes back what was said of the metal of a bar that may be a tube; true when something was.
pub fn take_back(
    member: &mut Member,
    volume: &mut Option<Quantity>,
    ends: &[Closing],
    rim: Option<Quantity>,
    findings: &mut Vec<Finding>,
) -> bool {
    let s = &mut member.section;
    let slender = match (s.width, s.height) {
        (Some(w), Some(h)) => w.value.max(h.value) > STRIP * w.value.min(h.value),
        _ => false,
    };
    s.shape = match s.shape {
        Shape::RoundBar => Shape::Round,
        Shape::SquareBar => Shape::Square,
        Shape::FlatBar if !slender => Shape::Rect,
        _ => return false,
    };
    let (Some(r), Some(d)) = (rim, s.diameter) else {
        s.area = None;
        *volume = None;
        findings.push(Finding::new(
            Code::WallNotVisible,
            Severity::Warning,
            "The model shows only the outside of this piece, with open ends: it may be a tube of any wall or a solid bar.",
            "Ask for the wall, or for the model exported as closed solids.",
        ));
        return true;
    };
    let outer = 0.5 * d.value;
    s.wall = Some(Quantity::new(
        outer - r.value,
        (0.5 * d.plus_minus).hypot(r.plus_minus),
    ));
    let pi = std::f64::consts::PI;
    let (full, hole) = (pi * outer * outer, pi * r.value * r.value);
    let doubt = pi * (outer * d.plus_minus + 2.0 * r.value * r.plus_minus);
    s.area = Some(Quantity::new(full - hole, doubt));
    s.contours.push(
        (0..72)
            .map(|k| {
                let (sin, cos) = (pi * k as f64 / 36.0).sin_cos();
                [r.value * cos, r.value * sin]
            })
            .collect(),
    );
    // between plane cuts the metal goes with the section's area
    let plane = ends.iter().all(|e| matches!(e, Closing::Planes(_)));
    *volume = volume
        .filter(|_| plane && member.holes.is_empty())
        .map(|v| {
            let share = (full - hole) / full;
            Quantity::new(
                v.value * share,
                v.plus_minus * share + v.value * doubt / full,
            )
        });
    findings.push(Finding::new(
        Code::WallNotVisible,
        Severity::Warning,
        "The inside of this tube is missing from the model; its wall was read at the rims of its end faces.",
        "Check the wall with whoever drew it.",
    ));
    true
}

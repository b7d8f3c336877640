//! Mass, centre of gravity and paint of one model.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Model, area};
use crate::geometry::{Pt3, Vec3};
use crate::instance::sag;
use crate::measure::Quantity;

/// Mass, centre of gravity and paint of one model; metal only.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Weight {
    /// Mass, kg; null where that of a piece is not known.
    pub mass: Option<Quantity>,
    /// Marks of the parts without a mass.
    pub without_mass: Vec<String>,
    /// Centre of gravity in the file's frame, mm; null where a mass is missing.
    pub centre_of_gravity: Option<[f64; 3]>,
    /// How far it may be off in any direction, mm.
    pub centre_plus_minus: Option<f64>,
    /// Lowest corner of the box around the model, file frame, mm.
    pub low: [f64; 3],
    /// Sides of that box, mm.
    pub size: [f64; 3],
    /// Area of all faces without the inside of tubes, mm²; faces that touch each other are counted.
    pub paint_area: Option<Quantity>,
}

/// The weight of one model.
pub fn of(model: &Model) -> Weight {
    let parts = &model.report.parts;
    let total = |of: &dyn Fn(&crate::report::ReportedPart) -> Option<Quantity>| {
        parts.iter().try_fold(Quantity::new(0.0, 0.0), |sum, part| {
            let (n, q) = (f64::from(part.quantity + part.opposite_hand), of(part)?);
            Some(Quantity::new(
                sum.value + n * q.value,
                sum.plus_minus + n * q.plus_minus,
            ))
        })
    };
    let vertices = || model.bodies.iter().flat_map(|body| &body.vertices);
    let far = f64::INFINITY;
    let low = vertices().fold(Pt3::new(far, far, far), |l, p| l.inf(p));
    let high = vertices().fold(Pt3::new(-far, -far, -far), |h, p| h.sup(p));
    let centre = centre(model);
    let any = vertices().next().is_some();
    Weight {
        mass: total(&|part| part.mass),
        without_mass: parts
            .iter()
            .filter(|part| part.mass.is_none())
            .map(|part| part.mark.clone())
            .collect(),
        centre_of_gravity: centre.map(|(c, _)| [c.x, c.y, c.z]),
        centre_plus_minus: centre.map(|(_, off)| off),
        low: if any { [low.x, low.y, low.z] } else { [0.0; 3] },
        size: if any { (high - low).into() } else { [0.0; 3] },
        paint_area: total(&area::outside),
    }
}

/// Centre of the volumes of all bodies, and how far it may be off. A body's own centre is that of its
/// facets, which lies off the solid's by less than the facets cut off it; its share is its design
/// volume where that is known.
fn centre(model: &Model) -> Option<(Pt3, f64)> {
    let bodies = model.bodies;
    if bodies.is_empty() || bodies.iter().any(|body| !body.closed) {
        return None;
    }
    let mut design: Vec<Vec<Option<Quantity>>> = vec![Vec::new(); bodies.len()];
    for (part, _) in model.pieces.iter().flatten() {
        if let Some(own) = design.get_mut(part.body as usize) {
            own.push(part.volume);
        }
    }
    let share = |k: usize| match design[k].as_slice() {
        [Some(volume)] => *volume,
        // several pieces in one body, or one that is not described
        _ => Quantity::new(bodies[k].volume, 0.01 * bodies[k].volume),
    };
    let all: f64 = (0..bodies.len()).map(|k| share(k).value).sum();
    if !(all > 0.0) {
        return None;
    }
    let sum: Vec3 = bodies
        .iter()
        .enumerate()
        .map(|(k, b)| b.centroid.coords * share(k).value)
        .sum();
    let centre = Pt3::from(sum / all);
    let off: f64 = bodies
        .iter()
        .enumerate()
        .map(|(k, body)| {
            let cut: f64 = sag(body)
                .into_iter()
                .map(f64::from)
                .fold(body.quantum, f64::max);
            let q = share(k);
            cut * q.value + q.plus_minus * (body.centroid - centre).norm()
        })
        .sum();
    centre
        .iter()
        .all(|c| c.is_finite())
        .then_some((centre, off / all))
}

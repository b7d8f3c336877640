//! A circle drawn with few or uneven facets can pass for a square whose corners meet mid-side.

use super::fit::{Fitted, fit};
use super::freedom::is_rectangle;
use super::lateral::Observation;
use super::model::Model;
use super::profile::{Contour, Profile};

/// Radius of the circle that a contour is or nearly is, mm.
fn nearly_round(contour: &Contour) -> Option<f64> {
    match contour {
        Contour::Circle { radius } => Some(*radius),
        Contour::Sides(sides) => {
            let half = |k: usize| 0.5 * (sides[k].offset + sides[k + 2].offset);
            if !is_rectangle(contour) {
                return None;
            }
            let (a, b) = (half(0), half(1));
            let corner = sides.iter().map(|s| s.corner).fold(f64::INFINITY, f64::min);
            ((a - b).abs() < 0.1 * a && corner > 0.8 * a.min(b)).then_some(0.5 * (a + b))
        }
    }
}

/// The fit with circles for contours, where those explain the vertices about as well.
pub fn rounded(fitted: Fitted, observations: &[Observation], floor: f64) -> Fitted {
    let contours = &fitted.model.profile.contours;
    if contours.iter().all(|c| matches!(c, Contour::Circle { .. })) {
        return fitted;
    }
    let Some(radii) = contours
        .iter()
        .map(nearly_round)
        .collect::<Option<Vec<f64>>>()
    else {
        return fitted;
    };
    let model = Model {
        profile: Profile {
            contours: radii
                .into_iter()
                .map(|radius| Contour::Circle { radius })
                .collect(),
        },
        ..fitted.model.clone()
    };
    match fit(&model, observations, floor) {
        Some(round) if round.scale <= 1.5 * fitted.scale.max(floor) => round,
        _ => fitted,
    }
}

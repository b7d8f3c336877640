//! The convention of the report: how the axes lie, and which end comes first.

use super::shape::shape_of;
use crate::measure::Quantity;
use crate::member::ends::Closing;
use crate::member::model::Model;
use crate::member::profile::Contour;
use crate::member::{Member, Shape, Span};

/// How far, in radians about the travel, to turn the section's axes to the convention: height radial
/// in the first arc; on a straight piece width ≥ height (angle: width along the longer leg; channel:
/// height over the flanges). Where the section leaves the turn free (round, square), the height axis
/// takes the side on which the first oblique cut leans.
pub(super) fn turn_to_convention(model: &Model, pieces: &[usize], ends: &[Closing]) -> f64 {
    use std::f64::consts::FRAC_PI_2;
    let to_quarter = |angle: f64| (angle / FRAC_PI_2).round() * FRAC_PI_2;
    let first_arc = pieces
        .iter()
        .map(|&i| model.path.pieces[i])
        .find(|p| p.curvature != 0.0);
    let round = matches!(model.profile.contours[0], Contour::Circle { .. });
    if let Some(arc) = first_arc {
        // centre direction along +h is bend 0
        return if round {
            arc.bend
        } else {
            to_quarter(arc.bend)
        };
    }
    let lean = lean_of_first_cut(model, ends).map(|angle| angle - FRAC_PI_2);
    let Contour::Sides(sides) = &model.profile.contours[0] else {
        return lean.unwrap_or(0.0);
    };
    let size = |d: nalgebra::Vector2<f64>| {
        let c = &model.profile.contours[0];
        crate::member::numbers::support(c, &d) + crate::member::numbers::support(c, &-d)
    };
    let (w, h) = (size(nalgebra::Vector2::x()), size(nalgebra::Vector2::y()));
    match shape_of(&model.profile, 0.0) {
        // the web is the long outer side opposite the open one: flanges run square to it
        Shape::Channel if channel_web_is_vertical(sides) => 0.0,
        Shape::Channel => FRAC_PI_2,
        _ if sides.len() == 4 && (h - w).abs() < 5e-4 * w => to_quarter(lean.unwrap_or(0.0)),
        _ if h > w * (1.0 + 1e-9) => FRAC_PI_2,
        _ => 0.0,
    }
}

/// Direction of the first oblique cut's normal in the section, radians from the width axis.
pub(super) fn lean_of_first_cut(model: &Model, ends: &[Closing]) -> Option<f64> {
    let at = [0.0, model.path.length()];
    ends.iter().zip(at).find_map(|(closing, s)| {
        let Closing::Planes(planes) = closing else {
            return None;
        };
        let f = model.path.at(s);
        let n = planes.first()?.normal;
        let (x, y) = (n.dot(&f.w), n.dot(&f.h));
        (x.hypot(y) > 1e-3).then(|| y.atan2(x))
    })
}

/// The open side of a channel has two concave corners next to each other; the web faces the other way.
pub(super) fn channel_web_is_vertical(sides: &[crate::member::profile::Side]) -> bool {
    let n = sides.len();
    let concave = |j: usize| (sides[(j + 1) % n].normal - sides[j].normal).sin() < 0.0;
    (0..n)
        .find(|&j| concave(j) && concave((j + 1) % n))
        .map(|j| sides[(j + 1) % n].normal.cos().abs() > 0.5)
        .unwrap_or(true)
}

/// True when reading `a` comes before reading `b`: span kinds and lengths, end cuts, hole stations;
/// differences inside ± do not count.
pub(super) fn comes_first(a: &Member, b: &Member) -> bool {
    let list = |m: &Member| -> Vec<Quantity> {
        let mut out = Vec::new();
        for s in &m.spans {
            let (kind, length) = match s {
                Span::Straight { length } => (0.0, *length),
                Span::Arc { length, .. } => (1.0, *length),
                Span::Helix { length, .. } => (2.0, *length),
                Span::Free { length, .. } => (3.0, *length),
            };
            out.push(Quantity::new(kind, 0.0));
            out.push(length);
        }
        for e in &m.ends {
            out.push(Quantity::new(e.cuts.len() as f64, 0.0));
            for c in &e.cuts {
                out.extend([c.off_square, c.tilt_width, c.tilt_height]);
            }
        }
        out.extend(m.holes.iter().filter_map(|h| h.station));
        out
    };
    for (x, y) in list(a).iter().zip(list(b)) {
        if (x.value - y.value).abs() > x.plus_minus + y.plus_minus + 1e-9 {
            return x.value < y.value;
        }
    }
    false
}

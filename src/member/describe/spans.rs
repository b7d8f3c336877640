//! Straights, arcs and screws between the ends, with ±.

use super::measured::{Measured, array, measured_extent, place};
use crate::measure::Quantity;
use crate::member::model::Model;
use crate::member::{Hand, Span};

pub(super) fn spans(
    model: &Model,
    path: &crate::member::path::Path,
    kept: &[usize],
    m: &Measured,
    ends_u: &[f64],
) -> Option<Vec<Span>> {
    let _ = model;
    let mut out = Vec::new();
    for (k, &i) in kept.iter().enumerate() {
        let mut extra = 0.0f64;
        if k == 0 {
            extra = extra.hypot(ends_u.first().copied().unwrap_or(0.0));
        }
        if k + 1 == kept.len() {
            extra = extra.hypot(ends_u.get(1).copied().unwrap_or(0.0));
        }
        let key = |name: &str| format!("span{k}.{name}");
        let length = m.with(&key("length"), extra)?;
        let piece = crate::member::model::tidy(&path.pieces[i]);
        let f = path.frame_of(i);
        let c = f.h * piece.bend.cos() - f.w * piece.bend.sin();
        if piece.curvature == 0.0 {
            out.push(Span::Straight { length });
        } else if piece.torsion != 0.0 {
            let omega = f.t.cross(&c) * piece.curvature + f.t * piece.torsion;
            let total = omega.norm_squared();
            out.push(Span::Helix {
                length,
                radius: m.get(&key("helix_radius"))?,
                pitch: m.get(&key("pitch"))?,
                turns: m.with(&key("turns"), extra * total.sqrt() / std::f64::consts::TAU)?,
                hand: if piece.torsion > 0.0 {
                    Hand::Right
                } else {
                    Hand::Left
                },
                centre: place(&(f.point + c * (piece.curvature / total))),
                axis: array(&omega.normalize()),
            });
        } else {
            let curvature = m.get(&key("curvature"))?;
            let curvature = Quantity::new(
                curvature.value,
                // the floor of a millimetre number means nothing here: a micrometre of rise over the arc
                (curvature.plus_minus - m.floor).max(0.0)
                    + 8.0 * m.floor / length.value.powi(2).max(1e-9),
            );
            let angle = m.with(&key("angle"), (extra * curvature.value).to_degrees())?;
            let spread = curvature.plus_minus / curvature.value;
            let sure = spread < 0.5;
            let radius_pm =
                |r: f64| 1.0 / curvature.value * spread / (1.0 - spread) + 0.0 * r + m.floor;
            let radius = sure.then(|| Quantity::new(1.0 / curvature.value, radius_pm(1.0)));
            let shifted = |name: &str| {
                let q = m.get(&key(name))?;
                sure.then(|| Quantity::new(q.value, q.plus_minus.max(radius_pm(1.0))))
            };
            out.push(Span::Arc {
                length,
                radius,
                angle,
                inside_radius: shifted("inside"),
                outside_radius: shifted("outside"),
                rotation: m.get(&key("rotation")),
                curvature,
                rise: m.get(&key("rise"))?,
                centre: place(&(f.point + c / piece.curvature)),
                axis: array(&f.t.cross(&c)),
            });
        }
    }
    Some(out)
}

/// Greatest distance of a planar centreline from its chord, mm.
pub(super) fn rise(
    spans: &[Span],
    path: &crate::member::path::Path,
    m: &Measured,
    extra: f64,
) -> Option<Quantity> {
    if let [Span::Arc { rise, .. }] = spans {
        return Some(Quantity::new(
            rise.value,
            rise.plus_minus.hypot(0.5 * extra),
        ));
    }
    let planar = spans.iter().all(|s| match s {
        Span::Straight { .. } => true,
        Span::Arc {
            rotation: Some(r), ..
        } => r.value.abs() < 0.2 || (r.value.abs() - 180.0).abs() < 0.2,
        Span::Arc { .. } => true,
        _ => false,
    });
    let bent = spans.iter().any(|s| matches!(s, Span::Arc { .. }));
    if !planar || !bent {
        return None;
    }
    let [from, to] = measured_extent(m);
    let (a, b) = (path.at(from).point, path.at(to).point);
    let along = (b - a).try_normalize(1e-9)?;
    let height = (0..=2000)
        .map(|k| {
            let d = path.at(from + (to - from) * k as f64 / 2000.0).point - a;
            (d - along * d.dot(&along)).norm()
        })
        .fold(0.0, f64::max);
    let chord = m.with("chord", extra)?;
    Some(Quantity::new(height, chord.plus_minus + 1e-6 * height))
}

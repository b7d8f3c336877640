//! Volume and area of the design solid.

use super::measured::Measured;
use crate::measure::Quantity;
use crate::member::ends::Closing;
use crate::member::{Member, Shape};

/// Volume and area of the design solid; `cut_faces` is the area of the facets of the end faces, mm².
pub(super) fn volume_and_area(
    m: &Measured,
    ends: &[Closing],
    member: &Member,
    cut_faces: f64,
) -> (Option<Quantity>, Option<Quantity>) {
    let Some(section_area) = m.get("area") else {
        return (None, None);
    };
    let outline = m.numbers.get("outline").unwrap_or(0.0);
    let plain = ends
        .iter()
        .all(|e| matches!(e, Closing::Planes(_) | Closing::Saddle(_)));
    if !plain {
        return (None, None);
    }
    let single = member.ends.iter().all(|e| e.cuts.len() == 1);
    let faces = if single {
        member
            .ends
            .iter()
            .map(|e| section_area.value / e.cuts[0].off_square.value.to_radians().cos().max(0.05))
            .sum()
    } else {
        cut_faces
    };
    let (hole_volume, hole_area) = member
        .holes
        .iter()
        .map(|h| removed(h, member))
        .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
    let known = member.holes.iter().all(|h| {
        h.kind != crate::member::HoleKind::Cutout
            || h.corner_radius.is_some()
                && (h.metal.is_some() || member.section.wall.is_some())
                && member.section.diameter.is_none()
    });
    if !known {
        return (None, None);
    }
    let length = m.numbers.get("length").unwrap_or(0.0);
    let volume = m.get("volume").map(|q| {
        let doubt = 0.02 * hole_volume
            + if single {
                0.0
            } else {
                0.02 * section_area.value
            };
        Quantity::new(
            q.value - hole_volume,
            q.plus_minus + m.floor * outline * length + doubt + 1e-5 * q.value,
        )
    });
    let surface = m.get("lateral").map(|q| {
        let doubt = 0.05 * hole_area.abs() + if single { 0.002 } else { 0.03 } * faces;
        Quantity::new(
            q.value + faces - hole_area,
            q.plus_minus + m.floor * length + doubt + 1e-5 * q.value,
        )
    });
    (volume, surface)
}

/// Metal volume a hole takes out (mm³) and by how much it makes the area of all faces less (mm²).
/// The wall is taken where the hole crosses it: flat, or round about the member's axis.
pub(super) fn removed(h: &crate::member::MemberHole, member: &Member) -> (f64, f64) {
    let n = h.walls as f64;
    let section = &member.section;
    let value = |q: Option<Quantity>| q.map(|q| q.value);
    let flat = |face: f64, rim: f64| -> Option<(f64, f64)> {
        // a bar has two faces however thick it is, every wall or leg has two
        let bar = matches!(section.shape, Shape::FlatBar | Shape::SquareBar);
        let faces = if bar { 2.0 } else { 2.0 * n };
        let metal = value(section.wall).map(|w| n * w).or(value(h.metal))?;
        Some((face * metal, faces * face - rim * metal))
    };
    let Some(d) = value(h.diameter) else {
        let sides = value(h.length).zip(value(h.width));
        return sides
            .zip(value(h.corner_radius))
            .and_then(|((l, w), r)| {
                let (face, rim) = crate::member::window::rounded_rectangle(l, w, r);
                flat(face, rim)
            })
            .unwrap_or((0.0, 0.0));
    };
    let extra = h.length.map_or(0.0, |l| l.value - d);
    let face = std::f64::consts::FRAC_PI_4 * d * d + extra * d;
    let rim = std::f64::consts::PI * d + 2.0 * extra;
    if let Some(diameter) = section.diameter.map(|q| q.value) {
        // depth of metal along the axis at distance y from it: √(ro² − y²) − √(ri² − y²)
        let (ro, ri) = (
            0.5 * diameter,
            section.wall.map_or(0.0, |w| 0.5 * diameter - w.value),
        );
        let chord = |r: f64, y: f64| (r * r - y * y).max(0.0).sqrt();
        let steps = 400;
        let (mut volume, mut wall, mut outer, mut inner) = (0.0, 0.0, 0.0, 0.0);
        let r = 0.5 * d;
        for k in 0..steps {
            let angle = std::f64::consts::TAU * (k as f64 + 0.5) / steps as f64;
            let y = r * angle.sin();
            // dA = r² sin²(angle) d(angle) sweeps the disc in strips of equal y twice
            let strip = r * r * angle.cos() * angle.cos() * std::f64::consts::TAU / steps as f64;
            let depth = chord(ro, y) - chord(ri, y);
            volume += depth * strip;
            wall += depth * r * std::f64::consts::TAU / steps as f64;
            outer += strip * ro / chord(ro, y).max(1e-9);
            if ri > 0.0 {
                inner += strip * ri / chord(ri, y).max(1e-9);
            }
        }
        let slot = extra * d;
        let flat_wall = ro - ri;
        volume += slot * flat_wall;
        return (
            n * volume,
            n * (outer + inner + 2.0 * slot - wall - 2.0 * extra * flat_wall),
        );
    }
    match flat(face, rim) {
        Some(removed) => removed,
        None => {
            // right through a solid bar: its depth is the side it crosses
            let across = [section.width, section.height]
                .into_iter()
                .flatten()
                .map(|q| q.value)
                .fold(f64::INFINITY, f64::min);
            if across.is_finite() {
                (face * across, 2.0 * face - rim * across)
            } else {
                (0.0, 0.0)
            }
        }
    }
}

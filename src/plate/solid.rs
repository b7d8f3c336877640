//! Volume and surface of the design solid, from the flat instead of the facets.

use super::face::Face;
use super::finish::Finished;
use super::hole::Hole;
use super::sheet::Sheet;
use super::skin::Skin;
use crate::body::Body;
use crate::geometry::{outline, polygon};
use crate::measure::Quantity;
use crate::surface::Patches;

/// Volume, mm³, and area of all faces, mm², of one plate.
#[derive(Clone, Copy, Debug)]
pub(super) struct Solid {
    pub volume: Quantity,
    pub surface: Quantity,
    /// The same volume by another road, from the facets, mm³, where there is one.
    pub by_mesh: Option<f64>,
}

/// A flat plate: the facets' own volume and area, put right by what lies between the chords and the
/// arcs of both faces' contours. Whatever else the plate carries stays as the mesh has it.
pub(super) fn flat(face: &Face) -> Solid {
    let t = face.thickness;
    let (mut area, mut length, mut rim) = (0.0, 0.0, 0.0);
    for front in [true, false] {
        let rings = if front {
            &face.skin.front
        } else {
            &face.skin.back
        };
        for ring in 0..rings.len() {
            let points = face.ring(front, ring);
            let contour = face.contour(front, ring);
            // Seen from the front, the back's rings run the other way.
            let sign = if front { 1.0 } else { -1.0 };
            area += sign * (outline::moments(&contour).area - polygon::signed_area(&points));
            length += outline::length(&contour) - polygon::perimeter(&points);
            rim += outline::length(&contour);
        }
    }
    let body = face.body;
    let u = face.place_plus_minus;
    let volume = body.volume.abs() + area / 2.0 * t;
    let surface = body.area + area + length / 2.0 * t;
    let (net, wall) = (volume / t, rim / 2.0);
    let error = net * face.sheet.thickness.plus_minus + 0.5 * wall * t * u;
    Solid {
        volume: Quantity::new(volume, error + 0.02 * (area * t).abs()),
        surface: Quantity::new(
            surface,
            wall * (u + face.sheet.thickness.plus_minus)
                + 0.02 * area.abs()
                + 0.02 * (length * t).abs(),
        ),
        by_mesh: None,
    }
}

/// A developed plate: net area at half thickness times thickness, and the heads of its holes. Both
/// faces of a bend together are twice its area at half thickness.
pub(super) fn developed(middle: &Finished, holes: &[Hole], thickness: Quantity) -> Solid {
    let t = thickness.value;
    let net = middle.net_area;
    let heads: f64 = holes.iter().map(|h| h.extra_volume).sum();
    let head_faces: f64 = holes.iter().map(|h| h.extra_surface).sum();
    let volume = net.value * t - heads;
    let surface = 2.0 * net.value + middle.edge_length * t + head_faces;
    let volume_error = net.plus_minus * t + net.value * thickness.plus_minus;
    Solid {
        volume: Quantity::new(volume, volume_error),
        surface: Quantity::new(
            surface,
            2.0 * net.plus_minus
                + middle.edge_length * (thickness.plus_minus + middle.oblique * middle.oblique / t)
                + middle.doubt.length * t,
        ),
        by_mesh: None,
    }
}

/// Share of the body's area that a sheet accounts for: its two faces, and the walls between them
/// that touch both, or open one of them (blind holes).
pub(super) fn explained(body: &Body, patches: &Patches, sheet: &Sheet, skin: &Skin) -> f64 {
    let area = |f: u32| {
        let [a, b, c] = body.facets[f as usize].map(|v| body.vertices[v as usize]);
        (b - a).cross(&(c - a)).norm() / 2.0
    };
    let faces: f64 = sheet
        .elements
        .iter()
        .map(|e| patches.list[e.front as usize].area + patches.list[e.back as usize].area)
        .sum();
    // An edge is about as wide as the sheet is thick; a wall much larger is another part.
    let walls: f64 = skin
        .walls
        .iter()
        .filter(|w| !w.front.is_empty() && !w.back.is_empty() || w.front.len() + w.back.len() == 1)
        .map(|w| {
            let own: f64 = w.facets.iter().map(|&f| area(f)).sum();
            let rim: f64 = [(&w.front, &skin.front), (&w.back, &skin.back)]
                .into_iter()
                .flat_map(|(list, rings)| list.iter().map(move |&r| &rings[r]))
                .map(|ring| {
                    let at = |i: usize| body.vertices[ring[i % ring.len()].vertex as usize];
                    (0..ring.len())
                        .map(|i| (at(i + 1) - at(i)).norm())
                        .sum::<f64>()
                })
                .fold(0.0, f64::max);
            own.min(1.5 * rim * sheet.thickness.value)
        })
        .sum();
    // A face whose border mostly hangs in the open is not the face of a sheet we can see whole.
    let steps = || skin.front.iter().chain(&skin.back).flatten();
    let open = steps().filter(|s| s.wall == crate::weld::NONE).count() as f64
        / steps().count().max(1) as f64;
    ((faces + walls) / body.area).min(1.0) * (1.0 - open)
}

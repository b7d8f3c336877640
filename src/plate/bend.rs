//! One bend between two flats, its radius from where it runs into them.

use nalgebra::{Point3, Vector3};

use super::k_factor::KFrom;
use super::sheet::Element;
use crate::body::Body;
use crate::measure::Quantity;
use crate::surface::{Patches, Surface};

/// A bend, seen from the front of the sheet while walking from its first flat to its second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bend {
    /// Piece of the sheet that is bent, and the flats before and after it.
    pub piece: usize,
    pub before: usize,
    pub after: usize,
    /// Angle turned, radians, and its 95 % half-width.
    pub angle: f64,
    pub angle_plus_minus: f64,
    /// Inside radius, mm.
    pub inside: Quantity,
    /// True when the front is on the outside of the bend.
    pub front_outside: bool,
    /// K-factor used, and where it comes from.
    pub k_factor: f64,
    pub k_from: KFrom,
    /// Point of the bend's axis and its unit direction.
    pub centre: Point3<f64>,
    pub axis: Vector3<f64>,
    /// Points of the front face on the lines where the bend begins and ends.
    pub begins: Point3<f64>,
    pub ends: Point3<f64>,
    /// Where the two front faces produced meet; nowhere when the sheet is folded back on itself.
    pub corner: Option<Point3<f64>>,
    /// Unit directions of travel, square to the axis, in the flat before and after.
    pub into: Vector3<f64>,
    pub out_of: Vector3<f64>,
    /// Distance from the inside's radius read off both faces, mm: how far inside and outside disagree.
    pub disagreement: f64,
}

/// Two planes that a cylinder joins, seen from one side of the sheet.
struct Corner {
    point: Point3<f64>,
    axis: Vector3<f64>,
    into: Vector3<f64>,
    out_of: Vector3<f64>,
    angle: f64,
}

/// Solves the bend of `piece` between the flats `before` and `after`.
pub(super) fn solve(
    body: &Body,
    patches: &Patches,
    elements: &[Element],
    piece: usize,
    before: usize,
    after: usize,
    thickness: f64,
) -> Option<Bend> {
    let (c, p, q) = (elements[piece], elements[before], elements[after]);
    let Surface::Cylinder { radius, convex, .. } = patches.list[c.front as usize].surface else {
        return None;
    };
    let Surface::Cylinder {
        radius: back_radius,
        ..
    } = patches.list[c.back as usize].surface
    else {
        return None;
    };
    let (_, normal) = patches.list[p.front as usize].plane()?;
    let (_, other) = patches.list[q.front as usize].plane()?;
    if normal.dot(&other) < -0.99996 {
        return folded_back(body, patches, elements, [piece, before, after], thickness);
    }
    let front = corner(patches, p.front, q.front, c.front, convex)?;
    let back = corner(patches, p.back, q.back, c.back, !convex)?;
    // On a scan nobody sees where the bend begins, and its flats take some of it.
    let read = |corner: &Corner, planes: [u32; 2], bent: u32, fitted: f64| {
        let fitted = (fitted, patches.list[bent as usize].plus_minus);
        match patches.noise {
            Some(sigma) => (fitted.0, 2.0 * fitted.1 + 4.0 * sigma),
            None => tangent_radius(body, patches, corner, planes, bent).unwrap_or(fitted),
        }
    };
    let (r_front, u_front) = read(&front, [p.front, q.front], c.front, radius);
    let (r_back, u_back) = read(&back, [p.back, q.back], c.back, back_radius);
    let (inner, outer) = if convex {
        (r_back, r_front - thickness)
    } else {
        (r_front, r_back - thickness)
    };
    let value = (inner + outer) / 2.0;
    let disagreement = (inner - outer).abs();
    let inside = Quantity::new(
        value.max(0.0),
        (u_front + u_back) / 2.0 + disagreement / 2.0,
    );
    let front_radius = if convex { value + thickness } else { value };
    let sign = if convex { 1.0 } else { -1.0 };
    let tangent = front.point - front.into * (front_radius * (front.angle / 2.0).tan());
    let wide = |patch: u32, along: &Vector3<f64>| width(body, patches, patch, along);
    let angle_plus_minus = 1.5
        * body.quantum.max(2.0 * patches.list[p.front as usize].rms)
        * (1.0 / wide(p.front, &front.into) + 1.0 / wide(q.front, &front.out_of));
    Some(Bend {
        piece,
        before,
        after,
        angle: front.angle,
        angle_plus_minus,
        inside,
        front_outside: convex,
        k_factor: 0.5,
        k_from: KFrom::MidSurface,
        centre: tangent - normal * (sign * front_radius),
        axis: front.axis,
        begins: tangent,
        ends: front.point + front.out_of * (front_radius * (front.angle / 2.0).tan()),
        corner: Some(front.point),
        into: front.into,
        out_of: front.out_of,
        disagreement,
    })
}

/// A bend of half a turn: its radius is half the distance of the two flats.
fn folded_back(
    body: &Body,
    patches: &Patches,
    elements: &[Element],
    [piece, before, after]: [usize; 3],
    thickness: f64,
) -> Option<Bend> {
    let (c, p, q) = (elements[piece], elements[before], elements[after]);
    let Surface::Cylinder {
        point,
        axis,
        convex,
        ..
    } = patches.list[c.front as usize].surface
    else {
        return None;
    };
    let (a, normal) = patches.list[p.front as usize].plane()?;
    let apart = |x: u32, y: u32| -> Option<f64> {
        let ((a, n), (b, _)) = (
            patches.list[x as usize].plane()?,
            patches.list[y as usize].plane()?,
        );
        Some((b - a).dot(&n).abs() / 2.0)
    };
    let (r_front, r_back) = (apart(p.front, q.front)?, apart(p.back, q.back)?);
    let (inner, outer) = if convex {
        (r_back, r_front - thickness)
    } else {
        (r_front, r_back - thickness)
    };
    let value = (inner + outer) / 2.0;
    let sign = if convex { 1.0 } else { -1.0 };
    let axis = (axis - normal * axis.dot(&normal)).try_normalize(0.0)?;
    let begins = point - normal * (point - a).dot(&normal);
    let across = axis.cross(&normal);
    let into = if across.dot(&(begins - a)) < 0.0 {
        -across
    } else {
        across
    };
    let front_radius = if convex { value + thickness } else { value };
    let disagreement = (inner - outer).abs();
    Some(Bend {
        piece,
        before,
        after,
        angle: std::f64::consts::PI,
        angle_plus_minus: 3.0 * body.quantum / width(body, patches, p.front, &into),
        inside: Quantity::new(value, 2.0 * body.quantum + disagreement / 2.0),
        front_outside: convex,
        k_factor: 0.5,
        k_from: KFrom::MidSurface,
        centre: begins - normal * (sign * front_radius),
        axis,
        begins,
        ends: begins - normal * (sign * 2.0 * front_radius),
        corner: None,
        into,
        out_of: -into,
        disagreement,
    })
}

/// Extent of a patch along a direction, mm, never nothing.
fn width(body: &Body, patches: &Patches, patch: u32, along: &Vector3<f64>) -> f64 {
    let (low, high) = patches.list[patch as usize]
        .vertices(body)
        .into_iter()
        .map(|v| body.vertices[v as usize].coords.dot(along))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
    (high - low).max(patches.tolerance)
}

/// Where two planes meet beside the bend between them.
fn corner(patches: &Patches, first: u32, second: u32, bent: u32, convex: bool) -> Option<Corner> {
    let (p, n) = patches.list[first as usize].plane()?;
    let (q, m) = patches.list[second as usize].plane()?;
    let Surface::Cylinder { point, .. } = patches.list[bent as usize].surface else {
        return None;
    };
    let axis = n.cross(&m).try_normalize(1e-4)?;
    let angle = n.cross(&m).norm().atan2(n.dot(&m));
    // The point of both planes nearest the cylinder's axis point: shifts along n and m.
    let (a, b, c) = ((p - point).dot(&n), (q - point).dot(&m), n.dot(&m));
    let det = 1.0 - c * c;
    let shift = n * ((a - c * b) / det) + m * ((b - c * a) / det);
    let sign = if convex { 1.0 } else { -1.0 };
    let into = ((m - n * n.dot(&m)) * sign).try_normalize(0.0)?;
    let out_of = ((m * n.dot(&m) - n) * sign).try_normalize(0.0)?;
    Some(Corner {
        point: point + shift,
        axis,
        into,
        out_of,
        angle,
    })
}

/// Radius from the distance between the produced corner and the vertices where the cylinder runs
/// into its flats: that distance is radius × tan(angle/2). With its 95 % half-width.
fn tangent_radius(
    body: &Body,
    patches: &Patches,
    corner: &Corner,
    planes: [u32; 2],
    bent: u32,
) -> Option<(f64, f64)> {
    let own = patches.list[bent as usize].vertices(body);
    let tan = (corner.angle / 2.0).tan();
    let mut readings: Vec<f64> = Vec::new();
    for (plane, travel) in planes.into_iter().zip([corner.into, -corner.out_of]) {
        for v in patches.list[plane as usize].vertices(body) {
            if own.binary_search(&v).is_ok() {
                readings.push((corner.point - body.vertices[v as usize]).dot(&travel) / tan);
            }
        }
    }
    let n = readings.len();
    if n < 3 {
        return None;
    }
    let mean = readings.iter().sum::<f64>() / n as f64;
    let scatter =
        (readings.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    // Vertices scattered along the flats are no border but a jagged guess at one.
    (scatter * tan <= 2.0 * patches.tolerance && mean > 0.0).then(|| {
        (
            mean,
            1.5 * body.quantum / tan + 2.0 * scatter / (n as f64).sqrt(),
        )
    })
}

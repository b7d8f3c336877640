//! Plates rolled to a cone: laid flat as a fan about the tip of the surface amid the thickness.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point2, Rotation2, Vector2};

use super::face::Face;
use super::finish::{Flattened, finish};
use super::hole;
use super::k_factor::KFrom;
use super::sheet::Sheet;
use super::skin::{self, Ring};
use super::unfold::{Fan, Map};
use super::walk::any_square_to;
use super::{Form, Frame, Measured, Plate, PlateHole, distort, solid};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::outline::{Arc, OutlineSegment};
use crate::measure::Quantity;
use crate::surface::{Patches, Surface};

/// Measures a sheet that is one conical piece with edges round and along the cone.
pub(super) fn measure(body: &Body, patches: &Patches, sheet: &Sheet) -> Option<Measured> {
    let mut findings = Vec::new();
    let mut sheet = sheet.clone();
    let element = sheet.elements.first_mut()?;
    if let Surface::Cone { convex: false, .. } = patches.list[element.front as usize].surface {
        std::mem::swap(&mut element.front, &mut element.back);
    }
    let sheet = &sheet;
    let (outer, inner) = (
        &patches.list[sheet.elements[0].front as usize],
        &patches.list[sheet.elements[0].back as usize],
    );
    let (
        Surface::Cone {
            apex: p,
            axis: u,
            half_angle: g,
            ..
        },
        Surface::Cone {
            apex: q,
            axis: v,
            half_angle: h,
            ..
        },
    ) = (outer.surface, inner.surface)
    else {
        return None;
    };
    let axis = (u + v).normalize();
    let start = any_square_to(&axis);
    let mut fan = Fan {
        apex: nalgebra::center(&p, &q),
        axis,
        start,
        quarter: axis.cross(&start),
        half_angle: (g + h) / 2.0,
        middle: 0.0,
    };
    let skin = skin::skin(body, patches, sheet);
    let turns = |ring: &Ring, fan: &Fan| -> (f64, f64, f64) {
        let mut last = 0.0;
        let mut sum = (0.0, 0.0f64, 0.0f64);
        let angles = ring
            .iter()
            .chain(ring.first())
            .map(|s| fan.angle(&body.vertices[s.vertex as usize]));
        for (i, a) in angles.enumerate() {
            if i > 0 {
                sum.0 += (a - last + PI).rem_euclid(TAU) - PI;
            }
            (sum.1, sum.2, last) = (sum.1.min(sum.0), sum.2.max(sum.0), a);
        }
        (sum.0, sum.1, sum.2)
    };
    let outer_rings: Vec<usize> = (0..skin.front.len())
        .filter(|&r| turns(&skin.front[r], &fan).0.abs() > PI)
        .collect();
    let closed = !outer_rings.is_empty();
    let widest = |rings: &[Ring]| {
        (0..rings.len()).max_by(|&a, &b| {
            let width = |r: usize| turns(&rings[r], &fan).2 - turns(&rings[r], &fan).1;
            width(a).total_cmp(&width(b))
        })
    };
    let rims_of = |rings: &[Ring]| -> Vec<usize> {
        if closed {
            (0..rings.len())
                .filter(|&r| turns(&rings[r], &fan).0.abs() > PI)
                .collect()
        } else {
            widest(rings).into_iter().collect()
        }
    };
    let (front, back) = (rims_of(&skin.front), rims_of(&skin.back));
    let mut turned = TAU;
    if !closed {
        let ring = &skin.front[*front.first()?];
        let (_, low, high) = turns(ring, &fan);
        let first = fan.angle(&body.vertices[ring.first()?.vertex as usize]) + low;
        turned = high - low;
        let (sin, cos) = first.sin_cos();
        fan.start = fan.start * cos + fan.quarter * sin;
        fan.quarter = axis.cross(&fan.start);
    }
    fan.middle = turned / 2.0;
    let slants = |rings: &[Ring], list: &[usize]| -> Vec<f64> {
        list.iter()
            .flat_map(|&r| {
                rings[r]
                    .iter()
                    .map(|s| fan.slant(&body.vertices[s.vertex as usize]))
            })
            .collect()
    };
    let ends = |list: &[f64]| -> Option<([f64; 2], f64)> {
        let (low, high) = list
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| {
                (l.min(*s), h.max(*s))
            });
        // Vertices between the two rims stand on straight edges; a rim's own must keep its slant.
        let near = |end: f64| {
            list.iter()
                .copied()
                .filter(|s| (s - end).abs() < 0.02 * (high - low))
                .collect::<Vec<_>>()
        };
        let spread = [low, high]
            .into_iter()
            .map(|e| near(e).iter().map(|s| (s - e).abs()).fold(0.0, f64::max))
            .fold(0.0, f64::max);
        let mean = |e: f64| near(e).iter().sum::<f64>() / near(e).len().max(1) as f64;
        (high > low).then(|| {
            (
                [
                    if closed && list.len() > 1 && front.len() == 1 {
                        0.0
                    } else {
                        mean(low)
                    },
                    mean(high),
                ],
                spread,
            )
        })
    };
    let (f, b) = (
        ends(&slants(&skin.front, &front))?,
        ends(&slants(&skin.back, &back))?,
    );
    let slack = 8.0 * patches.tolerance;
    if f.1.max(b.1) > slack {
        findings.push(Finding::new(
            Code::NotDevelopable,
            Severity::Warning,
            format!(
                "An edge of the cone does not run square round it (by up to {:.1} mm along the slant); the flat sector is given to its longest line.",
                f.1.max(b.1)
            ),
            "Mark the true edge on the sector with ordinates from the drawing.",
        ));
    }
    let (inner_radius, outer_radius) = ((f.0[0] + b.0[0]) / 2.0, (f.0[1] + b.0[1]) / 2.0);
    let sector = turned * fan.half_angle.sin();
    let maps = [Map::Fan(fan)];
    let face = Face::new(body, patches, sheet, &skin, &maps);
    let u = face.place_plus_minus;
    let outline = sector_outline(inner_radius, outer_radius, sector, u);
    let mut holes = Vec::new();
    for wall in skin.walls.iter().filter(|w| {
        !w.front.iter().any(|r| front.contains(r)) && !w.back.iter().any(|r| back.contains(r))
    }) {
        holes.extend(hole::read(&face, wall, &mut findings));
    }
    let seams = if closed {
        2.0 * (outer_radius - inner_radius)
    } else {
        0.0
    };
    let finished = finish(Flattened {
        outline,
        holes: holes.clone(),
        marks: Vec::new(),
        place_plus_minus: u,
        length_plus_minus: 0.0,
        tolerance: face.tolerance,
        k_factor: Some(0.5),
        k_from: Some(KFrom::MidSurface),
        departure: f.1.max(b.1),
        seams,
        oblique: 0.0,
        thickness: sheet.thickness.value,
    })?;
    // A cone curves about its axis by slant × tan(half angle).
    let curvature = |hole: &PlateHole| match (hole.x, hole.y) {
        (Some(x), Some(y)) => {
            let at = finished.axes.origin + finished.axes.x * x.value + finished.axes.y * y.value;
            at.coords.norm() * fan.half_angle.tan()
        }
        _ => f64::INFINITY,
    };
    findings.extend(distort::rolled(
        &finished.holes,
        sheet.thickness.value,
        curvature,
    ));
    let solid = solid::developed(&finished, &holes, sheet.thickness);
    // Half angle from two rims a slant apart, each known to the rounding.
    let slant = outer_radius - inner_radius;
    let lean = 2.0 * u / slant + (g - h).abs() / 2.0;
    let radius_error = |r: f64| u + r * lean / fan.half_angle.tan();
    let axes = finished.axes;
    let solid_origin = face.solid(0, &axes.origin, axes.front);
    let at = axes.origin.y.atan2(axes.origin.x) / fan.half_angle.sin();
    let (along, out) = fan.directions(at);
    let around = axis.cross(&out).normalize();
    let radial = axes.origin.coords.normalize();
    let turn = |d: &Vector2<f64>| along * d.dot(&radial) + around * radial.perp(d);
    let (x, y) = (turn(&axes.x), turn(&axes.y));
    let plate = Plate {
        form: Form::Cone,
        thickness: Some(sheet.thickness),
        flat: finished.flat.clone(),
        outline: finished.outline.clone(),
        holes: finished.holes.clone(),
        frame: Some(Frame {
            origin: solid_origin.into(),
            x: x.into(),
            y: y.into(),
            z: x.cross(&y).into(),
        }),
        inside_radius: None,
        outside_radius: None,
        arc_angle: Some(Quantity::new(
            turned.to_degrees(),
            if closed {
                0.0
            } else {
                (2.0 * u / (outer_radius * fan.half_angle.sin())).to_degrees()
            },
        )),
        half_angle: Some(Quantity::new(
            fan.half_angle.to_degrees(),
            lean.to_degrees(),
        )),
        slant_length: Some(Quantity::new(slant, 2.0 * u)),
        sector_angle: Some(Quantity::new(
            sector.to_degrees(),
            (lean * fan.half_angle.cos() * turned + 2.0 * u / outer_radius).to_degrees(),
        )),
        sector_inner_radius: Some(Quantity::new(inner_radius, radius_error(inner_radius))),
        sector_outer_radius: Some(Quantity::new(outer_radius, radius_error(outer_radius))),
        bends: Vec::new(),
        flanges: Vec::new(),
        roll_axis: Some([fan.apex.into(), axis.into()]),
    };
    Some(Measured::new(
        body, patches, sheet, &skin, plate, findings, solid,
    ))
}

/// A sector between two radii about the origin, anticlockwise from the x axis.
fn sector_outline(inner: f64, outer: f64, angle: f64, u: f64) -> Vec<OutlineSegment> {
    let at = |r: f64, a: f64| Point2::from(Rotation2::new(a) * Vector2::new(r, 0.0));
    let line = |start: Point2<f64>, end: Point2<f64>| OutlineSegment {
        start,
        end,
        arc: None,
        first: 0,
        last: 0,
        residual: 0.0,
        length_plus_minus: 2.0 * u,
    };
    let arc = |radius: f64, start: Point2<f64>, end: Point2<f64>, angle: f64| OutlineSegment {
        arc: Some(Arc {
            centre: Point2::origin(),
            radius,
            angle,
            radius_plus_minus: u,
            angle_plus_minus: 2.0 * u / radius,
            tangent_start: false,
            tangent_end: false,
        }),
        length_plus_minus: 2.0 * u,
        ..line(start, end)
    };
    let mut out = vec![
        line(at(inner, 0.0), at(outer, 0.0)),
        arc(outer, at(outer, 0.0), at(outer, angle), angle),
        line(at(outer, angle), at(inner, angle)),
    ];
    if inner > 10.0 * u {
        out.push(arc(inner, at(inner, angle), at(inner, 0.0), -angle));
    }
    out
}

//! Plates rolled to a cylinder: laid flat on the surface amid the thickness.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point2, Vector2};

use super::contour;
use super::distort;
use super::face::Face;
use super::finish::{Flattened, finish};
use super::hole;
use super::k_factor::KFrom;
use super::rim;
use super::sheet::Sheet;
use super::skin::{self, Ring, Skin};
use super::unfold::{Map, Roll};
use super::walk::any_square_to;
use super::{Form, Frame, Measured, Plate, shell, solid};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::outline::{OutlineSegment, bounds, lines_and_arcs};
use crate::measure::Quantity;
use crate::surface::{Patches, Surface};

/// The outer contour of a rolled plate laid flat.
struct Laid {
    outline: Vec<OutlineSegment>,
    /// Its rings on the front.
    rims: Vec<usize>,
    /// Length of the lines where a closed ring is cut open, mm.
    seams: f64,
    /// How far front and back differ, mm.
    oblique: f64,
}

/// Measures a sheet that is one rolled piece.
pub(super) fn measure(body: &Body, patches: &Patches, sheet: &Sheet) -> Option<Measured> {
    let mut findings = Vec::new();
    // The outside is the front.
    let mut sheet = sheet.clone();
    let element = sheet.elements.first_mut()?;
    if let Surface::Cylinder { convex: false, .. } = patches.list[element.front as usize].surface {
        std::mem::swap(&mut element.front, &mut element.back);
    }
    let shell = shell::fit(body, patches, &sheet)?;
    sheet.thickness = shell.thickness;
    let sheet = &sheet;
    let skin = skin::skin(body, patches, sheet);
    let start = any_square_to(&shell.axis);
    let middle_radius = (shell.inside.value + shell.outside.value) / 2.0;
    let mut roll = Roll {
        point: shell.point,
        axis: shell.axis,
        start,
        quarter: shell.axis.cross(&start),
        neutral: middle_radius,
        middle: 0.0,
        u: Vector2::x(),
        v: Vector2::y(),
        base: Point2::origin(),
    };
    let turned = |ring: &Ring, roll: &Roll| -> Vec<f64> {
        unwrap(
            ring.iter()
                .map(|s| roll.angle(&body.vertices[s.vertex as usize])),
        )
    };
    let total = |ring: &Ring, roll: &Roll| -> f64 {
        let angles = turned(ring, roll);
        angles
            .last()
            .zip(angles.first())
            .map_or(0.0, |(l, f)| l - f)
    };
    let round: Vec<usize> = (0..skin.front.len())
        .filter(|&r| total(&skin.front[r], &roll).abs() > PI)
        .collect();
    let closed = round.len() == 2;
    let Laid {
        outline,
        rims,
        seams,
        oblique,
    } = if closed {
        closed_outline(
            body,
            patches,
            sheet,
            &skin,
            &mut roll,
            &round,
            &mut findings,
        )?
    } else {
        open_outline(body, patches, sheet, &skin, &mut roll)?
    };
    let maps = [Map::Roll(roll)];
    let face = Face::new(body, patches, sheet, &skin, &maps);
    let mut holes = Vec::new();
    for wall in skin
        .walls
        .iter()
        .filter(|w| !w.front.iter().any(|r| rims.contains(r)))
    {
        holes.extend(hole::read(&face, wall, &mut findings));
    }
    let (low, high) = bounds(&outline);
    let turn_error = 2.0 * face.place_plus_minus / middle_radius;
    let arc = if closed {
        Quantity::new(360.0, 0.0)
    } else {
        Quantity::new(
            (high.x - low.x).to_degrees() / middle_radius,
            // A radius read long makes the angle short over the same length.
            (turn_error + (high.x - low.x) * shell.inside.plus_minus / middle_radius.powi(2))
                .to_degrees(),
        )
    };
    let radius_error = (shell.inside.plus_minus + shell.outside.plus_minus) / 2.0
        * (high.x - low.x)
        / middle_radius;
    let flattened = Flattened {
        outline,
        holes: holes.clone(),
        marks: Vec::new(),
        place_plus_minus: face.place_plus_minus,
        length_plus_minus: radius_error,
        tolerance: face.tolerance,
        k_factor: Some(0.5),
        k_from: Some(KFrom::MidSurface),
        // the outline is that amid the thickness; front and back stand off it to either side
        departure: oblique / 2.0,
        seams,
        oblique,
        thickness: sheet.thickness.value,
    };
    let finished = finish(flattened)?;
    findings.extend(contour::note(&finished.doubt));
    findings.extend((oblique > 8.0 * face.tolerance).then(|| {
        Finding::new(
            Code::NotDevelopable,
            Severity::Note,
            format!(
                "The edge is not square to the plate all round: inside and outside stand up to {:.2} mm off the outline, which is that amid the thickness.",
                oblique / 2.0
            ),
            "Cut to this outline and dress the edge after rolling.",
        )
    }));
    findings.extend(distort::rolled(
        &finished.holes,
        sheet.thickness.value,
        |_| middle_radius,
    ));
    let solid = solid::developed(&finished, &holes, sheet.thickness);
    let axes = finished.axes;
    let up = if axes.front { 1.0 } else { -1.0 };
    let at = (axes.origin - roll.base).x / roll.neutral;
    let (around, outward) = (roll.outward(at + PI / 2.0), roll.outward(at));
    let turn = |d: &Vector2<f64>| around * d.x + roll.axis * d.y;
    let frame = Frame {
        origin: face.solid(0, &axes.origin, axes.front).into(),
        x: turn(&axes.x).into(),
        y: turn(&axes.y).into(),
        z: (outward * up).into(),
    };
    let plate = Plate {
        form: Form::Cylinder,
        thickness: Some(sheet.thickness),
        flat: finished.flat.clone(),
        outline: finished.outline.clone(),
        holes: finished.holes.clone(),
        frame: Some(frame),
        inside_radius: Some(shell.inside),
        outside_radius: Some(shell.outside),
        arc_angle: Some(arc),
        half_angle: None,
        slant_length: None,
        sector_angle: None,
        sector_inner_radius: None,
        sector_outer_radius: None,
        bends: Vec::new(),
        flanges: Vec::new(),
        roll_axis: Some([roll.point.into(), roll.axis.into()]),
    };
    Some(Measured::new(
        body, patches, sheet, &skin, plate, findings, solid,
    ))
}

/// Angles made continuous along a closed ring: one more than given, the last the first again.
fn unwrap(angles: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::new();
    for a in angles {
        let last = out.last().copied().unwrap_or(a);
        out.push(last + (a - last + PI).rem_euclid(TAU) - PI);
    }
    if let (Some(&first), Some(&last)) = (out.first(), out.last()) {
        out.push(last + (first - last + PI).rem_euclid(TAU) - PI);
    }
    out
}

/// Outline of an open rolled plate, and its ring on the front; sets the start of the roll.
fn open_outline(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    skin: &Skin,
    roll: &mut Roll,
) -> Option<Laid> {
    let span = |ring: &Ring| {
        let angles = unwrap(
            ring.iter()
                .map(|s| roll.angle(&body.vertices[s.vertex as usize])),
        );
        let (low, high) = angles
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| {
                (l.min(*a), h.max(*a))
            });
        (low, high - low)
    };
    let widest = |rings: &[Ring]| {
        (0..rings.len())
            .max_by(|&a, &b| reach(body, roll, &rings[a]).total_cmp(&reach(body, roll, &rings[b])))
    };
    let (front, back) = (widest(&skin.front)?, widest(&skin.back)?);
    let (low, width) = span(&skin.front[front]);
    roll.start = roll.outward(low);
    roll.quarter = roll.axis.cross(&roll.start);
    roll.middle = width / 2.0;
    let maps = [Map::Roll(*roll)];
    let face = Face::new(body, patches, sheet, skin, &maps);
    let outline = contour::anticlockwise(face.contour(true, front));
    let behind = contour::anticlockwise(face.contour(false, back));
    let oblique = contour::departure(&outline, &behind);
    if oblique <= 8.0 * face.tolerance {
        return Some(Laid {
            outline,
            rims: vec![front],
            seams: 0.0,
            oblique: 0.0,
        });
    }
    let points = rim::between(&face, &skin.front[front], &skin.back[back]);
    let outline = contour::anticlockwise(lines_and_arcs(&points, true, rim::fit_tolerance(&face)));
    Some(Laid {
        outline,
        rims: vec![front],
        seams: 0.0,
        oblique,
    })
}

/// Extent of a ring over the flat, mm².
fn reach(body: &Body, roll: &Roll, ring: &Ring) -> f64 {
    let angles = unwrap(
        ring.iter()
            .map(|s| roll.angle(&body.vertices[s.vertex as usize])),
    );
    let along: Vec<f64> = ring
        .iter()
        .map(|s| roll.along(&body.vertices[s.vertex as usize]))
        .collect();
    let extent = |list: &[f64]| {
        list.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - list.iter().copied().fold(f64::INFINITY, f64::min)
    };
    extent(&angles) * roll.neutral + extent(&along)
}

/// Outline of a closed collar, cut open at its seam, and its rings on the front.
fn closed_outline(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    skin: &Skin,
    roll: &mut Roll,
    rims: &[usize],
    findings: &mut Vec<Finding>,
) -> Option<Laid> {
    let height = |ring: &Ring| {
        ring.iter()
            .map(|s| roll.along(&body.vertices[s.vertex as usize]))
            .sum::<f64>()
            / ring.len().max(1) as f64
    };
    let (bottom, top) = if height(&skin.front[rims[0]]) < height(&skin.front[rims[1]]) {
        (rims[0], rims[1])
    } else {
        (rims[1], rims[0])
    };
    let backs: Vec<usize> = (0..skin.back.len())
        .filter(|&r| {
            let angles = unwrap(
                skin.back[r]
                    .iter()
                    .map(|s| roll.angle(&body.vertices[s.vertex as usize])),
            );
            angles
                .last()
                .zip(angles.first())
                .is_some_and(|(l, f)| (l - f).abs() > PI)
        })
        .collect();
    let [x, y] = backs[..] else { return None };
    let (back_bottom, back_top) = if height(&skin.back[x]) < height(&skin.back[y]) {
        (x, y)
    } else {
        (y, x)
    };
    let seam = rim::seam(
        body,
        patches,
        sheet,
        roll,
        &skin.front[bottom],
        &skin.front[top],
        findings,
    );
    roll.start = roll.outward(seam);
    roll.quarter = roll.axis.cross(&roll.start);
    roll.middle = PI;
    let maps = [Map::Roll(*roll)];
    let face = Face::new(body, patches, sheet, skin, &maps);
    let low = rim::round(&face, roll, &skin.front[bottom], &skin.back[back_bottom]);
    let high = rim::round(&face, roll, &skin.front[top], &skin.back[back_top]);
    let tolerance = rim::fit_tolerance(&face);
    let mut outline = lines_and_arcs(&low, false, tolerance);
    let mut upper = contour::reversed(&lines_and_arcs(&high, false, tolerance));
    let line = |a: Point2<f64>, b: Point2<f64>| OutlineSegment {
        start: a,
        end: b,
        arc: None,
        first: 0,
        last: 0,
        residual: 0.0,
        length_plus_minus: 2.0 * face.place_plus_minus,
    };
    let (a, b) = (outline.first()?.start, outline.last()?.end);
    let (c, d) = (upper.first()?.start, upper.last()?.end);
    let seams = (c - b).norm() + (a - d).norm();
    outline.push(line(b, c));
    outline.append(&mut upper);
    outline.push(line(d, a));
    findings.push(Finding::new(
        Code::EndAssumed,
        Severity::Note,
        "The plate is rolled to a closed ring; the flat is cut open along one line, where the seam is taken to be.",
        "Shift the seam along the flat if it is to be elsewhere.",
    ));
    let oblique = rim::obliquity(
        &face,
        [&skin.front[bottom], &skin.front[top]],
        [&skin.back[back_bottom], &skin.back[back_top]],
    );
    Some(Laid {
        outline,
        rims: vec![bottom, top],
        seams,
        oblique,
    })
}

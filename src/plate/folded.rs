//! Flat and folded plates: outline, holes, bends and flanges.

use nalgebra::{Vector2, Vector3};

use super::contour;
use super::distort;
use super::face::Face;
use super::finish::{Finished, Flattened, finish};
use super::flanges::bends_in_order;
use super::hole;
use super::k_factor::{KFrom, Neutral};
use super::order::Mark;
use super::sheet::Sheet;
use super::skin::{self, Skin};
use super::unfold::Map;
use super::walk::{self, Layout};
use super::{Form, Frame, Measured, Plate, solid};
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::geometry::polygon;
use crate::measure::Quantity;
use crate::surface::Patches;
use crate::weld::NONE;

/// Measures a sheet with at least one flat piece.
pub(super) fn measure(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    neutral: &Neutral,
) -> Option<Measured> {
    let mut findings = Vec::new();
    let skin = skin::skin(body, patches, sheet);
    let layout = walk::lay_out(body, patches, sheet, neutral)?;
    let finished = flatten(body, patches, sheet, &skin, &layout, &mut findings)?;
    let amid = walk::lay_out(body, patches, sheet, &Neutral::Factor(0.5))?;
    let middle = flatten(body, patches, sheet, &skin, &amid, &mut Vec::new())?;
    let t = sheet.thickness;
    let bends = bends_in_order(body, patches, sheet, &layout, &finished);
    if !layout.bends.is_empty() {
        check_bends(&layout, &finished, t, &mut findings);
    }
    findings.extend(distort::folded(&finished.0.holes, &bends.0, t.value));
    findings.extend(odd_factors(&layout, neutral));
    // Where some of it was not understood the facets know more than the outline does.
    let doubtful = [Code::HoleUnclear, Code::JoinedParts, Code::NotDevelopable];
    let bevelled = findings.iter().any(|f| f.code == Code::NotDevelopable);
    let understood = !bevelled
        && !findings
            .iter()
            .any(|f| f.severity > Severity::Note && doubtful.contains(&f.code));
    let mut solid = solid::developed(&middle.0, &middle.1, t);
    if sheet.elements.len() == 1 {
        let by_mesh = solid::flat(&Face::new(body, patches, sheet, &skin, &layout.maps));
        if understood {
            solid.by_mesh = Some(by_mesh.volume.value);
        } else {
            solid = by_mesh;
        }
    }
    let frame = frame(body, patches, sheet, &skin, &layout, &finished.0);
    let plate = Plate {
        form: if sheet.elements.len() == 1 {
            Form::Flat
        } else {
            Form::Bent
        },
        thickness: Some(t),
        flat: finished.0.flat.clone(),
        outline: finished.0.outline.clone(),
        holes: finished.0.holes.clone(),
        frame: Some(frame),
        inside_radius: None,
        outside_radius: None,
        arc_angle: None,
        half_angle: None,
        slant_length: None,
        sector_angle: None,
        sector_inner_radius: None,
        sector_outer_radius: None,
        bends: bends.0,
        flanges: bends.1,
        roll_axis: None,
    };
    Some(Measured::new(
        body, patches, sheet, &skin, plate, findings, solid,
    ))
}

/// Outline and holes of the laid-out sheet, with the holes as read.
fn flatten(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    skin: &Skin,
    layout: &Layout,
    findings: &mut Vec<Finding>,
) -> Option<(Finished, Vec<hole::Hole>)> {
    let face = Face::new(body, patches, sheet, skin, &layout.maps);
    let outer = |front: bool, count: usize| {
        (0..count).max_by(|&a, &b| {
            polygon::signed_area(&face.ring(front, a))
                .abs()
                .total_cmp(&polygon::signed_area(&face.ring(front, b)).abs())
        })
    };
    let front = outer(true, skin.front.len())?;
    let back = outer(false, skin.back.len())?;
    let outline = contour::anticlockwise(face.contour(true, front));
    let behind = contour::anticlockwise(face.contour(false, back));
    let apart = contour::departure(&outline, &behind);
    let outline = if apart > slack(&face, layout) {
        findings.push(Finding::new(
            Code::NotDevelopable,
            Severity::Note,
            format!(
                "The edge is not square to the plate all round: front and back outline differ by {apart:.2} mm{}. The larger outline is given.",
                whereabouts(&face, front, &contour::farthest(&outline, &behind))
            ),
            "Cut to this outline and bevel the edge afterwards.",
        ));
        let area = |c: &[_]| crate::geometry::outline::moments(c).area;
        if area(&outline) >= area(&behind) {
            outline
        } else {
            behind
        }
    } else {
        outline
    };
    if let Some(few) = face.few_chords(true, front) {
        findings.push(Finding::new(
            Code::ArcUnclear,
            Severity::Warning,
            format!(
                "The outline is a regular polygon of {} sides in the model; a disc of {:.1} mm exported in as many chords would look the same. It is given straight.",
                few.straight.len(),
                2.0 * few.radius
            ),
            "Export the model with finer facets if it is a disc.",
        ));
    }
    let mut holes = Vec::new();
    for wall in &skin.walls {
        let rim = wall.front.contains(&front) || wall.back.contains(&back);
        let gap = wall
            .front
            .iter()
            .all(|&r| skin.front[r].iter().all(|s| s.wall == NONE))
            && wall.back.is_empty();
        if rim || gap && wall.front.is_empty() {
            continue;
        }
        if face
            .piece_of(wall)
            .is_none_or(|p| matches!(layout.maps[p], Map::Roll(_)))
            && !(wall.front.is_empty() && wall.back.is_empty())
        {
            holes.extend(in_a_bend(&face, layout, wall, findings));
            continue;
        }
        holes.extend(hole::read(&face, wall, findings));
    }
    let bends_plus_minus: f64 = layout
        .bends
        .iter()
        .map(|b| {
            let h = (b.angle / 2.0).tan();
            (b.angle - 2.0 * h).abs() * b.inside.plus_minus
                + (b.angle * b.k_factor - h).abs() * sheet.thickness.plus_minus
                + b.angle_plus_minus * b.inside.value
        })
        .sum();
    let marks = layout
        .bends
        .iter()
        .filter_map(|b| match layout.maps[b.piece] {
            Map::Roll(r) => Some(Mark {
                place: r.base + r.u * (r.neutral * b.angle / 2.0),
                turn: if b.front_outside { -b.angle } else { b.angle },
            }),
            _ => None,
        });
    let flattened = Flattened {
        outline,
        holes: holes.clone(),
        marks: marks.collect(),
        place_plus_minus: face.place_plus_minus,
        length_plus_minus: bends_plus_minus,
        tolerance: face.tolerance,
        k_factor: common_factor(layout),
        k_from: common_basis(layout),
        departure: 0.0,
        seams: 0.0,
        oblique: 0.0,
        thickness: sheet.thickness.value,
    };
    let finished = finish(flattened)?;
    findings.extend(contour::note(&finished.doubt));
    Some((finished, holes))
}

/// Where in the file a place on the flat's edge stands, in words.
fn whereabouts(face: &Face, ring: usize, at: &nalgebra::Point2<f64>) -> String {
    let off = |s: &skin::Step| {
        (face
            .map(s.piece)
            .flat(&face.body.vertices[s.vertex as usize])
            - at)
            .norm()
    };
    let steps = face.skin.front[ring].iter();
    match steps.min_by(|a, b| off(a).total_cmp(&off(b))) {
        Some(step) => {
            let p = face.body.vertices[step.vertex as usize];
            format!(
                ", most near x {:.1}, y {:.1}, z {:.1} of the file (mm)",
                p.x, p.y, p.z
            )
        }
        None => String::new(),
    }
}

/// How far front and back outline may differ: their rounding, and what an uncertain bend moves.
fn slack(face: &Face, layout: &Layout) -> f64 {
    let bends: f64 = layout
        .bends
        .iter()
        .map(|b| 2.0 * b.inside.plus_minus + b.disagreement)
        .sum();
    8.0 * face.tolerance + 1e-6 * face.size + bends
}

/// A hole across or in a bend: its contour on the flat.
fn in_a_bend(
    face: &Face,
    layout: &Layout,
    wall: &skin::Wall,
    findings: &mut Vec<Finding>,
) -> Option<hole::Hole> {
    let contour = contour::anticlockwise(face.contour(true, *wall.front.first()?));
    let behind = wall
        .back
        .first()
        .map(|&r| contour::anticlockwise(face.contour(false, r)));
    let skew = behind
        .as_ref()
        .map_or(0.0, |b| contour::departure(&contour, b));
    let area = |c: &[_]| crate::geometry::outline::moments(c).area;
    let areas = behind.map_or([area(&contour); 2], |b| [area(&contour), area(&b)]);
    let hole = hole::across_bend(face, wall, contour).map(|h| hole::Hole {
        skew,
        area: (areas[0] + areas[1]) / 2.0,
        area_plus_minus: (areas[0] - areas[1]).abs() / 2.0,
        ..h
    });
    // Holes in the bends between two flats are named with their places once the flat has its axes.
    let steps = wall.front.iter().filter_map(|&r| face.skin.front.get(r));
    let in_bend = |piece: usize| layout.bends.iter().any(|b| b.piece == piece);
    if !steps.flatten().any(|s| in_bend(s.piece)) {
        findings.push(Finding::new(
            Code::HoleDistorts,
            Severity::Warning,
            "A hole lies in a rolled edge; the shape is not kept when the edge is rolled.",
            "Cut it after rolling, or allow for the stretch.",
        ));
    }
    hole
}

/// A word where the caller's own factors do not say what is used, or say what a K-factor hardly is.
fn odd_factors(layout: &Layout, neutral: &Neutral) -> Option<Finding> {
    match neutral {
        Neutral::Din6935 => None,
        Neutral::Factor(k) if *k > 0.5 && !factors(layout).is_empty() => Some(Finding::new(
            Code::KUnclear,
            Severity::Warning,
            format!("A K-factor of {k} puts the neutral line beyond the middle of the thickness."),
            "If this is the k of DIN 6935, give half of it.",
        )),
        Neutral::Factor(_) => None,
        Neutral::Table(_) => {
            let missed: Vec<String> = layout
                .bends
                .iter()
                .filter(|b| b.k_from == KFrom::Din6935)
                .map(|b| format!("{:.1} mm", b.inside.value))
                .collect();
            (!missed.is_empty()).then(|| {
                Finding::new(
                    Code::KUnclear,
                    Severity::Warning,
                    format!(
                        "The table of K-factors has no row for inside radii of {} at this thickness; DIN 6935 is used for these bends.",
                        missed.join(", ")
                    ),
                    "Bend a trial strip of this thickness and radius and add its row, or check the flat before cutting.",
                )
            })
        }
    }
}

/// K-factors of all bends and rolled edges, and where they come from.
fn factors(layout: &Layout) -> Vec<(f64, KFrom)> {
    let bends = layout.bends.iter().map(|b| (b.k_factor, b.k_from));
    bends.chain(layout.curls.iter().map(|c| c.1)).collect()
}

/// The K-factor of all bends, or `None` where they differ.
fn common_factor(layout: &Layout) -> Option<f64> {
    let all = factors(layout);
    let first = all.first()?.0;
    let mean = all.iter().map(|k| k.0).sum::<f64>() / all.len() as f64;
    all.iter()
        .all(|k| (k.0 - first).abs() < 5e-4)
        .then_some(mean)
}

fn common_basis(layout: &Layout) -> Option<KFrom> {
    let all = factors(layout);
    let first = all.first()?.1;
    all.iter().all(|k| k.1 == first).then_some(first)
}

fn check_bends(
    layout: &Layout,
    finished: &(Finished, Vec<hole::Hole>),
    t: Quantity,
    findings: &mut Vec<Finding>,
) {
    let _ = finished;
    for b in &layout.bends {
        if b.disagreement > b.inside.plus_minus + t.plus_minus {
            findings.push(Finding::new(
                Code::RoadsDisagree,
                Severity::Warning,
                format!("A bend of {:.1}°: the inside radius read on the inside and from the outside differ by {:.3} mm.", b.angle.to_degrees(), b.disagreement),
                "Check the inside radius of this bend against the drawing.",
            ));
        }
    }
}

fn frame(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    skin: &Skin,
    layout: &Layout,
    finished: &Finished,
) -> Frame {
    let face = Face::new(body, patches, sheet, skin, &layout.maps);
    let root = layout.order[0];
    let axes = &finished.axes;
    let origin = face.solid(root, &axes.origin, axes.front);
    let (a, b) = match layout.maps[root] {
        Map::Flat { a, b, .. } => (a, b),
        _ => (Vector3::x(), Vector3::y()),
    };
    let turn = |d: &Vector2<f64>| a * d.x + b * d.y;
    let (x, y) = (turn(&axes.x), turn(&axes.y));
    Frame {
        origin: origin.into(),
        x: x.into(),
        y: y.into(),
        z: x.cross(&y).into(),
    }
}

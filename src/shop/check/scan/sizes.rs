//! The sizes of the piece as made, out of the fit.

use nalgebra::DVector;
use schemars::JsonSchema;
use serde::Serialize;

use super::fold;
use super::local::{Local, hole_axes};
use super::solve::{Problem, Solved, State};
use super::target::{Role, Target, Under};
use super::undo::{Shape, Way};
use crate::geometry::plane_fit::fit_plane;
use crate::geometry::{Pt3, Vec3};
use crate::measure::{Quantity, quantity};
use crate::member::Member;
use crate::surface::Surface;

/// What kind of size it is, which chooses the words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Kind {
    Radius,
    Rise,
    AngleTurned,
    Length,
    Chord,
    Twist,
    OutOfPlane,
    Bow,
    Section,
    Thickness,
    CutAngle,
    HolePlace,
    HoleSize,
    FaceOff,
    Lean,
}

/// One size of the piece as the scan shows it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Size {
    /// Its name.
    pub what: String,
    /// What kind of size.
    pub kind: Kind,
    /// "mm" or "deg".
    pub unit: String,
    /// What was asked.
    pub asked: Quantity,
    /// As made; null where the scan doesn't tell.
    pub made: Option<Quantity>,
    /// Made less asked; null where the scan doesn't tell.
    pub off: Option<Quantity>,
}

pub(super) type Number<'f> = Box<dyn Fn(&State) -> f64 + 'f>;

/// A size asked for and how it follows from a state.
pub(super) struct Rule<'f> {
    /// Its name.
    pub what: String,
    /// Its kind.
    pub kind: Kind,
    /// An angle in degrees, not a length.
    pub degrees: bool,
    /// What was asked.
    pub asked: Quantity,
    /// The number up to a constant: only its changes are used.
    pub number: Number<'f>,
}

/// All sizes of the part the fit can speak of.
pub(super) fn sizes(problem: &Problem, solved: &Solved) -> Vec<Size> {
    let mut rules = Vec::new();
    let target = problem.target;
    match (&target.part.member, &target.shape) {
        (Some(member), Shape::Sweep(_)) => of_member(problem, member, &mut rules),
        (None, Shape::Flat(..)) => of_flat(problem, &mut rules),
        (None, Shape::Sweep(path)) if path.pieces.len() > 1 => fold::rules(problem, &mut rules),
        (None, Shape::Sweep(_)) => of_rolled(problem, &mut rules),
        (None, Shape::Cone(..)) => of_cone(problem, &mut rules),
        _ => {}
    }
    of_holes(problem, &mut rules);
    rules
        .into_iter()
        .map(|rule| evaluated(problem, solved, rule))
        .collect()
}

/// Value and ± of a rule, by the covariance of the fit.
fn evaluated(problem: &Problem, solved: &Solved, rule: Rule) -> Size {
    let now = &solved.state;
    let nothing = problem.at(now.pose);
    let drawn = (rule.number)(&nothing);
    let change = (rule.number)(now) - drawn;
    let n = solved.units.len();
    let mut slope = DVector::zeros(n);
    for k in 6..n {
        // Both ways, over a small step.
        let step = 0.01 * solved.units[k];
        let at = |sign: f64| {
            let mut state = now.clone();
            match k - 6 {
                way if way < state.ways.len() => state.ways[way] += sign * step,
                local => state.locals[local - now.ways.len()] += sign * step,
            }
            (rule.number)(&state)
        };
        slope[k] = (at(1.0) - at(-1.0)) / (2.0 * step);
    }
    let scaled = DVector::from_iterator(n, (0..n).map(|k| slope[k] * solved.units[k]));
    let size = scaled.norm();
    // A direction the scan doesn't tell must not be part of it.
    let told = size > 0.0
        && solved
            .untold
            .iter()
            .all(|v| v.dot(&scaled).abs() <= 0.02 * size);
    let doubt = 2.0 * slope.dot(&(&solved.covariance * &slope)).max(0.0).sqrt();
    let known = told && change.is_finite() && doubt.is_finite();
    Size {
        what: rule.what,
        kind: rule.kind,
        unit: if rule.degrees { "deg" } else { "mm" }.to_owned(),
        asked: rule.asked,
        made: known.then(|| {
            quantity(
                rule.asked.value + change,
                doubt.hypot(rule.asked.plus_minus),
            )
        }),
        off: known.then(|| quantity(change, doubt.hypot(rule.asked.plus_minus))),
    }
}

pub(super) fn way(problem: &Problem, way: Way) -> Option<usize> {
    problem.ways.iter().position(|w| *w == way)
}

pub(super) fn local(problem: &Problem, wanted: impl Fn(&Local) -> bool) -> Option<usize> {
    problem.locals.iter().position(wanted)
}

/// The local that moves an end's face, and how far the end of the centreline goes with it.
fn end_local(problem: &Problem, member: &Member, end: usize) -> Option<(usize, f64)> {
    let target = problem.target;
    let k = local(problem, |l| match l {
        Local::Offset(face) => target.faces[*face].role == Role::End(end),
        _ => false,
    })?;
    let Local::Offset(face) = problem.locals[k] else {
        return None;
    };
    let Under::Is(Surface::Plane { normal, .. }) = target.faces[face].under else {
        return None;
    };
    let lean = normal.dot(&Vec3::from(member.ends.get(end)?.tangent));
    (lean > 0.05).then_some((k, 1.0 / lean))
}

fn of_member<'f>(problem: &'f Problem, member: &'f Member, rules: &mut Vec<Rule<'f>>) {
    let target = problem.target;
    let Shape::Sweep(path) = &target.shape else {
        return;
    };
    let mut add = |what: String, kind, degrees, asked: Option<Quantity>, number: Number<'f>| {
        if let Some(asked) = asked {
            rules.push(Rule {
                what,
                kind,
                degrees,
                asked,
                number,
            });
        }
    };
    let ends = [0, 1].map(|k| end_local(problem, member, k));
    // An end of another shape than a plane cut says where it is only by the picture.
    let told = ends.iter().all(Option::is_some);
    let reach = move |state: &State, k: usize| ends[k].map_or(0.0, |(l, f)| state.locals[l] * f);
    let made = move |state: &State| target.shape.made(&problem.ways, &state.ways).path;
    let arcs: Vec<usize> = (0..path.pieces.len())
        .filter(|k| path.pieces[*k].curvature != 0.0)
        .collect();
    let last = path.pieces.len() - 1;
    let piece_length = move |state: &State, k: usize| {
        let Some(path) = made(state) else {
            return f64::NAN;
        };
        let mut length = path.pieces[k].length;
        if k == 0 {
            length += reach(state, 0);
        }
        if k == last {
            length += reach(state, 1);
        }
        length
    };
    let name = |what: &str, number: usize, of: usize| match of {
        1 => what.to_owned(),
        _ => format!("{what}, arc {}", number + 1),
    };
    for (number, k) in arcs.iter().copied().enumerate() {
        if path.pieces[k].torsion != 0.0 {
            continue;
        }
        let asked = member.spans.get(k).and_then(|s| match s {
            crate::member::Span::Arc {
                radius,
                angle,
                rise,
                ..
            } => Some((*radius, *angle, *rise)),
            _ => None,
        });
        let Some((radius, angle, rise)) = asked else {
            continue;
        };
        add(
            name("centreline radius", number, arcs.len()),
            Kind::Radius,
            false,
            radius,
            Box::new(move |s| made(s).map_or(f64::NAN, |p| 1.0 / p.pieces[k].curvature)),
        );
        if angle.value < 180.0 {
            // Over the chord that was asked, so that it speaks of the bend and not of the length.
            let chord = 2.0 * (angle.value.to_radians() / 2.0).sin() / path.pieces[k].curvature;
            add(
                name("rise over the asked chord", number, arcs.len()),
                Kind::Rise,
                false,
                Some(rise),
                Box::new(move |s| {
                    made(s)
                        .and_then(|p| crate::shop::arc::rise(1.0 / p.pieces[k].curvature, chord))
                        .unwrap_or(f64::NAN)
                }),
            );
        }
        let at_end = k == 0 || k == last;
        if !member.centreline.closed && (told || !at_end) {
            add(
                name("angle turned", number, arcs.len()),
                Kind::AngleTurned,
                true,
                Some(angle),
                Box::new(move |s| {
                    made(s).map_or(f64::NAN, |p| {
                        (p.pieces[k].curvature * piece_length(s, k)).to_degrees()
                    })
                }),
            );
        }
        if let Some(w) = way(problem, Way::Climb(k)) {
            add(
                name("out of one plane", number, arcs.len()),
                Kind::OutOfPlane,
                false,
                Some(quantity(0.0, 0.0)),
                Box::new(move |s| out_of_plane(target, problem, s, w)),
            );
        }
        if let Some(w) = way(problem, Way::Plane(k)) {
            add(
                format!("turn of plane before arc {}", number + 1),
                Kind::Twist,
                true,
                rotation(member, k),
                Box::new(move |s| s.ways[w].to_degrees()),
            );
        }
    }
    if path.pieces.len() > 1 {
        let mut number = 0;
        for k in 0..path.pieces.len() {
            let Some(crate::member::Span::Straight { length }) = member.spans.get(k) else {
                continue;
            };
            number += 1;
            if (k == 0 && ends[0].is_none()) || (k == last && ends[1].is_none()) {
                continue;
            }
            add(
                format!("straight {number}, tangent to tangent"),
                Kind::Length,
                false,
                Some(*length),
                Box::new(move |s| piece_length(s, k)),
            );
        }
    }
    if !member.centreline.closed && told {
        add(
            "length on the centreline".into(),
            Kind::Length,
            false,
            member.centreline.length,
            Box::new(move |s| (0..=last).map(|k| piece_length(s, k)).sum()),
        );
        if !arcs.is_empty() {
            add(
                "chord, end to end".into(),
                Kind::Chord,
                false,
                member.centreline.chord,
                Box::new(move |s| {
                    made(s).map_or(f64::NAN, |p| {
                        let a = p.at(-reach(s, 0)).point;
                        let b = p.at(p.length() + reach(s, 1)).point;
                        (b - a).norm()
                    })
                }),
            );
        }
    }
    if let Some(w) = way(problem, Way::Twist) {
        add(
            "twist from end 0 to end 1".into(),
            Kind::Twist,
            true,
            Some(quantity(0.0, 0.0)),
            Box::new(move |s| s.ways[w].to_degrees()),
        );
    }
    for (w, axis) in [(Way::BowWidth, "width"), (Way::BowHeight, "height")] {
        if let Some(w) = way(problem, w) {
            let length = path.length();
            add(
                format!("bow, hollow towards +{axis}"),
                Kind::Bow,
                false,
                Some(quantity(0.0, 0.0)),
                Box::new(move |s| s.ways[w] * length * length / 8.0),
            );
        }
    }
    let section = &member.section;
    for (l, what, asked) in [
        (Local::Width, "width", section.width),
        (Local::Height, "height", section.height),
        (Local::Diameter, "outside diameter", section.diameter),
    ] {
        if let Some(k) = local(problem, |x| *x == l) {
            add(
                what.into(),
                Kind::Section,
                false,
                asked,
                Box::new(move |s| s.locals[k]),
            );
        }
    }
    if let Some(k) = local(problem, |x| *x == Local::Bore) {
        let outer: Vec<usize> = (0..problem.locals.len())
            .filter(|j| {
                matches!(
                    problem.locals[*j],
                    Local::Width | Local::Height | Local::Diameter
                )
            })
            .collect();
        let share = 0.5 / outer.len().max(1) as f64;
        add(
            "wall".into(),
            Kind::Section,
            false,
            section.wall,
            Box::new(move |s| {
                s.locals[k] + outer.iter().map(|j| share * s.locals[*j]).sum::<f64>()
            }),
        );
    }
    for (number, end) in member.ends.iter().enumerate() {
        for (face, f) in target.faces.iter().enumerate() {
            if f.role != Role::End(number) {
                continue;
            }
            let Under::Is(Surface::Plane { normal, .. }) = f.under else {
                continue;
            };
            let tangent = Vec3::from(end.tangent);
            let cut = end
                .cuts
                .iter()
                .find(|c| Vec3::from(c.normal).dot(&normal) > 0.999_999);
            for (axis, word, asked) in [
                (end.width_axis, "width", cut.map(|c| c.tilt_width)),
                (end.height_axis, "height", cut.map(|c| c.tilt_height)),
            ] {
                let axis = Vec3::from(axis);
                let found: Vec<(usize, Vec3)> = problem
                    .locals
                    .iter()
                    .enumerate()
                    .filter_map(|(k, l)| match l {
                        Local::Lean(own, along, _) if *own == face => Some((k, *along)),
                        _ => None,
                    })
                    .collect();
                if found.is_empty() {
                    continue;
                }
                add(
                    format!("{}, tilt across {word}", f.name),
                    Kind::CutAngle,
                    true,
                    asked,
                    Box::new(move |s| {
                        let n = found
                            .iter()
                            .fold(normal, |n, (k, along)| n - along * s.locals[*k]);
                        n.dot(&axis).atan2(n.dot(&tangent)).to_degrees()
                    }),
                );
            }
        }
    }
}

fn rotation(member: &Member, k: usize) -> Option<Quantity> {
    match member.spans.get(k)? {
        crate::member::Span::Arc { rotation, .. } => *rotation,
        _ => None,
    }
}

/// How far the centreline leaves its best plane, with the sign of the climb.
fn out_of_plane(target: &Target, problem: &Problem, state: &State, way: usize) -> f64 {
    let Some(path) = target.shape.made(&problem.ways, &state.ways).path else {
        return f64::NAN;
    };
    let length = path.length();
    // The shape of the climb is nearly that of a cubic: its size follows the torsion in proportion.
    let mut bent = path.clone();
    let unit = 1e-3 / length;
    for piece in &mut bent.pieces {
        piece.torsion = if piece.curvature == 0.0 { 0.0 } else { unit };
    }
    let bent = crate::member::path::Path::new(bent.start, bent.pieces);
    let points: Vec<Pt3> = (0..=20)
        .map(|j| bent.at(length * f64::from(j) / 20.0).point)
        .collect();
    let off = fit_plane(&points, None).map_or(f64::NAN, |p| p.largest);
    state.ways[way] / unit * off
}

fn of_flat<'f>(problem: &'f Problem, rules: &mut Vec<Rule<'f>>) {
    let (Some(plate), Shape::Flat(_, half)) = (&problem.target.part.plate, &problem.target.shape)
    else {
        return;
    };
    let mut add = |what: &str, kind, asked: Option<Quantity>, number: Number<'f>| {
        if let Some(asked) = asked {
            rules.push(Rule {
                what: what.to_owned(),
                kind,
                degrees: false,
                asked,
                number,
            });
        }
    };
    let none = Some(quantity(0.0, 0.0));
    let [a, b] = *half;
    for (w, what, kind, asked, factor) in [
        (
            Way::StretchX,
            "length",
            Kind::Length,
            plate.flat.length,
            1.0,
        ),
        (Way::StretchY, "width", Kind::Length, plate.flat.width, 1.0),
        (
            Way::CupX,
            "bow along the length",
            Kind::Bow,
            none,
            a * a / 2.0,
        ),
        (
            Way::CupY,
            "bow along the width",
            Kind::Bow,
            none,
            b * b / 2.0,
        ),
        (
            Way::Warp,
            "a corner out of plane",
            Kind::OutOfPlane,
            none,
            4.0 * a * b,
        ),
    ] {
        if let Some(k) = way(problem, w) {
            add(what, kind, asked, Box::new(move |s| s.ways[k] * factor));
        }
    }
    if let Some(k) = local(problem, |l| *l == Local::Thickness) {
        add(
            "thickness",
            Kind::Thickness,
            plate.thickness,
            Box::new(move |s| s.locals[k]),
        );
    }
}

/// Locals of the two edges that look along a direction and against it.
fn opposite(problem: &Problem, way: impl Fn(usize) -> Option<f64>) -> Vec<(usize, f64)> {
    problem
        .locals
        .iter()
        .enumerate()
        .filter_map(|(k, l)| match l {
            Local::Offset(face) if matches!(problem.target.faces[*face].role, Role::Edge(_)) => {
                way(*face).map(|share| (k, share))
            }
            _ => None,
        })
        .collect()
}

fn of_rolled<'f>(problem: &'f Problem, rules: &mut Vec<Rule<'f>>) {
    let target = problem.target;
    let (Some(plate), Shape::Sweep(path)) = (&target.part.plate, &target.shape) else {
        return;
    };
    let mut add = |what: &str, kind, degrees, asked: Option<Quantity>, number: Number<'f>| {
        if let Some(asked) = asked {
            rules.push(Rule {
                what: what.to_owned(),
                kind,
                degrees,
                asked,
                number,
            });
        }
    };
    let (Some(inside), Some(outside), Some(k)) = (
        plate.inside_radius,
        plate.outside_radius,
        way(problem, Way::Curvature(0)),
    ) else {
        return;
    };
    let piece = path.pieces[0];
    let middle = quantity(
        (inside.value + outside.value) / 2.0,
        inside.plus_minus.max(outside.plus_minus),
    );
    let curvature = move |s: &State| piece.curvature + s.ways[k];
    add(
        "mid-thickness radius",
        Kind::Radius,
        false,
        Some(middle),
        Box::new(move |s| 1.0 / curvature(s)),
    );
    let angle = piece.length * piece.curvature;
    if angle < std::f64::consts::PI {
        let chord = 2.0 * (angle / 2.0).sin() / piece.curvature;
        let asked = crate::shop::arc::rise_of(middle, chord);
        add(
            "rise over the asked chord",
            Kind::Rise,
            false,
            asked,
            Box::new(move |s| {
                crate::shop::arc::rise(1.0 / curvature(s), chord).unwrap_or(f64::NAN)
            }),
        );
    }
    let start = path.start.t;
    let end = path.at(path.length()).t;
    let normal = |face: usize| match target.faces[face].under {
        Under::Is(Surface::Plane { normal, .. }) => Some(normal),
        _ => None,
    };
    let along = opposite(problem, |f| {
        let n = normal(f)?;
        (n.dot(&start) < -0.95 || n.dot(&end) > 0.95).then_some(1.0)
    });
    let across = opposite(problem, |f| {
        (normal(f)?.dot(&path.start.w).abs() > 0.95).then_some(1.0)
    });
    let (length, width) = match (plate.flat.length, plate.flat.width) {
        (Some(l), Some(w)) if (l.value - piece.length).abs() < (w.value - piece.length).abs() => {
            (Some(l), Some(w))
        }
        (l, w) => (w, l),
    };
    if along.len() == 2 {
        let grown = along.clone();
        add(
            "length around the bend",
            Kind::Length,
            false,
            length,
            Box::new(move |s| grown.iter().map(|(k, f)| s.locals[*k] * f).sum()),
        );
        add(
            "angle turned",
            Kind::AngleTurned,
            true,
            plate.arc_angle,
            Box::new(move |s| {
                let grown: f64 = along.iter().map(|(k, f)| s.locals[*k] * f).sum();
                ((piece.length + grown) * curvature(s)).to_degrees()
            }),
        );
    }
    if across.len() == 2 {
        add(
            "width along the rolls",
            Kind::Length,
            false,
            width,
            Box::new(move |s| across.iter().map(|(k, f)| s.locals[*k] * f).sum()),
        );
    }
    if let Some(k) = local(problem, |l| *l == Local::Thickness) {
        add(
            "thickness",
            Kind::Thickness,
            false,
            plate.thickness,
            Box::new(move |s| s.locals[k]),
        );
    }
}

fn of_cone<'f>(problem: &'f Problem, rules: &mut Vec<Rule<'f>>) {
    let (Some(plate), Shape::Cone(_, _, half, ends)) =
        (&problem.target.part.plate, &problem.target.shape)
    else {
        return;
    };
    let doubt = plate.sector_outer_radius.map_or(0.0, |q| q.plus_minus);
    for (w, what, slant) in [
        (Way::Wide, "mid-thickness radius, wide edge", ends[1]),
        (Way::Narrow, "mid-thickness radius, narrow edge", ends[0]),
    ] {
        if let Some(k) = way(problem, w) {
            let cos = half.cos();
            rules.push(Rule {
                what: what.to_owned(),
                kind: Kind::Radius,
                degrees: false,
                asked: quantity(slant * half.sin(), doubt * half.sin()),
                number: Box::new(move |s| slant * half.sin() + s.ways[k] / cos),
            });
        }
    }
    if let (Some(k), Some(asked)) = (local(problem, |l| *l == Local::Thickness), plate.thickness) {
        rules.push(Rule {
            what: "thickness".into(),
            kind: Kind::Thickness,
            degrees: false,
            asked,
            number: Box::new(move |s| s.locals[k]),
        });
    }
}

fn of_holes<'f>(problem: &'f Problem, rules: &mut Vec<Rule<'f>>) {
    let part = problem.target.part;
    for (k, l) in problem.locals.iter().enumerate() {
        match l {
            Local::Hole(hole) => {
                let member = part
                    .member
                    .as_ref()
                    .and_then(|m| m.holes.get(*hole)?.diameter);
                let plate = part
                    .plate
                    .as_ref()
                    .and_then(|p| p.holes.get(*hole)?.diameter);
                if let Some(asked) = member.or(plate) {
                    // A plate that came out longer was not stretched, and its holes neither.
                    let stretch: Vec<(usize, f64)> = match &problem.target.shape {
                        Shape::Flat(_, half) => {
                            [(Way::StretchX, half[0]), (Way::StretchY, half[1])]
                                .into_iter()
                                .filter_map(|(w, half)| {
                                    Some((way(problem, w)?, asked.value / (4.0 * half)))
                                })
                                .collect()
                        }
                        _ => Vec::new(),
                    };
                    rules.push(Rule {
                        what: format!("hole {}, diameter", hole + 1),
                        kind: Kind::HoleSize,
                        degrees: false,
                        asked,
                        number: Box::new(move |s| {
                            s.locals[k] + stretch.iter().map(|(w, f)| s.ways[*w] * f).sum::<f64>()
                        }),
                    });
                }
            }
            Local::Shift(hole, along) => {
                let first = hole_axes(problem.target, *hole)[0].dot(along) > 0.999_999;
                rules.push(hole_rule(problem, *hole, k, first));
            }
            _ => {}
        }
    }
}

/// Place of a hole: along the piece from end 0, or on the flat from its lower left corner.
fn hole_rule<'f>(problem: &'f Problem, hole: usize, k: usize, first: bool) -> Rule<'f> {
    let part = problem.target.part;
    let number = hole + 1;
    let mut rule = Rule {
        what: format!(
            "hole {number}, off {} the piece",
            if first { "along" } else { "across" }
        ),
        kind: Kind::HolePlace,
        degrees: false,
        asked: quantity(0.0, 0.0),
        number: Box::new(move |s| s.locals[k]),
    };
    if let (Some(member), true) = (&part.member, first)
        && let (Some(station), Some((end, reach))) = (
            member.holes.get(hole).and_then(|h| h.station),
            end_local(problem, member, 0),
        )
    {
        rule.what = format!("hole {number}, along from end 0");
        rule.asked = station;
        rule.number = Box::new(move |s| s.locals[k] + s.locals[end] * reach);
    }
    if let (Some(plate), Shape::Sweep(path)) = (&part.plate, &problem.target.shape) {
        let own = match (first, path.pieces.len() > 1, &problem.locals[k]) {
            (true, true, _) => fold::hole(problem, plate, path, hole, k),
            (false, _, Local::Shift(_, way)) => {
                fold::hole_across(problem, plate, path, hole, k, *way)
            }
            _ => None,
        };
        if let Some(own) = own {
            return own;
        }
    }
    if let (Some(plate), Shape::Flat(_, half)) = (&part.plate, &problem.target.shape)
        && let Some(h) = plate.holes.get(hole)
        && let (Some(x), Some(y)) = (h.x, h.y)
    {
        let (asked, w, half, word) = if first {
            (x, Way::StretchX, half[0], "x")
        } else {
            (y, Way::StretchY, half[1], "y")
        };
        rule.what = format!("hole {number}, {word} from the lower left");
        rule.asked = asked;
        if let Some(w) = way(problem, w) {
            let share = 0.5 + (asked.value - half) / (2.0 * half);
            rule.number = Box::new(move |s| s.locals[k] + s.ways[w] * share);
        }
    }
    rule
}

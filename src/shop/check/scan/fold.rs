//! A plate folded along parallel lines as a strip along a path: flats are straights, bends are arcs of
//! the surface amid the thickness.

use super::local::Local;
use super::sizes::{Kind, Number, Rule, local, way};
use super::solve::{Problem, State};
use super::target::{Role, Under};
use super::undo::{Shape, Way, station};
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::measure::quantity;
use crate::member::path::{Frame, Path, Piece, carry};
use crate::plate::{Form, Plate};
use crate::surface::Surface;

/// Sine of the widest angle between bend lines that count as parallel.
const PARALLEL: f64 = 2e-3;
/// Share of a plate's surface that has to lie on the strip.
const MOST: f64 = 0.97;

/// Bends of more have no mould line to speak of, radians.
const ROUND: f64 = 2.6;

/// A bend as seen across the plate.
#[derive(Clone, Copy)]
struct Fold {
    centre: Pt3,
    radius: f64,
    angle: f64,
}

/// The path of a folded plate from one end to the other; `None` where its bends are not parallel or one
/// behind the other, or its surface is not that of a strip along it.
pub(super) fn path(plate: &Plate, body: &Body) -> Option<Path> {
    let thickness = plate.thickness?.value;
    let first = plate.bends.first()?;
    let axis = Vec3::from(first.axis).try_normalize(1e-9)?;
    if plate.form != Form::Bent || plate.flanges.len() != plate.bends.len() + 1 {
        return None;
    }
    let parallel = |b: &crate::plate::Bend| Vec3::from(b.axis).cross(&axis).norm() < PARALLEL;
    if !plate.bends.iter().all(parallel) {
        return None;
    }
    let folds: Vec<Fold> = plate
        .bends
        .iter()
        .map(|b| Fold {
            centre: b.point.into(),
            radius: b.inside_radius.value + thickness / 2.0,
            angle: b.angle.value.to_radians(),
        })
        .collect();
    let frame = plate.frame?;
    let up = Vec3::from(frame.z);
    let root = Pt3::from(frame.origin) - up * (thickness / 2.0);
    let across = axis.cross(&up).try_normalize(1e-9)?;
    // From the free edge to where the bend begins: the flange less what its mould line is beyond.
    let straight = |flange: usize, bend: usize| {
        let fold: &Fold = folds.get(bend)?;
        let beyond = (fold.radius + thickness / 2.0) * (fold.angle / 2.0).tan();
        (fold.angle < ROUND).then(|| plate.flanges[flange].value - beyond)
    };
    let ends = [straight(0, 0)?, straight(folds.len(), folds.len() - 1)?];
    // The frame's own flat stands before, between or behind the bends, and these may run either way.
    for before in 0..=folds.len() {
        for travel in [across, -across] {
            let start = Frame {
                point: root,
                w: up.cross(&travel),
                h: up,
                t: travel,
            };
            if let Some(path) = through(&start, &folds, before, thickness, ends)
                && on_strip(&path, thickness, body)
            {
                return Some(path);
            }
        }
    }
    None
}

/// The path with `before` bends behind the flat of `root`, the others ahead of it; `ends` are the lengths
/// of the flats at both ends.
fn through(
    root: &Frame,
    folds: &[Fold],
    before: usize,
    thickness: f64,
    ends: [f64; 2],
) -> Option<Path> {
    let back = Frame {
        w: -root.w,
        t: -root.t,
        ..*root
    };
    let behind: Vec<Fold> = folds.iter().take(before).rev().copied().collect();
    let (ahead, _) = walk(root, folds.get(before..)?, thickness)?;
    let (behind, end) = walk(&back, &behind, thickness)?;
    // turned about, the way back becomes the beginning
    let mut start = Frame {
        w: -end.w,
        t: -end.t,
        ..end
    };
    let mut pieces: Vec<Piece> = behind.into_iter().rev().collect();
    let mut ahead = ahead.into_iter();
    if let (Some(last), Some(first)) = (pieces.last_mut(), ahead.next()) {
        last.length += first.length;
    }
    pieces.extend(ahead);
    let first = pieces.first_mut()?;
    start.point -= start.t * (ends[0] - first.length);
    first.length = ends[0];
    pieces.last_mut()?.length = ends[1];
    Some(Path::new(start, pieces))
}

/// Pieces from a place on a flat through the bends ahead, a straight of no length behind the last, and
/// the frame there.
fn walk(from: &Frame, folds: &[Fold], thickness: f64) -> Option<(Vec<Piece>, Frame)> {
    let mut here = *from;
    let mut pieces = Vec::new();
    for fold in folds {
        let to = fold.centre - here.point;
        let (ahead, side) = (to.dot(&here.t), to.dot(&here.h));
        // the bend has to touch the flat
        if (side.abs() - fold.radius).abs() > 0.05 * thickness + 0.02 {
            return None;
        }
        let straight = Piece::straight(ahead);
        let arc = Piece {
            length: fold.radius * fold.angle,
            curvature: 1.0 / fold.radius,
            bend: if side > 0.0 {
                0.0
            } else {
                std::f64::consts::PI
            },
            torsion: 0.0,
        };
        here = carry(&carry(&here, &straight, ahead), &arc, arc.length);
        pieces.extend([straight, arc]);
    }
    pieces.push(Piece::straight(0.0));
    Some((pieces, here))
}

/// True where nearly all of the surface lies on the strip's two faces or between them.
fn on_strip(path: &Path, thickness: f64, body: &Body) -> bool {
    if path.pieces.iter().any(|p| !(p.length > 0.0)) {
        return false;
    }
    let shape = Shape::Sweep(path.clone());
    let (mut on, mut all) = (0.0, 0.0);
    for facet in &body.facets {
        let [a, b, c] = facet.map(|v| body.vertices[v as usize]);
        let area = (b - a).cross(&(c - a)).norm();
        let middle = Pt3::from((a.coords + b.coords + c.coords) / 3.0);
        let (local, _) = path.local(&middle, station(&shape, &middle));
        all += area;
        if local.y.abs() < 0.55 * thickness {
            on += area;
        }
    }
    // an end that reaches too far or not far enough is another flange's
    let stations = body
        .vertices
        .iter()
        .map(|v| path.local(v, station(&shape, v)).0.s);
    let (low, high) = stations.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| {
        (l.min(s), h.max(s))
    });
    let slack = 0.25 * thickness + 0.1;
    on > MOST * all && low.abs() < slack && (high - path.length()).abs() < slack
}

/// The sizes of a folded plate: angles, flanges to the outside mould lines, width, thickness.
pub(super) fn rules<'f>(problem: &'f Problem, rules: &mut Vec<Rule<'f>>) {
    let target = problem.target;
    let (Some(plate), Shape::Sweep(path)) = (&target.part.plate, &target.shape) else {
        return;
    };
    // The path may run against the order of the bends.
    let same = same_way(plate, path);
    let number = |k: usize| if same { k } else { plate.bends.len() - 1 - k };
    for arc in 0..plate.bends.len() {
        let bend = &plate.bends[number(arc)];
        if let Some(w) = way(problem, Way::Angle(2 * arc + 1)) {
            rules.push(Rule {
                what: format!("bend {}", number(arc) + 1),
                kind: Kind::AngleTurned,
                degrees: true,
                asked: bend.angle,
                number: Box::new(move |s| s.ways[w].to_degrees()),
            });
        }
    }
    for flat in 0..=plate.bends.len() {
        let which = if same { flat } else { plate.bends.len() - flat };
        if let Some(length) = flange(problem, path, plate, flat) {
            rules.push(Rule {
                what: format!("flange {}, to the outside", which + 1),
                kind: Kind::Length,
                degrees: false,
                asked: plate.flanges[which],
                number: length,
            });
        }
    }
    let sides = edges(problem, |n| n.dot(&path.start.w).abs() > 0.999);
    if let [a, b] = sides.as_slice() {
        let (one, other) = (*a, *b);
        let apart = |face: usize| match target.faces[face].under {
            Under::Is(Surface::Plane { point, .. }) => path.start.w.dot(&point.coords),
            _ => f64::NAN,
        };
        let width = (apart(one.1) - apart(other.1)).abs();
        rules.push(Rule {
            what: "width along the bends".to_owned(),
            kind: Kind::Length,
            degrees: false,
            asked: quantity(width, 2.0 * target.body.quantum),
            number: Box::new(move |s| s.locals[one.0] + s.locals[other.0]),
        });
    }
    if let (Some(k), Some(asked)) = (local(problem, |l| *l == Local::Thickness), plate.thickness) {
        rules.push(Rule {
            what: "thickness".to_owned(),
            kind: Kind::Thickness,
            degrees: false,
            asked,
            number: Box::new(move |s| s.locals[k]),
        });
    }
}

fn same_way(plate: &Plate, path: &Path) -> bool {
    let (Some(first), Some(piece)) = (plate.bends.first(), path.pieces.get(1)) else {
        return true;
    };
    let f = path.at(path.start_of(1));
    let centre = f.point + (f.h * piece.bend.cos() - f.w * piece.bend.sin()) / piece.curvature;
    let d = centre - Pt3::from(first.point);
    let axis = Vec3::from(first.axis);
    (d - axis * axis.dot(&d)).norm() < 0.1 / piece.curvature.max(1e-9)
}

/// Locals of the edges whose outward normal is so, with their faces.
fn edges(problem: &Problem, wanted: impl Fn(&Vec3) -> bool) -> Vec<(usize, usize)> {
    let target = problem.target;
    let list = problem.locals.iter().enumerate();
    list.filter_map(|(k, l)| match l {
        Local::Offset(face) if matches!(target.faces[*face].role, Role::Edge(_)) => {
            match &target.faces[*face].under {
                Under::Is(Surface::Plane { normal, .. }) if wanted(normal) => Some((k, *face)),
                _ => None,
            }
        }
        _ => None,
    })
    .collect()
}

/// The local of the free edge at the beginning (`false`) or the end of the path, and how far out it lies.
/// The edges of two flanges may look the same way: it is the one at the end of this one.
fn free_edge(problem: &Problem, path: &Path, end: bool) -> Option<(usize, f64)> {
    let target = problem.target;
    let f = path.at(if end { path.length() } else { 0.0 });
    let out = if end { f.t } else { -f.t };
    let thickness = target.part.plate.as_ref()?.thickness?.value;
    let here = |face: usize| {
        (0..target.body.facets.len() as u32)
            .filter(|k| target.face(*k) == face)
            .any(|k| (target.middle(k) - f.point).dot(&f.h).abs() < thickness)
    };
    let at = |face: usize| match target.faces[face].under {
        Under::Is(Surface::Plane { point, .. }) => out.dot(&(point - f.point)),
        _ => f64::NAN,
    };
    edges(problem, |n| n.dot(&out) > 0.999)
        .into_iter()
        .map(|(k, face)| (k, face, at(face)))
        .filter(|(_, face, at)| at.abs() < 0.5 && here(*face))
        .max_by(|a, b| a.2.total_cmp(&b.2))
        .map(|(k, _, at)| (k, at))
}

/// From the end of a flat to the outside mould line of a bend: (r + t) tan(β / 2), and how it changes with
/// the angle. `None` where the bend has no mould line to speak of.
fn mould(problem: &Problem, plate: &Plate, path: &Path, arc: usize) -> Option<Number2> {
    let piece = *path.pieces.get(2 * arc + 1)?;
    let t = plate.thickness?.value;
    let outside = 1.0 / piece.curvature + t / 2.0;
    let angle = piece.length * piece.curvature;
    if angle > ROUND {
        return None;
    }
    let w = way(problem, Way::Angle(2 * arc + 1));
    Some(Box::new(move |s: &State| {
        let made = angle + w.map_or(0.0, |w| s.ways[w]);
        outside * (made / 2.0).tan()
    }))
}

type Number2 = Box<dyn Fn(&State) -> f64>;

fn flange<'f>(
    problem: &'f Problem,
    path: &'f Path,
    plate: &'f Plate,
    flat: usize,
) -> Option<Number<'f>> {
    let last = plate.bends.len();
    let before = match flat {
        0 => None,
        k => Some(mould(problem, plate, path, k - 1)?),
    };
    let after = match flat == last {
        true => None,
        false => Some(mould(problem, plate, path, flat)?),
    };
    let free = match (flat == 0, flat == last) {
        (true, _) => Some(free_edge(problem, path, false)?.0),
        (_, true) => Some(free_edge(problem, path, true)?.0),
        _ => None,
    };
    let inner = match free {
        None => Some(way(problem, Way::Length(2 * flat))?),
        Some(_) => None,
    };
    Some(Box::new(move |s| {
        before.as_ref().map_or(0.0, |m| m(s))
            + after.as_ref().map_or(0.0, |m| m(s))
            + free.map_or(0.0, |k| s.locals[k])
            + inner.map_or(0.0, |w| s.ways[w])
    }))
}

/// Place of a hole across a folded or rolled plate: from the nearer of the edges along its sides.
pub(super) fn hole_across<'f>(
    problem: &'f Problem,
    plate: &Plate,
    path: &Path,
    hole: usize,
    shift: usize,
    way: Vec3,
) -> Option<Rule<'f>> {
    let at = Pt3::from(plate.holes.get(hole)?.point);
    let doubt = plate.holes[hole].y.map_or(0.0, |y| y.plus_minus);
    let across = path.start.w;
    let sides = edges(problem, |n| n.dot(&across).abs() > 0.999);
    let (edge, from, sign) = sides
        .into_iter()
        .filter_map(|(k, face)| match problem.target.faces[face].under {
            Under::Is(Surface::Plane { point, normal }) => {
                Some((k, normal.dot(&(point - at)), normal.dot(&way)))
            }
            _ => None,
        })
        .filter(|(_, from, _)| *from > 0.0)
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Rule {
        what: format!("hole {}, from the side edge", hole + 1),
        kind: Kind::HolePlace,
        degrees: false,
        asked: quantity(from, doubt),
        number: Box::new(move |s| s.locals[edge] - sign * s.locals[shift]),
    })
}

/// Place of a hole in a flat: from the free edge, or from the outside of the bend before it.
pub(super) fn hole<'f>(
    problem: &'f Problem,
    plate: &'f Plate,
    path: &'f Path,
    hole: usize,
    shift: usize,
) -> Option<Rule<'f>> {
    let at = Pt3::from(plate.holes.get(hole)?.point);
    let doubt = plate.holes[hole].x.map_or(0.0, |x| x.plus_minus);
    let (l, piece) = path.local(&at, station(&problem.target.shape, &at));
    let into = l.s - path.start_of(piece);
    let last = path.pieces.len() - 1;
    let (what, asked, number): (_, f64, Number<'f>) = match piece {
        0 => {
            let (edge, place) = free_edge(problem, path, false)?;
            (
                "from the free edge".to_owned(),
                l.s + place,
                Box::new(move |s| s.locals[shift] + s.locals[edge]),
            )
        }
        k if k == last => {
            let (edge, place) = free_edge(problem, path, true)?;
            (
                "from the free edge".to_owned(),
                path.length() + place - l.s,
                Box::new(move |s| s.locals[edge] - s.locals[shift]),
            )
        }
        k if k % 2 == 0 => {
            let arc = k / 2 - 1;
            let m = mould(problem, plate, path, arc)?;
            let nothing = problem.at(super::undo::Pose {
                turn: nalgebra::Rotation3::identity(),
                shift: Vec3::zeros(),
                mirrored: false,
            });
            let same = same_way(plate, path);
            let name = if same {
                arc
            } else {
                plate.bends.len() - 1 - arc
            };
            let share = into / path.pieces[k].length.max(1e-9);
            let longer = way(problem, Way::Length(k))?;
            (
                format!("from the outside of bend {}", name + 1),
                into + m(&nothing),
                Box::new(move |s| s.locals[shift] + m(s) + s.ways[longer] * share),
            )
        }
        _ => return None,
    };
    Some(Rule {
        what: format!("hole {}, {what}", hole + 1),
        kind: Kind::HolePlace,
        degrees: false,
        asked: quantity(asked, doubt),
        number,
    })
}

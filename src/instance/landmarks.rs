//! Copies among parts that are not bodies of their own (pieces of a united model): their hand is
//! read off the places of what was measured on them.

use nalgebra::{Matrix3, Point3, Rotation3, Unit, Vector3};

use super::fit::Hand;
use super::frames::Placement;
use crate::member::{Shape, Span};
use crate::part::Part;
use crate::plate::HoleKind;

/// What a point is; only points of one kind can correspond.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Kind {
    End,
    Cut,
    Section,
    BendCentre,
    MemberHole,
    Outline,
    PlainHole,
    SunkFront,
    SunkBack,
}

/// A place on a part with a meaning, file frame, mm.
#[derive(Clone, Copy, Debug)]
struct Landmark {
    kind: Kind,
    at: Point3<f64>,
}

/// Differences smaller than this share of the part's size count as none, as between bodies.
const SHARE: f64 = 1e-3;

/// How `other` lies to `part` by their landmarks: the same hand when they can be laid on each
/// other without a mirror or when there are too few landmarks to tell, `None` when they cannot. With
/// it comes how `other` is laid on `part`, where the landmarks tell.
pub fn hand_of(part: &Part, other: &Part) -> Option<(Hand, Option<Placement>)> {
    let (a, b) = (landmarks(part), landmarks(other));
    if a.len() != b.len() {
        return None;
    }
    let Some(base) = widest_triangle(&a) else {
        return Some((Hand::Same, along(&a, &b)));
    };
    let size = (base[1].at - base[0].at).norm();
    let reach = SHARE * size;
    let mut mirrored = None;
    for triangle in triangles_like(&base, &b, reach) {
        for mirror in [false, true] {
            if mirror && mirrored.is_some() {
                continue;
            }
            let Some(laid) = covers(&base, &triangle, mirror, &a, &b, reach) else {
                continue;
            };
            if !mirror {
                return Some((Hand::Same, Some(laid)));
            }
            mirrored = Some(laid);
        }
    }
    mirrored.map(|laid| (Hand::Opposite, Some(laid)))
}

fn landmarks(part: &Part) -> Vec<Landmark> {
    let mut list = Vec::new();
    let mut put = |kind, at: Point3<f64>| list.push(Landmark { kind, at });
    if let Some(m) = &part.member {
        let reach = m
            .section
            .contours
            .iter()
            .flatten()
            .fold(0.0_f64, |r, p| r.max(p[0].hypot(p[1])));
        for end in &m.ends {
            let at = Point3::from(end.point);
            let (w, h) = (
                Vector3::from(end.width_axis),
                Vector3::from(end.height_axis),
            );
            put(Kind::End, at);
            for cut in &end.cuts {
                put(
                    Kind::Cut,
                    Point3::from(cut.point) + Vector3::from(cut.normal) * reach,
                );
            }
            // A round section looks the same all round.
            if !matches!(m.section.shape, Shape::Round | Shape::RoundBar) {
                for p in m.section.contours.iter().flatten() {
                    put(Kind::Section, at + w * p[0] + h * p[1]);
                }
            }
        }
        for span in &m.spans {
            if let Span::Arc { centre, .. } = span {
                put(Kind::BendCentre, Point3::from(*centre));
            }
        }
        for hole in &m.holes {
            put(Kind::MemberHole, Point3::from(hole.point));
        }
    }
    if let Some(p) = &part.plate {
        let thickness = p.thickness.map_or(0.0, |t| t.value);
        if let (Some(frame), crate::plate::Form::Flat) = (&p.frame, p.form) {
            let place = |q: [f64; 2], down: f64| {
                Point3::from(frame.origin)
                    + Vector3::from(frame.x) * q[0]
                    + Vector3::from(frame.y) * q[1]
                    - Vector3::from(frame.z) * down
            };
            for s in &p.outline {
                let (crate::plate::Segment::Line { start, .. }
                | crate::plate::Segment::Arc { start, .. }) = s;
                put(Kind::Outline, place(*start, 0.0));
                put(Kind::Outline, place(*start, thickness));
            }
        }
        for hole in &p.holes {
            let (front, down) = (
                Point3::from(hole.point),
                Vector3::from(hole.axis) * thickness,
            );
            let plain = matches!(
                hole.kind,
                HoleKind::Round | HoleKind::Slot | HoleKind::Cutout
            );
            let kinds = if plain {
                [Kind::PlainHole; 2]
            } else {
                [Kind::SunkFront, Kind::SunkBack]
            };
            put(kinds[0], front);
            put(kinds[1], front + down);
        }
    }
    list
}

/// How a piece whose landmarks all stand on one line is laid on another of its kind.
fn along(a: &[Landmark], b: &[Landmark]) -> Option<Placement> {
    let ends = |list: &[Landmark]| {
        let first = list.first()?.at;
        let off = |p: &&Landmark| (p.at - first).norm();
        let last = list.iter().max_by(|p, q| off(p).total_cmp(&off(q)))?.at;
        Some((first, (last - first).try_normalize(0.0)?))
    };
    let ((to, mine), (from, theirs)) = (ends(a)?, ends(b)?);
    // Straight back, any turn about the line's normal does.
    let turn = Rotation3::rotation_between(&theirs, &mine).unwrap_or_else(|| {
        let aside = if mine.x.abs() < 0.7 {
            Vector3::x()
        } else {
            Vector3::y()
        };
        let square = Unit::new_normalize(mine.cross(&aside));
        Rotation3::from_axis_angle(&square, std::f64::consts::PI)
    });
    Some(Placement {
        linear: *turn.matrix(),
        from,
        to,
    })
}

/// Three landmarks far apart: the two ends of the longest distance, and the farthest from their
/// line. `None` when all stand on one line.
fn widest_triangle(list: &[Landmark]) -> Option<[Landmark; 3]> {
    let first = list.first()?;
    let farthest = |from: &Point3<f64>| {
        list.iter()
            .copied()
            .max_by(|a, b| (a.at - from).norm().total_cmp(&(b.at - from).norm()))
    };
    let a = farthest(&first.at)?;
    let b = farthest(&a.at)?;
    let along = (b.at - a.at).try_normalize(0.0)?;
    let off = |p: &Landmark| (p.at - a.at).cross(&along).norm();
    let c = list
        .iter()
        .copied()
        .max_by(|p, q| off(p).total_cmp(&off(q)))?;
    (off(&c) > SHARE * (b.at - a.at).norm()).then_some([a, b, c])
}

/// Triangles of the list with the same kinds and sides.
fn triangles_like(base: &[Landmark; 3], list: &[Landmark], reach: f64) -> Vec<[Landmark; 3]> {
    let side = |p: &Landmark, q: &Landmark| (p.at - q.at).norm();
    let close = |x: f64, y: f64| (x - y).abs() <= 2.0 * reach;
    let of_kind = |k: usize| list.iter().filter(move |p| p.kind == base[k].kind);
    let mut found = Vec::new();
    for a in of_kind(0) {
        for b in of_kind(1).filter(|b| close(side(a, b), side(&base[0], &base[1]))) {
            for c in of_kind(2) {
                if close(side(a, c), side(&base[0], &base[2]))
                    && close(side(b, c), side(&base[1], &base[2]))
                {
                    found.push([*a, *b, *c]);
                }
            }
        }
    }
    found
}

/// How `triangle` is laid on `base`, when that lays every landmark on one of its kind, both ways.
fn covers(
    base: &[Landmark; 3],
    triangle: &[Landmark; 3],
    mirror: bool,
    a: &[Landmark],
    b: &[Landmark],
    reach: f64,
) -> Option<Placement> {
    let placement = Placement {
        linear: frame(base, false)? * frame(triangle, mirror)?.transpose(),
        from: triangle[0].at,
        to: base[0].at,
    };
    let laid: Vec<Landmark> = b
        .iter()
        .map(|p| Landmark {
            kind: p.kind,
            at: placement.apply(&p.at),
        })
        .collect();
    let within = |p: &Landmark, list: &[Landmark]| {
        list.iter()
            .any(|q| p.kind == q.kind && (p.at - q.at).norm() <= 3.0 * reach)
    };
    (a.iter().all(|p| within(p, &laid)) && laid.iter().all(|p| within(p, a))).then_some(placement)
}

/// Orthonormal columns along the first side, in the plane, and square to it.
fn frame(t: &[Landmark; 3], mirror: bool) -> Option<Matrix3<f64>> {
    let x = (t[1].at - t[0].at).try_normalize(0.0)?;
    let z = x.cross(&(t[2].at - t[0].at)).try_normalize(0.0)?;
    let y = z.cross(&x);
    Some(Matrix3::from_columns(&[x, y, if mirror { -z } else { z }]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;
    use crate::part::Class;
    use crate::plate::{Flat, Form, Frame, Plate, PlateHole, Segment};

    /// A plate 100 x 60 x 6 with one hole, lying in a frame.
    fn plate(origin: [f64; 3], x: [f64; 3], y: [f64; 3], hole: [f64; 2], kind: HoleKind) -> Part {
        let z = Vector3::from(x).cross(&Vector3::from(y));
        let at =
            |q: [f64; 2]| Point3::from(origin) + Vector3::from(x) * q[0] + Vector3::from(y) * q[1];
        let corners = [[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]];
        let q = |v: f64| quantity(v, 0.01);
        let outline = (0..4)
            .map(|i| Segment::Line {
                length: q(1.0),
                start: corners[i],
                end: corners[(i + 1) % 4],
            })
            .collect();
        let hole = PlateHole {
            kind,
            diameter: Some(q(11.0)),
            length: None,
            width: None,
            corner_radius: None,
            countersink_diameter: None,
            countersink_angle: None,
            depth: None,
            made_from: None,
            x: None,
            y: None,
            direction: None,
            from_centroid: None,
            point: at(hole).coords.into(),
            axis: (-z).into(),
            outline: vec![],
        };
        Part {
            body: 0,
            name: None,
            class: Class::FlatPlate,
            volume: Some(q(36_000.0)),
            surface_area: None,
            member: None,
            plate: Some(Plate {
                form: Form::Flat,
                thickness: Some(q(6.0)),
                flat: Flat {
                    length: None,
                    width: None,
                    perimeter: None,
                    area: None,
                    k_factor: None,
                    k_from: None,
                    departure: None,
                },
                outline,
                holes: vec![hole],
                frame: Some(Frame {
                    origin,
                    x,
                    y,
                    z: z.into(),
                }),
                inside_radius: None,
                outside_radius: None,
                arc_angle: None,
                half_angle: None,
                slant_length: None,
                sector_angle: None,
                sector_inner_radius: None,
                sector_outer_radius: None,
                bends: vec![],
                flanges: vec![],
                roll_axis: None,
            }),
            findings: vec![],
            unresolved: None,
        }
    }

    fn hand(part: &Part, other: &Part) -> Option<Hand> {
        hand_of(part, other).map(|found| found.0)
    }

    #[test]
    fn plain_holes_have_no_hand_countersunk_ones_do() {
        let (x, y, o) = ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [5.0, 6.0, 7.0]);
        let at = |q, kind| plate(o, x, y, q, kind);
        let turned = |q, kind| plate([90.0, 0.0, 3.0], [0.0, 0.6, 0.8], [1.0, 0.0, 0.0], q, kind);
        let plain = at([20.0, 20.0], HoleKind::Round);
        assert_eq!(
            hand(&plain, &turned([20.0, 20.0], HoleKind::Round)),
            Some(Hand::Same)
        );
        // The mirror image in the middle of the length is the plate turned over.
        assert_eq!(
            hand(&plain, &turned([80.0, 20.0], HoleKind::Round)),
            Some(Hand::Same)
        );
        assert_eq!(hand(&plain, &turned([70.0, 20.0], HoleKind::Round)), None);
        let sunk = at([20.0, 20.0], HoleKind::Countersunk);
        assert_eq!(
            hand(&sunk, &turned([80.0, 40.0], HoleKind::Countersunk)),
            Some(Hand::Same)
        );
        assert_eq!(
            hand(&sunk, &turned([80.0, 20.0], HoleKind::Countersunk)),
            Some(Hand::Opposite)
        );
    }
}

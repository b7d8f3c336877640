//! Every number of a member as a function of the fitted model, so that one propagation gives all ±.

use std::collections::BTreeMap;
use std::fmt;

use super::ends::{Closing, meets_cylinder, meets_plane};
use super::model::{Model, tidy};
use super::path::{Path, Piece};
use super::profile::{Contour, Element, Pt2, unit};
use crate::geometry::{Pt3, Vec3};

/// What is fixed before numbers are taken.
pub struct Setting<'a> {
    /// Closings of start and far end; empty for a closed ring.
    pub closings: &'a [Closing],
    /// Distances along the centred path where the ends were found, mm (start, far end).
    pub near: [f64; 2],
}

/// Named numbers.
#[derive(Clone, Debug, Default)]
pub struct Numbers {
    /// Name → position in `values`; empty where only the values were asked for.
    pub index: BTreeMap<String, usize>,
    /// Values.
    pub values: Vec<f64>,
    nameless: bool,
}

impl Numbers {
    fn put(&mut self, key: fmt::Arguments, value: f64) {
        if !self.nameless {
            self.index.insert(key.to_string(), self.values.len());
        }
        self.values.push(value);
    }

    /// Value under a name.
    pub fn get(&self, key: &str) -> Option<f64> {
        self.index
            .get(key)
            .and_then(|&i| self.values.get(i))
            .copied()
    }
}

/// The path through the area centroid of the section (parallel to the fitted one), and the centroid.
pub fn centred_path(model: &Model) -> (Path, Pt2) {
    let (_, _, g) = model.profile.moments();
    if g.coords.norm() < 1e-12 {
        return (model.path.clone(), Pt2::origin());
    }
    let mut start = model.path.start;
    start.point += start.w * g.x + start.h * g.y;
    let pieces = model
        .path
        .pieces
        .iter()
        .map(|p| {
            if p.curvature == 0.0 {
                return *p;
            }
            let towards = -g.x * p.bend.sin() + g.y * p.bend.cos();
            let shrink = 1.0 - p.curvature * towards;
            Piece {
                length: p.length * shrink,
                curvature: p.curvature / shrink,
                ..*p
            }
        })
        .collect();
    (Path::new(start, pieces), g)
}

/// How far the section reaches from the origin in direction `d`, mm.
pub fn support(contour: &Contour, d: &nalgebra::Vector2<f64>) -> f64 {
    contour
        .elements()
        .iter()
        .map(|e| match e {
            Element::Line { a, b, .. } => a.coords.dot(d).max(b.coords.dot(d)),
            Element::Circle { radius } => radius * d.norm(),
            Element::Arc {
                centre,
                radius,
                a,
                b,
                sense,
            } => {
                let (ra, rb) = (a - centre, b - centre);
                let within = *sense > 0.0 && ra.perp(d) >= 0.0 && d.perp(&rb) >= 0.0;
                if within {
                    centre.coords.dot(d) + radius * d.norm()
                } else {
                    a.coords.dot(d).max(b.coords.dot(d))
                }
            }
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

/// Where the fibre through section point `q` (measured from the centroid) ends.
pub fn fibre_end(path: &Path, closing: &Closing, side: f64, near: f64, q: &Pt2) -> f64 {
    match closing {
        Closing::Planes(planes) => planes
            .iter()
            .map(|p| meets_plane(path, q.x, q.y, &p.point, &p.normal, near))
            .fold(f64::INFINITY * side, |a, b| {
                if side > 0.0 { a.min(b) } else { a.max(b) }
            }),
        Closing::Saddle(c) => {
            // the fibre's own line against the cylinder, near the end the path is straight enough
            let mut s = near;
            for _ in 0..40 {
                let f = path.at(s);
                let p = f.point + f.w * q.x + f.h * q.y;
                let d = p - c.point;
                let across = d - c.axis * d.dot(&c.axis);
                let speed = across.dot(&f.t) / across.norm().max(1e-12);
                let speed = if speed * side > -0.05 {
                    -0.05 * side
                } else {
                    speed
                };
                let step = ((c.radius - across.norm()) / speed).clamp(-c.radius, c.radius);
                s += step;
                if step.abs() < 1e-9 {
                    break;
                }
            }
            s
        }
        Closing::Other { from, to } => 0.5 * (from + to),
        Closing::Open { at } => *at,
    }
}

/// Where the centreline ends: at the face it meets first, or midway where the end has no plain face.
pub fn centreline_end(path: &Path, closing: &Closing, side: f64, near: f64) -> f64 {
    match closing {
        Closing::Planes(p) => p.first().map_or(near, |p| {
            meets_plane(path, 0.0, 0.0, &p.point, &p.normal, near)
        }),
        Closing::Saddle(c) => meets_cylinder(path, c, near, side),
        Closing::Other { from, .. } => *from,
        Closing::Open { at } => *at,
    }
}

/// The stretch of each piece between distances `from` and `to`: (piece, start, end).
pub fn trimmed(path: &Path, from: f64, to: f64) -> Vec<(usize, f64, f64)> {
    let last = path.pieces.len() - 1;
    (0..=last)
        .filter_map(|i| {
            let a = if i == 0 {
                from
            } else {
                path.start_of(i).max(from)
            };
            let b = if i == last {
                to
            } else {
                path.start_of(i + 1).min(to)
            };
            (b > a).then_some((i, a, b))
        })
        .collect()
}

/// All numbers of a member. `pieces` are the pieces kept between the ends at the nominal model.
///
/// `integrals` asks for volume, swept area and longest and shortest line too, which cost most.
pub fn numbers(model: &Model, setting: &Setting, pieces: &[usize], integrals: bool) -> Numbers {
    collect(model, setting, pieces, integrals, Numbers::default())
}

/// Only the values of [`numbers`], in its order.
pub fn values(model: &Model, setting: &Setting, pieces: &[usize], integrals: bool) -> Vec<f64> {
    let out = Numbers {
        nameless: true,
        ..Numbers::default()
    };
    collect(model, setting, pieces, integrals, out).values
}

fn collect(
    model: &Model,
    setting: &Setting,
    pieces: &[usize],
    integrals: bool,
    mut out: Numbers,
) -> Numbers {
    let (area, perimeter, _) = model.profile.moments();
    let (path, g) = centred_path(model);
    out.put(format_args!("area"), area);
    out.put(format_args!("outline"), perimeter);
    section_numbers(model, &mut out);
    let closed = setting.closings.is_empty();
    let (from, to) = if closed {
        (
            0.0,
            std::f64::consts::TAU / path.pieces[0].curvature.abs().max(1e-12),
        )
    } else {
        (
            centreline_end(&path, &setting.closings[0], -1.0, setting.near[0]),
            centreline_end(&path, &setting.closings[1], 1.0, setting.near[1]),
        )
    };
    out.put(format_args!("from"), from);
    out.put(format_args!("to"), to);
    out.put(format_args!("length"), to - from);
    let (a, b) = (path.at(from), path.at(to));
    out.put(format_args!("chord"), (b.point - a.point).norm());
    span_numbers(model, &path, &g, pieces, from, to, &mut out);
    if !closed {
        end_numbers(setting, &path, [(a, from), (b, to)], &mut out);
        if integrals {
            fibre_numbers(model, setting, &path, &g, &mut out);
        }
    } else {
        let (_, length, _) = model.profile.moments();
        out.put(format_args!("volume"), area * (to - from));
        out.put(format_args!("lateral"), length * (to - from));
    }
    out
}

fn section_numbers(model: &Model, out: &mut Numbers) {
    for (i, c) in model.profile.contours.iter().enumerate() {
        match c {
            Contour::Circle { radius } => out.put(format_args!("{i}.diameter"), 2.0 * radius),
            Contour::Sides(sides) => {
                for (j, d) in [Vec2x(1.0, 0.0), Vec2x(0.0, 1.0)].into_iter().enumerate() {
                    let d = nalgebra::Vector2::new(d.0, d.1);
                    out.put(
                        format_args!("{i}.size{j}"),
                        support(c, &d) + support(c, &-d),
                    );
                }
                for (j, s) in sides.iter().enumerate() {
                    out.put(format_args!("{i}.offset{j}"), s.offset);
                    out.put(format_args!("{i}.corner{j}"), s.corner);
                }
            }
        }
    }
}

struct Vec2x(f64, f64);

fn span_numbers(
    model: &Model,
    path: &Path,
    g: &Pt2,
    pieces: &[usize],
    from: f64,
    to: f64,
    out: &mut Numbers,
) {
    let mut before: Option<Vec3> = None;
    for (k, &i) in pieces.iter().enumerate() {
        let a = if k == 0 { from } else { path.start_of(i) };
        let b = if k + 1 == pieces.len() {
            to
        } else {
            path.start_of(i + 1)
        };
        let piece = tidy(&path.pieces[i]);
        out.put(format_args!("span{k}.length"), b - a);
        if piece.curvature == 0.0 {
            continue;
        }
        if piece.torsion != 0.0 {
            let (c, t) = (piece.curvature, piece.torsion);
            let total = c * c + t * t;
            out.put(format_args!("span{k}.helix_radius"), c / total);
            out.put(
                format_args!("span{k}.pitch"),
                std::f64::consts::TAU * t.abs() / total,
            );
            out.put(
                format_args!("span{k}.turns"),
                (b - a) * total.sqrt() / std::f64::consts::TAU,
            );
            continue;
        }
        let radius = 1.0 / piece.curvature;
        let angle = (b - a) * piece.curvature;
        out.put(format_args!("span{k}.curvature"), piece.curvature);
        out.put(format_args!("span{k}.radius"), radius);
        out.put(format_args!("span{k}.angle"), angle.to_degrees());
        out.put(
            format_args!("span{k}.rise"),
            radius * (1.0 - (0.5 * angle).cos()),
        );
        let towards = unit(piece.bend + std::f64::consts::FRAC_PI_2);
        // centre direction in section axes is (−sin b, cos b)
        let outer = &model.profile.contours[0];
        let reach_in = support(outer, &towards) - g.coords.dot(&towards);
        let reach_out = support(outer, &-towards) + g.coords.dot(&towards);
        out.put(format_args!("span{k}.inside"), radius - reach_in);
        out.put(format_args!("span{k}.outside"), radius + reach_out);
        let f = path.frame_of(i);
        let c = f.h * piece.bend.cos() - f.w * piece.bend.sin();
        let axis = f.t.cross(&c);
        if let Some(previous) = before {
            // both axes are square to the travel between the two bends
            let turn = previous.cross(&axis).dot(&f.t).atan2(previous.dot(&axis));
            out.put(format_args!("span{k}.rotation"), turn.to_degrees());
        }
        before = Some(axis);
    }
}

fn end_numbers(
    setting: &Setting,
    path: &Path,
    at: [(super::path::Frame, f64); 2],
    out: &mut Numbers,
) {
    let _ = path;
    for (e, side) in [(0usize, -1.0), (1, 1.0)] {
        let f = at[e].0;
        let t = f.t * side;
        match &setting.closings[e] {
            Closing::Planes(planes) => {
                for (j, p) in planes.iter().enumerate() {
                    let n = &p.normal;
                    let (nw, nh, nt) = (n.dot(&f.w), n.dot(&f.h), n.dot(&t));
                    out.put(
                        format_args!("end{e}.cut{j}.off"),
                        nw.hypot(nh).atan2(nt).to_degrees(),
                    );
                    out.put(
                        format_args!("end{e}.cut{j}.tilt_w"),
                        nw.atan2(nt).to_degrees(),
                    );
                    out.put(
                        format_args!("end{e}.cut{j}.tilt_h"),
                        nh.atan2(nt).to_degrees(),
                    );
                    out.put(
                        format_args!("end{e}.cut{j}.lean"),
                        nh.atan2(nw).to_degrees(),
                    );
                    out.put(
                        format_args!("end{e}.cut{j}.along"),
                        (p.point - f.point).dot(n) / nt,
                    );
                }
            }
            Closing::Saddle(c) => {
                let cross = f.t.cross(&c.axis);
                out.put(
                    format_args!("end{e}.angle"),
                    cross.norm().atan2(f.t.dot(&c.axis).abs()).to_degrees(),
                );
                let offset = (c.point - f.point).dot(&cross) / cross.norm().max(1e-12);
                out.put(format_args!("end{e}.offset"), offset.abs());
            }
            Closing::Other { .. } | Closing::Open { .. } => {}
        }
    }
}

/// Numbers that integrate over the section: volume, swept area, longest and shortest line.
fn fibre_numbers(model: &Model, setting: &Setting, path: &Path, g: &Pt2, out: &mut Numbers) {
    let ends = |q: &Pt2| -> (f64, f64) {
        (
            fibre_end(path, &setting.closings[0], -1.0, setting.near[0], q),
            fibre_end(path, &setting.closings[1], 1.0, setting.near[1], q),
        )
    };
    let followed = |q: &Pt2| -> f64 {
        let (a, b) = ends(q);
        trimmed(path, a, b)
            .into_iter()
            .map(|(i, a, b)| {
                let p = &path.pieces[i];
                let (sin, cos) = path.bend_of(i);
                let towards = q.y * cos - q.x * sin;
                (b - a) * (1.0 - p.curvature * towards)
            })
            .sum()
    };
    let plain = setting
        .closings
        .iter()
        .all(|c| matches!(c, Closing::Planes(p) if p.len() == 1));
    // lines of a straight member end on planes: their length is linear across the section
    let straight = plain && path.pieces.iter().all(|p| p.curvature == 0.0);
    let (middle, slope) = if straight {
        let middle = followed(&Pt2::origin());
        let slope = nalgebra::Vector2::new(
            followed(&Pt2::new(1.0, 0.0)) - middle,
            followed(&Pt2::new(0.0, 1.0)) - middle,
        );
        (middle, slope)
    } else {
        (0.0, nalgebra::Vector2::zeros())
    };
    let length = |q: &Pt2| -> f64 {
        if straight {
            middle + slope.dot(&q.coords)
        } else {
            followed(q)
        }
    };
    let (mut volume, mut lateral) = (0.0, 0.0);
    let (mut longest, mut shortest) = (f64::NEG_INFINITY, f64::INFINITY);
    for (i, contour) in model.profile.contours.iter().enumerate() {
        let size =
            support(contour, &nalgebra::Vector2::x()) + support(contour, &-nalgebra::Vector2::x());
        // where lines of the surface end at a ridge or a curve, straight sides are sampled too
        let (sag, every) = if straight { (1e-4, 1) } else { (1e-3, 24) };
        let corners: Vec<Pt2> = contour
            .points(sag * size)
            .iter()
            .map(|p| p - g.coords)
            .collect();
        let mut points: Vec<Pt2> = Vec::with_capacity(corners.len() * 2);
        for k in 0..corners.len() {
            let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
            // A section without width would have sides without end.
            let parts = (((b - a).norm() / size * every as f64).ceil() as usize).clamp(1, 4000);
            points.extend((0..parts).map(|j| a + (b - a) * (j as f64 / parts as f64)));
        }
        let lengths: Vec<f64> = points.iter().map(length).collect();
        let (exact_area, exact_length, _) = contour.moments();
        let n = points.len();
        let (mut sum, mut polygon, mut skin, mut outline) = (0.0, 0.0, 0.0, 0.0);
        for k in 0..n {
            let (a, b) = (points[k], points[(k + 1) % n]);
            let twice = a.coords.perp(&b.coords);
            // three mid-side points integrate a quadratic exactly over the fan triangle
            let mids = [
                Pt2::from((a.coords + b.coords) * 0.5),
                Pt2::from(a.coords * 0.5),
                Pt2::from(b.coords * 0.5),
            ];
            polygon += 0.5 * twice;
            if plain {
                sum += 0.5 * twice * mids.iter().map(&length).sum::<f64>() / 3.0;
            } else {
                // a ridge between two faces is no quadratic: cut the fan triangle small
                const FINE: usize = 12;
                let mut total = 0.0;
                for i in 0..FINE {
                    for j in 0..FINE - i {
                        let at =
                            |x: f64, y: f64| Pt2::from((a.coords * x + b.coords * y) / FINE as f64);
                        total += length(&at(i as f64 + 1.0 / 3.0, j as f64 + 1.0 / 3.0));
                        if i + j + 1 < FINE {
                            total += length(&at(i as f64 + 2.0 / 3.0, j as f64 + 2.0 / 3.0));
                        }
                    }
                }
                sum += 0.5 * twice * total / (FINE * FINE) as f64;
            }
            let side = (b - a).norm();
            outline += side;
            skin += side * 0.5 * (lengths[k] + lengths[(k + 1) % n]);
        }
        let sign = if i == 0 { 1.0 } else { -1.0 };
        if polygon > 0.0 && outline > 0.0 {
            volume += sign * sum * exact_area / polygon;
            lateral += skin * exact_length / outline;
        }
        if i == 0 {
            longest = lengths.iter().copied().fold(longest, f64::max);
            shortest = lengths.iter().copied().fold(shortest, f64::min);
            if let (true, Contour::Circle { .. }) = (plain, contour) {
                for (sense, extreme) in [(1.0, &mut longest), (-1.0, &mut shortest)] {
                    *extreme = sense * summit(lengths.iter().map(|l| sense * l));
                }
            }
            if let (false, Contour::Circle { radius }) = (plain, contour) {
                // the line itself, not the nearest of the sampled ones
                let at = |angle: f64| length(&(Pt2::from(unit(angle) * *radius) - g.coords));
                for (sense, extreme) in [(1.0, &mut longest), (-1.0, &mut shortest)] {
                    let best = (0..n)
                        .max_by(|&a, &b| (sense * lengths[a]).total_cmp(&(sense * lengths[b])));
                    let Some(p) = best.map(|k| points[k] + g.coords) else {
                        continue;
                    };
                    let turn = p.y.atan2(p.x);
                    let half = std::f64::consts::TAU / n as f64;
                    let most = peak(&|a| sense * at(a), turn - half, turn + half);
                    *extreme = sense * most.max(sense * *extreme);
                }
            }
        }
    }
    if straight {
        let outer = &model.profile.contours[0];
        longest = middle + support(outer, &slope) - g.coords.dot(&slope);
        shortest = middle - support(outer, &-slope) - g.coords.dot(&slope);
    }
    out.put(format_args!("volume"), volume);
    out.put(format_args!("lateral"), lateral);
    out.put(format_args!("longest"), longest);
    out.put(format_args!("shortest"), shortest);
}

/// Largest value of a smooth function sampled evenly once round: the parabola through the largest
/// sample and those beside it.
fn summit(samples: impl Iterator<Item = f64>) -> f64 {
    let all: Vec<f64> = samples.collect();
    let n = all.len();
    let Some(k) = (0..n).max_by(|&a, &b| all[a].total_cmp(&all[b])) else {
        return f64::NEG_INFINITY;
    };
    let (before, top, after) = (all[(k + n - 1) % n], all[k], all[(k + 1) % n]);
    let bend = 2.0 * top - before - after;
    if bend > 0.0 {
        top + (after - before).powi(2) / (8.0 * bend)
    } else {
        top
    }
}

/// Largest value of `f` between two places, where it has one peak (golden section).
fn peak(f: &dyn Fn(f64) -> f64, mut a: f64, mut b: f64) -> f64 {
    const SHARE: f64 = 0.618_033_988_749_894_9;
    for _ in 0..40 {
        let (c, d) = (b - SHARE * (b - a), a + SHARE * (b - a));
        if f(c) > f(d) { b = d } else { a = c }
    }
    f(0.5 * (a + b))
}

/// A place on a plane cut: where it meets the line through `point` along `t`.
pub fn cut_point(point: &Pt3, t: &Vec3, plane_point: &Pt3, normal: &Vec3) -> Pt3 {
    point + t * ((plane_point - point).dot(normal) / t.dot(normal))
}

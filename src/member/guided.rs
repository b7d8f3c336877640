//! From a line of vertices along the surface to the straights and arcs of the path.
//!
//! Every edge of the line is a straight or a chord. A chord of length c on curvature κ leaves its
//! curve's tangent by asin(κc/2) at both ends, so the turn at a vertex within an arc gives that arc's
//! curvature, and neighbouring vertices of one arc give the same.

use super::guide::Guide;
use super::path::{Frame, Path, Piece, carry};
use crate::geometry::{Pt3, Vec3, perpendicular_pair};

/// Turns of one arc agree to this share of themselves: mitred prisms leave their rings a little
/// unequal.
const ALIKE: f64 = 0.01;

/// An edge of the line.
struct Edge {
    direction: Vec3,
    length: f64,
}

/// A run of edges on one curve.
#[derive(Clone, Copy)]
struct Run {
    from: usize,
    to: usize,
    /// Curvature times the unit axis; zero for a straight.
    bend: Vec3,
}

/// Half the angle under which a chord is seen from the centre of its arc, radians.
fn half_angle(curvature: f64, chord: f64) -> f64 {
    (0.5 * curvature * chord).min(1.0).asin()
}

/// The vector curvature that makes two chords meet as they do.
fn curvature_at(a: &Edge, b: &Edge) -> Vec3 {
    let axis = a.direction.cross(&b.direction);
    let turn = axis.norm().atan2(a.direction.dot(&b.direction));
    if turn < 1e-12 {
        return Vec3::zeros();
    }
    // asin(κa/2) + asin(κb/2) = turn: Newton from the first term of the series
    let mut k = 2.0 * turn / (a.length + b.length);
    for _ in 0..20 {
        let miss = half_angle(k, a.length) + half_angle(k, b.length) - turn;
        let slope = |c: f64| 0.5 * c / (1.0 - (0.5 * k * c).powi(2)).max(1e-6).sqrt();
        k -= miss / (slope(a.length) + slope(b.length));
    }
    axis.normalize() * k
}

/// The edge direction turned by half the arc above it, forward or back: the tangent at its end.
fn tangent(edge: &Edge, bend: &Vec3, forward: f64) -> Vec3 {
    let k = bend.norm();
    if k == 0.0 {
        return edge.direction;
    }
    let turn = half_angle(k, edge.length) * forward;
    nalgebra::Rotation3::new(bend * (turn / k)) * edge.direction
}

/// Straights and arcs of the line; `None` where some edges fit neither. `rounding` is the half-width
/// of a coordinate's rounding, mm.
fn runs(edges: &[Edge], rounding: f64) -> Option<Vec<Run>> {
    let n = edges.len();
    let noise = |k: usize| 6.0 * rounding * (1.0 / edges[k].length + 1.0 / edges[k + 1].length);
    let turn = |k: usize| edges[k].direction.angle(&edges[k + 1].direction);
    let bends: Vec<Vec3> = (0..n - 1)
        .map(|k| {
            if turn(k) <= noise(k) {
                Vec3::zeros()
            } else {
                curvature_at(&edges[k], &edges[k + 1])
            }
        })
        .collect();
    let alike = |k: usize, l: usize| {
        let (a, b) = (bends[k], bends[l]);
        let slack = |k: usize| 2.0 * noise(k) / (edges[k].length + edges[k + 1].length);
        a != Vec3::zeros()
            && b != Vec3::zeros()
            && (a - b).norm() < ALIKE * a.norm().max(b.norm()) + slack(k) + slack(l)
    };
    // arcs of three edges or more: two vertices that ask for the same curvature
    let mut of_edge: Vec<Option<usize>> = vec![None; n];
    let mut found: Vec<Run> = Vec::new();
    let mut k = 0;
    while k + 1 < bends.len() {
        if !alike(k, k + 1) || of_edge[k].is_some() {
            k += 1;
            continue;
        }
        let mut last = k + 1;
        while last + 1 < bends.len() && alike(last, last + 1) && alike(k, last + 1) {
            last += 1;
        }
        let mean = bends[k..=last].iter().sum::<Vec3>() / (last - k + 1) as f64;
        of_edge[k..=last + 1]
            .iter_mut()
            .for_each(|e| *e = Some(found.len()));
        found.push(Run {
            from: k,
            to: last + 1,
            bend: mean,
        });
        k = last + 1;
    }
    // an end edge on the flat of a faceted arc, shortened by the cut
    for r in found.iter_mut() {
        let full = 2.0 * half_angle(r.bend.norm(), edges[r.from].length);
        if r.from == 1 && of_edge[0].is_none() && (turn(0) - full).abs() < 0.02 * full + noise(0) {
            r.from = 0;
            of_edge[0] = Some(0);
        }
        let full = 2.0 * half_angle(r.bend.norm(), edges[r.to].length);
        if r.to + 2 == n
            && of_edge[n - 1].is_none()
            && (turn(n - 2) - full).abs() < 0.02 * full + noise(n - 2)
        {
            r.to = n - 1;
            of_edge[n - 1] = Some(0);
        }
    }
    // what is left: straights, and arcs of two edges
    let mut all: Vec<Run> = Vec::new();
    let mut arcs = found.into_iter().peekable();
    let mut e = 0;
    while e < n {
        if let Some(arc) = arcs.next_if(|r| r.from == e) {
            e = arc.to + 1;
            all.push(arc);
            continue;
        }
        let stop = arcs.peek().map_or(n, |r| r.from);
        let mut to = e;
        while to + 1 < stop && bends[to] == Vec3::zeros() {
            to += 1;
        }
        let straight = Run {
            from: e,
            to,
            bend: Vec3::zeros(),
        };
        let meets = |run: &Run| {
            all.last()
                .is_none_or(|before| fits(edges, before, run, rounding))
        };
        if meets(&straight) {
            all.push(straight);
        } else if to == e && e + 1 < stop {
            let arc = Run {
                to: e + 1,
                bend: bends[e],
                ..straight
            };
            if !meets(&arc) {
                return None;
            }
            all.push(arc);
        } else {
            return None;
        }
        e = all[all.len() - 1].to + 1;
    }
    let smooth = all.windows(2).all(|w| fits(edges, &w[0], &w[1], rounding));
    smooth.then_some(all)
}

/// True when two runs meet on a common tangent.
fn fits(edges: &[Edge], before: &Run, after: &Run, rounding: f64) -> bool {
    let (a, b) = (&edges[before.to], &edges[after.from]);
    let step = half_angle(before.bend.norm(), a.length) + half_angle(after.bend.norm(), b.length);
    let noise = 12.0 * rounding * (1.0 / a.length + 1.0 / b.length);
    tangent(a, &before.bend, 1.0).angle(&tangent(b, &after.bend, -1.0)) < 0.03 * step + noise
}

/// The path along a guide, moved to run through the section centre `centre`, which stands near
/// distance `near` along the track. Distances along it are those of the track, roughly.
pub fn along(guide: &Guide, rounding: f64, centre: &Pt3, near: f64) -> Option<Path> {
    let mut points = guide.points.clone();
    points.dedup_by(|b, a| (*b - *a).norm() <= 4.0 * rounding);
    if points.len() < 2 {
        return None;
    }
    let edges: Vec<Edge> = points
        .windows(2)
        .map(|p| Edge {
            direction: (p[1] - p[0]).normalize(),
            length: (p[1] - p[0]).norm(),
        })
        .collect();
    let runs = runs(&edges, rounding)?;
    let first = &runs[0];
    let t = tangent(&edges[0], &first.bend, -1.0);
    let (w, h) = perpendicular_pair(&t);
    let start = Frame {
        point: points[0],
        w,
        h,
        t,
    };
    let mut frame = start;
    let mut pieces = Vec::new();
    for r in &runs {
        let k = r.bend.norm();
        let span = &edges[r.from..=r.to];
        let piece = if k == 0.0 {
            Piece::straight(span.iter().map(|e| e.length).sum())
        } else {
            let c = r.bend.cross(&frame.t).try_normalize(1e-12)?;
            Piece {
                length: span.iter().map(|e| 2.0 * half_angle(k, e.length) / k).sum(),
                curvature: k,
                bend: (-c.dot(&frame.w)).atan2(c.dot(&frame.h)),
                torsion: 0.0,
            }
        };
        frame = carry(&frame, &piece, piece.length);
        pieces.push(piece);
    }
    let line = Path::new(start, pieces.clone());
    let size = (points[points.len() - 1] - points[0]).norm() + line.length();
    let (mut s, mut worst) = (0.0, 0.0f64);
    for (e, p) in edges.iter().zip(&points[1..]) {
        s += e.length;
        let (l, _) = line.local(p, s);
        worst = worst.max(l.x.hypot(l.y));
    }
    if worst > 2e-3 * size {
        return None;
    }
    // the same path through the section's centre
    let (l, _) = line.local(centre, near - guide.begins);
    let (x, y) = (l.x, l.y);
    for p in &mut pieces {
        let towards = -x * p.bend.sin() + y * p.bend.cos();
        let shrink = 1.0 - p.curvature * towards;
        if shrink < 0.05 {
            return None;
        }
        p.length *= shrink;
        p.curvature /= shrink;
    }
    let mut start = Frame {
        point: start.point + start.w * x + start.h * y,
        ..start
    };
    // begin where the track begins, if that is on the first piece
    if pieces[0].length + guide.begins > 0.0 {
        start = carry(&start, &pieces[0], -guide.begins);
        pieces[0].length += guide.begins;
    }
    Some(Path::new(start, pieces))
}

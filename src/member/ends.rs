//! The ends of a member: which faces cut it, and where the centreline meets them.

use super::caps::{Plane, Sorted, planes};
use super::path::Path;
use super::trace::Traced;
use super::track::Facets;
use crate::body::Body;
use crate::geometry::{Pt3, Vec3};

/// A cylinder that an end is coped to.
#[derive(Clone, Copy, Debug)]
pub struct Cylinder {
    /// Point on the axis nearest to the end, mm.
    pub point: Pt3,
    /// Unit direction.
    pub axis: Vec3,
    /// Radius, mm.
    pub radius: f64,
    /// 95 % half-width of the radius, mm.
    pub plus_minus: f64,
}

/// What closes one end.
#[derive(Clone, Debug)]
pub enum Closing {
    /// One or two planes; `planes[0]` is met first by the centreline, coming from inside.
    Planes(Vec<Plane>),
    /// A cope.
    Saddle(Cylinder),
    /// Anything else: the nearest and farthest the metal reaches along the path, mm.
    Other {
        /// Where the first metal is missing.
        from: f64,
        /// Where the last metal stands.
        to: f64,
    },
    /// No face was found (open mesh): the last vertex along the path, mm.
    Open {
        /// Distance along the path.
        at: f64,
    },
}

/// Distance along `path` at which the line parallel to it through section point (x, y) meets a plane,
/// starting from `near`.
pub fn meets_plane(path: &Path, x: f64, y: f64, point: &Pt3, normal: &Vec3, near: f64) -> f64 {
    let mut s = near;
    for _ in 0..20 {
        let f = path.at(s);
        let p = f.point + f.w * x + f.h * y;
        let i = path.piece_at(s);
        let piece = &path.pieces[i];
        let (sin, cos) = path.bend_of(i);
        let q = y * cos - x * sin;
        let speed = f.t.dot(normal) * (1.0 - piece.curvature * q);
        if speed.abs() < 1e-9 {
            return s;
        }
        let step = -(p - point).dot(normal) / speed;
        s += step.clamp(-1e4, 1e4);
        // on a straight the first step lands
        let straight = piece.curvature == 0.0 && piece.torsion == 0.0;
        if step.abs() < 1e-10 || straight && step.abs() < 1e4 && path.piece_at(s) == i {
            break;
        }
    }
    s
}

/// Distance along `path` at which its own line meets a cylinder, starting from `near`.
pub fn meets_cylinder(path: &Path, cylinder: &Cylinder, near: f64, outward: f64) -> f64 {
    let mut s = near;
    for _ in 0..40 {
        let f = path.at(s);
        let d = f.point - cylinder.point;
        let across = d - cylinder.axis * d.dot(&cylinder.axis);
        let r = across.norm();
        let speed = if r > 1e-12 {
            across.dot(&f.t) / r
        } else {
            -outward
        };
        // seen from inside, the centreline approaches the cylinder: its distance falls
        let speed = if speed * outward > -0.05 {
            -0.05 * outward
        } else {
            speed
        };
        let step = ((cylinder.radius - r) / speed).clamp(-cylinder.radius, cylinder.radius);
        s += step;
        if step.abs() < 1e-10 {
            break;
        }
    }
    s
}

/// Closings of the two ends (start, far end) of a member that is not a closed ring.
pub fn closings(body: &Body, facets: &Facets, traced: &Traced, sorted: &Sorted) -> [Closing; 2] {
    let tolerance = face_tolerance(body, traced);
    let model = &traced.fitted.model;
    let (first, last) = extent(sorted);
    let middle = 0.5 * (first + last);
    [-1.0, 1.0].map(|side| {
        let run: Vec<u32> = sorted
            .caps
            .iter()
            .filter(|c| c.facing * side > 0.25 && (0.5 * (c.from + c.to) - middle) * side > 0.0)
            .flat_map(|c| c.facets.iter().copied())
            .collect();
        if run.is_empty() {
            let at = if side < 0.0 { first } else { last };
            return open_end(body, traced, sorted, side, at, tolerance)
                .unwrap_or(Closing::Open { at });
        }
        let (mut found, explained) = planes(body, facets, &run, tolerance);
        let path = &model.path;
        // faces that do not face along the member are notches or hole walls
        found.retain(|p| {
            let f = path.at(if side < 0.0 { first } else { last });
            p.normal.dot(&f.t) * side > 0.05
        });
        if explained > 0.97 && (1..=2).contains(&found.len()) {
            let guess = if side < 0.0 { first } else { last };
            let meet = |p: &Plane| meets_plane(path, 0.0, 0.0, &p.point, &p.normal, guess) * side;
            found.sort_by(|a, b| meet(a).total_cmp(&meet(b)));
            return Closing::Planes(found);
        }
        let points = points_of(
            body,
            run.iter().flat_map(|&f| body.facets[f as usize]).collect(),
        );
        if let Some(c) = super::saddle::cylinder_through(
            &points,
            super::trace::rounding(body),
            path,
            side,
            tolerance,
        ) {
            return Closing::Saddle(c);
        }
        let mut from = f64::INFINITY;
        let mut to = f64::NEG_INFINITY;
        for &f in &run {
            for v in body.facets[f as usize] {
                let s = sorted.seen[v as usize].1;
                from = from.min(s);
                to = to.max(s);
            }
        }
        if side < 0.0 {
            Closing::Other { from: to, to: from }
        } else {
            Closing::Other { from, to }
        }
    })
}

fn points_of(body: &Body, mut vertices: Vec<u32>) -> Vec<Pt3> {
    vertices.sort_unstable();
    vertices.dedup();
    vertices
        .iter()
        .map(|&v| body.vertices[v as usize])
        .collect()
}

/// An end without a face: the plane or cylinder its open border lies on, as where a member was cut
/// out of a welded-together model.
fn open_end(
    body: &Body,
    traced: &Traced,
    sorted: &Sorted,
    side: f64,
    at: f64,
    tolerance: f64,
) -> Option<Closing> {
    let mut border = Vec::new();
    for (f, across) in body.neighbours.iter().enumerate() {
        for k in 0..3 {
            if across[k] == crate::weld::NONE {
                border.extend([body.facets[f][k], body.facets[f][(k + 1) % 3]]);
            }
        }
    }
    let reach = 6.0 * traced.track.reach;
    let middle = 0.5 * traced.fitted.model.path.length();
    border.retain(|&v| {
        let s = sorted.seen[v as usize].1;
        (s - at).abs() < reach && (s - middle) * side > 0.0
    });
    let points = points_of(body, border);
    let f = traced.fitted.model.path.at(at);
    if points.len() >= 4
        && let Some(p) = super::caps::plane_through(&points, &(f.t * side))
        && p.rms < tolerance
        && p.normal.dot(&f.t) * side > 0.05
    {
        return Some(Closing::Planes(vec![p]));
    }
    super::saddle::cylinder_through(
        &points,
        super::trace::rounding(body),
        &traced.fitted.model.path,
        side,
        tolerance,
    )
    .map(Closing::Saddle)
}

/// How far a vertex may lie from a face it belongs to, mm.
pub fn face_tolerance(body: &Body, traced: &Traced) -> f64 {
    (6.0 * traced.sigma).max(4.0 * super::trace::rounding(body))
}

/// Nearest and farthest distance along the path of the swept surface.
pub fn extent(sorted: &Sorted) -> (f64, f64) {
    sorted
        .seen
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), (_, s)| {
            (a.min(*s), b.max(*s))
        })
}

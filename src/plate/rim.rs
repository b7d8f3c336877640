//! Edges of a rolled plate on the surface amid its thickness.

use std::f64::consts::TAU;

use nalgebra::{Point2, Point3};

use super::face::Face;
use super::sheet::Sheet;
use super::skin::Ring;
use super::unfold::{Map, Roll};
use crate::body::Body;
use crate::finding::Finding;
use crate::surface::{Patches, Surface};
use crate::weld::NONE;

/// Points to one developed edge curve.
const STEPS: usize = 720;

/// Curves that are neither lines nor arcs are drawn as arcs no farther off than this, mm (finer than
/// any cutting table repeats; common practice, no source), or the file's own tolerance.
pub(super) fn fit_tolerance(face: &Face) -> f64 {
    face.tolerance.max(0.005)
}

/// A run of ring steps along one wall, as places on the flat from corner to corner.
struct Run {
    patch: u32,
    places: Vec<Point2<f64>>,
}

/// The closed outline amid the thickness of an open plate whose edges are not square to it: along a
/// plane cut the plane's own curve, else half way between front and back.
pub(super) fn between(face: &Face, front: &Ring, back: &Ring) -> Vec<Point2<f64>> {
    let own = runs(face, front);
    let behind = runs(face, back);
    let mut out = Vec::new();
    for run in own {
        let other = behind
            .iter()
            .find(|b| b.patch == run.patch && run.patch != NONE);
        let (first, last) = (run.places[0], run.places[run.places.len() - 1]);
        let Some(other) = other else {
            out.extend(&run.places[..run.places.len() - 1]);
            continue;
        };
        // Seen from the front, the back's ring runs the other way.
        let (a, b) = (
            nalgebra::center(&first, &other.places[other.places.len() - 1]),
            nalgebra::center(&last, &other.places[0]),
        );
        match (face.map(0), face.patches.list[run.patch as usize].surface) {
            (Map::Roll(roll), Surface::Plane { point, normal }) => {
                if normal.dot(&roll.axis).abs() < 1e-6 {
                    out.push(a);
                } else {
                    let n = ((b.x - a.x).abs() / (TAU * roll.neutral) * STEPS as f64)
                        .ceil()
                        .max(1.0)
                        .min(8.0 * STEPS as f64) as usize;
                    out.extend((0..n).map(|k| {
                        on_plane(
                            roll,
                            a.x + (b.x - a.x) * k as f64 / n as f64,
                            &point,
                            &normal,
                        )
                    }));
                }
            }
            _ => {
                let reversed: Vec<Point2<f64>> = other.places.iter().rev().copied().collect();
                let n = run.places.len().max(reversed.len()) * 4;
                out.extend((0..n).map(|k| {
                    nalgebra::center(
                        &share(&run.places, k as f64 / n as f64),
                        &share(&reversed, k as f64 / n as f64),
                    )
                }));
            }
        }
    }
    out
}

/// Point amid the thickness at `x` along the flat on a plane cut.
fn on_plane(
    roll: &Roll,
    x: f64,
    point: &Point3<f64>,
    normal: &nalgebra::Vector3<f64>,
) -> Point2<f64> {
    let p = roll.point + roll.outward(x / roll.neutral) * roll.neutral;
    Point2::new(x, (point - p).dot(normal) / roll.axis.dot(normal))
}

fn runs(face: &Face, ring: &Ring) -> Vec<Run> {
    let n = ring.len();
    let place = |i: usize| {
        face.map(0)
            .flat(&face.body.vertices[ring[i % n].vertex as usize])
    };
    let Some(start) = (0..n).find(|&i| ring[i].patch != ring[(i + n - 1) % n].patch) else {
        return vec![Run {
            patch: ring.first().map_or(NONE, |s| s.patch),
            places: (0..=n).map(place).collect(),
        }];
    };
    let mut out: Vec<Run> = Vec::new();
    for k in start..start + n {
        let patch = ring[k % n].patch;
        match out.last_mut() {
            Some(run) if run.patch == patch => run.places.push(place(k + 1)),
            _ => out.push(Run {
                patch,
                places: vec![place(k), place(k + 1)],
            }),
        }
    }
    out
}

/// Point at a share (0 to 1) of a polyline's length.
fn share(line: &[Point2<f64>], at: f64) -> Point2<f64> {
    let total: f64 = line.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
    let mut left = at * total;
    for w in line.windows(2) {
        let d = (w[1] - w[0]).norm();
        if left <= d && d > 0.0 {
            return w[0] + (w[1] - w[0]) * (left / d);
        }
        left -= d;
    }
    line[line.len() - 1]
}

/// One edge of a closed collar from seam to seam, x from 0 to a full turn of the middle surface.
pub(super) fn round(face: &Face, roll: &Roll, front: &Ring, back: &Ring) -> Vec<Point2<f64>> {
    let full = TAU * roll.neutral;
    let patch = front.first().map_or(NONE, |s| s.patch);
    let one = front.iter().chain(back).all(|s| s.patch == patch) && patch != NONE;
    if one && let Surface::Plane { point, normal } = face.patches.list[patch as usize].surface {
        if normal.cross(&roll.axis).norm() * roll.neutral <= face.tolerance {
            let z = roll.along(&point);
            return vec![Point2::new(0.0, z), Point2::new(full, z)];
        }
        return (0..=STEPS)
            .map(|k| on_plane(roll, full * k as f64 / STEPS as f64, &point, &normal))
            .collect();
    }
    let heights = |ring: &Ring| {
        let mut list: Vec<(f64, f64)> = ring
            .iter()
            .map(|s| &face.body.vertices[s.vertex as usize])
            .map(|p| (roll.angle(p).rem_euclid(TAU), roll.along(p)))
            .collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list
    };
    let (f, b) = (heights(front), heights(back));
    (0..=STEPS)
        .map(|k| TAU * k as f64 / STEPS as f64)
        .map(|a| {
            Point2::new(
                a * roll.neutral,
                (height_at(&f, a) + height_at(&b, a)) / 2.0,
            )
        })
        .collect()
}

/// Height at an angle, straight between neighbours, once round.
fn height_at(list: &[(f64, f64)], angle: f64) -> f64 {
    let n = list.len();
    if n == 0 {
        return 0.0;
    }
    let next = list.partition_point(|e| e.0 < angle);
    let (a, b) = (list[(next + n - 1) % n], list[next % n]);
    let before = if next == 0 { a.0 - TAU } else { a.0 };
    let after = if next == n { b.0 + TAU } else { b.0 };
    if after > before {
        a.1 + (b.1 - a.1) * (angle - before) / (after - before)
    } else {
        a.1
    }
}

/// Angle at which a closed collar is cut open: where the model itself has a seam (edges straight up
/// the outside and the inside at one angle only), else its longest line.
pub(super) fn seam(
    body: &Body,
    patches: &Patches,
    sheet: &Sheet,
    roll: &Roll,
    bottom: &Ring,
    top: &Ring,
    findings: &mut Vec<Finding>,
) -> f64 {
    let _ = findings;
    let level = 4.0 * patches.tolerance / roll.neutral;
    let upright = |patch: u32| -> Vec<f64> {
        let mut out = Vec::new();
        for &f in &patches.list[patch as usize].facets {
            let v = body.facets[f as usize].map(|v| v as usize);
            for k in 0..3 {
                let (p, q) = (&body.vertices[v[k]], &body.vertices[v[(k + 1) % 3]]);
                if (roll.angle(p) - roll.angle(q)).abs() <= level && roll.along(q) > roll.along(p) {
                    out.push(roll.angle(p));
                }
            }
        }
        out.sort_by(f64::total_cmp);
        out.dedup_by(|b, a| *b - *a <= 2.0 * level);
        out
    };
    let e = sheet.elements[0];
    let (outer, inner) = (upright(e.front), upright(e.back));
    let both: Vec<f64> = outer
        .into_iter()
        .filter(|a| inner.iter().any(|b| (a - b).abs() <= 4.0 * level))
        .collect();
    if let [one] = both[..] {
        return one;
    }
    let low = |ring: &Ring| -> Vec<(f64, f64)> {
        let mut list: Vec<(f64, f64)> = ring
            .iter()
            .map(|s| &body.vertices[s.vertex as usize])
            .map(|p| (roll.angle(p).rem_euclid(TAU), roll.along(p)))
            .collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list
    };
    let (down, up) = (low(bottom), low(top));
    up.iter()
        .map(|e| (e.0, e.1 - height_at(&down, e.0)))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.total_cmp(&a.0)))
        .map_or(0.0, |e| e.0)
}

/// Largest height between front and back at the same angle, over both edges of a closed collar, mm.
pub(super) fn obliquity(face: &Face, front: [&Ring; 2], back: [&Ring; 2]) -> f64 {
    let Map::Roll(roll) = face.map(0) else {
        return 0.0;
    };
    let heights = |ring: &Ring| {
        let mut list: Vec<(f64, f64)> = ring
            .iter()
            .map(|s| &face.body.vertices[s.vertex as usize])
            .map(|p| (roll.angle(p).rem_euclid(TAU), roll.along(p)))
            .collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list
    };
    front
        .into_iter()
        .zip(back)
        .map(|(f, b)| {
            let behind = heights(b);
            heights(f)
                .into_iter()
                .map(|(a, z)| (z - height_at(&behind, a)).abs())
                .fold(0.0, f64::max)
        })
        .fold(0.0, f64::max)
}

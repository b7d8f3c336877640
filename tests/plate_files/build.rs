//! Drawn solids as meshes: swept profiles with their arcs cut into chords.

use std::f64::consts::TAU;

use nalgebra::{Point2, Rotation2, Vector2};
use soapstone::body::Body;
use soapstone::read::{Format, Precision, TriangleSoup};

/// The only body of a list of triangles.
pub fn body(triangles: &[[[f64; 3]; 3]]) -> Body {
    let soup = TriangleSoup {
        distinct: false,
        points: triangles.iter().flatten().copied().collect(),
        facets: (0..triangles.len() as u32)
            .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
            .collect(),
        groups: Vec::new(),
        precision: Precision::Binary64,
        declared_mm_per_unit: None,
        format: Format::Obj,
    };
    let (mesh, _) = soapstone::weld::weld(soup, 1.0);
    let (mut bodies, _) = soapstone::body::separate(mesh, &[]);
    assert_eq!(bodies.len(), 1, "one body was built");
    bodies.remove(0)
}

/// A plain polygon (anticlockwise) moved by `height`.
pub fn extrude(profile: &[Point2<f64>], height: f64) -> Body {
    let at = |p: &Point2<f64>, z: f64| [p.x, p.y, z];
    let mut out = Vec::new();
    for (i, p) in profile.iter().enumerate() {
        let q = &profile[(i + 1) % profile.len()];
        out.push([at(p, 0.0), at(q, 0.0), at(q, height)]);
        out.push([at(p, 0.0), at(q, height), at(p, height)]);
    }
    for [a, b, c] in ears(profile) {
        out.push([at(&c, 0.0), at(&b, 0.0), at(&a, 0.0)]);
        out.push([at(&a, height), at(&b, height), at(&c, height)]);
    }
    body(&out)
}

/// A plain polygon (anticlockwise) with a plain hole (anticlockwise), moved by `height`.
pub fn extrude_with_hole(profile: &[Point2<f64>], hole: &[Point2<f64>], height: f64) -> Body {
    let at = |p: &Point2<f64>, z: f64| [p.x, p.y, z];
    let mut out = Vec::new();
    let mut sides = |ring: &[Point2<f64>]| {
        for (i, p) in ring.iter().enumerate() {
            let q = &ring[(i + 1) % ring.len()];
            out.push([at(p, 0.0), at(q, 0.0), at(q, height)]);
            out.push([at(p, 0.0), at(q, height), at(p, height)]);
        }
    };
    let back: Vec<Point2<f64>> = hole.iter().rev().copied().collect();
    sides(profile);
    sides(&back);
    // One polygon: out to the hole, round it, and back along the same bridge.
    let (mut from, mut to, mut least) = (0, 0, f64::INFINITY);
    for (i, p) in profile.iter().enumerate() {
        for (j, q) in back.iter().enumerate() {
            if (p - q).norm() < least {
                (from, to, least) = (i, j, (p - q).norm());
            }
        }
    }
    let mut joined = profile[..=from].to_vec();
    joined.extend(back[to..].iter().chain(&back[..=to]));
    joined.extend(&profile[from..]);
    for [a, b, c] in ears(&joined) {
        out.push([at(&c, 0.0), at(&b, 0.0), at(&a, 0.0)]);
        out.push([at(&a, height), at(&b, height), at(&c, height)]);
    }
    body(&out)
}

/// A convex polygon (r, z), anticlockwise, turned about the z axis by `angle` degrees in `chords`.
pub fn revolve(profile: &[Point2<f64>], angle: f64, chords: usize) -> Body {
    let closed = angle > 359.999;
    let turn = |k: usize| {
        angle.to_radians() * (if closed { k % chords } else { k }) as f64 / chords as f64
    };
    let at = |p: &Point2<f64>, k: usize| [p.x * turn(k).cos(), p.x * turn(k).sin(), p.y];
    let mut out = Vec::new();
    for k in 0..chords {
        for (i, p) in profile.iter().enumerate() {
            let q = &profile[(i + 1) % profile.len()];
            out.push([at(p, k), at(q, k + 1), at(q, k)]);
            out.push([at(p, k), at(p, k + 1), at(q, k + 1)]);
        }
    }
    if !closed {
        for [a, b, c] in ears(profile) {
            out.push([at(&a, 0), at(&b, 0), at(&c, 0)]);
            out.push([at(&c, chords), at(&b, chords), at(&a, chords)]);
        }
    }
    body(&out)
}

/// Triangles of a simple anticlockwise polygon.
fn ears(polygon: &[Point2<f64>]) -> Vec<[Point2<f64>; 3]> {
    let mut left = polygon.to_vec();
    let mut out = Vec::new();
    let side = |a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>| (b - a).perp(&(c - a));
    while left.len() > 3 {
        let n = left.len();
        let ear = (0..n)
            .filter(|&i| {
                let (a, b, c) = (left[(i + n - 1) % n], left[i], left[(i + 1) % n]);
                let outside = |p: &Point2<f64>| {
                    side(&a, &b, p) <= 1e-9 || side(&b, &c, p) <= 1e-9 || side(&c, &a, p) <= 1e-9
                };
                side(&a, &b, &c) > 1e-9 && left.iter().all(|p| [a, b, c].contains(p) || outside(p))
            })
            // The short way across first, or the rest may end up all on one line.
            .min_by(|&i, &j| {
                let across = |i: usize| (left[(i + 1) % n] - left[(i + n - 1) % n]).norm();
                across(i).total_cmp(&across(j))
            });
        let i = ear.expect("a simple polygon");
        out.push([left[(i + n - 1) % n], left[i], left[(i + 1) % n]]);
        left.remove(i);
    }
    out.push([left[0], left[1], left[2]]);
    out
}

/// One bend of a strip: angle turned in degrees, positive to the left, and chords it is cut into.
#[derive(Clone, Copy, Debug)]
pub struct Fold {
    pub angle: f64,
    pub inside_radius: f64,
    pub chords: usize,
}

/// Profile of a folded strip: straight lengths with a fold after each but the last.
pub fn strip(thickness: f64, straights: &[f64], folds: &[Fold]) -> Vec<Point2<f64>> {
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let mut at = Point2::origin();
    let mut heading = 0.0f64;
    let normal = |a: f64| Rotation2::new(a) * Vector2::new(0.0, thickness / 2.0);
    for (i, length) in straights.iter().enumerate() {
        left.push(at + normal(heading));
        right.push(at - normal(heading));
        at += Rotation2::new(heading) * Vector2::new(*length, 0.0);
        left.push(at + normal(heading));
        right.push(at - normal(heading));
        let Some(fold) = folds.get(i) else { continue };
        let sign = fold.angle.signum();
        let middle = fold.inside_radius + thickness / 2.0;
        let centre = at + normal(heading) * (sign * middle * 2.0 / thickness);
        let from = at - centre;
        for k in 1..=fold.chords {
            let turned = fold.angle.to_radians() * k as f64 / fold.chords as f64;
            let p = centre + Rotation2::new(turned) * from;
            if k == fold.chords {
                at = p;
                heading += turned;
            } else {
                left.push(p + normal(heading + turned));
                right.push(p - normal(heading + turned));
            }
        }
    }
    right.into_iter().chain(left.into_iter().rev()).collect()
}

/// Corners of a regular polygon on a circle.
pub fn circle(centre: Point2<f64>, radius: f64, chords: usize) -> Vec<Point2<f64>> {
    (0..chords)
        .map(|k| {
            centre + Rotation2::new(TAU * k as f64 / chords as f64) * Vector2::new(radius, 0.0)
        })
        .collect()
}

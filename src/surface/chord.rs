//! Bends exported as one or two chords between two flats.
//!
//! Two chords are proven by tangency to the flats. One chord alone could as well be a bevel; a
//! sheet shows it twice, inside and outside, and only a bend has both about one axis.

use nalgebra::{Point3, Vector3};

use super::flat::Flats;
use super::grow::{Curved, tangent_sides, touches};
use super::revolved::{self, Revolved};
use super::seed::{SMOOTH, points_of};
use crate::body::Body;

/// Single chords looked at; more than this is free form.
const MOST: usize = 2000;

/// Adds the cylinders of one- and two-chord bends to `curved`.
pub(super) fn bends(body: &Body, flats: &Flats, tolerance: f64, curved: &mut Vec<Curved>) {
    let mut free = vec![true; flats.list.len()];
    for &f in curved.iter().flat_map(|c| &c.flats) {
        free[f as usize] = false;
    }
    two_chords(body, flats, tolerance, &mut free, curved);
    one_chord(body, flats, tolerance, &free, curved);
}

fn two_chords(
    body: &Body,
    flats: &Flats,
    tolerance: f64,
    free: &mut [bool],
    curved: &mut Vec<Curved>,
) {
    for f in 0..flats.list.len() as u32 {
        let flat = &flats.list[f as usize];
        for &(g, _) in &flat.beside {
            let other = &flats.list[g as usize];
            if g <= f
                || !free[f as usize]
                || !free[g as usize]
                || other.normal.dot(&flat.normal) <= SMOOTH
            {
                continue;
            }
            let Some(axis) = flat.normal.cross(&other.normal).try_normalize(1e-4) else {
                continue;
            };
            let turn = flat.normal.angle(&other.normal);
            if !half_turn_beside(flats, f, g, &axis, turn)
                || !half_turn_beside(flats, g, f, &axis, turn)
            {
                continue;
            }
            let points = points_of(body, flats, &[f, g]);
            let Some(fit) = revolved::fit(&points, &axis, None, 30) else {
                continue;
            };
            if fit.largest > tolerance || tangent_sides(flats, &[f, g], &fit, tolerance) < 2 {
                continue;
            }
            let convex = flat.normal.dot(&fit.normal(&flat.point)) > 0.0;
            free[f as usize] = false;
            free[g as usize] = false;
            curved.push(Curved {
                fit,
                flats: vec![f, g],
                convex,
            });
        }
    }
}

/// True when a flat beside strip `f` (other than `g`) turns off it by about half of `turn`, square to
/// the axis: a cheap look before a cylinder is fitted.
fn half_turn_beside(flats: &Flats, f: u32, g: u32, axis: &Vector3<f64>, turn: f64) -> bool {
    let strip = &flats.list[f as usize];
    strip.beside.iter().filter(|(h, _)| *h != g).any(|(h, _)| {
        let flat = &flats.list[*h as usize];
        flat.normal.dot(axis).abs() < 0.02
            && (0.3..0.7).contains(&(flat.normal.angle(&strip.normal) / turn))
    })
}

/// A strip that could be a single chord: the cylinder it would stand for.
struct Chord {
    flat: u32,
    fit: Revolved,
    convex: bool,
}

fn one_chord(body: &Body, flats: &Flats, tolerance: f64, free: &[bool], curved: &mut Vec<Curved>) {
    let chords: Vec<Chord> = (0..flats.list.len() as u32)
        .filter(|&f| free[f as usize])
        .filter_map(|f| chord(body, flats, free, f, tolerance))
        .take(MOST)
        .collect();
    let mut taken = vec![false; chords.len()];
    for i in 0..chords.len() {
        for j in i + 1..chords.len() {
            if !taken[i] && !taken[j] && about_one_axis(flats, &chords[i], &chords[j], tolerance) {
                (taken[i], taken[j]) = (true, true);
                curved.extend([i, j].map(|k| Curved {
                    fit: chords[k].fit,
                    flats: vec![chords[k].flat],
                    convex: chords[k].convex,
                }));
            }
        }
    }
}

fn chord(body: &Body, flats: &Flats, free: &[bool], f: u32, tolerance: f64) -> Option<Chord> {
    let flat = &flats.list[f as usize];
    let mut beside: Vec<(u32, f64)> = flat
        .beside
        .iter()
        .copied()
        .filter(|(g, _)| {
            free[*g as usize] && flats.list[*g as usize].normal.dot(&flat.normal) > SMOOTH
        })
        .collect();
    beside.sort_by(|a, b| b.1.total_cmp(&a.1));
    let [(p, _), (q, _), ..] = beside[..] else {
        return None;
    };
    let (p, q) = (&flats.list[p as usize], &flats.list[q as usize]);
    if p.area < 1.2 * flat.area || q.area < 1.2 * flat.area {
        return None;
    }
    let axis = p.normal.cross(&q.normal).try_normalize(1e-3)?;
    let angle = p.normal.angle(&q.normal);
    // The strip's vertices stand on two rulings, one in each neighbour's plane.
    let across = axis.cross(&flat.normal);
    let along = |v: &u32| (body.vertices[*v as usize] - flat.point).dot(&across);
    let (low, high) = flat
        .vertices
        .iter()
        .map(along)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
    if flat
        .vertices
        .iter()
        .map(along)
        .any(|x| (x - low).min(high - x) > 2.0 * tolerance)
    {
        return None;
    }
    let radius = (high - low) / (2.0 * (angle / 2.0).sin());
    let turn = (p.normal.angle(&flat.normal) - flat.normal.angle(&q.normal)).abs();
    if turn * (high - low) > 12.0 * tolerance || (high - low) < 20.0 * tolerance {
        return None;
    }
    let middle = flat.point + across * ((low + high) / 2.0);
    let depth = radius * (angle / 2.0).cos();
    let fit_on = |convex: bool| Revolved {
        point: middle - flat.normal * if convex { depth } else { -depth },
        axis,
        radius,
        slope: 0.0,
        largest: tolerance,
        rms: tolerance / 3.0,
        radius_factor: 1.0 / (angle / 2.0).sin().max(1e-3),
    };
    let slack = 6.0 * tolerance / (angle / 2.0).sin();
    [true, false]
        .into_iter()
        .map(|convex| (fit_on(convex), convex))
        .find(|(fit, convex)| {
            let inward = |plane: &super::flat::Flat| {
                (fit.point - plane.point).dot(&plane.normal) * if *convex { -1.0 } else { 1.0 }
                    > 0.0
            };
            [p, q]
                .into_iter()
                .all(|plane| touches(plane, fit, slack) && inward(plane))
        })
        .map(|(fit, convex)| Chord {
            flat: f,
            fit,
            convex,
        })
}

fn about_one_axis(flats: &Flats, a: &Chord, b: &Chord, tolerance: f64) -> bool {
    let (outer, inner) = if a.convex { (a, b) } else { (b, a) };
    if !outer.convex || inner.convex || outer.fit.radius <= inner.fit.radius {
        return false;
    }
    let (m, n) = (
        &flats.list[outer.flat as usize],
        &flats.list[inner.flat as usize],
    );
    let d: Vector3<f64> = inner.fit.point - outer.fit.point;
    let apart = (d - outer.fit.axis * d.dot(&outer.fit.axis)).norm();
    let slack = 6.0 * tolerance * (outer.fit.radius_factor + inner.fit.radius_factor);
    let along = |p: &Point3<f64>| (p - outer.fit.point).dot(&outer.fit.axis);
    let facing = m.normal.dot(&n.normal) < -0.99;
    facing
        && apart <= slack
        && outer.fit.axis.cross(&inner.fit.axis).norm() < 1e-3
        && (along(&m.point) - along(&n.point)).abs() < (outer.fit.radius + 1.0) * 10.0
}

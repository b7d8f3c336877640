//! Patches put together from flat groups and curved surfaces: loops and borders.

use nalgebra::{Point3, Vector3};

use super::facets::{Shape, corners, vertices_of};
use super::flat::{Flats, LOOSE};
use super::grow::Curved;
use super::revolved::Revolved;
use super::rings::{HalfEdge, rings};
use super::seed::SMOOTH;
use super::{Border, EdgeKind, Patch, Patches, Surface};
use crate::body::Body;
use crate::weld::NONE;

/// Two surfaces that meet at less than this (radians, about 1.5°) run into each other.
const SMOOTH_ANGLE: f64 = 0.026;

pub(super) fn assemble(
    body: &Body,
    shape: &Shape,
    flats: &Flats,
    curved: Vec<Curved>,
    tolerance: f64,
) -> Patches {
    let mut list: Vec<(Surface, Vec<u32>, f64)> = Vec::new();
    let mut free = vec![true; flats.list.len()];
    for c in curved {
        for &f in &c.flats {
            free[f as usize] = false;
        }
        let facets: Vec<u32> = c
            .flats
            .iter()
            .flat_map(|&f| flats.list[f as usize].facets.iter().copied())
            .collect();
        let surface = of_fit(&c.fit, c.convex);
        list.push((surface, facets, c.fit.radius_factor));
    }
    for group in unknown_groups(flats, &free, shape.area.iter().sum()) {
        for &f in &group {
            free[f as usize] = false;
        }
        list.push((
            Surface::Unknown,
            group
                .iter()
                .flat_map(|&f| flats.list[f as usize].facets.iter().copied())
                .collect(),
            0.0,
        ));
    }
    for (f, flat) in flats.list.iter().enumerate().filter(|(f, _)| free[*f]) {
        let _ = f;
        list.push((
            Surface::Plane {
                point: flat.point,
                normal: flat.normal,
            },
            flat.facets.clone(),
            1.0,
        ));
    }
    let mut of_facet = vec![LOOSE; body.facets.len()];
    for (id, (_, facets, _)) in list.iter().enumerate() {
        for &f in facets {
            of_facet[f as usize] = id as u32;
        }
    }
    adopt_loose(body, shape, &mut of_facet, &mut list);
    let area = |facets: &[u32]| facets.iter().map(|&f| shape.area[f as usize]).sum::<f64>();
    let areas: Vec<f64> = list.iter().map(|p| area(&p.1)).collect();
    let mut order: Vec<u32> = (0..list.len() as u32).collect();
    order.sort_by(|&a, &b| {
        areas[b as usize]
            .total_cmp(&areas[a as usize])
            .then(a.cmp(&b))
    });
    let mut rank = vec![0u32; list.len()];
    for (to, &from) in order.iter().enumerate() {
        rank[from as usize] = to as u32;
    }
    for id in of_facet.iter_mut().filter(|id| **id != LOOSE) {
        *id = rank[*id as usize];
    }
    let mut taken: Vec<Option<(Surface, Vec<u32>, f64)>> = list.into_iter().map(Some).collect();
    let surfaces: Vec<Surface> = order
        .iter()
        .filter_map(|&id| taken[id as usize].as_ref().map(|p| p.0))
        .collect();
    let list = order
        .iter()
        .filter_map(|&id| taken[id as usize].take().map(|p| (p, areas[id as usize])))
        .enumerate()
        .map(|(id, ((surface, mut facets, factor), area))| {
            facets.sort_unstable();
            let (rms, largest) = departures(body, &surface, &facets);
            let plus_minus = 2.0 * rms.max(tolerance / 6.0) * factor;
            let (loops, borders) = edges(
                body, shape, &of_facet, &surfaces, id as u32, &facets, tolerance,
            );
            Patch {
                surface,
                facets,
                area,
                loops,
                borders,
                rms,
                largest,
                plus_minus,
            }
        })
        .collect();
    Patches {
        list,
        of_facet,
        tolerance,
        accuracy: body.quantum,
        noise: None,
    }
}

fn of_fit(fit: &Revolved, convex: bool) -> Surface {
    if fit.slope == 0.0 {
        return Surface::Cylinder {
            point: fit.point,
            axis: fit.axis,
            radius: fit.radius,
            convex,
        };
    }
    let tan = fit.slope.tan();
    let apex = fit.point - fit.axis * (fit.radius / tan);
    Surface::Cone {
        apex,
        axis: fit.axis * fit.slope.signum(),
        half_angle: fit.slope.abs(),
        convex,
    }
}

/// Small flats that run on smoothly into each other are one curved surface of no known kind.
fn unknown_groups(flats: &Flats, free: &[bool], total: f64) -> Vec<Vec<u32>> {
    let small = |f: u32| free[f as usize] && flats.list[f as usize].area < 0.05 * total;
    let mut seen = vec![false; flats.list.len()];
    let mut out = Vec::new();
    for start in 0..flats.list.len() as u32 {
        if seen[start as usize] || !small(start) {
            continue;
        }
        seen[start as usize] = true;
        let mut group = vec![start];
        let mut next = 0;
        while next < group.len() {
            let of = &flats.list[group[next] as usize];
            next += 1;
            for &(g, _) in &of.beside {
                if !seen[g as usize]
                    && small(g)
                    && flats.list[g as usize].normal.dot(&of.normal) > SMOOTH
                {
                    seen[g as usize] = true;
                    group.push(g);
                }
            }
        }
        if group.len() >= 6 {
            out.push(group);
        }
    }
    out
}

/// Facets without a height of their own go to the neighbour across their longest edge.
fn adopt_loose(
    body: &Body,
    shape: &Shape,
    of_facet: &mut [u32],
    list: &mut Vec<(Surface, Vec<u32>, f64)>,
) {
    let mut loose: Vec<u32> = (0..body.facets.len() as u32)
        .filter(|&f| of_facet[f as usize] == LOOSE)
        .collect();
    while !loose.is_empty() {
        let before = loose.len();
        loose.retain(|&f| {
            let c = corners(body, f);
            let best = (0..3)
                .filter(|&k| {
                    body.neighbours[f as usize][k] != NONE
                        && of_facet[body.neighbours[f as usize][k] as usize] != LOOSE
                })
                .max_by(|&a, &b| {
                    (c[(a + 1) % 3] - c[a])
                        .norm()
                        .total_cmp(&(c[(b + 1) % 3] - c[b]).norm())
                });
            if let Some(k) = best {
                let id = of_facet[body.neighbours[f as usize][k] as usize];
                of_facet[f as usize] = id;
                list[id as usize].1.push(f);
            }
            best.is_none()
        });
        if loose.len() == before {
            // No neighbour at all: a patch of their own.
            for &f in &loose {
                of_facet[f as usize] = list.len() as u32;
            }
            let _ = shape;
            list.push((Surface::Unknown, std::mem::take(&mut loose), 0.0));
        }
    }
}

/// Signed distance of a point from a surface (0 for an unknown one).
pub(super) fn distance(surface: &Surface, p: &Point3<f64>) -> f64 {
    match surface {
        Surface::Plane { point, normal } => (p - point).dot(normal),
        Surface::Cylinder {
            point,
            axis,
            radius,
            ..
        } => (p - point).cross(axis).norm() - radius,
        Surface::Cone {
            apex,
            axis,
            half_angle,
            ..
        } => {
            let d = p - apex;
            d.cross(axis).norm() * half_angle.cos() - d.dot(axis) * half_angle.sin()
        }
        Surface::Unknown => 0.0,
    }
}

fn departures(body: &Body, surface: &Surface, facets: &[u32]) -> (f64, f64) {
    let vertices = vertices_of(body, facets);
    let (squares, largest) = vertices
        .iter()
        .map(|&v| distance(surface, &body.vertices[v as usize]))
        .fold((0.0, 0.0f64), |(s, l), e| (s + e * e, l.max(e.abs())));
    ((squares / vertices.len().max(1) as f64).sqrt(), largest)
}

/// Normal out of the metal of a patch at a point of it.
fn normal_at(surface: &Surface, p: &Point3<f64>, facet: &Vector3<f64>) -> Vector3<f64> {
    let revolved = |origin: &Point3<f64>, axis: &Vector3<f64>, lean: f64, convex: bool| {
        let d = p - origin;
        let outward = (d - axis * d.dot(axis))
            .try_normalize(0.0)
            .unwrap_or(*facet);
        (outward * lean.cos() - axis * lean.sin()) * if convex { 1.0 } else { -1.0 }
    };
    match surface {
        Surface::Plane { normal, .. } => *normal,
        Surface::Cylinder {
            point,
            axis,
            convex,
            ..
        } => revolved(point, axis, 0.0, *convex),
        Surface::Cone {
            apex,
            axis,
            half_angle,
            convex,
        } => revolved(apex, axis, *half_angle, *convex),
        Surface::Unknown => *facet,
    }
}

fn edges(
    body: &Body,
    shape: &Shape,
    of_facet: &[u32],
    surfaces: &[Surface],
    id: u32,
    facets: &[u32],
    tolerance: f64,
) -> (Vec<Vec<u32>>, Vec<Border>) {
    let is_border = |f: u32, k: usize| {
        let g = body.neighbours[f as usize][k];
        g == NONE || of_facet[g as usize] != id
    };
    let mut lengths: Vec<(u32, [f64; 3])> = Vec::new();
    for &f in facets {
        for k in (0..3).filter(|&k| is_border(f, k)) {
            let g = body.neighbours[f as usize][k];
            if g == NONE {
                continue;
            }
            let other = of_facet[g as usize];
            let [a, b] = [
                body.facets[f as usize][k],
                body.facets[f as usize][(k + 1) % 3],
            ]
            .map(|v| body.vertices[v as usize]);
            let middle = nalgebra::center(&a, &b);
            let n = normal_at(&surfaces[id as usize], &middle, &shape.normal[f as usize]);
            let m = normal_at(
                &surfaces[other as usize],
                &middle,
                &shape.normal[g as usize],
            );
            let length = (b - a).norm();
            let sine = n.cross(&m).dot(&(b - a)) / length.max(f64::MIN_POSITIVE);
            let smooth = SMOOTH_ANGLE
                .max(
                    4.0 * tolerance
                        / shape.height[f as usize]
                            .min(shape.height[g as usize])
                            .max(tolerance),
                )
                .min(0.3);
            let kind = if n.dot(&m) > 0.0 && n.cross(&m).norm() < smooth {
                2
            } else {
                usize::from(sine <= 0.0)
            };
            match lengths.iter_mut().find(|l| l.0 == other) {
                Some(l) => l.1[kind] += length,
                None => {
                    let mut by_kind = [0.0; 3];
                    by_kind[kind] = length;
                    lengths.push((other, by_kind));
                }
            }
        }
    }
    lengths.sort_by_key(|l| l.0);
    let borders = lengths
        .into_iter()
        .map(|(patch, by_kind)| {
            let kind = if by_kind[2] >= by_kind[0] && by_kind[2] >= by_kind[1] {
                EdgeKind::Smooth
            } else if by_kind[0] >= by_kind[1] {
                EdgeKind::Convex
            } else {
                EdgeKind::Concave
            };
            Border {
                patch,
                kind,
                length: by_kind.iter().sum(),
            }
        })
        .collect();
    let loops = rings(body, facets, &|f| of_facet[f as usize] == id);
    let vertices = |ring: Vec<HalfEdge>| ring.into_iter().map(|e| e.start(body)).collect();
    (loops.into_iter().map(vertices).collect(), borders)
}

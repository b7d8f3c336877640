//! The sheet in a body: pairs of faces one thickness apart, joined where they run into each other.

use nalgebra::{Point3, Vector3};

use crate::body::Body;
use crate::measure::Quantity;
use crate::surface::{EdgeKind, Patch, Patches, Surface};

/// A piece of sheet: a face and the face behind it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Element {
    /// Patch on the front of the sheet.
    pub front: u32,
    /// Patch on its back.
    pub back: u32,
}

/// Pieces of one sheet.
#[derive(Clone, Debug)]
pub(super) struct Sheet {
    pub thickness: Quantity,
    /// Pieces, the one the search began with first.
    pub elements: Vec<Element>,
    /// Neighbouring pieces, each pair once.
    pub joints: Vec<(usize, usize)>,
    /// True when the pieces close to a ring across their bends.
    pub closed: bool,
}

/// Middle and reach of a patch.
struct Extent {
    middle: Point3<f64>,
    reach: f64,
}

/// Patches looked at for pairs; a sheet has its two faces among the largest.
const MOST: usize = 400;

/// The largest sheet in the body, or `None` where no two faces lie one thickness apart.
pub(super) fn find(body: &Body, patches: &Patches) -> Option<Sheet> {
    let count = patches.list.len().min(MOST);
    let extents: Vec<Extent> = patches.list[..count]
        .iter()
        .map(|p| extent(body, p))
        .collect();
    let mut pairs: Vec<(u32, u32, f64)> = Vec::new();
    for a in 0..count {
        for b in a + 1..count {
            let near = (extents[a].middle - extents[b].middle).norm()
                <= extents[a].reach + extents[b].reach;
            if near && let Some(gap) = behind(&patches.list[a], &patches.list[b], patches.tolerance)
            {
                pairs.push((a as u32, b as u32, gap));
            }
        }
    }
    let weight = |p: &(u32, u32, f64)| {
        patches.list[p.0 as usize]
            .area
            .min(patches.list[p.1 as usize].area)
    };
    let slack = |p: &(u32, u32, f64)| {
        6.0 * patches.tolerance
            + patches.list[p.0 as usize].plus_minus
            + patches.list[p.1 as usize].plus_minus
    };
    let support = |gap: f64| {
        pairs
            .iter()
            .filter(|p| (p.2 - gap).abs() <= slack(p))
            .map(weight)
            .sum::<f64>()
    };
    let best = pairs.iter().max_by(|a, b| {
        support(a.2)
            .total_cmp(&support(b.2))
            .then(b.2.total_cmp(&a.2))
    })?;
    let gap = best.2;
    pairs.retain(|p| (p.2 - gap).abs() <= slack(p));
    // One partner to a patch: the one most nearly opposite.
    pairs.sort_by(|a, b| {
        let apart = |p: &(u32, u32, f64)| {
            (extents[p.0 as usize].middle - extents[p.1 as usize].middle).norm()
        };
        apart(a)
            .total_cmp(&apart(b))
            .then((a.0, a.1).cmp(&(b.0, b.1)))
    });
    let mut partner: Vec<Option<u32>> = vec![None; patches.list.len()];
    for &(a, b, _) in &pairs {
        if partner[a as usize].is_none() && partner[b as usize].is_none() {
            partner[a as usize] = Some(b);
            partner[b as usize] = Some(a);
        }
    }
    let seed = pairs
        .iter()
        .filter(|p| partner[p.0 as usize] == Some(p.1))
        .max_by(|a, b| weight(a).total_cmp(&weight(b)).then(b.0.cmp(&a.0)))?;
    let (elements, joints) = grow(patches, &partner, seed.0, seed.1);
    let thickness = thickness(body, patches, &elements, gap);
    let closed = joints.len() >= elements.len();
    Some(Sheet {
        thickness,
        elements,
        joints,
        closed,
    })
}

fn extent(body: &Body, patch: &Patch) -> Extent {
    let vertices = patch.vertices(body);
    let at = |v: &u32| body.vertices[*v as usize];
    let origin = vertices.first().map_or(Point3::origin(), at);
    let middle = origin
        + vertices
            .iter()
            .map(|v| at(v) - origin)
            .sum::<Vector3<f64>>()
            / vertices.len().max(1) as f64;
    let reach = vertices
        .iter()
        .map(|v| (at(v) - middle).norm())
        .fold(0.0, f64::max);
    Extent { middle, reach }
}

/// Metal between two faces that run alongside, mm.
fn behind(a: &Patch, b: &Patch, tolerance: f64) -> Option<f64> {
    let gap = match (a.surface, b.surface) {
        (
            Surface::Plane {
                point: p,
                normal: n,
            },
            Surface::Plane {
                point: q,
                normal: m,
            },
        ) => (n.dot(&m) < -0.9999).then(|| ((p - q).dot(&n) + (q - p).dot(&m)) / 2.0),
        (
            Surface::Cylinder {
                point: p,
                axis: u,
                radius: r,
                convex: c,
            },
            Surface::Cylinder {
                point: q,
                axis: v,
                radius: s,
                convex: d,
            },
        ) => {
            let apart = (q - p).cross(&u).norm();
            let slack = 8.0 * tolerance + a.plus_minus + b.plus_minus;
            (c != d && u.cross(&v).norm() < 0.01 && apart <= slack.max(0.02 * (r - s).abs()))
                .then_some(if c { r - s } else { s - r })
        }
        (
            Surface::Cone {
                apex: p,
                axis: u,
                half_angle: g,
                convex: c,
            },
            Surface::Cone {
                apex: q,
                axis: v,
                half_angle: h,
                convex: d,
            },
        ) => {
            let (outer, inner, axis, angle) = if c {
                (p, q, u, (g + h) / 2.0)
            } else {
                (q, p, v, (g + h) / 2.0)
            };
            let along = (inner - outer).dot(&axis);
            let aside = (inner - outer).cross(&axis).norm();
            (c != d
                && (g - h).abs() < 0.01
                && u.dot(&v) > 0.9999
                && aside <= 0.02 * along.abs() + 8.0 * tolerance)
                .then(|| along * angle.sin())
        }
        _ => None,
    };
    gap.filter(|g| *g > 4.0 * tolerance)
}

/// Pieces reached from the seed over smooth borders of the front.
fn grow(
    patches: &Patches,
    partner: &[Option<u32>],
    front: u32,
    back: u32,
) -> (Vec<Element>, Vec<(usize, usize)>) {
    let mut elements = vec![Element { front, back }];
    let mut joints: Vec<(usize, usize)> = Vec::new();
    let mut next = 0;
    while next < elements.len() {
        let here = elements[next];
        for border in &patches.list[here.front as usize].borders {
            let Some(behind) = partner[border.patch as usize] else {
                continue;
            };
            if border.kind != EdgeKind::Smooth {
                continue;
            }
            let known = elements.iter().position(|e| e.front == border.patch);
            // The far side of the same sheet is no neighbour.
            if known.is_none() && elements.iter().any(|e| e.back == border.patch) {
                continue;
            }
            let other = known.unwrap_or_else(|| {
                elements.push(Element {
                    front: border.patch,
                    back: behind,
                });
                elements.len() - 1
            });
            let pair = (next.min(other), next.max(other));
            if !joints.contains(&pair) {
                joints.push(pair);
            }
        }
        next += 1;
    }
    (elements, joints)
}

/// Thickness from the faces' own vertices: the mean over the flat pieces by area (over all pieces
/// where none is flat), with the rounding of both faces.
fn thickness(body: &Body, patches: &Patches, elements: &[Element], gap: f64) -> Quantity {
    let (mut sum, mut weight, mut spread) = (0.0, 0.0, 0.0f64);
    let flat: Vec<&Element> = elements
        .iter()
        .filter(|e| patches.list[e.front as usize].plane().is_some())
        .collect();
    let used = if flat.is_empty() {
        elements.iter().collect()
    } else {
        flat
    };
    for e in &used {
        let (a, b) = (
            &patches.list[e.front as usize],
            &patches.list[e.back as usize],
        );
        if let Some(g) = behind(a, b, patches.tolerance) {
            let w = a.area.min(b.area);
            sum += g * w;
            weight += w;
            spread = spread.max((g - gap).abs() * (w / a.area.max(b.area)));
        }
    }
    let value = if weight > 0.0 { sum / weight } else { gap };
    let rms = used
        .iter()
        .map(|e| {
            patches.list[e.front as usize]
                .rms
                .max(patches.list[e.back as usize].rms)
        })
        .fold(0.0, f64::max);
    // Curved faces know their own size only as well as their fit does.
    let own = |p: u32| match patches.list[p as usize].surface {
        Surface::Plane { .. } => 0.0,
        _ => patches.list[p as usize].plus_minus,
    };
    let curved = used
        .iter()
        .map(|e| own(e.front) + own(e.back))
        .fold(0.0, f64::max);
    let place = match patches.noise {
        Some(sigma) => {
            let count = |p: u32| patches.list[p as usize].facets.len().max(4) as f64 / 2.0;
            let fewest = used
                .iter()
                .map(|e| count(e.front).min(count(e.back)))
                .fold(f64::INFINITY, f64::min);
            sigma * (0.3 + 4.0 / fewest.sqrt())
        }
        None => 1.5 * body.quantum + 2.0 * rms.min(body.quantum),
    };
    Quantity::new(value, place + 0.2 * spread + curved)
}

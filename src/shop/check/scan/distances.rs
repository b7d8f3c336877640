//! Distances of a scan from the part, after the best rigid laying.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::cover::{Cover, rim_sag};
use super::points::{Scan, thinned};
use super::solve::{Held, Problem, Solved};
use super::target::{Role, Target};
use super::undo::{Shape, station};
use super::{DISTANCE_POINTS, Painted};
use crate::geometry::Pt3;
use crate::geometry::statistics::{SIGMA_PER_MAD, median};
use crate::measure::{Quantity, quantity};
use crate::weld::NONE;

/// The place of a distance.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Spot {
    /// Distance, mm, positive where metal stands out too far.
    pub off: Quantity,
    /// Face of the part.
    pub face: String,
    /// Place in the frame of the model, mm.
    pub at: [f64; 3],
    /// Distance along the centreline from end 0, mm; null for anything but members.
    pub station: Option<f64>,
}

/// Distances of one face. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FaceOff {
    /// Its name.
    pub face: String,
    /// Share of it that the scan shows, 0 to 1.
    pub shown: f64,
    /// Points of the scan on it.
    pub points: usize,
    /// Mean distance, positive where it stands out too far; null where it isn't shown.
    pub mean: Option<Quantity>,
    /// Root mean square distance.
    pub rms: Option<f64>,
    /// Distance farthest from 0.
    pub largest: Option<Quantity>,
}

/// All distances.
pub(super) struct Distances {
    pub noise: f64,
    pub rms: f64,
    pub most_out: Option<Spot>,
    pub most_in: Option<Spot>,
    pub elsewhere: f64,
    pub faces: Vec<FaceOff>,
}

/// A few neighbouring points of one face.
#[derive(Clone, Copy)]
struct Place {
    off: f64,
    count: f64,
    at: Pt3,
    face: usize,
}

/// Distances of the scan, laid by least squares of the distances themselves, and the picture of it.
pub(super) fn distances(
    plain: &Problem,
    solved: &Solved,
    scan: &Scan,
    cover: &Cover,
    tolerance: f64,
) -> Option<(Distances, Painted)> {
    let target = plain.target;
    let inner: Vec<usize> = solved
        .held
        .iter()
        .filter(|h| h.weight > 0.0)
        .map(|h| h.seen)
        .collect();
    // Wide enough that what a bend is off by is not taken for a few wild points.
    let widest = solved
        .held
        .iter()
        .filter(|h| h.weight > 0.0)
        .map(|h| h.probe.distance.abs())
        .fold(0.0, f64::max);
    let wide = Problem {
        target,
        ways: Vec::new(),
        locals: Vec::new(),
        out: plain.out,
        floor: plain.floor.max(0.05 * target.size).max(widest),
    };
    let rigid = wide.solve(
        wide.at(solved.state.pose),
        &scan.seen,
        &inner,
        0.08 * target.size,
        12,
    )?;
    let noise = noise(solved, scan, plain.floor);
    let which = thinned(&scan.seen, DISTANCE_POINTS);
    let near = vec![None; which.len()];
    let found = wide.hold(&rigid.state, &scan.seen, &which, &near, 0.08 * target.size);
    let slack = rim_sag(target) + 4.0 * noise + 2.0 * plain.floor;
    let foreign = foreign(solved, scan);
    let mut all: Vec<(usize, Held, f64)> = Vec::new();
    let mut lost = 0.0;
    let mut total = 0.0;
    for (k, found) in which.iter().zip(&found) {
        let s = &scan.seen[*k];
        total += s.area;
        if foreign.contains(&s.body) {
            lost += s.area;
            continue;
        }
        let Some((at, probe, residual)) = *found else {
            lost += s.area;
            continue;
        };
        let beyond = probe.overhang - slack;
        let value = if beyond > probe.distance.abs() {
            beyond
        } else {
            probe.distance
        };
        if s.corner && value.abs() > slack && misread(target, &at, value, slack) {
            continue;
        }
        let held = Held {
            seen: *k,
            at,
            probe,
            residual,
            weight: 1.0,
        };
        all.push((*k, held, value));
    }
    if all.is_empty() {
        return None;
    }
    let rms = (all.iter().map(|(_, _, v)| v * v).sum::<f64>() / all.len() as f64).sqrt();
    let mut places = places(target, &all, noise, tolerance, plain.floor);
    for (at, d, face) in &cover.missing {
        places.push(Place {
            off: -d,
            count: 1.0,
            at: *at,
            face: *face,
        });
    }
    let doubt = |p: &Place| {
        // The farthest of many places errs farther than one: 3 standard deviations; a median of a few
        // errs by a quarter more than a mean.
        let few = if p.count > 1.0 { 1.25 } else { 1.0 };
        (3.0 * few * noise / p.count.sqrt()).hypot(2.0 * plain.floor)
    };
    let off = |p: &Place| quantity(p.off, doubt(p));
    let spot = |p: &Place| Spot {
        off: off(p),
        face: target.faces[p.face].name.clone(),
        at: p.at.into(),
        station: (matches!(target.faces[p.face].role, Role::Side(_) | Role::Bore)
            && matches!(target.shape, Shape::Sweep(_)))
        .then(|| station(&target.shape, &p.at)),
    };
    let by = |a: &&Place, b: &&Place| a.off.total_cmp(&b.off);
    let faces = faces(target, cover, &all, &places, &off, noise);
    let result = Distances {
        noise,
        rms,
        most_out: places.iter().max_by(by).filter(|p| p.off > 0.0).map(spot),
        most_in: places.iter().min_by(by).filter(|p| p.off < 0.0).map(spot),
        elsewhere: lost / total.max(1e-12),
        faces,
    };
    Some((result, painted(scan, &rigid, &all)))
}

/// True when a corner of the scan lies on the part all the same: slivers about a corner look any way,
/// and are then held against the wrong face.
fn misread(target: &Target, at: &Pt3, value: f64, slack: f64) -> bool {
    target.probe_any(at, value.abs()).is_some_and(|any| {
        any.distance.abs() <= slack.max(0.1 * value.abs()) && any.overhang <= slack
    })
}

/// Bodies of the scan that are nothing of this part: most of their points fit nowhere.
fn foreign(solved: &Solved, scan: &Scan) -> Vec<u32> {
    let mut good = vec![0usize; scan.bodies.len()];
    let mut tried = vec![0usize; scan.bodies.len()];
    for h in &solved.held {
        let body = scan.seen[h.seen].body as usize;
        tried[body] += 1;
        good[body] += usize::from(h.weight > 0.0);
    }
    let largest = (0..good.len()).max_by_key(|k| good[*k]);
    (0..good.len())
        .filter(|k| Some(*k) != largest && 2 * good[*k] <= tried[*k])
        .map(|k| k as u32)
        .collect()
}

/// Standard deviation of a point by its neighbours on the same face, mm.
fn noise(solved: &Solved, scan: &Scan, floor: f64) -> f64 {
    let by_mesh = scan
        .bodies
        .iter()
        .filter_map(crate::surface::noise)
        .fold(0.0, f64::max);
    if by_mesh > 0.0 {
        return by_mesh.min(1.5 * solved.scale).max(floor / 2.0);
    }
    // Neighbours across an edge, both held and on one face.
    let mut at: BTreeMap<(u32, u32, usize), f64> = BTreeMap::new();
    for h in solved.held.iter().filter(|h| h.weight > 0.0) {
        let s = &scan.seen[h.seen];
        at.insert((s.body, s.vertex, h.probe.face), h.residual);
    }
    let mut steps = Vec::new();
    for (number, body) in scan.bodies.iter().enumerate() {
        for (f, corners) in body.facets.iter().enumerate() {
            for (k, g) in body.neighbours[f].iter().enumerate() {
                if *g != NONE && (*g as usize) < f {
                    continue;
                }
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let first = at.range((number as u32, a, 0)..(number as u32, a + 1, 0));
                for ((_, _, face), r) in first {
                    if let Some(other) = at.get(&(number as u32, b, *face)) {
                        steps.push((r - other).abs());
                    }
                }
            }
        }
    }
    let sigma = SIGMA_PER_MAD * median(&steps).unwrap_or(0.0) / std::f64::consts::SQRT_2;
    sigma.min(solved.scale).max(floor / 2.0)
}

/// A face and a cube of space.
type Cell = (usize, [i64; 3]);

/// Medians over so many neighbouring points that noise is small against the tolerance.
fn places(
    target: &Target,
    all: &[(usize, Held, f64)],
    noise: f64,
    tolerance: f64,
    floor: f64,
) -> Vec<Place> {
    // Of a scan no point is believed alone.
    let least = if noise > 5.0 * floor { 5.0 } else { 1.0 };
    let wanted = (10.0 * noise / tolerance).powi(2).clamp(least, 60.0);
    if wanted < 1.5 {
        return all
            .iter()
            .map(|(_, h, v)| Place {
                off: *v,
                count: 1.0,
                at: h.at,
                face: h.probe.face,
            })
            .collect();
    }
    let area: f64 = target.faces.iter().map(|f| f.area).sum();
    let cell = (1.5 * area * wanted / all.len() as f64)
        .sqrt()
        .min(0.05 * target.size)
        .max(1e-3);
    let mut cells: BTreeMap<Cell, Vec<(f64, Pt3)>> = BTreeMap::new();
    for (_, h, v) in all {
        let key = [0, 1, 2].map(|k| (h.at[k] / cell).floor() as i64);
        cells
            .entry((h.probe.face, key))
            .or_default()
            .push((*v, h.at));
    }
    // A cell at a rim holds few points; they would speak too loudly.
    let enough = (wanted / 2.0).max(3.0);
    cells
        .into_iter()
        .filter(|(_, own)| own.len() as f64 >= enough)
        .filter_map(|((face, _), own)| {
            let values: Vec<f64> = own.iter().map(|(v, _)| *v).collect();
            let count = own.len() as f64;
            let sum = own
                .iter()
                .fold(crate::geometry::Vec3::zeros(), |sum, (_, p)| sum + p.coords);
            Some(Place {
                off: median(&values)?,
                count,
                at: Pt3::from(sum / count),
                face,
            })
        })
        .collect()
}

fn faces(
    target: &Target,
    cover: &Cover,
    all: &[(usize, Held, f64)],
    places: &[Place],
    off: &dyn Fn(&Place) -> Quantity,
    noise: f64,
) -> Vec<FaceOff> {
    let mut list: Vec<FaceOff> = Vec::new();
    for face in &target.faces {
        // The walls of one hole are one face to the shop.
        if list.iter().any(|f| f.face == face.name) {
            continue;
        }
        let alike = |number: usize| {
            target
                .faces
                .get(number)
                .is_some_and(|f| f.name == face.name)
        };
        let own: Vec<f64> = all
            .iter()
            .filter(|(_, h, _)| alike(h.probe.face))
            .map(|(_, _, v)| *v)
            .collect();
        let n = own.len() as f64;
        let area: f64 = target
            .faces
            .iter()
            .filter(|f| f.name == face.name)
            .map(|f| f.area)
            .sum();
        // Sides share the facets of the first of them.
        let listed = matches!(face.role, Role::Side(_));
        if own.is_empty() && !listed && (area <= 0.0 || face.role == Role::Bore) {
            continue;
        }
        let shown: f64 = target
            .faces
            .iter()
            .zip(&cover.faces)
            .filter(|(f, _)| f.name == face.name)
            .map(|(f, share)| {
                if area > 0.0 {
                    share * f.area / area
                } else {
                    *share
                }
            })
            .sum();
        let mean = own.iter().sum::<f64>() / n;
        let squares = own.iter().map(|v| v * v).sum::<f64>() / n;
        let largest = places
            .iter()
            .filter(|p| alike(p.face))
            .max_by(|a, b| a.off.abs().total_cmp(&b.off.abs()));
        list.push(FaceOff {
            face: face.name.clone(),
            shown,
            points: own.len(),
            mean: (n > 0.0).then(|| quantity(mean, 2.0 * noise / n.sqrt())),
            rms: (n > 0.0).then(|| squares.sqrt()),
            largest: largest.map(off),
        });
    }
    // The four sides of a round tube and the like keep their order; nothing shown comes last.
    list.sort_by_key(|f| f.points == 0);
    list
}

fn painted(scan: &Scan, rigid: &Solved, all: &[(usize, Held, f64)]) -> Painted {
    let mut value: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    for (k, _, v) in all {
        let s = &scan.seen[*k];
        let own = value.entry((s.body, s.vertex)).or_insert(*v);
        if v.abs() > own.abs() {
            *own = *v;
        }
    }
    let mut painted = Painted {
        facets: Vec::new(),
        values: Vec::new(),
    };
    for (number, body) in scan.bodies.iter().enumerate() {
        for corners in &body.facets {
            let known: Vec<f64> = corners
                .iter()
                .filter_map(|v| value.get(&(number as u32, *v)).copied())
                .collect();
            let mean = known.iter().sum::<f64>() / known.len() as f64;
            painted
                .facets
                .push(corners.map(|v| rigid.state.pose.place(&body.vertices[v as usize])));
            painted.values.push((!known.is_empty()).then_some(mean));
        }
    }
    painted
}

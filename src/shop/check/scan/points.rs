//! A scan as points that each look one way.

use std::collections::BTreeMap;

use crate::body::Body;
use crate::geometry::{Pt3, Vec3};
use crate::weld::NONE;

/// A vertex of the scan and one of the directions the surface there looks along.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Place, mm, in the scan's own frame.
    pub at: Pt3,
    /// Unit normal out of the metal, as far as the scan knows.
    pub normal: Vec3,
    /// Its share of the surface, mm².
    pub area: f64,
    /// Number of the body it belongs to.
    pub body: u32,
    /// Number of its vertex in that body.
    pub vertex: u32,
    /// True when the surface there looks more than one way.
    pub corner: bool,
}

/// A scan.
pub(super) struct Scan<'a> {
    /// Its bodies.
    pub bodies: &'a [Body],
    /// Vertices with their normals.
    pub seen: Vec<Seen>,
    /// 95 % half-width of a coordinate's rounding, mm.
    pub quantum: f64,
    /// True when every body is closed, so that out is known.
    pub closed: bool,
}

/// Facets that lean more than this against one another are different faces, cosine.
const ONE_FACE: f64 = 0.8;

impl<'a> Scan<'a> {
    /// The points of `bodies`.
    pub(super) fn new(bodies: &'a [Body]) -> Scan<'a> {
        let mut seen = Vec::new();
        for (number, body) in bodies.iter().enumerate() {
            points_of(body, number as u32, &mut seen);
        }
        Scan {
            bodies,
            quantum: bodies.iter().map(|b| b.quantum).fold(0.0, f64::max),
            closed: bodies.iter().all(|b| b.closed),
            seen,
        }
    }

    /// Every so many-th point, about `most` of them, evenly over the surface: the largest first where
    /// facets are few and large, all alike on a fine scan.
    pub(super) fn thinned(&self, most: usize) -> Vec<usize> {
        thinned(&self.seen, most)
    }
}

fn points_of(body: &Body, number: u32, seen: &mut Vec<Seen>) {
    let sigma = crate::surface::noise(body).unwrap_or(0.0);
    let weighted: Vec<Vec3> = smooth(body, sigma);
    let sound = sound(body, sigma);
    let mut at_vertex: Vec<Vec<(Vec3, f64)>> = vec![Vec::new(); body.vertices.len()];
    for (f, corners) in body.facets.iter().enumerate() {
        let [a, b, c] = corners.map(|v| body.vertices[v as usize]);
        let area = 0.5 * (b - a).cross(&(c - a)).norm();
        let Some(n) = weighted[f].try_normalize(1e-15).filter(|_| sound[f]) else {
            continue;
        };
        for v in corners {
            let groups = &mut at_vertex[*v as usize];
            let own = groups
                .iter_mut()
                .find(|(sum, _)| sum.normalize().dot(&n) > ONE_FACE);
            match own {
                Some((sum, total)) => {
                    *sum += n * area;
                    *total += area / 3.0;
                }
                None => groups.push((n * area.max(1e-12), area / 3.0)),
            }
        }
    }
    for (v, groups) in at_vertex.iter().enumerate() {
        for (sum, area) in groups {
            seen.push(Seen {
                at: body.vertices[v],
                normal: sum.normalize(),
                area: *area,
                body: number,
                vertex: v as u32,
                corner: groups.len() > 1,
            });
        }
    }
}

/// Whether a facet's normal means anything: one hardly higher than the noise may look any way. Where
/// nearly all are so small, their smoothed normals have to do.
fn sound(body: &Body, sigma: f64) -> Vec<bool> {
    let heights: Vec<f64> = body
        .facets
        .iter()
        .map(|f| {
            let [a, b, c] = f.map(|v| body.vertices[v as usize]);
            let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
            (b - a).cross(&(c - a)).norm() / longest.max(1e-12)
        })
        .collect();
    let mut sorted = heights.clone();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let least = 5.0 * sigma;
    heights
        .into_iter()
        .map(|h| h >= least || median < least)
        .collect()
}

/// Normals of the facets times their area; of a scan whose facets are as small as its noise, means
/// over neighbours.
fn smooth(body: &Body, sigma: f64) -> Vec<Vec3> {
    let mut normals: Vec<Vec3> = body
        .facets
        .iter()
        .map(|f| {
            let [a, b, c] = f.map(|v| body.vertices[v as usize]);
            (b - a).cross(&(c - a))
        })
        .collect();
    let mut edges: Vec<f64> = normals.iter().map(|n| n.norm().sqrt()).collect();
    edges.sort_by(f64::total_cmp);
    let edge = edges.get(edges.len() / 2).copied().unwrap_or(1.0);
    // Each round about doubles the reach; normals should stay within some degrees.
    let rounds = ((sigma / edge.max(1e-9)) / 0.05).ceil().clamp(0.0, 8.0) as usize;
    for _ in 0..rounds {
        let old = normals.clone();
        for (f, sum) in normals.iter_mut().enumerate() {
            for g in body.neighbours[f] {
                if g != NONE {
                    let other = old[g as usize];
                    let cos = other.dot(&old[f]) / (other.norm() * old[f].norm()).max(1e-30);
                    if cos > 0.5 {
                        *sum += other;
                    }
                }
            }
        }
    }
    normals
}

/// Numbers of about `most` points, spread by space: one of each small cell and direction.
pub(super) fn thinned(seen: &[Seen], most: usize) -> Vec<usize> {
    if seen.len() <= most {
        return (0..seen.len()).collect();
    }
    let mut low = Vec3::repeat(f64::INFINITY);
    let mut total = 0.0;
    for s in seen {
        low = low.inf(&s.at.coords);
        total += s.area;
    }
    // So many square cells cover the surface.
    let mut cell = (total / most as f64).sqrt().max(1e-6);
    for _ in 0..12 {
        let mut taken: BTreeMap<[i64; 4], usize> = BTreeMap::new();
        for (k, s) in seen.iter().enumerate() {
            let d = (s.at.coords - low) / cell;
            let way = s.normal.iamax() as i64 * 2 + i64::from(s.normal[s.normal.iamax()] > 0.0);
            let key = [d.x as i64, d.y as i64, d.z as i64, way];
            taken.entry(key).or_insert(k);
        }
        if taken.len() <= most {
            let mut kept: Vec<usize> = taken.into_values().collect();
            kept.sort_unstable();
            return kept;
        }
        cell *= 1.25;
    }
    let step = seen.len().div_ceil(most);
    (0..seen.len()).step_by(step).collect()
}

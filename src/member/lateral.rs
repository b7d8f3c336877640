//! Which facets lie on the swept surface, and on which contour of the section.

use super::track::{Facets, Track};
use crate::body::Body;
use crate::geometry::Pt3;
use crate::geometry::strips::fill;
use crate::weld::NONE;

/// A vertex of the swept surface.
#[derive(Clone, Copy, Debug)]
pub struct Observation {
    /// Vertex number in the body.
    pub vertex: u32,
    /// Place, mm.
    pub point: Pt3,
    /// Contour of the section it belongs to.
    pub contour: usize,
    /// Rough distance along the track, mm.
    pub near: f64,
    /// True when every facet around it is of the swept surface.
    pub interior: bool,
    /// True when the facets around it face two ways: it stands on a sharp corner of the section.
    pub sharp: bool,
}

/// Facets of a body that may be lateral.
pub struct Lateral {
    /// Contour number of each facet, or [`NONE`].
    pub contour: Vec<u32>,
    /// Vertices of those facets.
    pub observations: Vec<Observation>,
}

/// Stations in a ball.
const IN_BALL: usize = 8;

/// The stations of a track, to find the nearest to many places, one beside the other.
#[derive(Clone)]
pub struct Stations<'a> {
    track: &'a Track,
    centres: Vec<Pt3>,
    /// Middle and radius of a ball round every so many stations in turn.
    balls: Vec<(Pt3, f64)>,
    /// The station found last.
    last: usize,
}

impl<'a> Stations<'a> {
    /// The stations of `track`.
    pub fn new(track: &'a Track) -> Self {
        let centres: Vec<Pt3> = track.stations.iter().map(|s| s.centre).collect();
        let balls = centres.chunks(IN_BALL).map(|own| {
            let middle = own[own.len() / 2];
            let radius = own.iter().map(|c| (c - middle).norm());
            (middle, radius.fold(0.0, f64::max))
        });
        Stations {
            balls: balls.collect(),
            track,
            centres,
            last: 0,
        }
    }

    /// Index of the station nearest to `p`, the first of equals.
    pub fn nearest(&mut self, p: &Pt3) -> usize {
        let squared = |i: usize| (p - self.centres[i]).norm_squared();
        let mut best = (squared(self.last), self.last);
        for (b, (middle, radius)) in self.balls.iter().enumerate() {
            // no station in the ball is nearer than its edge, but for rounding
            let edge = ((p - middle).norm() - radius).max(0.0) * (1.0 - 1e-9);
            if edge * edge > best.0 {
                continue;
            }
            for i in b * IN_BALL..((b + 1) * IN_BALL).min(self.centres.len()) {
                let d = squared(i);
                if d < best.0 || d == best.0 && i < best.1 {
                    best = (d, i);
                }
            }
        }
        self.last = best.1;
        best.1
    }

    /// Rough distance of `p` along the track, mm.
    pub fn distance(&mut self, p: &Pt3) -> f64 {
        let s = &self.track.stations[self.nearest(p)];
        s.walked + (p - s.centre).dot(&s.tangent)
    }
}

/// Grows the lateral surface from the facets the stations cut, over facets that run with the sweep.
pub fn lateral(body: &Body, facets: &Facets, track: &Track) -> Lateral {
    const STEEPEST: f64 = 0.5;
    // cosine of 50 degrees: above the 45 degree steps of the coarsest rounded corners
    const SHARP: f64 = 0.643;
    let count = body.facets.len();
    let stations = Stations::new(track);
    let mut runs_with_sweep = vec![false; count];
    let along = |stations: &mut Stations, f: usize| {
        let [a, b, c] = body.facets[f].map(|v| body.vertices[v as usize]);
        let g = Pt3::from((a.coords + b.coords + c.coords) / 3.0);
        let s = &track.stations[stations.nearest(&g)];
        facets.normal[f].dot(&s.tangent).abs() < STEEPEST
    };
    fill(&mut runs_with_sweep, || stations.clone(), along);
    let mut contour = vec![NONE; count];
    let mut stack: Vec<u32> = Vec::new();
    for s in &track.stations {
        for (k, chain) in s.contours.iter().enumerate() {
            for c in &chain.chords {
                let f = c.facet as usize;
                if contour[f] == NONE && runs_with_sweep[f] {
                    contour[f] = k as u32;
                    stack.push(c.facet);
                }
            }
        }
    }
    while let Some(f) = stack.pop() {
        for &g in &body.neighbours[f as usize] {
            // sharp edges are not crossed: every side of the section is cut by stations anyway, and
            // beyond a sharp edge may lie the wall of a hole
            if g != NONE
                && contour[g as usize] == NONE
                && runs_with_sweep[g as usize]
                && facets.normal[f as usize].dot(&facets.normal[g as usize]) > SHARP
            {
                contour[g as usize] = contour[f as usize];
                stack.push(g);
            }
        }
    }
    let mut label = vec![NONE; body.vertices.len()];
    let mut interior = vec![true; body.vertices.len()];
    let mut sharp = vec![false; body.vertices.len()];
    let mut faces: Vec<Option<crate::geometry::Vec3>> = vec![None; body.vertices.len()];
    for f in 0..count {
        for k in 0..3 {
            let v = body.facets[f][k] as usize;
            if contour[f] == NONE {
                interior[v] = false;
            } else {
                if label[v] != NONE && label[v] != contour[f] {
                    interior[v] = false;
                }
                label[v] = contour[f];
                // slivers have no direction worth the name
                if facets.area[f] > 0.0 {
                    match faces[v] {
                        None => faces[v] = Some(facets.normal[f]),
                        Some(n) => sharp[v] |= n.dot(&facets.normal[f]) < SHARP,
                    }
                }
                if body.neighbours[f][k] == NONE || body.neighbours[f][(k + 2) % 3] == NONE {
                    interior[v] = false;
                }
            }
        }
    }
    let telling = telling(body, facets);
    let wanted = |v: &usize| label[*v] != NONE && telling[*v];
    // a plain box has only its corners, but a few vertices are better than none
    let enough = (0..body.vertices.len()).filter(wanted).count() >= 8;
    let mut near = vec![0.0; body.vertices.len()];
    let distance = |stations: &mut Stations, v: usize| match label[v] {
        NONE => 0.0,
        _ => stations.distance(&body.vertices[v]),
    };
    fill(&mut near, || stations.clone(), distance);
    let observations = (0..body.vertices.len())
        .filter(|&v| label[v] != NONE && (!enough || telling[v]))
        .map(|v| Observation {
            vertex: v as u32,
            point: body.vertices[v],
            contour: label[v] as usize,
            near: near[v],
            interior: interior[v],
            sharp: sharp[v],
        })
        .collect();
    Lateral {
        contour,
        observations,
    }
}

/// For each vertex, whether it says more than the facets around it: one in the middle of a flat, or
/// on the straight line where two flats meet, was put there by whoever cut the flats into smaller
/// facets, and stands inside the true surface of a bend as the flats do.
fn telling(body: &Body, facets: &Facets) -> Vec<bool> {
    // cosine of 0.02 degrees: below any facet step, above the scatter of an exact file's normals
    const ALIKE: f64 = 1.0 - 6e-8;
    let mut seen: Vec<[Option<u32>; 3]> = vec![[None; 3]; body.vertices.len()];
    let mut open = vec![false; body.vertices.len()];
    for f in 0..body.facets.len() {
        for k in 0..3 {
            let v = body.facets[f][k] as usize;
            if body.neighbours[f][k] == NONE || body.neighbours[f][(k + 2) % 3] == NONE {
                open[v] = true;
            }
            let slots = &mut seen[v];
            for slot in slots.iter_mut() {
                match slot {
                    Some(g) if facets.normal[*g as usize].dot(&facets.normal[f]) > ALIKE => break,
                    Some(_) => {}
                    None => {
                        *slot = Some(f as u32);
                        break;
                    }
                }
            }
        }
    }
    (0..body.vertices.len())
        .map(|v| open[v] || seen[v][2].is_some())
        .collect()
}

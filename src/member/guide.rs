//! A line of vertices that runs along the swept surface from end to end.
//!
//! Such a line keeps its place in the section, so its vertices lie on a curve parallel to the
//! centreline, exactly: the one thing in a coarse export that shows where bends begin and end.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::lateral::{Lateral, Stations};
use super::track::{Facets, Station, Track};
use crate::body::Body;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};
use crate::weld::NONE;

/// Most lines followed.
const LINES: usize = 16;
/// How far a line may stray in the section, in section sizes, before it has left its place.
const STRAY: f64 = 0.15;
/// More vertices than this are a finely meshed bend, whose tangents tell enough.
const MOST_VERTICES: usize = 400;

/// A line of vertices in order of travel.
#[derive(Clone, Debug)]
pub struct Guide {
    /// Places, mm.
    pub points: Vec<Pt3>,
    /// Rough distance of the first along the track, mm.
    pub begins: f64,
}

/// Section axes of every station, carried along without twist.
fn axes(track: &Track) -> Vec<(Vec3, Vec3)> {
    let (mut w, mut h) = perpendicular_pair(&track.stations[0].tangent);
    let mut out = vec![(w, h)];
    for pair in track.stations.windows(2) {
        let (a, b) = (&pair[0].tangent, &pair[1].tangent);
        let axis = a.cross(b);
        let sine = axis.norm();
        let turn = if sine < 1e-12 {
            nalgebra::Rotation3::identity()
        } else {
            nalgebra::Rotation3::new(axis * (sine.atan2(a.dot(b)) / sine))
        };
        (w, h) = (turn * w, turn * h);
        out.push((w, h));
    }
    out
}

/// A lateral vertex with its rough place: along the track and in the section.
#[derive(Clone, Copy)]
struct Place {
    along: f64,
    x: f64,
    y: f64,
}

struct Surface<'a> {
    body: &'a Body,
    facets: &'a Facets,
    lateral: &'a Lateral,
    track: &'a Track,
    /// The outside's facets round each vertex: those of vertex v from `first[v]` to `first[v + 1]`.
    round: Vec<u32>,
    first: Vec<u32>,
    axes: Vec<(Vec3, Vec3)>,
    stations: RefCell<Stations<'a>>,
    /// Vertices whose place was asked for.
    places: RefCell<BTreeMap<u32, (Place, Vec3)>>,
}

impl<'a> Surface<'a> {
    fn new(body: &'a Body, facets: &'a Facets, lateral: &'a Lateral, track: &'a Track) -> Self {
        let outside = || (0..body.facets.len()).filter(|&f| lateral.contour[f] == 0);
        let mut first = vec![0u32; body.vertices.len() + 1];
        for v in outside().flat_map(|f| body.facets[f]) {
            first[v as usize + 1] += 1;
        }
        for v in 1..first.len() {
            first[v] += first[v - 1];
        }
        let mut next = first.clone();
        let mut round = vec![0; first[first.len() - 1] as usize];
        for f in outside() {
            for v in body.facets[f] {
                round[next[v as usize] as usize] = f as u32;
                next[v as usize] += 1;
            }
        }
        Surface {
            body,
            facets,
            lateral,
            track,
            round,
            first,
            axes: axes(track),
            stations: RefCell::new(Stations::new(track)),
            places: RefCell::default(),
        }
    }

    /// Neighbours of a vertex, each once, with the angle between the facets on both sides of the edge.
    fn neighbours(&self, v: u32) -> Vec<(u32, f64)> {
        let own = self.first[v as usize] as usize..self.first[v as usize + 1] as usize;
        let mut near = Vec::with_capacity(2 * own.len());
        for &f in &self.round[own] {
            let corners = self.body.facets[f as usize];
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                if a != v && b != v {
                    continue;
                }
                let g = self.body.neighbours[f as usize][k];
                let crease = if g == NONE || self.lateral.contour[g as usize] != 0 {
                    0.0
                } else {
                    self.facets.normal[f as usize].angle(&self.facets.normal[g as usize])
                };
                near.push((if a == v { b } else { a }, crease));
            }
        }
        near.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        near.dedup_by_key(|x| x.0);
        near
    }

    /// Place of a vertex and the direction of travel there; `None` off the outside.
    fn place(&self, v: u32) -> Option<(Place, Vec3)> {
        if self.first[v as usize] == self.first[v as usize + 1] {
            return None;
        }
        if let Some(known) = self.places.borrow().get(&v) {
            return Some(*known);
        }
        let stations = &self.track.stations;
        let p = &self.body.vertices[v as usize];
        let along = self.stations.borrow_mut().distance(p);
        let i = stations
            .partition_point(|s| s.walked < along)
            .min(stations.len() - 1);
        // of the two stations about it, the one whose plane is nearer
        let off = |i: usize| (p - stations[i].centre).dot(&stations[i].tangent).abs();
        let i = if i > 0 && off(i - 1) < off(i) {
            i - 1
        } else {
            i
        };
        let e = p - stations[i].centre;
        let (w, h) = &self.axes[i];
        let place = Place {
            along,
            x: e.dot(w),
            y: e.dot(h),
        };
        let found = (place, stations[i].tangent);
        self.places.borrow_mut().insert(v, found);
        Some(found)
    }

    /// The next vertex of the line at `home` in the section, forward (+1) or back (−1). Lines run on
    /// edges where facets meet at an angle; the diagonals of a flat face do not.
    fn next(&self, v: u32, home: &Place, crease: f64, sense: f64, reach: f64) -> Option<u32> {
        let (from, tangent) = self.place(v)?;
        self.neighbours(v)
            .into_iter()
            .filter(|x| x.1 >= 0.4 * crease)
            .filter_map(|(u, _)| {
                let (to, _) = self.place(u)?;
                let step = self.body.vertices[u as usize] - self.body.vertices[v as usize];
                let ahead = sense * step.dot(&tangent);
                let stray = (to.x - home.x).hypot(to.y - home.y);
                (sense * (to.along - from.along) > 0.0
                    && ahead > 0.5 * step.norm()
                    && stray < STRAY * reach)
                    .then_some((stray, u))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
            .map(|x| x.1)
    }

    fn follow(&self, v: u32, crease: f64, reach: f64) -> Option<Vec<u32>> {
        let (home, _) = self.place(v)?;
        let mut line = vec![v];
        for sense in [-1.0, 1.0] {
            while let Some(u) = self.next(line[line.len() - 1], &home, crease, sense, reach) {
                line.push(u);
                if line.len() > MOST_VERTICES {
                    return None;
                }
            }
            if sense < 0.0 {
                line.reverse();
            }
        }
        Some(line)
    }
}

/// Lines along the outside of the swept surface that reach from end to end, sharp corners first.
pub fn guides(
    body: &Body,
    facets: &Facets,
    track: &Track,
    lateral: &Lateral,
    clean: &Station,
) -> Vec<Guide> {
    let surface = Surface::new(body, facets, lateral, track);
    let (first, last) = lateral
        .observations
        .iter()
        .filter(|o| o.contour == 0)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), o| {
            (a.min(o.near), b.max(o.near))
        });
    // corners of the section where the outline turns most
    let chords = &clean.contours[0].chords;
    let n = chords.len();
    let mut corners: Vec<(f64, u32)> = (0..n)
        .flat_map(|k| {
            let (f, g) = (chords[k].facet as usize, chords[(k + 1) % n].facet as usize);
            let turn = facets.normal[f].angle(&facets.normal[g]);
            let shared = body.facets[f]
                .iter()
                .copied()
                .filter(|v| body.facets[g].contains(v))
                .collect::<Vec<u32>>();
            shared.into_iter().map(move |v| (turn, v))
        })
        .collect();
    corners.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut starts: Vec<(f64, u32)> = Vec::new();
    for (turn, v) in corners {
        if starts.len() < LINES && starts.iter().all(|s| s.1 != v) {
            starts.push((turn, v));
        }
    }
    let margin = 0.02 * (last - first) + 2.0 * track.reach;
    starts
        .into_iter()
        .filter_map(|(turn, v)| surface.follow(v, turn, track.reach))
        .filter_map(|line| {
            let along = |v: u32| surface.place(v).map(|p| p.0.along);
            let (begins, ends) = (along(line[0])?, along(line[line.len() - 1])?);
            (begins < first + margin && ends > last - margin).then(|| Guide {
                points: line.iter().map(|&v| body.vertices[v as usize]).collect(),
                begins,
            })
        })
        .collect()
}

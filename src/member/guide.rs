//! A line of vertices that runs along the swept surface from end to end.
//!
//! Such a line keeps its place in the section, so its vertices lie on a curve parallel to the
//! centreline, exactly: the one thing in a coarse export that shows where bends begin and end.

use super::lateral::{Lateral, rough_distance};
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
    /// For each vertex its neighbours and the angle between the facets on both sides of the edge.
    neighbours: Vec<Vec<(u32, f64)>>,
    places: Vec<Option<Place>>,
    tangents: Vec<Vec3>,
}

impl<'a> Surface<'a> {
    fn new(body: &'a Body, facets: &Facets, lateral: &Lateral, track: &Track) -> Self {
        let n = body.vertices.len();
        let mut neighbours: Vec<Vec<(u32, f64)>> = vec![Vec::new(); n];
        for (f, corners) in body.facets.iter().enumerate() {
            if lateral.contour[f] != 0 {
                continue;
            }
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let g = body.neighbours[f][k];
                let crease = if g == NONE || lateral.contour[g as usize] != 0 {
                    0.0
                } else {
                    facets.normal[f].angle(&facets.normal[g as usize])
                };
                neighbours[a as usize].push((b, crease));
                neighbours[b as usize].push((a, crease));
            }
        }
        let axes = axes(track);
        let mut places = vec![None; n];
        let mut tangents = vec![Vec3::zeros(); n];
        for (v, near) in neighbours.iter_mut().enumerate() {
            near.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
            near.dedup_by_key(|x| x.0);
            if near.is_empty() {
                continue;
            }
            let p = &body.vertices[v];
            let along = rough_distance(track, p);
            let i = track
                .stations
                .partition_point(|s| s.walked < along)
                .min(track.stations.len() - 1);
            // of the two stations about it, the one whose plane is nearer
            let off = |i: usize| {
                let s = &track.stations[i];
                (p - s.centre).dot(&s.tangent).abs()
            };
            let i = if i > 0 && off(i - 1) < off(i) {
                i - 1
            } else {
                i
            };
            let e = p - track.stations[i].centre;
            places[v] = Some(Place {
                along,
                x: e.dot(&axes[i].0),
                y: e.dot(&axes[i].1),
            });
            tangents[v] = track.stations[i].tangent;
        }
        Surface {
            body,
            neighbours,
            places,
            tangents,
        }
    }

    /// The next vertex of the line at `home` in the section, forward (+1) or back (−1). Lines run on
    /// edges where facets meet at an angle; the diagonals of a flat face do not.
    fn next(&self, v: u32, home: &Place, crease: f64, sense: f64, reach: f64) -> Option<u32> {
        let from = self.places[v as usize]?;
        self.neighbours[v as usize]
            .iter()
            .filter(|x| x.1 >= 0.4 * crease)
            .filter_map(|&(u, _)| {
                let to = self.places[u as usize]?;
                let step = self.body.vertices[u as usize] - self.body.vertices[v as usize];
                let ahead = sense * step.dot(&self.tangents[v as usize]);
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
        let home = self.places[v as usize]?;
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
            let along = |v: u32| surface.places[v as usize].map(|p| p.along);
            let (begins, ends) = (along(line[0])?, along(line[line.len() - 1])?);
            (begins < first + margin && ends > last - margin).then(|| Guide {
                points: line.iter().map(|&v| body.vertices[v as usize]).collect(),
                begins,
            })
        })
        .collect()
}

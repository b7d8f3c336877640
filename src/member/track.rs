//! Walks a section plane along a swept body and records where its centre goes.
//!
//! The walk finds structure, not numbers: section centres taken between the rings of a faceted bend
//! sit inside the true curve by the facet's sag. Numbers come from `fit`.

use crate::body::Body;
use crate::geometry::runs::Runs;
use crate::geometry::slice::{Chain, slice};
use crate::geometry::strips::fill_both;
use crate::geometry::{Pt3, Vec3, perpendicular_pair};

/// Greatest share of a section's outline that may run against the sweep, as a mean-square cosine,
/// before the plane is taken to have reached an end.
const WORST_TILT_SQUARE: f64 = 0.04;

/// One section plane.
#[derive(Clone, Debug)]
pub struct Station {
    /// Area centroid of the metal, mm.
    pub centre: Pt3,
    /// Unit direction of travel: the direction least crossed by the normals of the facets cut.
    pub tangent: Vec3,
    /// Distance walked from the first station, mm.
    pub walked: f64,
    /// Outer contour first, then the inner ones.
    pub contours: Vec<Chain>,
    /// Length of all contours, mm.
    pub perimeter: f64,
    /// Metal area, mm².
    pub area: f64,
    /// Mean-square cosine between facet normals and `tangent`.
    pub tilt_square: f64,
}

/// The stations along one member, in order.
#[derive(Clone, Debug)]
pub struct Track {
    /// Stations in order of travel.
    pub stations: Vec<Station>,
    /// True when the walk came back to where it began.
    pub closed: bool,
    /// Radius of the smallest circle about the centre that holds a section, mm.
    pub reach: f64,
}

impl Track {
    /// Share of the body's area that the sections walked would sweep: near one for the section of a
    /// member, little for a slice askew through a corner, which soon ends.
    pub fn swept(&self, facets: &Facets) -> f64 {
        let total: f64 = facets.area.iter().sum();
        let (Some(first), Some(last)) = (self.stations.first(), self.stations.last()) else {
            return 0.0;
        };
        (last.walked * first.perimeter + 2.0 * first.area) / total.max(f64::MIN_POSITIVE)
    }

    /// Where it went, without the sections themselves.
    pub fn trail(&self) -> Track {
        let bare = |s: &Station| Station {
            contours: Vec::new(),
            ..*s
        };
        Track {
            stations: self.stations.iter().map(bare).collect(),
            ..*self
        }
    }

    /// True when the walk came through this section: starting there would walk the same way again.
    pub fn passed(&self, seed: &Station) -> bool {
        self.stations.windows(2).any(|pair| {
            let run = pair[1].centre - pair[0].centre;
            let u = run.dot(&(seed.centre - pair[0].centre)) / run.norm_squared().max(1e-300);
            let off = seed.centre - (pair[0].centre + run * u);
            (0.0..=1.0).contains(&u)
                && off.norm() < 0.1 * self.reach
                && pair[0].tangent.dot(&seed.tangent).abs() > 0.95
                && (seed.area - pair[0].area).abs() < 0.05 * pair[0].area
        })
    }
}

/// Facet normals and areas, computed once for a body.
pub struct Facets {
    /// Unit normal, zero for a degenerate facet.
    pub normal: Vec<Vec3>,
    /// Area, mm².
    pub area: Vec<f64>,
    /// Where they lie.
    pub runs: Runs,
}

/// Normals and areas of all facets of `body`.
pub fn facets(body: &Body) -> Facets {
    let mut normal = vec![Vec3::zeros(); body.facets.len()];
    let mut area = vec![0.0; body.facets.len()];
    let shape = |_: &mut (), f: usize| {
        let [a, b, c] = body.facets[f].map(|v| body.vertices[v as usize]);
        let n = (b - a).cross(&(c - a));
        let twice = n.norm();
        let normal = if twice > 0.0 {
            n / twice
        } else {
            Vec3::zeros()
        };
        (normal, 0.5 * twice)
    };
    fill_both(&mut normal, &mut area, || (), shape);
    Facets {
        normal,
        area,
        runs: Runs::new(&body.vertices, &body.facets),
    }
}

/// Direction least crossed by the normals of the chords, weighted by chord length, and the
/// mean-square cosine left. Ties go towards `near`.
fn sweep_direction(contours: &[Chain], facets: &Facets, near: &Vec3) -> Option<(Vec3, f64)> {
    let mut m = nalgebra::Matrix3::<f64>::zeros();
    let mut total = 0.0;
    for chord in contours.iter().flat_map(|c| &c.chords) {
        let l = (chord.to - chord.from).norm();
        let n = &facets.normal[chord.facet as usize];
        m += l * n * n.transpose();
        total += l;
    }
    if !(total > 0.0) {
        return None;
    }
    m /= total;
    // a faint pull towards the old direction decides flat sections, whose normals leave a plane free
    m += 1e-9 * (nalgebra::Matrix3::identity() - near * near.transpose());
    let eigen = nalgebra::SymmetricEigen::new(m);
    let k = eigen.eigenvalues.imin();
    let mut t: Vec3 = eigen.eigenvectors.column(k).into();
    if t.dot(near) < 0.0 {
        t = -t;
    }
    Some((t, eigen.eigenvalues[k].max(0.0)))
}

/// Net area and centroid of contours about plane normal `n`.
fn area_and_centroid(contours: &[Chain], n: &Vec3) -> (f64, Pt3) {
    let o = contours[0].chords[0].from;
    let mut area = 0.0;
    let mut moment = Vec3::zeros();
    for c in contours.iter().flat_map(|c| &c.chords) {
        let (a, b) = (c.from - o, c.to - o);
        let twice = a.cross(&b).dot(n);
        area += 0.5 * twice;
        moment += twice * (a + b) / 6.0;
    }
    if area.abs() < 1e-30 {
        return (0.0, o);
    }
    (area, o + moment / area)
}

/// Distance from `p` to the nearest chord of a chain, mm.
fn distance_to_chain(chain: &Chain, p: &Pt3) -> f64 {
    chain
        .chords
        .iter()
        .map(|c| {
            let d = c.to - c.from;
            let l = d.norm_squared();
            let u = if l > 0.0 {
                ((p - c.from).dot(&d) / l).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (p - (c.from + d * u)).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

/// True when `p` lies inside the closed chain (even-odd rule in the plane with normal `n`).
fn encloses(chain: &Chain, p: &Pt3, n: &Vec3) -> bool {
    let (u, v) = perpendicular_pair(n);
    let mut inside = false;
    for c in &chain.chords {
        let (a, b) = (c.from - p, c.to - p);
        let (ay, by) = (a.dot(&v), b.dot(&v));
        if (ay > 0.0) != (by > 0.0) {
            let (ax, bx) = (a.dot(&u), b.dot(&u));
            if ax + (bx - ax) * ay / (ay - by) > 0.0 {
                inside = !inside;
            }
        }
    }
    inside
}

/// The contours of one section: among all chains in the plane, the outer one picked by `choose`
/// and the chains inside it.
fn contours_of(
    body: &Body,
    facets: &Facets,
    point: &Pt3,
    normal: &Vec3,
    choose: &dyn Fn(&[Chain]) -> Option<usize>,
) -> Option<Vec<Chain>> {
    let mut chains = slice(
        &body.vertices,
        &body.facets,
        &body.neighbours,
        facets.runs.near_plane(point, normal),
        point,
        normal,
    );
    chains.retain(|c| c.chords.len() >= 3);
    let pick = choose(&chains)?;
    let mut outer = chains.swap_remove(pick);
    if outer.area_vector().dot(normal) < 0.0 {
        // an inner contour was hit first: its outer one is the smallest chain around it
        let probe = outer.chords[0].from;
        let around = (0..chains.len())
            .filter(|&i| {
                chains[i].area_vector().dot(normal) > 0.0 && encloses(&chains[i], &probe, normal)
            })
            .min_by(|&i, &j| chains[i].length().total_cmp(&chains[j].length()))?;
        let inner = outer;
        outer = chains.swap_remove(around);
        chains.push(inner);
    }
    let mut contours = vec![outer];
    for c in chains {
        if c.area_vector().dot(normal) < 0.0 && encloses(&contours[0], &c.chords[0].from, normal) {
            contours.push(c);
        }
    }
    Some(contours)
}

/// A section near `point` with its plane turned square to the sweep.
fn section_at(
    body: &Body,
    facets: &Facets,
    point: &Pt3,
    direction: &Vec3,
    rounds: usize,
    choose: &dyn Fn(&[Chain], &Pt3) -> Option<usize>,
) -> Option<Station> {
    let mut t = *direction;
    let mut p = *point;
    for round in 0..=rounds {
        let contours = contours_of(body, facets, &p, &t, &|chains| choose(chains, &p))?;
        let (area, centre) = area_and_centroid(&contours, &t);
        let (new_t, tilt_square) = sweep_direction(&contours, facets, &t)?;
        let settled = new_t.dot(&t) > 1.0 - 1e-10;
        if round == rounds || settled {
            let perimeter = contours.iter().map(Chain::length).sum();
            return Some(Station {
                centre,
                tangent: new_t,
                walked: 0.0,
                contours,
                perimeter,
                area,
                tilt_square,
            });
        }
        if area <= 0.0 {
            return None;
        }
        t = new_t;
        p = centre;
    }
    None
}

fn choose_nearest(chains: &[Chain], centre: &Pt3, reach: f64) -> Option<usize> {
    let mut best: Option<(usize, f64)> = None;
    for (i, c) in chains.iter().enumerate() {
        let mean = c
            .chords
            .iter()
            .fold(Vec3::zeros(), |s, k| s + (k.from - centre))
            / c.chords.len() as f64;
        let d = mean.norm().min(distance_to_chain(c, centre));
        if d < 1.5 * reach && best.is_none_or(|(_, b)| d < b) {
            best = Some((i, d));
        }
    }
    best.map(|(i, _)| i)
}

/// Where and how to cut for a first section: a place and the direction to look along.
type Cut = (Pt3, Vec3);

/// The facets of some ranks, the largest having rank 0.
fn by_area(facets: &Facets, mut ranks: Vec<usize>) -> Vec<u32> {
    ranks.sort_unstable();
    let mut order: Vec<u32> = (0..facets.area.len() as u32).collect();
    let mut sorted = 0;
    for &rank in &ranks {
        if rank < sorted {
            continue;
        }
        order[sorted..].select_nth_unstable_by(rank - sorted, |&a, &b| {
            facets.area[b as usize]
                .total_cmp(&facets.area[a as usize])
                .then(a.cmp(&b))
        });
        sorted = rank + 1;
    }
    ranks.into_iter().map(|rank| order[rank]).collect()
}

/// Cuts through the largest facets and some spread over the rest.
fn cuts_through_facets(body: &Body, facets: &Facets) -> Vec<Cut> {
    let n = facets.area.len();
    let ranks = (0..n.min(4)).chain((1..=8).map(|k| (n - 1) * k / 12));
    cuts_through(body, facets, ranks.collect())
}

/// Cuts through the facets of some ranks, a few directions in each.
fn cuts_through(body: &Body, facets: &Facets, ranks: Vec<usize>) -> Vec<Cut> {
    let mut picks = by_area(facets, ranks);
    picks.sort_unstable();
    picks.dedup();
    let mut out = Vec::new();
    for f in picks {
        let normal = facets.normal[f as usize];
        if normal == Vec3::zeros() {
            continue;
        }
        let [a, b, c] = body.facets[f as usize].map(|v| body.vertices[v as usize]);
        let point = Pt3::from((a.coords + b.coords + c.coords) / 3.0);
        let longest = [b - a, c - b, a - c]
            .into_iter()
            .max_by(|x, y| x.norm().total_cmp(&y.norm()));
        let Some(along) = longest.and_then(|l| l.try_normalize(0.0)) else {
            continue;
        };
        let across = normal.cross(&along);
        for k in 0..4 {
            let angle = std::f64::consts::FRAC_PI_4 * k as f64;
            out.push((point, along * angle.cos() + across * angle.sin()));
        }
    }
    out
}

/// Most directions of long edges that are tried.
const MOST_EDGES: usize = 6;
/// Where along an edge it is cut, as shares of its length: away from holes, which sit in the middle.
const ALONG_EDGE: [f64; 2] = [0.13, 0.87];

/// Cuts square to the longest corner edges of different directions: a short straight piece has its
/// corners along the sweep, whatever its faces were divided into.
fn cuts_across_edges(body: &Body, facets: &Facets) -> Vec<Cut> {
    // cosine of 50 degrees, as for the sharp corners of a section
    const SHARP: f64 = 0.643;
    let mut edges: Vec<(f64, Pt3, Vec3)> = Vec::new();
    for (f, corner) in body.facets.iter().enumerate() {
        for k in 0..3 {
            let g = body.neighbours[f][k];
            if g == crate::weld::NONE
                || (g as usize) < f
                || facets.normal[f].dot(&facets.normal[g as usize]) > SHARP
            {
                continue;
            }
            let a = body.vertices[corner[k] as usize];
            let d = body.vertices[corner[(k + 1) % 3] as usize] - a;
            edges.push((d.norm(), a, d));
        }
    }
    edges.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut directions: Vec<Vec3> = Vec::new();
    let mut out = Vec::new();
    for (length, from, run) in edges {
        let Some(d) = run.try_normalize(0.0).filter(|_| length > 0.0) else {
            break;
        };
        // one degree apart is a direction of its own
        if directions.iter().any(|x| x.dot(&d).abs() > 0.99985) {
            continue;
        }
        directions.push(d);
        out.extend(ALONG_EDGE.map(|u| (from + run * u, d)));
        if directions.len() == MOST_EDGES {
            break;
        }
    }
    out
}

/// The section a cut leads to, if it could start a walk.
fn section_from(body: &Body, facets: &Facets, (point, direction): Cut) -> Option<Station> {
    let through_seed = |chains: &[Chain], p: &Pt3| {
        (0..chains.len()).min_by(|&i, &j| {
            distance_to_chain(&chains[i], p).total_cmp(&distance_to_chain(&chains[j], p))
        })
    };
    section_at(body, facets, &point, &direction, 8, &through_seed)
        .filter(|s| s.tilt_square < WORST_TILT_SQUARE && s.area > 0.0)
}

/// A section that already cuts an end face runs against the sweep.
fn unsound(s: &Station) -> bool {
    s.tilt_square > 0.006
}

/// A sound section around one cavity, found by a few cuts: only a tube has one, and only along its
/// run, wherever it is cut.
pub fn hollow_seed(body: &Body, facets: &Facets) -> Option<Station> {
    cuts_through(body, facets, vec![0, facets.area.len() / 2])
        .into_iter()
        .filter_map(|cut| section_from(body, facets, cut))
        .find(|s| s.contours.len() == 2 && !unsound(s))
}

/// Sections that could start a walk, the most compact first.
pub fn seeds(body: &Body, facets: &Facets) -> Vec<Station> {
    let mut found: Vec<Station> = cuts_through_facets(body, facets)
        .into_iter()
        .chain(cuts_across_edges(body, facets))
        .filter_map(|cut| section_from(body, facets, cut))
        .collect();
    // sound ones first, compact ones first
    found.sort_by(|a, b| {
        unsound(a)
            .cmp(&unsound(b))
            .then(a.perimeter.total_cmp(&b.perimeter))
            .then(a.tilt_square.total_cmp(&b.tilt_square))
    });
    // sections of one sweep are alike: keep the cleanest of each length
    let mut kept: Vec<Station> = Vec::new();
    for s in found {
        match kept
            .iter_mut()
            .find(|k| (k.perimeter - s.perimeter).abs() < 0.02 * k.perimeter)
        {
            Some(k) if s.tilt_square < k.tilt_square => *k = s,
            Some(_) => {}
            None => kept.push(s),
        }
    }
    kept
}

/// Walks both ways from `seed` until the section changes.
pub fn walk(body: &Body, facets: &Facets, seed: &Station) -> Track {
    let reach = seed
        .contours
        .iter()
        .flat_map(|c| &c.chords)
        .map(|k| (k.from - seed.centre).norm())
        .fold(0.0, f64::max);
    let (mut forward, closed) = walk_one_way(body, facets, seed, reach, seed.tangent);
    let mut stations: Vec<Station> = Vec::new();
    if !closed {
        let (backward, _) = walk_one_way(body, facets, seed, reach, -seed.tangent);
        stations.extend(backward.into_iter().rev().map(|mut s| {
            s.tangent = -s.tangent;
            // seen the other way, the contours run the other way about
            for c in &mut s.contours {
                c.chords.reverse();
                for k in &mut c.chords {
                    std::mem::swap(&mut k.from, &mut k.to);
                }
            }
            s
        }));
    }
    let mut first = seed.clone();
    first.walked = 0.0;
    stations.push(first);
    stations.append(&mut forward);
    let closed = closed && !opened_at_gap(body, facets, &mut stations);
    if !closed {
        shed_ends(&mut stations);
    }
    let mut walked = 0.0;
    for i in 0..stations.len() {
        if i > 0 {
            walked += (stations[i].centre - stations[i - 1].centre).norm();
        }
        stations[i].walked = walked;
    }
    Track {
        stations,
        closed,
        reach,
    }
}

/// A ring that came round may still have two ends with a narrow gap between them: then end faces look
/// along the sweep. Turns the order of stations so that it starts after the gap, and says so.
fn opened_at_gap(body: &Body, facets: &Facets, stations: &mut [Station]) -> bool {
    let nearest = |p: &Pt3| {
        (0..stations.len())
            .min_by(|&a, &b| {
                (stations[a].centre - p)
                    .norm_squared()
                    .total_cmp(&(stations[b].centre - p).norm_squared())
            })
            .unwrap_or(0)
    };
    let mut area = 0.0;
    let mut moment = Vec3::zeros();
    for f in 0..body.facets.len() {
        let [a, b, c] = body.facets[f].map(|v| body.vertices[v as usize]);
        let g = Pt3::from((a.coords + b.coords + c.coords) / 3.0);
        if facets.normal[f].dot(&stations[nearest(&g)].tangent).abs() > 0.8 {
            area += facets.area[f];
            moment += g.coords * facets.area[f];
        }
    }
    if area < 1.2 * stations[0].area {
        return false;
    }
    let gap = Pt3::from(moment / area);
    let i = nearest(&gap);
    // the first station beyond the gap
    let beyond = (gap - stations[i].centre).dot(&stations[i].tangent) < 0.0;
    let start = if beyond { i } else { (i + 1) % stations.len() };
    stations.rotate_left(start);
    true
}

/// Drops the outermost stations when they already cut an end face: their sections run against the
/// sweep more than the sections of the rest do.
fn shed_ends(stations: &mut Vec<Station>) {
    if stations.len() < 5 {
        return;
    }
    let mut tilts: Vec<f64> = stations.iter().map(|s| s.tilt_square).collect();
    tilts.sort_by(f64::total_cmp);
    let usual = tilts[(tilts.len() - 1) * 3 / 4];
    let mut areas: Vec<f64> = stations.iter().map(|s| s.area).collect();
    areas.sort_by(f64::total_cmp);
    let area = areas[areas.len() / 2];
    let stray =
        |s: &Station| s.tilt_square > 3.0 * usual + 1e-6 || (s.area - area).abs() > 0.06 * area;
    while stations.len() > 3 && stations.last().is_some_and(stray) {
        stations.pop();
    }
    while stations.len() > 3 && stations.first().is_some_and(stray) {
        stations.remove(0);
    }
}

/// Stations beyond `seed` in `direction`, and whether the walk came round to the seed.
fn walk_one_way(
    body: &Body,
    facets: &Facets,
    seed: &Station,
    reach: f64,
    direction: Vec3,
) -> (Vec<Station>, bool) {
    let longest_step = 4.0 * reach;
    let shortest_step = 0.12 * reach;
    let mut step = 0.5 * reach;
    let mut out: Vec<Station> = Vec::new();
    let mut at = (seed.centre, direction);
    let mut walked = 0.0;
    // a walk longer than the body's own outline could give is going in circles
    while out.len() < 20_000 {
        let guess = at.0 + at.1 * step;
        let choose = |chains: &[Chain], p: &Pt3| choose_nearest(chains, p, reach);
        let next = section_at(body, facets, &guess, &at.1, 2, &choose).filter(|s| {
            s.tilt_square < WORST_TILT_SQUARE
                && s.contours.len() == seed.contours.len()
                && (s.area - seed.area).abs() < 0.12 * seed.area
                && (s.perimeter - seed.perimeter).abs() < 0.12 * seed.perimeter
                && (s.centre - at.0).dot(&at.1) > 0.2 * step
                && (s.centre - at.0).norm() < 1.8 * step + 0.5 * shortest_step
                && s.tangent.dot(&at.1) > 0.5
        });
        let turned = next
            .as_ref()
            .map(|s| s.tangent.angle(&at.1))
            .unwrap_or(f64::INFINITY);
        if (next.is_none() || turned > 0.12) && step > shortest_step {
            step = (0.5 * step).max(shortest_step);
            continue;
        }
        // a drilled hole or a gap in the mesh spoils a few sections: look for the next sound one
        let next = next.or_else(|| leap(body, facets, seed, reach, &at));
        let Some(station) = next else { break };
        walked += (station.centre - at.0).norm();
        let before = at;
        at = (station.centre, station.tangent);
        // closed: passed the seed's plane near the seed, going the same way
        if walked > 3.0 * reach {
            let (h0, h1) = (
                (before.0 - seed.centre).dot(&direction),
                (at.0 - seed.centre).dot(&direction),
            );
            if h0 < 0.0
                && h1 >= 0.0
                && (at.0 - seed.centre).norm() < 1.5 * reach + step
                && at.1.dot(&direction) > 0.5
            {
                return (out, true);
            }
        }
        out.push(station);
        if turned < 0.02 {
            step = (1.6 * step).min(longest_step);
        }
    }
    (out, false)
}

/// A sound section up to four section sizes further on, along the curve walked last.
fn leap(
    body: &Body,
    facets: &Facets,
    seed: &Station,
    reach: f64,
    at: &(Pt3, Vec3),
) -> Option<Station> {
    (1..=16).find_map(|k| {
        let ahead = 0.25 * reach * k as f64;
        let guess = at.0 + at.1 * ahead;
        let choose = |chains: &[Chain], p: &Pt3| choose_nearest(chains, p, reach);
        section_at(body, facets, &guess, &at.1, 2, &choose).filter(|s| {
            s.tilt_square < WORST_TILT_SQUARE
                && s.contours.len() == seed.contours.len()
                && (s.area - seed.area).abs() < 0.04 * seed.area
                && (s.perimeter - seed.perimeter).abs() < 0.04 * seed.perimeter
                && s.tangent.dot(&at.1) > 0.3
                && (s.centre - guess).norm() < 0.5 * reach + 0.5 * ahead
        })
    })
}

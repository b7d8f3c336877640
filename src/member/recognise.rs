//! From one plane section to a first guess of its profile: circle, or straight sides with corners.
//! Good enough to start a fit; the fit's residuals decide whether the guess was right.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::profile::{Contour, Profile, Pt2, Side, Vec2};
use super::track::{Facets, Station};
use crate::geometry::slice::Chain;
use crate::geometry::{Vec3, perpendicular_pair};

/// A first guess of a section.
#[derive(Clone, Debug)]
pub struct Guess {
    /// The profile, origin on the area centroid of the section.
    pub profile: Profile,
    /// Width axis of the section at the station.
    pub w: Vec3,
    /// Height axis.
    pub h: Vec3,
}

/// A straight run of a section polygon.
#[derive(Clone, Copy, Debug)]
struct Run {
    from: Pt2,
    to: Pt2,
    /// Direction of the outward normal, radians.
    normal: f64,
    length: f64,
}

fn wrap(angle: f64, period: f64) -> f64 {
    angle - period * (angle / period).round()
}

/// The polygon of a chain, anticlockwise, neighbouring chords within `same` radians joined.
fn runs(
    chain: &Chain,
    facets: &Facets,
    station: &Station,
    w: &Vec3,
    h: &Vec3,
    outer: bool,
    same: f64,
) -> Vec<Run> {
    let flat = |p: &crate::geometry::Pt3| {
        Pt2::new((p - station.centre).dot(w), (p - station.centre).dot(h))
    };
    let total = chain.length();
    let mut pieces: Vec<Run> = chain
        .chords
        .iter()
        .filter_map(|c| {
            let n = facets.normal[c.facet as usize];
            let n2 = Vec2::new(n.dot(w), n.dot(h));
            let (from, to) = (flat(&c.from), flat(&c.to));
            let length = (to - from).norm();
            (length > 1e-9 * total && n2.norm() > 0.3).then(|| {
                let normal = n2.y.atan2(n2.x);
                if outer {
                    Run {
                        from,
                        to,
                        normal,
                        length,
                    }
                } else {
                    Run {
                        from: to,
                        to: from,
                        normal: wrap(normal + PI, TAU),
                        length,
                    }
                }
            })
        })
        .collect();
    if !outer {
        pieces.reverse();
    }
    let mut joined: Vec<Run> = Vec::new();
    for p in pieces {
        match joined.last_mut() {
            Some(last) if wrap(p.normal - last.normal, TAU).abs() < same => {
                let total = last.length + p.length;
                last.normal += wrap(p.normal - last.normal, TAU) * p.length / total;
                last.to = p.to;
                last.length = total;
            }
            _ => joined.push(p),
        }
    }
    while joined.len() > 2 {
        let (first, last) = (joined[0], joined[joined.len() - 1]);
        if wrap(first.normal - last.normal, TAU).abs() >= same {
            break;
        }
        joined[0].normal = last.normal
            + wrap(first.normal - last.normal, TAU) * first.length / (first.length + last.length);
        joined[0].from = last.from;
        joined[0].length += last.length;
        joined.pop();
    }
    joined
}

/// Radius of the circle the runs stand on, if they do.
fn as_circle(runs: &[Run]) -> Option<f64> {
    if runs.len() < 8 {
        return None;
    }
    let (mut area, mut moment, mut length) = (0.0, Vec2::zeros(), 0.0);
    for r in runs {
        let cross = r.from.coords.perp(&r.to.coords);
        area += cross;
        moment += (r.from.coords + r.to.coords) * cross;
        length += r.length;
    }
    let centre = Pt2::from(moment / (3.0 * area));
    let mean = runs.iter().map(|r| (r.from - centre).norm()).sum::<f64>() / runs.len() as f64;
    let far = runs
        .iter()
        .map(|r| (r.from - centre).norm())
        .fold(0.0, f64::max);
    let near = runs
        .iter()
        .map(|r| (r.from - centre).norm())
        .fold(f64::INFINITY, f64::min);
    let turn = (0..runs.len())
        .map(|i| wrap(runs[(i + 1) % runs.len()].normal - runs[i].normal, TAU).abs())
        .fold(0.0, f64::max);
    let longest = runs.iter().map(|r| r.length).fold(0.0, f64::max);
    // isoperimetric ratio: 1 for a circle, 0.948 for an octagon, 0.785 for a square
    let round = 2.0 * PI * area / (length * length);
    let regular = far - near < 0.08 * mean && turn < 0.9 && longest < 0.9 * mean && round > 0.93;
    regular.then_some(mean)
}

/// True when a few runs of clearly different length make the contour: a square with generous corners
/// of two facets each passes for a circle otherwise.
fn uneven(runs: &[Run]) -> bool {
    let mut lengths: Vec<f64> = runs.iter().map(|r| r.length).collect();
    lengths.sort_by(f64::total_cmp);
    let usual = lengths[lengths.len() / 2];
    lengths.len() <= 24 && lengths[lengths.len() - 1] > 1.25 * usual
}

/// Corners of one sense whose radii differ by more than this factor are not made by one tool,
const UNLIKE: f64 = 2.0;
/// where the difference is more than this share of the outline, which scatter does not make.
const UNLIKE_SHARE: f64 = 0.005;

/// Sides at right angles to each other with corners between, if the runs are that. A side is at least
/// the share `least` of the outline: less may be a facet of a rounded corner.
fn as_sides(runs: &[Run], zero: f64, square: f64, least: f64) -> Option<Vec<Side>> {
    let total: f64 = runs.iter().map(|r| r.length).sum();
    let is_side =
        |r: &Run| wrap(r.normal - zero, FRAC_PI_2).abs() < square && r.length > least * total;
    let first = (0..runs.len())
        .filter(|&i| is_side(&runs[i]))
        .max_by(|&i, &j| runs[i].length.total_cmp(&runs[j].length))?;
    let n = runs.len();
    let quarter = |r: &Run| ((r.normal - zero) / FRAC_PI_2).round() * FRAC_PI_2;
    let mut sides: Vec<(Side, Pt2, Pt2)> = Vec::new();
    let mut between = 0;
    let mut rounded = Vec::new();
    for k in 0..n {
        let r = &runs[(first + k) % n];
        if !is_side(r) {
            between += 1;
            continue;
        }
        let normal = quarter(r);
        let direction = super::profile::unit(normal);
        let mid = Pt2::from((r.from.coords + r.to.coords) * 0.5);
        if let Some((last, _, end)) = sides.last_mut() {
            let turn = wrap(normal - last.normal, TAU);
            if turn.abs() < 0.1 {
                // the same side, interrupted by a sliver
                if (mid.coords.dot(&direction) - last.offset).abs() < 0.02 * total {
                    *end = r.to;
                    between = 0;
                    continue;
                }
                return None;
            }
            if (turn.abs() - FRAC_PI_2).abs() > 0.1 {
                return None;
            }
            rounded.push(between);
        }
        between = 0;
        sides.push((
            Side {
                normal,
                offset: mid.coords.dot(&direction),
                corner: 0.0,
            },
            r.from,
            r.to,
        ));
    }
    rounded.push(between);
    let count = sides.len();
    if count < 4 {
        return None;
    }
    let mut turned = 0.0;
    for j in 0..count {
        let next = (j + 1) % count;
        let turn = wrap(sides[next].0.normal - sides[j].0.normal, TAU);
        if (turn.abs() - FRAC_PI_2).abs() > 0.1 {
            return None;
        }
        turned += turn;
        if rounded[j] > 0 {
            // tangent lengths on both sides of the corner equal its radius at a right angle
            let gap = sides[next].1 - sides[j].2;
            let (u, v) = (
                super::profile::unit(sides[j].0.normal),
                super::profile::unit(sides[next].0.normal),
            );
            sides[j].0.corner = 0.5 * (gap.dot(&u).abs() + gap.dot(&v).abs());
        }
    }
    let mut sides: Vec<Side> = sides.into_iter().map(|s| s.0).collect();
    for convex in [true, false] {
        // corners of one sense are rolled by one tool: start them alike, the fit moves them together
        let sense =
            |j: usize| (wrap(sides[(j + 1) % count].normal - sides[j].normal, TAU) > 0.0) == convex;
        let alike: Vec<usize> = (0..count)
            .filter(|&j| sides[j].corner > 0.0 && sense(j))
            .collect();
        let radii = alike.iter().map(|&j| sides[j].corner);
        let (least, most) = radii.clone().fold((f64::INFINITY, 0.0), |(l, m), r| {
            (f64::min(l, r), f64::max(m, r))
        });
        if most > UNLIKE * least && most - least > UNLIKE_SHARE * total {
            return None;
        }
        let mean = radii.sum::<f64>() / alike.len().max(1) as f64;
        for j in alike {
            sides[j].corner = mean;
        }
    }
    if count == 4 {
        // a rectangle is taken as centred on its path; the fit moves the path
        for j in 0..2 {
            let half = 0.5 * (sides[j].offset + sides[j + 2].offset);
            sides[j].offset = half;
            sides[j + 2].offset = half;
        }
    }
    ((turned - TAU).abs() < 0.1).then_some(sides)
}

/// Every run a side, corners sharp: sections with few flat faces at any angles.
fn as_polygon(runs: &[Run]) -> Option<Vec<Side>> {
    if !(3..=16).contains(&runs.len()) {
        return None;
    }
    let turn = |i: usize| wrap(runs[(i + 1) % runs.len()].normal - runs[i].normal, TAU);
    if (0..runs.len()).any(|i| turn(i).abs() < 0.05 || turn(i).abs() > 3.0) {
        return None;
    }
    Some(
        runs.iter()
            .map(|r| Side {
                normal: r.normal,
                offset: 0.5 * (r.from.coords + r.to.coords).dot(&super::profile::unit(r.normal)),
                corner: 0.0,
            })
            .collect(),
    )
}

/// Guesses the profile of a station's section. `None` when it is neither round nor made of straight
/// sides; the section can then only be reported by its size.
pub fn recognise(station: &Station, facets: &Facets) -> Option<Guess> {
    let (u, v) = perpendicular_pair(&station.tangent);
    // clean files first; a scan's flats scatter by some degrees, and then a facet of a rounded corner
    // can't be told from the edge of a thin flange
    for (same, square, least) in [
        (0.0044, 0.02, 0.002),
        (0.03, 0.05, 0.01),
        (0.12, 0.15, 0.01),
    ] {
        let outer = runs(&station.contours[0], facets, station, &u, &v, true, same);
        let circles: Option<Vec<Contour>> = (0..station.contours.len())
            .map(|i| {
                let c = &station.contours[i];
                as_circle(&runs(c, facets, station, &u, &v, i == 0, same))
                    .map(|radius| Contour::Circle { radius })
            })
            .collect();
        let round = circles.map(|contours| Guess {
            profile: Profile { contours },
            w: u,
            h: v,
        });
        if round.is_some() && !uneven(&outer) {
            return round;
        }
        let zero = outer
            .iter()
            .map(|r| {
                let family: f64 = outer
                    .iter()
                    .filter(|o| wrap(o.normal - r.normal, FRAC_PI_2).abs() < square)
                    .map(|o| o.length)
                    .sum();
                (family, r)
            })
            .max_by(|a, b| (a.0 + a.1.length).total_cmp(&(b.0 + b.1.length)))
            .map(|(_, r)| r.normal)?;
        let (w, h) = (
            u * zero.cos() + v * zero.sin(),
            v * zero.cos() - u * zero.sin(),
        );
        let attempt = |sides_of: &dyn Fn(&[Run]) -> Option<Vec<Side>>| -> Option<Guess> {
            let mut contours = Vec::new();
            for (i, c) in station.contours.iter().enumerate() {
                let polygon = runs(c, facets, station, &w, &h, i == 0, same);
                if i > 0
                    && let Some(radius) = as_circle(&polygon)
                {
                    contours.push(Contour::Circle { radius });
                    continue;
                }
                contours.push(Contour::Sides(sides_of(&polygon)?));
            }
            Some(Guess {
                profile: Profile { contours },
                w,
                h,
            })
        };
        let sides = || attempt(&|r| as_sides(r, 0.0, square, least));
        if let Some(guess) = sides().or(round).or_else(|| attempt(&as_polygon)) {
            return Some(guess);
        }
    }
    None
}

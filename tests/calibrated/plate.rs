//! Plates: flat with round corners and holes, rolled, folded once.

use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::{Point3, Vector3};

use super::random::Random;
use super::shape::P2;
use super::{Case, Facets, P3};

pub fn plate(random: &mut Random) -> Case {
    match random.pick(&["flat", "flat", "rolled", "folded"]) {
        "flat" => flat(random),
        "rolled" => rolled(random),
        _ => folded(random),
    }
}

fn flat(random: &mut Random) -> Case {
    let t = random.pick(&[3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 20.0]);
    let w = random.drawn(60.0, 300.0, 1.0);
    let l = w + random.drawn(20.0, 400.0, 1.0);
    let r = random.pick(&[0.0, 0.0, 6.0, 10.0, 15.0]);
    let n = random.pick(&[3usize, 5, 8]);
    let mut outline: Vec<P2> = Vec::new();
    for (k, (x, y)) in [(l - r, r), (l - r, w - r), (r, w - r), (r, r)]
        .into_iter()
        .enumerate()
    {
        for i in 0..=if r > 0.0 { n } else { 0 } {
            let a = FRAC_PI_2 * (k as f64 - 1.0 + i as f64 / n as f64);
            outline.push(P2::new(x + r * a.cos(), y + r * a.sin()));
        }
    }
    let d = random.pick(&[9.0, 11.0, 14.0, 18.0]);
    let around = random.pick(&[12usize, 16, 24, 36]);
    // One hole in each third of the length, so that none meets another.
    let holes: Vec<P2> = (0..random.pick(&[0usize, 1, 2, 3]))
        .map(|k| {
            let third = l / 3.0;
            P2::new(
                random.drawn(third * k as f64 + d, third * (k + 1) as f64 - d, 0.5),
                random.drawn(d + r, w - d - r, 0.5),
            )
        })
        .collect();
    let rings: Vec<Vec<P2>> = (holes.iter())
        .map(|c| {
            (0..around)
                .map(|k| TAU * k as f64 / around as f64)
                .map(|a| P2::new(c.x + d / 2.0 * a.cos(), c.y + d / 2.0 * a.sin()))
                .collect()
        })
        .collect();
    let mut facets = Facets::default();
    let all: Vec<&Vec<P2>> = std::iter::once(&outline).chain(&rings).collect();
    let lift = |ring: &[P2], z: f64| {
        ring.iter()
            .map(|p| P3::new(p.x, p.y, z))
            .collect::<Vec<_>>()
    };
    for (z, up) in [(0.0, -1.0), (t, 1.0)] {
        let rims: Vec<Vec<P3>> = all.iter().map(|c| lift(c, z)).collect();
        facets.cap(&rims, Vector3::z() * up);
    }
    for (k, ring) in all.iter().enumerate() {
        let (low, high) = (lift(ring, 0.0), lift(ring, t));
        for i in 0..ring.len() {
            let j = (i + 1) % ring.len();
            facets.quad([low[i], low[j], high[j], high[i]], k == 0);
        }
    }
    let area = l * w
        - (4.0 - std::f64::consts::PI) * r * r
        - holes.len() as f64 * std::f64::consts::PI * d * d / 4.0;
    Case::Plate {
        facets,
        numbers: vec![
            ("thickness", "/thickness", t),
            ("flat length", "/flat/length", l),
            ("flat width", "/flat/width", w),
            ("flat area", "/flat/area", area),
        ],
        holes: holes.iter().map(|c| [d, c.x, c.y]).collect(),
        size: [l, w],
    }
}

/// A strip profile in (x, y) moved along z.
fn extruded(profile: &[P2], width: f64) -> Facets {
    let mut facets = Facets::default();
    let lift = |z: f64| {
        profile
            .iter()
            .map(|p| Point3::new(p.x, p.y, z))
            .collect::<Vec<P3>>()
    };
    let (low, high) = (lift(0.0), lift(width));
    for i in 0..profile.len() {
        let j = (i + 1) % profile.len();
        facets.quad([low[i], low[j], high[j], high[i]], true);
    }
    facets.cap(&[low], -Vector3::z());
    facets.cap(&[high], Vector3::z());
    facets
}

fn arc(out: &mut Vec<P2>, centre: P2, radius: f64, from: f64, to: f64, n: usize) {
    for k in 0..=n {
        let a = from + (to - from) * k as f64 / n as f64;
        out.push(P2::new(
            centre.x + radius * a.cos(),
            centre.y + radius * a.sin(),
        ));
    }
}

fn rolled(random: &mut Random) -> Case {
    let t = random.pick(&[3.0, 4.0, 5.0, 6.0, 8.0]);
    let inside = random.drawn(80.0, 900.0, 5.0);
    let angle = random.drawn(40.0, 220.0, 5.0).to_radians();
    let width = random.drawn(160.0, 500.0, 1.0);
    let n = (angle / random.pick(&[2.0f64, 4.0, 6.0]).to_radians()).ceil() as usize;
    let mut profile = Vec::new();
    arc(&mut profile, P2::origin(), inside + t, 0.0, angle, n);
    arc(&mut profile, P2::origin(), inside, angle, 0.0, n);
    let run = angle * (inside + t / 2.0);
    Case::Plate {
        facets: extruded(&profile, width),
        numbers: vec![
            ("thickness", "/thickness", t),
            ("inside radius, rolled", "/inside_radius", inside),
            ("arc angle, rolled", "/arc_angle", angle.to_degrees()),
            ("flat length", "/flat/length", run.max(width)),
            ("flat width", "/flat/width", run.min(width)),
        ],
        holes: Vec::new(),
        size: [run.max(width), run.min(width)],
    }
}

fn folded(random: &mut Random) -> Case {
    let t = random.pick(&[2.0, 3.0, 4.0, 5.0, 6.0]);
    let inside = t * random.pick(&[1.0, 1.5, 2.0]);
    let angle = random.drawn(30.0, 120.0, 5.0).to_radians();
    let [a, b] = [0; 2].map(|_| random.drawn(30.0, 120.0, 1.0));
    let width = random.drawn(160.0, 400.0, 1.0);
    let n = random.pick(&[3usize, 6, 10]);
    // Flat part along −x on y = 0, bend about (0, inside + t) turning up, flat part along the angle.
    let centre = P2::new(0.0, inside + t);
    let along = nalgebra::Vector2::new(angle.cos(), angle.sin());
    let square = nalgebra::Vector2::new(angle.sin(), -angle.cos());
    let mut profile = vec![P2::new(-a, 0.0)];
    arc(
        &mut profile,
        centre,
        inside + t,
        -FRAC_PI_2,
        angle - FRAC_PI_2,
        n,
    );
    profile.push(centre + square * (inside + t) + along * b);
    profile.push(centre + square * inside + along * b);
    arc(
        &mut profile,
        centre,
        inside,
        angle - FRAC_PI_2,
        -FRAC_PI_2,
        n,
    );
    profile.push(P2::new(-a, t));
    Case::Plate {
        facets: extruded(&profile, width),
        numbers: vec![
            ("thickness", "/thickness", t),
            ("bend angle", "/bends/0/angle", angle.to_degrees()),
            ("bend inside radius", "/bends/0/inside_radius", inside),
        ],
        holes: Vec::new(),
        size: [0.0; 2],
    }
}

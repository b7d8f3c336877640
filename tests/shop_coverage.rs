//! ± and verdicts hold as often as they say: known arcs, read 2,000 times with a seeded error.

use nalgebra::Point3;
use soapstone::analysis::{Asked, analyse};
use soapstone::measure::{STEEL_DENSITY, Show, quantity};
use soapstone::report::Report;
use soapstone::shop::arc::rise;
use soapstone::shop::check::points::{self, Points};
use soapstone::shop::check::{Answer, Tolerance, Verdict, reading};
use soapstone::shop::curved::{Curve, Side};

const RUNS: usize = 2000;
/// Standard deviations in a 95 % half-width of a normal distribution (any printed table).
const K: f64 = 1.96;

/// Normal numbers by the sum of twelve even ones; good to a few per cent in the tails at 2 σ, so the
/// polar method is used instead ("A convenient method for generating normal variables", SIAM Review 6,
/// 1964; from memory).
struct Dice(u64);

impl Dice {
    fn even(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        loop {
            let (u, v) = (2.0 * self.even() - 1.0, 2.0 * self.even() - 1.0);
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                return u * (-2.0 * s.ln() / s).sqrt();
            }
        }
    }
}

fn report() -> Report {
    let bytes = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/canopy_bay_01.stl"
    ))
    .expect("the fixture");
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    analyse(&bytes, "canopy_bay_01.stl", &asked).expect("a report")
}

/// A tube 50 deep on this centreline radius.
fn curve(radius: f64, angle: f64) -> Curve {
    let exact = |r| quantity(r, 0.0);
    Curve {
        number: 1,
        edge: None,
        centreline: exact(radius),
        inside: exact(radius - 25.0),
        outside: exact(radius + 25.0),
        angle: exact(angle),
        length: exact(radius * angle.to_radians()),
        start: exact(0.0),
    }
}

fn covers(answer: &Answer, true_radius: f64) -> bool {
    let radius = answer.radius.expect("a radius");
    (radius.value - true_radius).abs() <= radius.plus_minus
}

fn share(count: usize) -> f64 {
    count as f64 / RUNS as f64
}

#[test]
fn the_true_radius_lies_within_plus_minus_of_a_chord_and_rise() {
    let report = report();
    let part = &report.parts[0];
    // Radius, chord, error of the rise, error of the chord (both 95 %), face.
    for (seed, (radius, chord, by_rise, by_chord, on)) in [
        (1500.0, 600.0, 0.3, 0.0, Side::Outside),
        (1500.0, 300.0, 0.5, 0.0, Side::Inside),
        (6000.0, 600.0, 1.5, 0.0, Side::Outside),
        (1000.0, 1500.0, 1.0, 1.0, Side::Centreline),
        (800.0, 1200.0, 2.0, 2.0, Side::Outside),
        (12_505.0, 1000.0, 2.5, 0.5, Side::Centreline),
    ]
    .into_iter()
    .enumerate()
    {
        let mut dice = Dice(seed as u64 + 1);
        let asked_for = curve(1.02 * radius, 170.0);
        let offset = asked_for.radius(on).value - asked_for.centreline.value;
        let mut inside = 0;
        for _ in 0..RUNS {
            // The string is stretched to the chord written down, but its ends err.
            let stood = chord + dice.normal() * by_chord / K;
            let read = rise(radius + offset, stood).expect("a rise") + dice.normal() * by_rise / K;
            let answer = reading::check(
                &report,
                part,
                &asked_for,
                &reading::Asked {
                    chord,
                    rise: read,
                    on,
                    rise_error: Some(by_rise),
                    chord_error: Some(by_chord),
                    tolerance: Tolerance::Given(1.0),
                    show: Show::Millimetre,
                },
            )
            .expect("an answer");
            inside += usize::from(covers(&answer, radius));
        }
        let share = share(inside);
        assert!((0.93..=0.97).contains(&share), "{radius} {chord}: {share}");
    }
}

#[test]
fn a_verdict_is_not_wrong_more_often_than_it_claims() {
    let report = report();
    let part = &report.parts[0];
    let asked_for = curve(1500.0, 90.0);
    let (chord, error, tolerance) = (600.0, 0.4, 1.0);
    let wanted = rise(1525.0, chord).expect("a rise");
    for (seed, off) in [0.0, 0.5, 0.9, 0.99, 1.01, 1.1, 2.0, -0.99, -1.01, -1.3]
        .into_iter()
        .enumerate()
    {
        let mut dice = Dice(100 + seed as u64);
        let (mut wrong, mut told) = (0, 0);
        for _ in 0..RUNS {
            let answer = reading::check(
                &report,
                part,
                &asked_for,
                &reading::Asked {
                    chord,
                    rise: wanted + off + dice.normal() * error / K,
                    on: Side::Outside,
                    rise_error: Some(error),
                    chord_error: Some(0.0),
                    tolerance: Tolerance::Given(tolerance),
                    show: Show::Millimetre,
                },
            )
            .expect("an answer");
            let good = off.abs() <= tolerance;
            wrong += usize::from(match answer.verdict {
                Verdict::Yes => !good,
                Verdict::No => good,
                Verdict::Unclear => false,
            });
            told += usize::from(answer.verdict != Verdict::Unclear);
        }
        // A 95 % interval leaves 2.5 % on the side that matters; 2,000 runs scatter by 0.35 %.
        assert!(share(wrong) <= 0.035, "{off}: {} wrong", share(wrong));
        if off == 0.0 || off == 2.0 {
            assert!(share(told) > 0.95, "{off}: {} told", share(told));
        }
    }
}

#[test]
fn the_true_radius_lies_within_plus_minus_of_points() {
    let report = report();
    let part = &report.parts[0];
    // Radius, angle, points, standard deviation, error stated?, three coordinates?
    for (seed, (radius, angle, count, sigma, stated, spatial)) in [
        (1500.0, 60.0, 12, 0.3, true, false),
        (1500.0, 60.0, 12, 0.3, false, false),
        (800.0, 90.0, 40, 0.5, true, true),
        (800.0, 90.0, 6, 0.5, false, false),
        (3000.0, 20.0, 25, 0.4, true, false),
        (400.0, 200.0, 30, 1.0, false, true),
    ]
    .into_iter()
    .enumerate()
    {
        let mut dice = Dice(1000 + seed as u64);
        let asked_for = curve(1.01 * radius, 220.0);
        let face = radius - 25.0;
        let (mut inside, mut wrong) = (0, 0);
        for _ in 0..RUNS {
            let places: Vec<Point3<f64>> = (0..count)
                .map(|k| {
                    let a = (angle * k as f64 / (count - 1) as f64).to_radians();
                    let mut noise = || sigma * dice.normal();
                    let p = [face * a.cos() + noise(), face * a.sin() + noise()];
                    // A slanted plane when there are three coordinates.
                    match spatial {
                        true => {
                            let across = noise();
                            Point3::new(p[0], 0.8 * p[1] - 0.6 * across, 0.6 * p[1] + 0.8 * across)
                        }
                        false => Point3::new(p[0], p[1], 0.0),
                    }
                })
                .collect();
            let points = Points {
                lines: (1..=count as u64).collect(),
                places,
                spatial,
            };
            let asked = points::Asked {
                on: Side::Inside,
                error: stated.then_some(K * sigma),
                tolerance: Tolerance::Given(1.0),
                show: Show::Millimetre,
            };
            let answer =
                points::check(&report, part, &asked_for, &points, &asked).expect("an answer");
            inside += usize::from(covers(&answer, radius));
            let chord = answer.points.as_ref().expect("points").chord;
            let off = rise(face, chord).expect("a rise")
                - rise(asked_for.inside.value, chord).expect("a rise");
            wrong += usize::from(match answer.verdict {
                Verdict::Yes => off.abs() > 1.0,
                Verdict::No => off.abs() <= 1.0,
                Verdict::Unclear => false,
            });
        }
        let share = share(inside);
        assert!(
            (0.93..=0.97).contains(&share),
            "{radius} {angle} {count}: {share}"
        );
        assert!(
            wrong as f64 <= 0.035 * RUNS as f64,
            "{radius} {angle}: {wrong} wrong"
        );
    }
}

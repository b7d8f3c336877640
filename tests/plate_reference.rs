//! Plates against numbers from outside the program; the source stands beside each.

mod plate_files;

use std::path::Path;

use nalgebra::Point2;
use plate_files::build::{Fold, extrude, revolve, strip};
use soapstone::plate::{Form, Measured, Neutral, din_6935, measure, measure_with};
use soapstone::surface::segment;

fn rows(table: &str) -> Vec<csv::StringRecord> {
    let path = Path::new("shared/reference").join(table);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .expect("the table is there");
    reader.records().map(|r| r.expect("a row")).collect()
}

fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].parse().expect("a number")
}

fn plate(body: &soapstone::body::Body, neutral: &Neutral) -> Measured {
    measure_with(body, &segment(body), neutral).expect("a plate")
}

/// Length and width of the flat.
fn flat(m: &Measured) -> (f64, f64) {
    (
        m.plate.flat.length.expect("length").value,
        m.plate.flat.width.expect("width").value,
    )
}

/// DIN 6935: k = 0.65 + 0.5·log₁₀(r/s), 1 above r/s = 5; v = rad(180 − β)·(r + k·s/2) − 2(r + s), the
/// last term times tan((180 − β)/2) for β above 90° (formula from memory; a page quoting the standard
/// puts the change of sign at β = 65° 24′ 30″, which the formula gives). Legs of 50 and 70 mm are
/// measured over the outside: to the outer faces' meeting up to a right angle, beyond it to the
/// outside of the bend.
#[test]
fn din_6935_flat_lengths() {
    for row in rows("bend_din6935.csv") {
        let (s, r, opening, turned) = (
            number(&row, 0),
            number(&row, 1),
            number(&row, 2),
            number(&row, 3),
        );
        assert!(
            (din_6935(r / s) - number(&row, 5)).abs() < 1e-6,
            "K at r/s = {}",
            r / s
        );
        let out = (r + s)
            * if opening >= 90.0 {
                (turned.to_radians() / 2.0).tan()
            } else {
                1.0
            };
        // A leg of 50 is all bend where the outside radius exceeds it: 20 mm are added to both.
        let more = if out > 49.0 { 20.0 } else { 0.0 };
        for chords in [1, 2, 3, 12] {
            if turned / chords as f64 > 46.0 {
                continue;
            }
            let profile = strip(
                s,
                &[50.0 + more - out, 70.0 + more - out],
                &[Fold {
                    angle: turned,
                    inside_radius: r,
                    chords,
                }],
            );
            let m = plate(&extrude(&profile, 200.0), &Neutral::Din6935);
            let what = format!("s {s}, r {r}, β {opening}°, {chords} chords");
            assert_eq!(m.plate.form, Form::Bent, "{what}");
            let (a, b) = flat(&m);
            let length = number(&row, 8) + 2.0 * more;
            assert!(
                (a - 200.0).abs() < 1e-6 && (b - length).abs() < 1e-4,
                "{what}: flat {a} × {b}, table {length}"
            );
            let bend = &m.plate.bends[0];
            assert!(
                (bend.angle.value - turned).abs() < 1e-6
                    && (bend.inside_radius.value - r).abs() < 1e-4,
                "{what}: {bend:?}"
            );
            assert!(
                (bend.k_factor - number(&row, 5)).abs() < 1e-5,
                "{what}: K {}",
                bend.k_factor
            );
            let arc = turned.to_radians() * (r + bend.k_factor * s);
            assert!(
                (arc - number(&row, 6)).abs() < 1e-3,
                "{what}: arc on the neutral surface {arc}"
            );
        }
    }
}

/// Machinery's Handbook, 31st edition, p. 1421 (read in a stored page): soft steel takes
/// 0.64·T + 1.57·R for a right angle, other angles in proportion; a strip of T = 1/8 in with a
/// half-turn of R = 3/8 in, 60° of R = 5/8 in and 3.5 in of straights is 5.545 in long.
#[test]
fn machinery_handbook_example() {
    let inch = 25.4;
    let t = 0.125 * inch;
    // The book rounds π/2 to 1.57: K = 0.64/1.57 keeps its T term, the R term differs by 0.05 %.
    let neutral = Neutral::Factor(0.64 / 1.57);
    let folds = [
        Fold {
            angle: 180.0,
            inside_radius: 0.375 * inch,
            chords: 8,
        },
        Fold {
            angle: 60.0,
            inside_radius: 0.625 * inch,
            chords: 4,
        },
    ];
    let profile = strip(t, &[0.5 * inch, 2.0 * inch, 1.0 * inch], &folds);
    let m = plate(&extrude(&profile, 10.0 * inch), &neutral);
    let (_, length) = flat(&m);
    let published = rows("bend_machinery_handbook.csv")
        .iter()
        .find(|r| r[0].starts_with("total"))
        .map(|r| number(r, 7))
        .expect("the total");
    assert!(
        (length / inch - published).abs() < 0.002,
        "flat {} in, the book {published} in",
        length / inch
    );
    let k = 0.64 / 1.57;
    let exact = 3.5 * inch
        + (180f64.to_radians() * (0.375 * inch + k * t))
        + 60f64.to_radians() * (0.625 * inch + k * t);
    assert!(
        (length - exact).abs() < 1e-4,
        "flat {length}, formula {exact}"
    );
}

/// Rolled plate: π times the mean diameter for the full ring, in proportion for less (textbook; the
/// table is computed).
#[test]
fn rolled_plate_lengths() {
    for row in rows("rolled_plate_length.csv") {
        let (given, diameter, t, angle) =
            (&row[0], number(&row, 1), number(&row, 2), number(&row, 3));
        let mean = match given {
            "outside" => diameter - t,
            "inside" => diameter + t,
            _ => diameter,
        };
        let height = 0.3 * mean;
        let profile = [
            (mean - t, 0.0),
            (mean + t, 0.0),
            (mean + t, 2.0 * height),
            (mean - t, 2.0 * height),
        ]
        .map(|(d, z)| Point2::new(d / 2.0, z / 2.0));
        for chords in [((angle / 45.0).ceil() as usize).max(3), 40] {
            let m = plate(&revolve(&profile, angle, chords), &Neutral::Din6935);
            assert_eq!(m.plate.form, Form::Cylinder, "{row:?}");
            let (length, _) = flat(&m);
            let (want, width) = (number(&row, 5), height);
            assert!(
                (length - want.max(width)).abs() < 1e-4 * want.max(1.0),
                "{row:?} in {chords} chords: {length}"
            );
            assert!(
                (m.plate.inside_radius.expect("radius").value - (mean - t) / 2.0).abs()
                    < 1e-6 * mean,
                "{row:?}: inside radius"
            );
        }
    }
}

/// Cone patterns: slant √(h² + (ΔD/2)²), outer pattern radius slant·D/(D − d), angle 360°·D/(2·outer
/// radius) (textbook; the table is computed).
#[test]
fn cone_patterns() {
    for row in rows("cone_development.csv") {
        let [large, small, height, slant, outer, inner, angle, _, area] =
            [0, 1, 2, 3, 4, 5, 6, 7, 8].map(|i| number(&row, i));
        if small == 0.0 {
            // No shell has a surface amid its thickness that reaches the tip.
            continue;
        }
        let t = 0.005 * large;
        let u = nalgebra::Vector2::new((small - large) / 2.0, height).normalize();
        let n = nalgebra::Vector2::new(u.y, -u.x) * (t / 2.0);
        let (a, b) = (
            Point2::new(large / 2.0, 0.0),
            Point2::new(small / 2.0, height),
        );
        let m = plate(
            &revolve(&[a + n, b + n, b - n, a - n], 360.0, 60),
            &Neutral::Din6935,
        );
        assert_eq!(m.plate.form, Form::Cone, "{row:?}");
        let near = |q: Option<soapstone::measure::Quantity>, want: f64, what: &str| {
            let got = q.expect("given").value;
            assert!(
                (got - want).abs() < 1e-6 * want,
                "{row:?}: {what} {got}, table {want}"
            );
        };
        near(m.plate.slant_length, slant, "slant");
        near(m.plate.sector_outer_radius, outer, "outer radius");
        near(m.plate.sector_inner_radius, inner, "inner radius");
        near(m.plate.sector_angle, angle, "angle");
        near(m.plate.flat.area, area, "area");
    }
}

/// A square plate with a round hole: nothing but geometry.
#[test]
fn whole_plate_is_explained() {
    let body = extrude(
        &[
            Point2::new(0.0, 0.0),
            Point2::new(200.0, 0.0),
            Point2::new(200.0, 120.0),
            Point2::new(0.0, 120.0),
        ],
        10.0,
    );
    let m = measure(&body, &segment(&body)).expect("a plate");
    assert!(m.explained > 0.999_999, "explained {}", m.explained);
    assert!(
        (m.volume.value - 240_000.0).abs() < 1e-6 && (m.surface_area.value - 54_400.0).abs() < 1e-6,
        "volume and surface"
    );
    let strip = m.strip.expect("a strip");
    assert!(
        strip.square && (strip.length - 200.0).abs() < 1e-9 && (strip.width - 120.0).abs() < 1e-9,
        "{strip:?}"
    );
}

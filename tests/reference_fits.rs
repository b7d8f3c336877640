//! Fits against published and independently computed solutions in `shared/reference`.

use nalgebra::{Point2, Point3, Vector3};
use serde_json::Value;
use soapstone::geometry::circle_fit::{fit_circle, taubin};
use soapstone::geometry::cylinder_fit::fit_cylinder;
use soapstone::geometry::least_squares::Options;
use soapstone::geometry::line_fit::fit_line;
use soapstone::geometry::plane_fit::fit_plane;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

fn points3(v: &Value) -> Vec<Point3<f64>> {
    v["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .map(|p| Point3::new(p[0], p[1], p[2]))
        .collect()
}

fn vector(v: &Value) -> Vector3<f64> {
    Vector3::from_column_slice(&numbers(v))
}

fn rows(text: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes())
        .records()
        .map(Result::unwrap)
        .collect()
}

fn field(row: &csv::StringRecord, k: usize) -> f64 {
    row[k].parse().unwrap()
}

/// Published: "Least-squares fitting of circles and ellipses", BIT 34 (1994) 558–578, and the SciPy
/// Cookbook page on least-squares circles (2011), both from memory; recomputed with scipy to full
/// precision beside them. The other sets are our own data solved with scipy.
#[test]
fn circles() {
    let file = json(include_str!("../shared/reference/fits_circle.json"));
    for (name, set) in file["datasets"].as_object().unwrap() {
        let points: Vec<_> = set["points"]
            .as_array()
            .unwrap()
            .iter()
            .map(numbers)
            .map(|p| Point2::new(p[0], p[1]))
            .collect();
        let fit = fit_circle(&points, None).unwrap();
        let found = [fit.centre.x, fit.centre.y, fit.radius];
        let geometric = numbers(&set["computed"]["geometric"]);
        let sum_sq = set["computed"]["geometric_sum_sq"].as_f64().unwrap();
        // A minimum found by another program is known to the square root of its sum's precision.
        let ours = fit.rms * fit.rms * points.len() as f64;
        assert!(ours <= sum_sq * (1.0 + 1e-12), "{name}: {ours} > {sum_sq}");
        for k in 0..3 {
            assert!(
                (found[k] - geometric[k]).abs() < 2e-7 * geometric[2],
                "{name}: {found:?} against {geometric:?}"
            );
        }
        let (centre, radius) = taubin(&points, None).unwrap();
        let expected = numbers(&set["computed"]["taubin"]);
        for (a, b) in [centre.x, centre.y, radius].iter().zip(&expected) {
            assert!(
                (a - b).abs() < 1e-9 * expected[2],
                "{name}: algebraic {a} against {b}"
            );
        }
        if let Some(published) = set["published"].get("geometric") {
            for (a, b) in found.iter().zip(numbers(published)) {
                assert!((a - b).abs() < 1e-4, "{name}: {a} against the printed {b}");
            }
        }
        if let Some(truth) = set.get("true") {
            let radius = numbers(truth)[2];
            let (low, high) = fit.radius_interval(0.0);
            assert!(
                low <= radius && high.is_none_or(|h| radius <= h),
                "{name}: {radius} outside {low}..{high:?}"
            );
        }
    }
}

/// Own data (not certified), solved with numpy's singular values and scipy's Levenberg–Marquardt.
#[test]
fn planes_lines_and_cylinders() {
    let file = json(include_str!(
        "../shared/reference/fits_plane_line_cylinder.json"
    ));
    let mut seen = 0;
    for (name, set) in file["datasets"].as_object().unwrap() {
        let points = points3(set);
        let sum_sq = set["sum_sq"].as_f64().unwrap();
        match set["kind"].as_str().unwrap() {
            "plane" => {
                let fit = fit_plane(&points, None).unwrap();
                assert!((fit.normal - vector(&set["normal"])).norm() < 1e-12);
                assert!((fit.point.coords - vector(&set["centroid"])).norm() < 1e-10);
                assert!((fit.sum_sq - sum_sq).abs() < 1e-10);
            }
            "line3d" => {
                let fit = fit_line(&points, None).unwrap();
                assert!((fit.direction - vector(&set["direction"])).norm() < 1e-12);
                assert!((fit.point.coords - vector(&set["centroid"])).norm() < 1e-10);
                assert!((fit.sum_sq - sum_sq).abs() < 1e-9);
            }
            "cylinder" => {
                let fit = fit_cylinder(&points, None, Vector3::z(), &Options::default()).unwrap();
                let at_z0 = fit.point - fit.axis * (fit.point.z / fit.axis.z);
                let radius = set["radius"].as_f64().unwrap();
                assert!(
                    (fit.radius - radius).abs() < 1e-6 * radius,
                    "{name}: {}",
                    fit.radius
                );
                assert!((fit.axis - vector(&set["direction"])).norm() < 1e-8);
                assert!((at_z0.coords - vector(&set["point_at_z0"])).norm() < 1e-6 * radius);
                let ours = fit.rms * fit.rms * points.len() as f64;
                assert!(ours <= sum_sq * (1.0 + 1e-12), "{name}: {ours} > {sum_sq}");
            }
            other => panic!("{other}"),
        }
        seen += 1;
    }
    assert_eq!(seen, 4);
}

/// R = abc/(4K) with K the area: textbook triangles and two computed ones.
#[test]
fn three_points() {
    for row in rows(include_str!("../shared/reference/three_point_radius.csv")) {
        let (a, b, c) = (field(&row, 0), field(&row, 1), field(&row, 2));
        let x = (b * b + c * c - a * a) / (2.0 * c);
        let corners = [
            Point2::new(0.0, 0.0),
            Point2::new(c, 0.0),
            Point2::new(x, (b * b - x * x).sqrt()),
        ];
        let fit = fit_circle(&corners, None).unwrap();
        assert!((fit.radius - field(&row, 4)).abs() < 1e-6 + 1e-12 * fit.radius);
        assert!(fit.sigma.is_none());
    }
}

/// Rows of Machinery's Handbook (circular segments, from memory), the US 62 ft chord rule for a
/// one-degree railway curve (from memory), and computed ones: the circle through both ends of the
/// chord and the crown.
#[test]
fn chord_and_rise() {
    for row in rows(include_str!("../shared/reference/arc_chord_rise.csv")) {
        let (chord, rise, radius) = (field(&row, 1), field(&row, 2), field(&row, 3));
        let points = [
            Point2::new(-chord / 2.0, 0.0),
            Point2::new(0.0, rise),
            Point2::new(chord / 2.0, 0.0),
        ];
        let fit = fit_circle(&points, None).unwrap();
        // The file prints the radius to 1e-6; a rise of 1 in 744 costs six digits.
        assert!(
            (fit.radius - radius).abs() < 1e-6 + 1e-9 * radius,
            "{}: {}",
            &row[0],
            fit.radius
        );
    }
}

/// dR/dc = c/(4h), dR/dh = 1/2 − c²/(8h²), combined as JCGM 100:2008, 5.1.2 (clause from memory).
/// Three points, their places each uncertain: the ends along the chord by u(c)/√2, the crown
/// across it by u(h). The fit's own covariance is checked against the same formula with one
/// standard deviation u for every coordinate square to the circle.
#[test]
fn uncertainty_of_a_radius_from_chord_and_rise() {
    for row in rows(include_str!(
        "../shared/reference/arc_radius_uncertainty.csv"
    )) {
        let (chord, rise, by_chord, by_rise) = (
            field(&row, 0),
            field(&row, 1),
            field(&row, 5),
            field(&row, 6),
        );
        let radius_of = |ends: [f64; 2], crown: f64| {
            fit_circle(
                &[
                    Point2::new(-ends[0], 0.0),
                    Point2::new(0.0, crown),
                    Point2::new(ends[1], 0.0),
                ],
                None,
            )
            .unwrap()
            .radius
        };
        let h = 1e-4 * rise;
        let half = chord / 2.0;
        let slope_chord = (radius_of([half + h, half + h], rise)
            - radius_of([half - h, half - h], rise))
            / (4.0 * h);
        let slope_rise =
            (radius_of([half, half], rise + h) - radius_of([half, half], rise - h)) / (2.0 * h);
        assert!((slope_chord - by_chord).abs() < 1e-5 * by_chord);
        assert!((slope_rise - by_rise).abs() < 1e-5 * by_rise.abs());
        // Each end pushed off the circle by u has the lever 1/(2(1 − cos half-angle)) on R, the
        // crown cos/(1 − cos).
        let radius = half * half / (2.0 * rise) + rise / 2.0;
        let cosine = 1.0 - rise / radius;
        let expected = (0.5 + 1.0_f64.mul_add(cosine * cosine, 0.0)).sqrt() / (1.0 - cosine);
        let fit = fit_circle(
            &[
                Point2::new(-half, 0.0),
                Point2::new(0.0, rise),
                Point2::new(half, 0.0),
            ],
            None,
        )
        .unwrap();
        assert!(
            (fit.radius_uncertainty(1.0) / expected - 1.0).abs() < 1e-6,
            "{} {expected}",
            fit.radius_uncertainty(1.0)
        );
    }
}

/// What facets do (computed): vertices give the true radius, mid-facet points one sagitta less.
#[test]
fn facets_do_not_bias_vertices() {
    for row in rows(include_str!("../shared/reference/facet_bias.csv")) {
        let (radius, arc, facets) = (
            field(&row, 0),
            field(&row, 1).to_radians(),
            field(&row, 2) as usize,
        );
        let corner = |k: usize| {
            let a = arc * k as f64 / facets as f64;
            Point2::new(50.0 + radius * a.cos(), -80.0 + radius * a.sin())
        };
        let vertices: Vec<_> = (0..=facets).map(corner).collect();
        let middles: Vec<_> = (0..facets)
            .map(|k| nalgebra::center(&corner(k), &corner(k + 1)))
            .collect();
        assert!((fit_circle(&vertices, None).unwrap().radius - radius).abs() < 1e-8 * radius);
        let inner = fit_circle(&middles, None).unwrap().radius;
        assert!((inner - field(&row, 5)).abs() < 1e-6, "{inner}");
        assert!((radius - inner - field(&row, 4)).abs() < 1e-6);
    }
}

//! Drawn outlines cut into chords as exporters do, and turned back into lines and arcs.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Point2, Rotation2, Vector2};
use soapstone::geometry::min_rectangle::min_rectangle;
use soapstone::geometry::outline::{OutlineSegment, length, lines_and_arcs, moments};

/// A drawn segment: line to a point, or arc about a centre by an angle.
#[derive(Clone, Copy, Debug)]
enum Drawn {
    Line(Point2<f64>, Point2<f64>),
    Arc {
        centre: Point2<f64>,
        radius: f64,
        from: f64,
        angle: f64,
    },
}

fn p(x: f64, y: f64) -> Point2<f64> {
    Point2::new(x, y)
}

/// Polygon with rounded corners (radius 0 = sharp), anticlockwise; convex and concave corners.
fn rounded(corners: &[(f64, f64, f64)]) -> Vec<Drawn> {
    let n = corners.len();
    let at = |i: usize| p(corners[i % n].0, corners[i % n].1);
    let cut: Vec<(Point2<f64>, Point2<f64>, Option<Drawn>)> = (0..n)
        .map(|i| {
            let (a, b, c) = (at(i + n - 1), at(i), at(i + 1));
            let (u, v) = ((a - b).normalize(), (c - b).normalize());
            let r = corners[i].2;
            if r == 0.0 {
                return (b, b, None);
            }
            let half = u.angle(&v) / 2.0;
            let (t, s) = (b + u * (r / half.tan()), b + v * (r / half.tan()));
            let centre = b + (u + v).normalize() * (r / half.sin());
            let angle = (PI - 2.0 * half) * if u.perp(&v) < 0.0 { 1.0 } else { -1.0 };
            let d = t - centre;
            (
                t,
                s,
                Some(Drawn::Arc {
                    centre,
                    radius: r,
                    from: d.y.atan2(d.x),
                    angle,
                }),
            )
        })
        .collect();
    let mut out = Vec::new();
    for i in 0..n {
        out.extend(cut[i].2);
        let (from, to) = (cut[i].1, cut[(i + 1) % n].0);
        if (to - from).norm() > 1e-9 {
            out.push(Drawn::Line(from, to));
        }
    }
    out
}

/// How an exporter cuts an arc into chords.
#[derive(Clone, Copy, Debug)]
enum Cut {
    PerTurn(f64),
    Deflection(f64),
}

fn chords(radius: f64, angle: f64, cut: Cut) -> usize {
    match cut {
        Cut::PerTurn(n) => ((n * angle.abs() / TAU).round() as usize).max(1),
        Cut::Deflection(d) => {
            (angle.abs() / (2.0 * (1.0 - (d / radius).min(1.0)).acos()).min(0.5)).ceil() as usize
        }
    }
}

fn corners(outline: &[Drawn], cut: Cut) -> Vec<Point2<f64>> {
    let mut out = Vec::new();
    for s in outline {
        match *s {
            Drawn::Line(a, _) => out.push(a),
            Drawn::Arc {
                centre,
                radius,
                from,
                angle,
            } => {
                let n = chords(radius, angle, cut);
                out.extend((0..n).map(|k| {
                    centre
                        + Rotation2::new(from + angle * k as f64 / n as f64)
                            * Vector2::new(radius, 0.0)
                }));
            }
        }
    }
    out
}

/// Turned, moved, entered anywhere and rounded to binary32: what a file keeps of it.
fn as_filed(points: &[Point2<f64>], turn: f64, shift: f64, start: usize) -> Vec<Point2<f64>> {
    let mut out: Vec<Point2<f64>> = points
        .iter()
        .map(|q| {
            let q = Rotation2::new(turn) * q + Vector2::new(shift, -0.7 * shift);
            p(f64::from(q.x as f32), f64::from(q.y as f32))
        })
        .collect();
    let n = out.len();
    out.rotate_left(start % n);
    out
}

fn counts(segments: &[OutlineSegment]) -> (usize, usize) {
    let arcs = segments.iter().filter(|s| s.arc.is_some()).count();
    (segments.len() - arcs, arcs)
}

/// Sorted radii with sign (negative concave) and sorted line lengths of the drawing.
fn drawn_sizes(outline: &[Drawn]) -> (Vec<f64>, Vec<f64>) {
    let mut lines: Vec<f64> = outline
        .iter()
        .filter_map(|s| {
            if let Drawn::Line(a, b) = s {
                Some((b - a).norm())
            } else {
                None
            }
        })
        .collect();
    let mut arcs: Vec<f64> = outline
        .iter()
        .filter_map(|s| {
            if let Drawn::Arc { radius, angle, .. } = s {
                Some(radius * angle.signum())
            } else {
                None
            }
        })
        .collect();
    lines.sort_by(f64::total_cmp);
    arcs.sort_by(f64::total_cmp);
    (lines, arcs)
}

fn check(name: &str, outline: &[Drawn], cut: Cut) {
    let exact: f64 = outline
        .iter()
        .map(|s| match s {
            Drawn::Line(a, b) => (b - a).norm(),
            Drawn::Arc { radius, angle, .. } => radius * angle.abs(),
        })
        .sum();
    let plain = corners(outline, cut);
    let (lines, arcs) = drawn_sizes(outline);
    for (turn, shift, start) in [
        (0.0f64, 0.0f64, 0),
        (0.3, 400.0, 3),
        (2.1, -900.0, 7),
        (4.0, 1700.0, 1),
    ] {
        let tolerance = 4.0 * f64::from(f32::EPSILON) * (shift.abs() + 200.0) / 2.0;
        let points = as_filed(&plain, turn, shift, start);
        let found = lines_and_arcs(&points, true, tolerance);
        let what = format!("{name}, {cut:?}, turned {turn}");
        assert_eq!(
            counts(&found),
            (lines.len(), arcs.len()),
            "{what}: lines and arcs; {found:#?}"
        );
        let mut got: Vec<(f64, f64)> = found
            .iter()
            .filter_map(|s| {
                s.arc
                    .map(|a| (a.radius * a.angle.signum(), a.radius_plus_minus))
            })
            .collect();
        got.sort_by(|a, b| a.0.total_cmp(&b.0));
        for ((r, u), want) in got.iter().zip(&arcs) {
            assert!(
                (r - want).abs() <= 0.02 + 1e-3 * want.abs(),
                "{what}: radius {r} ± {u}, drawn {want}"
            );
        }
        let mut got: Vec<f64> = found
            .iter()
            .filter(|s| s.arc.is_none())
            .map(OutlineSegment::length)
            .collect();
        got.sort_by(f64::total_cmp);
        for (l, want) in got.iter().zip(&lines) {
            assert!((l - want).abs() <= 0.02, "{what}: line {l}, drawn {want}");
        }
        assert!(
            (length(&found) - exact).abs() < 0.02,
            "{what}: length {} drawn {exact}",
            length(&found)
        );
        for pair in 0..found.len() {
            let (a, b) = (&found[pair], &found[(pair + 1) % found.len()]);
            assert_eq!(a.end, b.start, "{what}: closed");
            assert!(a.residual <= 2.0 * tolerance, "{what}: {} off", a.residual);
        }
    }
}

const CUTS: [Cut; 9] = [
    Cut::PerTurn(8.0),
    Cut::PerTurn(12.0),
    Cut::PerTurn(16.0),
    Cut::PerTurn(24.0),
    Cut::PerTurn(48.0),
    Cut::PerTurn(200.0),
    Cut::Deflection(0.2),
    Cut::Deflection(0.05),
    Cut::Deflection(0.005),
];

#[test]
fn rectangle_with_four_square_corner_arcs() {
    for cut in CUTS {
        check(
            "rounded rectangle",
            &rounded(&[
                (0., 0., 10.),
                (150., 0., 10.),
                (150., 80., 10.),
                (0., 80., 10.),
            ]),
            cut,
        );
        check(
            "unequal corners",
            &rounded(&[
                (0., 0., 6.),
                (150., 0., 10.),
                (150., 80., 25.),
                (0., 80., 0.),
            ]),
            cut,
        );
        check(
            "rounded square",
            &rounded(&[
                (0., 0., 12.),
                (160., 0., 12.),
                (160., 160., 12.),
                (0., 160., 12.),
            ]),
            cut,
        );
    }
}

#[test]
fn concave_corner_arcs() {
    for cut in CUTS {
        check(
            "ell",
            &rounded(&[
                (0., 0., 5.),
                (160., 0., 5.),
                (160., 40., 5.),
                (50., 40., 20.),
                (50., 140., 5.),
                (0., 140., 0.),
            ]),
            cut,
        );
    }
}

#[test]
fn saddle_plate() {
    let drawn = rounded(&[
        (0., 0., 20.),
        (300., 0., 12.),
        (300., 90., 0.),
        (220., 180., 30.),
        (60., 180., 0.),
        (0., 120., 15.),
    ]);
    // At eight and twelve chords to the turn some corners are one chord: a straight bevel.
    for cut in &CUTS[2..] {
        check("saddle plate", &drawn, *cut);
    }
}

#[test]
fn straight_sided_shapes_stay_straight() {
    let shapes: [&[(f64, f64)]; 5] = [
        &[(0., 0.), (180., 0.), (180., 20.), (20., 150.), (0., 150.)],
        &[(0., 0.), (200., 0.), (200., 120.), (0., 120.)],
        // Bevelled corners; a hexagon; a trapezium with equal sides.
        &[
            (10., 0.),
            (90., 0.),
            (100., 10.),
            (100., 50.),
            (90., 60.),
            (10., 60.),
            (0., 50.),
            (0., 10.),
        ],
        &[
            (50., 0.),
            (25., 43.30127018922193),
            (-25., 43.30127018922193),
            (-50., 0.),
            (-25., -43.30127018922193),
            (25., -43.30127018922193),
        ],
        &[(0., 0.), (100., 0.), (70., 30.), (30., 30.)],
    ];
    for shape in shapes {
        let drawn: Vec<Drawn> = (0..shape.len())
            .map(|i| {
                Drawn::Line(
                    p(shape[i].0, shape[i].1),
                    p(
                        shape[(i + 1) % shape.len()].0,
                        shape[(i + 1) % shape.len()].1,
                    ),
                )
            })
            .collect();
        check("straight", &drawn, Cut::PerTurn(8.0));
    }
}

#[test]
fn wavy_outline_of_200_true_lines() {
    let points: Vec<Point2<f64>> = (0..200)
        .map(|k| {
            let q = TAU * f64::from(k) / 200.0;
            p(
                (150.0 + 12.0 * (9.0 * q).cos()) * q.cos(),
                (100.0 + 8.0 * (7.0 * q).sin()) * q.sin(),
            )
        })
        .collect();
    let found = lines_and_arcs(&as_filed(&points, 0.7, 900.0, 31), true, 2e-4);
    assert_eq!(
        counts(&found),
        (200, 0),
        "no arc was drawn: {:?}",
        found.iter().find(|s| s.arc.is_some())
    );
}

#[test]
fn full_circles() {
    for n in [8.0, 9.0, 12.0, 24.0, 48.0, 360.0] {
        let drawn = [Drawn::Arc {
            centre: p(20., 30.),
            radius: 7.0,
            from: 0.4,
            angle: TAU,
        }];
        let found = lines_and_arcs(
            &as_filed(&corners(&drawn, Cut::PerTurn(n)), 1.0, 300.0, 2),
            true,
            6e-5,
        );
        assert_eq!(found.len(), 1, "one arc");
        let arc = found[0].arc.expect("an arc");
        assert!(
            (arc.radius - 7.0).abs() < 1e-4 && arc.angle == TAU,
            "{n} chords: {arc:?}"
        );
    }
    let hexagon: Vec<Point2<f64>> = (0..6)
        .map(|k| {
            p(
                (PI / 3.0 * f64::from(k)).cos(),
                (PI / 3.0 * f64::from(k)).sin(),
            )
        })
        .collect();
    assert_eq!(
        counts(&lines_and_arcs(&hexagon, true, 1e-6)),
        (6, 0),
        "a hexagon is six lines"
    );
}

#[test]
fn arcs_of_different_radius_in_a_row() {
    // Quarter of 50, tangent quarter of 20, then straight home.
    let drawn = [
        Drawn::Line(p(0., 0.), p(30., 0.)),
        Drawn::Arc {
            centre: p(30., 50.),
            radius: 50.0,
            from: -FRAC_PI_2,
            angle: FRAC_PI_2,
        },
        Drawn::Arc {
            centre: p(60., 50.),
            radius: 20.0,
            from: 0.0,
            angle: FRAC_PI_2,
        },
        Drawn::Line(p(60., 70.), p(0., 70.)),
        Drawn::Line(p(0., 70.), p(0., 0.)),
    ];
    for cut in CUTS.into_iter().skip(1) {
        check("two radii", &drawn, cut);
    }
    // An S of two arcs.
    let s = [
        Drawn::Line(p(0., 0.), p(100., 0.)),
        Drawn::Arc {
            centre: p(100., 40.),
            radius: 40.0,
            from: -FRAC_PI_2,
            angle: FRAC_PI_2,
        },
        Drawn::Arc {
            centre: p(165., 40.),
            radius: 25.0,
            from: PI,
            angle: -FRAC_PI_2,
        },
        Drawn::Line(p(165., 65.), p(165., 120.)),
        Drawn::Line(p(165., 120.), p(0., 120.)),
        Drawn::Line(p(0., 120.), p(0., 0.)),
    ];
    for cut in CUTS.into_iter().skip(1) {
        check("ess", &s, cut);
    }
}

#[test]
fn slots_and_arcs_with_corners_at_their_ends() {
    let slot = [
        Drawn::Line(p(-20., -8.), p(20., -8.)),
        Drawn::Arc {
            centre: p(20., 0.),
            radius: 8.0,
            from: -FRAC_PI_2,
            angle: PI,
        },
        Drawn::Line(p(20., 8.), p(-20., 8.)),
        Drawn::Arc {
            centre: p(-20., 0.),
            radius: 8.0,
            from: FRAC_PI_2,
            angle: PI,
        },
    ];
    let segment = [
        Drawn::Line(p(40., 0.), p(0., 0.)),
        Drawn::Arc {
            centre: p(20., 0.),
            radius: 20.0,
            from: PI,
            angle: PI,
        },
    ];
    let sector = [
        Drawn::Line(p(0., 0.), p(60., 0.)),
        Drawn::Arc {
            centre: p(0., 0.),
            radius: 60.0,
            from: 0.0,
            angle: 1.9,
        },
        Drawn::Line(p(60. * 1.9f64.cos(), 60. * 1.9f64.sin()), p(0., 0.)),
    ];
    for cut in CUTS {
        check("slot", &slot, cut);
    }
    for cut in CUTS.into_iter().skip(1) {
        check("half disc", &segment, cut);
        check("sector", &sector, cut);
    }
}

#[test]
fn corners_of_cut_facets_lie_on_chords() {
    // Strips across the plate leave extra corners inside the chords.
    let drawn = rounded(&[
        (0., 0., 15.),
        (120., 0., 15.),
        (120., 70., 15.),
        (0., 70., 15.),
    ]);
    let plain = corners(&drawn, Cut::PerTurn(24.0));
    let mut cut = Vec::new();
    for i in 0..plain.len() {
        let (a, b) = (plain[i], plain[(i + 1) % plain.len()]);
        cut.push(a);
        let mut between: Vec<f64> = (0..=12)
            .map(|k| f64::from(k) * 10.0 - 0.5)
            .map(|x| (x - a.x) / (b.x - a.x))
            .filter(|t| *t > 1e-6 && *t < 1.0 - 1e-6)
            .collect();
        between.sort_by(f64::total_cmp);
        cut.extend(between.into_iter().map(|t| a + (b - a) * t));
    }
    let found = lines_and_arcs(&as_filed(&cut, 0.5, 100.0, 5), true, 3e-5);
    assert_eq!(
        counts(&found),
        (4, 4),
        "chords only carry the extra corners"
    );
    assert!(
        found
            .iter()
            .filter_map(|s| s.arc)
            .all(|a| (a.radius - 15.0).abs() < 1e-3),
        "radius 15"
    );
}

#[test]
fn noisy_outline() {
    // Deterministic scatter of 0.1 mm (uniform ±0.17) on an outline sampled every 2 mm or so.
    let drawn = rounded(&[
        (0., 0., 25.),
        (200., 0., 25.),
        (200., 120., 0.),
        (0., 120., 0.),
    ]);
    let mut points = Vec::new();
    let plain = corners(&drawn, Cut::PerTurn(60.0));
    for i in 0..plain.len() {
        let (a, b) = (plain[i], plain[(i + 1) % plain.len()]);
        let n = ((b - a).norm() / 2.0).ceil().max(1.0) as usize;
        points.extend((0..n).map(|k| a + (b - a) * (k as f64 / n as f64)));
    }
    let mut seed = 12345u64;
    let mut random = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((seed >> 33) as f64 / f64::from(1u32 << 31) - 0.5) * 0.34
    };
    for q in &mut points {
        *q += Vector2::new(random(), random());
    }
    let found = lines_and_arcs(&points, true, 0.5);
    assert_eq!(counts(&found), (4, 2), "{found:#?}");
    for s in &found {
        if let Some(arc) = s.arc {
            assert!(
                (arc.radius - 25.0).abs() < arc.radius_plus_minus.max(0.5),
                "radius {} ± {}",
                arc.radius,
                arc.radius_plus_minus
            );
        }
    }
}

#[test]
fn open_polyline() {
    let drawn = [
        Drawn::Line(p(-50., 0.), p(0., 0.)),
        Drawn::Arc {
            centre: p(0., 30.),
            radius: 30.0,
            from: -FRAC_PI_2,
            angle: 1.2,
        },
    ];
    let mut points = corners(&drawn, Cut::PerTurn(48.0));
    points.push(p(
        30.0 * (1.2 - FRAC_PI_2).cos(),
        30.0 + 30.0 * (1.2 - FRAC_PI_2).sin(),
    ));
    let found = lines_and_arcs(&points, false, 1e-6);
    assert_eq!(counts(&found), (1, 1), "{found:#?}");
    assert!(
        (found[1].arc.expect("arc").angle - 1.2).abs() < 1e-6,
        "angle of the arc"
    );
}

#[test]
fn exact_area_and_smallest_rectangle() {
    let drawn = rounded(&[
        (0., 0., 10.),
        (150., 0., 10.),
        (150., 80., 10.),
        (0., 80., 10.),
    ]);
    let found = lines_and_arcs(
        &as_filed(&corners(&drawn, Cut::PerTurn(16.0)), 0.4, 50.0, 0),
        true,
        2e-5,
    );
    let m = moments(&found);
    assert!(
        (m.area - (12000.0 - (4.0 - PI) * 100.0)).abs() < 0.01,
        "area {}",
        m.area
    );
    let middle = Rotation2::new(0.4) * p(75., 40.) + Vector2::new(50.0, -35.0);
    assert!(
        (m.centroid - middle).norm() < 1e-4,
        "centroid {}",
        m.centroid
    );
    let r = min_rectangle(&found, 2e-5).expect("a rectangle");
    assert!(
        (r.length - 150.0).abs() < 1e-4 && (r.width - 80.0).abs() < 1e-4,
        "{r:?}"
    );
}

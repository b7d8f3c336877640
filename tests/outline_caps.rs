//! Caps of tube ends against the exact meeting of the tube with its cut.

use assert_cmd::Command;
use dxf::Drawing;
use dxf::entities::EntityType;
use nalgebra::{Matrix2, Vector2};
use soapstone::analysis::{Asked, analyse};
use soapstone::drawing::bulge;
use soapstone::drawing::outline::cap::{Fit, cap};
use soapstone::drawing::scene::{Place, Shape};
use soapstone::measure::STEEL_DENSITY;
use soapstone::member::Member;

/// A tube along z as an OBJ, both ends cut by planes of this normal.
fn tube_text(outer: &[[f64; 2]], inner: &[[f64; 2]], normal: [f64; 3], length: f64) -> String {
    let n = outer.len();
    let mut text = String::new();
    for end in [0.0, length] {
        for [x, y] in outer.iter().chain(inner) {
            let z = end - (normal[0] * x + normal[1] * y) / normal[2];
            text.push_str(&format!("v {x:.9} {y:.9} {z:.9}\n"));
        }
    }
    let (inside, top) = (n, 2 * n);
    for k in 0..n {
        let l = (k + 1) % n;
        let mut quad = |a: usize, b: usize, c: usize, d: usize| {
            text.push_str(&format!("f {} {} {}\n", a + 1, b + 1, c + 1));
            text.push_str(&format!("f {} {} {}\n", a + 1, c + 1, d + 1));
        };
        quad(k, l, top + l, top + k);
        quad(inside + l, inside + k, top + inside + k, top + inside + l);
        quad(l, k, inside + k, inside + l);
        quad(top + k, top + l, top + inside + l, top + inside + k);
    }
    text
}

/// The same as it is read.
fn tube(outer: &[[f64; 2]], inner: &[[f64; 2]], normal: [f64; 3], length: f64) -> Member {
    let text = tube_text(outer, inner, normal, length);
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    let report = analyse(text.as_bytes(), "tube.obj", &asked).expect("a model");
    report.parts[0].member.clone().expect("a member")
}

fn rectangle(w: f64, h: f64) -> Vec<[f64; 2]> {
    let (x, y) = (w / 2.0, h / 2.0);
    vec![[x, y], [-x, y], [-x, -y], [x, -y]]
}

fn circle(radius: f64) -> Vec<[f64; 2]> {
    (0..90)
        .map(|k| f64::from(k) * 4.0_f64.to_radians())
        .map(|a| [radius * a.cos(), radius * a.sin()])
        .collect()
}

/// Cut 30° against the width and 20° against the height.
fn compound() -> [f64; 3] {
    [
        30.0_f64.to_radians().tan(),
        20.0_f64.to_radians().tan(),
        1.0,
    ]
}

/// Corners of the rectangle w × h as they stand on the cut.
fn corners_on_cut(w: f64, h: f64, n: [f64; 3]) -> Vec<nalgebra::Vector3<f64>> {
    rectangle(w, h)
        .into_iter()
        .map(|[x, y]| nalgebra::Vector3::new(x, y, -(n[0] * x + n[1] * y) / n[2]))
        .collect()
}

fn polygon(shape: &Shape) -> Vec<Place> {
    let Shape::Path { corners, closed } = shape else {
        panic!("no path: {shape:?}");
    };
    assert!(
        *closed && corners.iter().all(|c| c.bulge == 0.0),
        "straight"
    );
    corners.iter().map(|c| c.at).collect()
}

fn sorted(mut list: Vec<f64>) -> Vec<f64> {
    list.sort_by(f64::total_cmp);
    list
}

/// Distances of all pairs of corners: what fixes a polygon but for where it lies.
fn same_corners(got: &[Place], want: &[nalgebra::Vector3<f64>]) {
    assert_eq!(got.len(), want.len());
    let pairs = |n: usize| (0..n).flat_map(move |i| (0..i).map(move |j| (i, j)));
    let a = sorted(
        pairs(got.len())
            .map(|(i, j)| (got[i] - got[j]).norm())
            .collect(),
    );
    let b = sorted(
        pairs(want.len())
            .map(|(i, j)| (want[i] - want[j]).norm())
            .collect(),
    );
    for (a, b) in a.iter().zip(&b) {
        assert!((a - b).abs() < 0.005, "{a} instead of {b}");
    }
}

/// The cut of a rectangular tube is a parallelogram: its corners are those of the section, moved along
/// the tube to the plane.
#[test]
fn rectangular_tubes_at_a_compound_angle_give_parallelograms() {
    let n = compound();
    for (w, h) in [(80.0, 40.0), (50.0, 50.0)] {
        let member = tube(&rectangle(w, h), &rectangle(w - 6.0, h - 6.0), n, 500.0);
        for end in [0, 1] {
            let on_cut = cap(&member, end, Fit::Outside(0.0)).expect("a cap");
            let want = corners_on_cut(w, h, n);
            same_corners(&polygon(&on_cut.shape), &want);

            // Parallel sides move in by the inset: each side loses 2·inset/sin of the corner.
            let (a, b) = (want[1] - want[0], want[2] - want[1]);
            let sine = a.cross(&b).norm() / a.norm() / b.norm();
            let less = cap(&member, end, Fit::Outside(2.0)).expect("a cap");
            let got = polygon(&less.shape);
            let sides = sorted((0..4).map(|k| (got[(k + 1) % 4] - got[k]).norm()).collect());
            let short = |v: f64| v - 2.0 * 2.0 / sine;
            let exact = sorted([a.norm(), a.norm(), b.norm(), b.norm()].map(short).to_vec());
            for (s, e) in sides.iter().zip(&exact) {
                assert!((s - e).abs() < 0.005, "{s} instead of {e}");
            }

            // A plug stays clear of the walls, measured square to them.
            let plug = cap(&member, end, Fit::Inside(0.5)).expect("a plug");
            same_corners(&polygon(&plug.shape), &corners_on_cut(w - 7.0, h - 7.0, n));
        }
    }
}

/// Points along the lines and arcs of a shape.
fn points(shape: &Shape) -> Vec<Place> {
    let Shape::Path { corners, .. } = shape else {
        panic!("no path: {shape:?}");
    };
    let mut out = Vec::new();
    for (a, b, turn) in bulge::pieces(corners, true) {
        let arc = bulge::arc(a, b, turn).expect("nothing but arcs");
        for k in 0..40 {
            let angle = arc.start + arc.sweep * f64::from(k) / 40.0;
            out.push(arc.centre + Vector2::new(angle.cos(), angle.sin()) * arc.radius);
        }
    }
    out
}

/// Largest distance of the points from the ellipse with these half axes; where it lies is taken from
/// the moments of the area inside.
fn off_ellipse(points: &[Place], long: f64, short: f64) -> f64 {
    let (spread, middle) = spread(points);
    let eigen = spread.symmetric_eigen();
    let major = if eigen.eigenvalues[0] > eigen.eigenvalues[1] {
        0
    } else {
        1
    };
    let u = eigen.eigenvectors.column(major).into_owned();
    points
        .iter()
        .map(|p| {
            let d = p.coords - middle;
            let (x, y) = (d.dot(&u) / long, u.perp(&d) / short);
            // First-order distance: the function over its slope.
            let slope = 2.0 * Vector2::new(x / long, y / short).norm();
            ((x * x + y * y - 1.0) / slope).abs()
        })
        .fold(0.0, f64::max)
}

/// The cut of a round tube is an ellipse: half axes r/cos of the cut's angle off square, and r.
#[test]
fn round_tubes_give_ellipses_of_arcs() {
    let n = compound();
    let cosine = 1.0 / (n[0] * n[0] + n[1] * n[1] + 1.0).sqrt();
    let member = tube(&circle(24.15), &circle(20.95), n, 400.0);
    for end in [0, 1] {
        let on_cut = cap(&member, end, Fit::Outside(0.0)).expect("a cap");
        let off = off_ellipse(&points(&on_cut.shape), 24.15 / cosine, 24.15);
        assert!(
            off < on_cut.departure + 0.005,
            "{off}, told {}",
            on_cut.departure
        );
        assert!(on_cut.departure <= 0.01);
        let plug = cap(&member, end, Fit::Inside(0.5)).expect("a plug");
        let off = off_ellipse(&points(&plug.shape), 20.45 / cosine, 20.45);
        assert!(off < plug.departure + 0.005, "{off}");
    }
    // Square cuts need no arcs: one circle.
    let square = tube(&circle(24.15), &circle(20.95), [0.0, 0.0, 1.0], 400.0);
    let lid = cap(&square, 0, Fit::Outside(1.0)).expect("a lid");
    let Shape::Circle { radius, .. } = lid.shape else {
        panic!("no circle: {:?}", lid.shape);
    };
    assert!((radius - 23.15).abs() < 0.005, "{radius}");
}

/// A rectangle with rounded corners of so many chords each.
fn rounded(w: f64, h: f64, r: f64, chords: usize) -> Vec<[f64; 2]> {
    let (a, b) = (w / 2.0 - r, h / 2.0 - r);
    let middles = [[a, b], [-a, b], [-a, -b], [a, -b]];
    let mut out = Vec::new();
    for (k, [x, y]) in middles.into_iter().enumerate() {
        for j in 0..=chords {
            let angle = std::f64::consts::FRAC_PI_2 * (k as f64 + j as f64 / chords as f64);
            out.push([x + r * angle.cos(), y + r * angle.sin()]);
        }
    }
    out
}

/// Distance of a point from the rectangle w × h with corners r, in the section.
fn off_rounded(p: &Vector2<f64>, w: f64, h: f64, r: f64) -> f64 {
    let d = Vector2::new(p.x.abs() - (w / 2.0 - r), p.y.abs() - (h / 2.0 - r));
    let out = Vector2::new(d.x.max(0.0), d.y.max(0.0)).norm();
    (out + d.x.max(d.y).min(0.0) - r).abs()
}

/// Second moments of the area inside, about its middle, over the area; and the middle.
fn spread(points: &[Place]) -> (Matrix2<f64>, Vector2<f64>) {
    let n = points.len();
    let (mut area, mut first, mut second) = (0.0, Vector2::zeros(), Matrix2::zeros());
    for k in 0..n {
        let (p, q) = (points[k].coords, points[(k + 1) % n].coords);
        let cross = p.perp(&q) / 2.0;
        area += cross;
        first += (p + q) * (cross / 3.0);
        let sum = p + q;
        second += (p * p.transpose() + q * q.transpose() + sum * sum.transpose()) * (cross / 12.0);
    }
    let middle = first / area;
    (second / area - middle * middle.transpose(), middle)
}

/// The plane of the cut has two axes: points of the section go to it by this map.
fn onto_cut(n: [f64; 3]) -> Matrix2<f64> {
    let normal = nalgebra::Vector3::from(n).normalize();
    let x = nalgebra::Vector3::x();
    let u = (x - normal * normal.dot(&x)).normalize();
    let v = normal.cross(&u);
    let lift = |x: f64, y: f64| nalgebra::Vector3::new(x, y, -(n[0] * x + n[1] * y) / n[2]);
    let (a, b) = (lift(1.0, 0.0), lift(0.0, 1.0));
    Matrix2::new(a.dot(&u), b.dot(&u), a.dot(&v), b.dot(&v))
}

/// How a contour lies that may have been turned, shifted or turned over: brings its points back to the
/// section so that they lie on the rectangle w × h with corners r; the largest distance left.
fn back_on_section(points: &[Place], n: [f64; 3], w: f64, h: f64, r: f64) -> f64 {
    let on_cut = onto_cut(n);
    let want: Vec<Place> = rounded(w, h, r, 400)
        .into_iter()
        .map(|p| Place::from(on_cut * Vector2::from(p)))
        .collect();
    let axes = |s: Matrix2<f64>| {
        let eigen = s.symmetric_eigen();
        let k = usize::from(eigen.eigenvalues[1] > eigen.eigenvalues[0]);
        eigen.eigenvectors.column(k).into_owned()
    };
    let (got_spread, got_middle) = spread(points);
    let (u, target) = (axes(got_spread), axes(spread(&want).0));
    let back = on_cut.try_inverse().expect("a cut across");
    let mut best = f64::INFINITY;
    for (sense, flip) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
        let off = points
            .iter()
            .map(|p| {
                let d = p.coords - got_middle;
                let (x, y) = (d.dot(&u) * sense, u.perp(&d) * flip);
                let turned = target * x + Vector2::new(-target.y, target.x) * y;
                off_rounded(&(back * turned), w, h, r)
            })
            .fold(0.0, f64::max);
        best = best.min(off);
    }
    best
}

/// Corners and bulges of the one closed contour in a DXF file, read by a library that did not write it.
fn contour_of(path: &std::path::Path) -> Vec<(f64, f64, f64)> {
    let bytes = std::fs::read(path).expect("a file");
    let drawing = Drawing::load(&mut bytes.as_slice()).expect("a DXF the library reads");
    let mut found = drawing.entities().filter_map(|e| match &e.specific {
        EntityType::LwPolyline(p) => {
            assert!(p.is_closed());
            Some(p.vertices.iter().map(|v| (v.x, v.y, v.bulge)).collect())
        }
        EntityType::Polyline(p) => {
            assert!(p.is_closed());
            let all = p.vertices();
            Some(all.map(|v| (v.location.x, v.location.y, v.bulge)).collect())
        }
        _ => None,
    });
    let only = found.next().expect("a contour");
    assert!(found.next().is_none(), "one contour");
    only
}

/// Places along the contour, and the radii of its arcs.
fn along(contour: &[(f64, f64, f64)]) -> (Vec<Place>, Vec<f64>) {
    let (mut places, mut radii) = (Vec::new(), Vec::new());
    for (k, &(x, y, bulge)) in contour.iter().enumerate() {
        let (x2, y2, _) = contour[(k + 1) % contour.len()];
        let (p, q) = (Place::new(x, y), Place::new(x2, y2));
        let chord = q - p;
        // the bulge is the tangent of a quarter of the angle; 1/r = 4 bulge / (chord (1 + bulge²))
        if bulge != 0.0 {
            radii.push(chord.norm() * (1.0 + bulge * bulge) / (4.0 * bulge.abs()));
        }
        let middle = nalgebra::center(&p, &q);
        for j in 0..60 {
            let t = f64::from(j) / 60.0;
            if bulge == 0.0 {
                places.push(p + chord * t);
                continue;
            }
            let left = Vector2::new(-chord.y, chord.x);
            let centre = middle + left * ((1.0 - bulge * bulge) / (4.0 * bulge));
            let angle = 4.0 * bulge.atan() * t;
            places.push(centre + nalgebra::Rotation2::new(angle) * (p - centre));
        }
    }
    (places, radii)
}

/// Caps of a rounded rectangular tube as they stand in the files: the corners are arcs that lie on the
/// section's own corners brought to the cut, and everything between them is four straight lines.
#[test]
fn corners_of_rounded_tubes_are_arcs_in_the_file() {
    let folder = tempfile::TempDir::new().expect("a folder");
    let square = [0.0, 0.0, 1.0];
    for (case, n) in [square, [1.0, 0.0, 1.0], compound()]
        .into_iter()
        .enumerate()
    {
        let model = folder.path().join(format!("tube{case}.obj"));
        // EN 10219-2: corners of an 80 x 50 x 4 tube about 2 t outside and t inside
        let (outer, inner) = (rounded(80.0, 50.0, 8.0, 8), rounded(72.0, 42.0, 4.0, 8));
        std::fs::write(&model, tube_text(&outer, &inner, n, 400.0)).expect("written");
        for (fit, gap, w, h, r) in [
            ("outside", "0mm", 80.0, 50.0, 8.0),
            ("inside", "0.5mm", 71.0, 41.0, 3.5),
        ] {
            for edition in ["r12", "2000"] {
                let out = folder.path().join(format!("{case}-{fit}-{edition}"));
                Command::cargo_bin("soapstone")
                    .expect("the program")
                    .args(["outline", model.to_str().expect("a path"), "--unit", "mm"])
                    .args(["--caps", fit, "--cap-gap", gap, "--dxf", edition, "-o"])
                    .arg(&out)
                    .assert()
                    .success();
                let files: Vec<_> = std::fs::read_dir(&out)
                    .expect("files")
                    .map(|f| f.expect("a file").path())
                    .filter(|p| p.extension().is_some_and(|e| e == "dxf"))
                    .collect();
                assert!(!files.is_empty());
                for file in files {
                    let contour = contour_of(&file);
                    let (places, radii) = along(&contour);
                    let straight = contour.iter().filter(|c| c.2 == 0.0).count();
                    assert_eq!(straight, 4, "{}", file.display());
                    let off = back_on_section(&places, n, w, h, r);
                    // told in the file: arcs stay within 0.01 mm of the curve
                    assert!(off < 0.02, "{}: {off}", file.display());
                    if case == 0 {
                        assert_eq!(radii.len(), 4);
                        assert!(radii.iter().all(|q| (q - r).abs() < 0.01), "{radii:?}");
                    }
                }
            }
        }
    }
}

/// A cap smaller all round by an inset stays that far from the outside everywhere, corners too.
#[test]
fn an_inset_is_kept_round_the_corners() {
    let (outer, inner) = (rounded(80.0, 50.0, 8.0, 8), rounded(72.0, 42.0, 4.0, 8));
    let member = tube(&outer, &inner, compound(), 400.0);
    let places = |inset: f64| {
        let found = cap(&member, 0, Fit::Outside(inset)).expect("a cap");
        let Shape::Path { corners, .. } = found.shape else {
            panic!("a path");
        };
        let contour: Vec<_> = corners.iter().map(|c| (c.at.x, c.at.y, c.bulge)).collect();
        along(&contour).0
    };
    let (whole, less) = (places(0.0), places(2.0));
    for p in &less {
        let n = whole.len();
        let nearest = (0..n)
            .map(|k| {
                let (a, b) = (whole[k], whole[(k + 1) % n]);
                let t = ((p - a).dot(&(b - a)) / (b - a).norm_squared().max(1e-12)).clamp(0.0, 1.0);
                (p - (a + (b - a) * t)).norm()
            })
            .fold(f64::INFINITY, f64::min);
        assert!((nearest - 2.0).abs() < 0.03, "{nearest}");
    }
}

#[test]
fn a_cap_that_can_not_be_is_refused_in_words() {
    let member = tube(
        &rectangle(40.0, 40.0),
        &rectangle(34.0, 34.0),
        [0.0, 0.0, 1.0],
        300.0,
    );
    assert!(cap(&member, 0, Fit::Outside(25.0)).is_err());
    assert!(cap(&member, 0, Fit::Inside(20.0)).is_err());
    assert!(cap(&member, 7, Fit::Inside(0.5)).is_err());
}

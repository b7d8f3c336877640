//! Caps of tube ends against the exact meeting of the tube with its cut.

use nalgebra::{Matrix2, Vector2};
use soapstone::analysis::{Asked, analyse};
use soapstone::drawing::bulge;
use soapstone::drawing::outline::cap::{Fit, cap};
use soapstone::drawing::scene::{Place, Shape};
use soapstone::measure::STEEL_DENSITY;
use soapstone::member::Member;

/// A tube along z as an OBJ, both ends cut by planes of this normal.
fn tube(outer: &[[f64; 2]], inner: &[[f64; 2]], normal: [f64; 3], length: f64) -> Member {
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
    let spread = second / area - middle * middle.transpose();
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

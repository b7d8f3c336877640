//! No number of a plate depends on how the model lies, in which order its facets come, or which hand
//! of a plate that can be turned over was drawn.

mod plate_files;

use std::collections::HashMap;
use std::path::Path;

use nalgebra::{Point3, Rotation3, Vector3};
use soapstone::body::Body;
use soapstone::plate::{Measured, Segment, measure};
use soapstone::surface::segment;
use soapstone::weld::NONE;

/// The body with its vertices moved and its facets in another order, turned about if mirrored.
fn moved(
    body: &Body,
    to: impl Fn(&Point3<f64>) -> Point3<f64>,
    mirrored: bool,
    order: impl Fn(usize) -> usize,
) -> Body {
    let n = body.facets.len();
    let facets: Vec<[u32; 3]> = (0..n)
        .map(|i| {
            let [a, b, c] = body.facets[order(i) % n];
            let turned = [[a, b, c], [b, c, a], [c, a, b]][i % 3];
            if mirrored {
                [turned[0], turned[2], turned[1]]
            } else {
                turned
            }
        })
        .collect();
    let mut across: HashMap<(u32, u32), u32> = HashMap::new();
    for (f, v) in facets.iter().enumerate() {
        for k in 0..3 {
            across.insert((v[k], v[(k + 1) % 3]), f as u32);
        }
    }
    let neighbours = facets
        .iter()
        .map(|v| [0, 1, 2].map(|k| across.get(&(v[(k + 1) % 3], v[k])).copied().unwrap_or(NONE)))
        .collect();
    Body {
        vertices: body.vertices.iter().map(&to).collect(),
        facets,
        neighbours,
        centroid: to(&body.centroid),
        ..body.clone()
    }
}

/// Everything a plate's report says that needs no place in the file: value and ±.
fn numbers(m: &Measured) -> Vec<(String, f64, f64)> {
    let p = &m.plate;
    let mut out = Vec::new();
    let mut put = |name: String, q: Option<soapstone::measure::Quantity>| {
        if let Some(q) = q {
            out.push((name, q.value, q.plus_minus));
        }
    };
    put("volume".into(), Some(m.volume));
    put("surface".into(), Some(m.surface_area));
    put("thickness".into(), p.thickness);
    put("length".into(), p.flat.length);
    put("width".into(), p.flat.width);
    put("perimeter".into(), p.flat.perimeter);
    put("area".into(), p.flat.area);
    put("inside".into(), p.inside_radius);
    put("outside".into(), p.outside_radius);
    put("arc".into(), p.arc_angle);
    put("sector".into(), p.sector_angle);
    put("slant".into(), p.slant_length);
    for (i, b) in p.bends.iter().enumerate() {
        put(format!("bend {i} angle"), Some(b.angle));
        put(format!("bend {i} radius"), Some(b.inside_radius));
    }
    for (i, f) in p.flanges.iter().enumerate() {
        put(format!("flange {i}"), Some(*f));
    }
    for (i, h) in p.holes.iter().enumerate() {
        put(format!("hole {i} x"), h.x);
        put(format!("hole {i} y"), h.y);
        put(format!("hole {i} diameter"), h.diameter);
        put(format!("hole {i} length"), h.length);
        put(format!("hole {i} head"), h.countersink_diameter);
    }
    for (i, s) in p.outline.iter().enumerate() {
        match s {
            Segment::Line { length, .. } => put(format!("outline {i} line"), Some(*length)),
            Segment::Arc { radius, angle, .. } => {
                put(format!("outline {i} radius"), Some(*radius));
                put(format!("outline {i} angle"), Some(*angle));
            }
        }
    }
    out
}

fn compare(name: &str, what: &str, a: &Measured, b: &Measured) {
    let (a, b) = (numbers(a), numbers(b));
    let names = |list: &[(String, f64, f64)]| list.iter().map(|x| x.0.clone()).collect::<Vec<_>>();
    assert_eq!(
        names(&a),
        names(&b),
        "{name}, {what}: the same numbers are given"
    );
    for ((n, x, u), (_, y, v)) in a.iter().zip(&b) {
        assert!(
            (x - y).abs() <= 2.0 * (u + v) + 1e-6,
            "{name}, {what}: {n} was {x} ± {u}, is {y} ± {v}"
        );
    }
}

fn read(name: &str) -> Body {
    let path = Path::new("fixtures/plate").join(name);
    let scale = if name.contains("inch") || name.contains("four_folds") {
        25.4
    } else {
        1.0
    };
    plate_files::bodies(&path, scale).remove(0)
}

fn plate(body: &Body) -> Measured {
    measure(body, &segment(body)).expect("a plate")
}

const MODELS: [&str; 14] = [
    "drilled.stl",
    "disc.stl",
    "saddle_plate_01.stl",
    "cover_csk_01_t005.stl",
    "gutter_01_t02.stl",
    "canopy_panel_01_wrap.stl",
    "cowl_cone_01_t02.stl",
    "l_bracket_01.stl",
    "u_bracket_01_inch.stl",
    "hat_tray_01.stl",
    "ell_plate_01.obj",
    "gusset_01.obj",
    "four_folds_coarse.obj",
    "two_folds_coarse.obj",
];

#[test]
fn turned_and_moved() {
    for name in MODELS {
        let body = read(name);
        let as_drawn = plate(&body);
        for k in 1..5 {
            let turn = Rotation3::from_scaled_axis(Vector3::new(0.7, -1.1, 0.4) * f64::from(k));
            let about = body.centroid;
            let to = |p: &Point3<f64>| {
                about + turn * (p - about) + Vector3::new(13.0, -7.0, 5.0) * f64::from(k)
            };
            let other = moved(&body, to, false, |i| i);
            compare(name, &format!("turned {k}"), &as_drawn, &plate(&other));
        }
    }
}

#[test]
fn shuffled() {
    for name in MODELS {
        let body = read(name);
        let as_drawn = plate(&body);
        let n = body.facets.len();
        // A step prime to the number of facets visits each once.
        let step = (n / 3..).find(|s| gcd(*s, n) == 1).unwrap_or(1);
        let other = moved(&body, |p| *p, false, |i| i * step + 5);
        compare(name, "shuffled", &as_drawn, &plate(&other));
    }
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[test]
fn turned_over() {
    // A flat plate without countersinks is its own mirror image turned over.
    for name in [
        "saddle_plate_01.stl",
        "ell_plate_01.obj",
        "gusset_01.obj",
        "gutter_01_t02.stl",
    ] {
        let body = read(name);
        let mirrored = moved(&body, |p| Point3::new(-p.x, p.y, p.z), true, |i| i);
        compare(name, "mirrored", &plate(&body), &plate(&mirrored));
    }
}

#[test]
fn reported_places_stand_in_the_file() {
    for name in MODELS {
        let body = read(name);
        let m = plate(&body);
        let Some(frame) = m.plate.frame else { continue };
        let (x, y, z) = (
            Vector3::from(frame.x),
            Vector3::from(frame.y),
            Vector3::from(frame.z),
        );
        assert!(
            (x.cross(&y) - z).norm() < 1e-6 && (x.norm() - 1.0).abs() < 1e-6,
            "{name}: the frame is right-handed and square"
        );
        for h in &m.plate.holes {
            assert!(
                (Vector3::from(h.axis).norm() - 1.0).abs() < 1e-9,
                "{name}: unit axis"
            );
            if m.plate.form == soapstone::plate::Form::Flat {
                let axis = Vector3::from(h.axis);
                let from_origin = Point3::from(h.point) - Point3::from(frame.origin);
                assert!(
                    from_origin.dot(&z).abs() < 1e-3 && axis.dot(&z) < -0.9,
                    "{name}: on the front, going in"
                );
                // Its place is that of the axis amid the plate.
                let t = m.plate.thickness.expect("thickness").value;
                let d = from_origin + axis * (t / 2.0 / -axis.dot(&z));
                let (hx, hy) = (h.x.expect("x").value, h.y.expect("y").value);
                let off = (d.dot(&x) - hx).hypot(d.dot(&y) - hy);
                assert!(
                    off < 1e-3,
                    "{name}: hole at {hx} {hy} stands {off} away in the file"
                );
            }
        }
    }
}

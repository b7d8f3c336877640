//! Kinds of holes in a plate, each from the parameters it was drawn with.

mod plate_files;

use std::path::Path;

use soapstone::finding::Code;
use soapstone::measure::Quantity;
use soapstone::plate::{HoleKind, Measured, PlateHole, measure};
use soapstone::surface::segment;

fn plate(name: &str) -> Measured {
    let body = plate_files::bodies(&Path::new("fixtures/plate").join(name), 1.0).remove(0);
    measure(&body, &segment(&body)).expect("a plate")
}

fn near(q: Option<Quantity>, want: f64, what: &str) {
    let q = q.unwrap_or_else(|| panic!("{what} is given"));
    assert!(
        (q.value - want).abs() <= 0.002 + q.plus_minus,
        "{what}: {} ± {}, drawn {want}",
        q.value,
        q.plus_minus
    );
}

fn at(m: &Measured, x: f64, y: f64) -> &PlateHole {
    let off = |h: &PlateHole| (h.x.expect("x").value - x).hypot(h.y.expect("y").value - y);
    let h = m
        .plate
        .holes
        .iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .expect("holes");
    assert!(
        off(h) < 0.01,
        "a hole at {x}, {y}; the nearest is {} away",
        off(h)
    );
    h
}

/// `drilled.stl`: 200 × 120 × 20 with a counterbore 11/18 × 8, blind holes 12 × 12 (flat) and 10 × 10
/// (118° point), 8 countersunk to 16 × 90° on both faces, and 10 drilled atan(0.3) off square.
#[test]
fn drilled_every_way() {
    let m = plate("drilled.stl");
    assert_eq!(m.plate.holes.len(), 5, "five holes");
    let bored = at(&m, 160.0, 90.0);
    assert_eq!(bored.kind, HoleKind::Counterbored, "counterbore");
    near(bored.diameter, 11.0, "bore");
    near(bored.countersink_diameter, 18.0, "counterbore");
    near(bored.depth, 8.0, "its depth");
    let flat = at(&m, 40.0, 90.0);
    assert_eq!(flat.kind, HoleKind::Blind, "blind, flat bottom");
    near(flat.diameter, 12.0, "blind diameter");
    near(flat.depth, 12.0, "blind depth");
    let pointed = at(&m, 40.0, 30.0);
    assert_eq!(pointed.kind, HoleKind::Blind, "blind, drill point");
    near(
        pointed.depth,
        10.0,
        "depth of the straight wall, not of the point",
    );
    let sunk = at(&m, 160.0, 30.0);
    assert_eq!(sunk.kind, HoleKind::Countersunk, "countersunk");
    near(sunk.diameter, 8.0, "sunk hole");
    near(sunk.countersink_diameter, 16.0, "head");
    near(sunk.countersink_angle, 90.0, "head angle");
    let slanted = m
        .plate
        .holes
        .iter()
        .find(|h| h.kind == HoleKind::Round)
        .expect("the slanted one");
    near(slanted.diameter, 10.0, "slanted drill");
    let frame = m.plate.frame.expect("a frame");
    let lean = nalgebra::Vector3::from(slanted.axis)
        .dot(&-nalgebra::Vector3::from(frame.z))
        .acos();
    assert!((lean - 0.3f64.atan()).abs() < 1e-4, "lean {lean}");
    // Counterbore, blind holes, heads 4 deep on either face (8 to 4 radius), slanted cylinder.
    let pi = std::f64::consts::PI;
    let taken = pi * (5.5f64.powi(2) * 20.0 + (81.0 - 5.5f64.powi(2)) * 8.0)
        + pi * 36.0 * 12.0
        + pi * 25.0 * (10.0 + 5.0 / 59f64.to_radians().tan() / 3.0)
        + pi * 16.0 * 20.0
        + 2.0 * (pi * 4.0 / 3.0 * (64.0 + 32.0 + 16.0) - pi * 64.0)
        + pi * 25.0 * 20.0 * 0.3f64.hypot(1.0);
    near(Some(m.volume), 480_000.0 - taken, "volume");
    let codes: Vec<Code> = m.findings.iter().map(|f| f.code).collect();
    assert_eq!(
        codes,
        [Code::HoleUnclear, Code::HoleUnclear],
        "the slanted hole and the second head are pointed out"
    );
}

/// `disc.stl`: 200 across, 16 thick, bore 80, six holes of 18 on a circle of 140.
#[test]
fn disc_with_a_bolt_circle() {
    let m = plate("disc.stl");
    assert_eq!(m.plate.outline.len(), 1, "one arc");
    assert_eq!(m.plate.holes.len(), 7, "bore and six holes");
    let h = 70.0 * 3f64.sqrt() / 2.0;
    for (x, y) in [
        (30.0, 100.0),
        (65.0, 100.0 - h),
        (65.0, 100.0 + h),
        (135.0, 100.0 - h),
        (135.0, 100.0 + h),
        (170.0, 100.0),
    ] {
        near(at(&m, x, y).diameter, 18.0, "bolt hole");
    }
    near(at(&m, 100.0, 100.0).diameter, 80.0, "bore");
}

//! Real plates with documented sizes, read in place: others' work, no part of the repository. Without
//! the folder these tests say so and pass.

use std::path::PathBuf;

use soapstone::analysis::{Asked, analyse};
use soapstone::drawing::outline::flat::{self, Hand, flat_plate};
use soapstone::measure::{Quantity, STEEL_DENSITY};
use soapstone::plate::{Form, HoleKind, Plate, Segment};

/// The only plate of a file; `None`, said on the terminal, where the file is missing.
fn plate(name: &str, mm_per_unit: f64) -> Option<(Plate, Option<Quantity>)> {
    let beside = || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared");
    let shared = std::env::var_os("SOAPSTONE_SHARED").map_or_else(beside, PathBuf::from);
    let path = shared.join("real/files").join(name);
    let Ok(bytes) = std::fs::read(&path) else {
        eprintln!("skipped: {} is missing", path.display());
        return None;
    };
    let asked = Asked {
        mm_per_unit: Some(mm_per_unit),
        density: STEEL_DENSITY,
    };
    let report = analyse(&bytes, name, &asked).expect("a model");
    assert_eq!(report.parts.len(), 1, "{name}");
    let part = report.parts.into_iter().next()?;
    Some((part.plate.expect("a plate"), part.volume))
}

fn near(got: Option<Quantity>, want: f64, what: &str) {
    let got = got.expect(what);
    assert!(
        (got.value - want).abs() <= got.plus_minus.max(0.01),
        "{what}: {got:?}, documented {want}"
    );
}

/// Pillow block of the examples of build123d 0.13.0 (Apache-2.0); its exact boundary model has the box
/// 80 × 60 × 10, a bore of radius 11, holes of radius 1.5 bored out to 3, corners of radius 5 and
/// 44 436.4604 mm³.
#[test]
fn pillow_block_has_its_documented_outline_and_holes() {
    let Some((plate, volume)) = plate("p21_pillow_block.stl", 1.0) else {
        return;
    };
    assert_eq!(plate.form, Form::Flat);
    near(plate.flat.length, 80.0, "length");
    near(plate.flat.width, 60.0, "width");
    near(plate.thickness, 10.0, "thickness");
    near(volume, 44_436.460_4, "volume");
    let perimeter = 2.0 * (70.0 + 50.0) + 10.0 * std::f64::consts::PI;
    near(plate.flat.perimeter, perimeter, "outline");
    let mut arcs = 0;
    for segment in &plate.outline {
        if let Segment::Arc { radius, .. } = segment {
            near(Some(*radius), 5.0, "corner radius");
            arcs += 1;
        }
    }
    assert_eq!((arcs, plate.outline.len()), (4, 8));
    let (large, small): (Vec<_>, Vec<_>) = plate
        .holes
        .iter()
        .partition(|h| h.countersink_diameter.is_some_and(|d| d.value > 10.0));
    assert_eq!((large.len(), small.len()), (1, 4));
    near(large[0].countersink_diameter, 22.0, "bore");
    for hole in small {
        assert_eq!(hole.kind, HoleKind::Counterbored);
        near(hole.diameter, 3.0, "hole");
        near(hole.countersink_diameter, 6.0, "counterbore");
    }
    // What goes to the cutting table is the same.
    let flat = flat_plate(&plate, Hand::AsModelled).expect("an outline");
    assert!((flat::length(&flat.outer) - perimeter).abs() < 0.01);
}

/// Deck plate of clearpath_common (BSD-3-Clause): the description of the same plate family gives
/// 0.006 35 m of thickness.
#[test]
fn deck_plate_has_its_documented_thickness() {
    let Some((plate, _)) = plate("p08_deck_plate.stl", 1000.0) else {
        return;
    };
    assert_eq!(plate.form, Form::Flat);
    near(plate.thickness, 6.35, "thickness");
    assert_eq!(plate.holes.len(), 1, "one square window");
}

/// Plate of trimesh's models (MIT), named 8 × 12 × 0.5 inch in the catalogue beside it, with four
/// countersunk holes.
#[test]
fn inch_plate_has_inch_sizes() {
    let Some((plate, _)) = plate("p02_plate_holes.stl", 1.0) else {
        return;
    };
    near(plate.flat.length, 12.0 * 25.4, "length");
    near(plate.flat.width, 8.0 * 25.4, "width");
    near(plate.thickness, 0.5 * 25.4, "thickness");
    let sunk = plate
        .holes
        .iter()
        .filter(|h| h.kind == HoleKind::Countersunk);
    assert_eq!(sunk.count(), 4);
}

//! The files the cutting table gets: names, layers, order, units, both hands, and a plate there and back.

mod plate_files;

use std::f64::consts::{PI, TAU};
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use dxf::entities::EntityType;
use dxf::{Drawing, enums::Units};
use nalgebra::Point2;
use plate_files::build;
use soapstone::body::Body;
use tempfile::TempDir;

/// Runs `outline` and returns the files it wrote, by name.
fn outline(model: &Path, options: &[&str]) -> (TempDir, Vec<PathBuf>, String) {
    let folder = TempDir::new().expect("a folder");
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("outline")
        .arg(model)
        .args(["--unit", "mm", "-o"])
        .arg(folder.path())
        .args(options)
        .output()
        .expect("a run");
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let mut files: Vec<PathBuf> = fs::read_dir(folder.path())
        .expect("files")
        .map(|f| f.expect("a file").path())
        .collect();
    files.sort();
    (folder, files, said)
}

fn names(files: &[PathBuf]) -> Vec<String> {
    let name = |f: &PathBuf| {
        f.file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned()
    };
    files.iter().map(name).collect()
}

fn load(path: &Path) -> Drawing {
    let bytes = fs::read(path).expect("a file");
    Drawing::load(&mut bytes.as_slice()).expect("a DXF the library reads")
}

fn words(drawing: &Drawing) -> Vec<String> {
    drawing
        .entities()
        .filter_map(|e| match &e.specific {
            EntityType::Text(t) => Some(t.value.clone()),
            _ => None,
        })
        .collect()
}

/// Layer, length, area (positive anticlockwise), radii of arcs and circles; in the order of the file.
struct Contour {
    layer: String,
    length: f64,
    area: f64,
    radii: Vec<f64>,
    corners: usize,
}

fn contours(drawing: &Drawing) -> Vec<Contour> {
    drawing
        .entities()
        .filter_map(|e| {
            let corners: Vec<(f64, f64, f64)> = match &e.specific {
                EntityType::Circle(c) => {
                    return Some(Contour {
                        layer: e.common.layer.clone(),
                        length: TAU * c.radius,
                        area: PI * c.radius * c.radius,
                        radii: vec![c.radius],
                        corners: 0,
                    });
                }
                EntityType::LwPolyline(p) => {
                    assert!(p.is_closed(), "an open contour");
                    p.vertices.iter().map(|v| (v.x, v.y, v.bulge)).collect()
                }
                EntityType::Polyline(p) => {
                    assert!(p.is_closed(), "an open contour");
                    let vertices = p.vertices();
                    vertices
                        .map(|v| (v.location.x, v.location.y, v.bulge))
                        .collect()
                }
                _ => return None,
            };
            let mut contour = Contour {
                layer: e.common.layer.clone(),
                length: 0.0,
                area: 0.0,
                radii: Vec::new(),
                corners: corners.len(),
            };
            for (k, &(x, y, bulge)) in corners.iter().enumerate() {
                let (x2, y2, _) = corners[(k + 1) % corners.len()];
                let chord = f64::hypot(x2 - x, y2 - y);
                contour.area += (x * y2 - x2 * y) / 2.0;
                if bulge == 0.0 {
                    contour.length += chord;
                    continue;
                }
                let angle = 4.0 * bulge.atan();
                let radius = chord / 2.0 / (angle / 2.0).sin().abs();
                contour.length += radius * angle.abs();
                contour.area += radius * radius / 2.0 * (angle - angle.sin());
                contour.radii.push(radius);
            }
            Some(contour)
        })
        .collect()
}

/// Length of all lines, arcs, circles and polylines of a file.
fn cut_length(drawing: &Drawing) -> f64 {
    let pieces = drawing.entities().map(|e| match &e.specific {
        EntityType::Line(l) => f64::hypot(l.p2.x - l.p1.x, l.p2.y - l.p1.y),
        EntityType::Arc(a) => {
            a.radius * (a.end_angle - a.start_angle).rem_euclid(360.0).to_radians()
        }
        _ => 0.0,
    });
    pieces.sum::<f64>() + contours(drawing).iter().map(|c| c.length).sum::<f64>()
}

fn near(got: f64, want: f64, within: f64, what: &str) {
    assert!((got - want).abs() <= within, "{what}: {got}, not {want}");
}

fn save(body: &Body, path: &Path) {
    let mut text = String::new();
    for v in &body.vertices {
        text.push_str(&format!("v {} {} {}\n", v.x, v.y, v.z));
    }
    for f in &body.facets {
        let [a, b, c] = f.map(|v| v + 1);
        text.push_str(&format!("f {a} {b} {c}\n"));
    }
    fs::write(path, text).expect("a file");
}

/// The sample plate as a mesh: its contours cut into chords, its two faces joined by one bridge.
fn sample_plate() -> Body {
    let mut outer = Vec::new();
    for (x, y, from) in [
        (185.0, 15.0, -90.0),
        (185.0, 105.0, 0.0),
        (15.0, 105.0, 90.0),
        (15.0, 15.0, 180.0),
    ] {
        for k in 0..=9 {
            let a = f64::to_radians(from + 10.0 * f64::from(k));
            outer.push(Point2::new(x + 15.0 * a.cos(), y + 15.0 * a.sin()));
        }
    }
    let hole = build::circle(Point2::new(60.0, 60.0), 15.0, 36);
    build::extrude_with_hole(&outer, &hole, 10.0)
}

/// `sample_plate.json` beside the two files gives lengths and area by formula. The mesh of the plate
/// goes through the program, and the file it writes must agree with both samples, read by one library.
#[test]
fn the_sample_plate_goes_there_and_back() {
    let folder = TempDir::new().expect("a folder");
    let model = folder.path().join("sample.obj");
    save(&sample_plate(), &model);
    for (edition, sample) in [
        ("r12", "sample_plate_r12.dxf"),
        ("2000", "sample_plate_2000.dxf"),
    ] {
        let (_keep, files, _) = outline(&model, &["--dxf", edition]);
        assert_eq!(names(&files), ["P1_10mm_qty1.dxf", "P1_10mm_qty1.svg"]);
        let written = contours(&load(&files[0]));
        let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/drawing");
        let [hole, outer] = written.as_slice() else {
            panic!("{} contours", written.len());
        };
        let layers = (hole.layer.as_str(), outer.layer.as_str());
        assert_eq!(layers, ("CUT-INSIDE", "CUT-OUTSIDE"), "inner first");
        let given = cut_length(&load(&beside.join(sample)));
        near(
            hole.length + outer.length,
            given,
            1e-3,
            "length of all cuts",
        );
        near(given, 708.495_559_215_387_6, 1e-6, "the sample itself");
        near(outer.length, 614.247_779_607_693_8, 1e-3, "outline");
        near(outer.area - hole.area, 23_100.0, 2e-2, "net area");
        assert!(outer.area > 0.0, "anticlockwise");
        near(hole.radii[0], 15.0, 1e-4, "hole");
        assert_eq!((outer.corners, outer.radii.len()), (8, 4), "arcs are arcs");
        assert!(outer.radii.iter().all(|r| (r - 15.0).abs() < 1e-4));
    }
}

#[test]
fn both_editions_carry_unit_layers_and_order() {
    let model = Path::new("fixtures/plate/saddle_plate_01.stl");
    for edition in ["r12", "2000"] {
        for (show, per_unit, unit) in [("mm", 1.0, Units::Millimeters), ("in", 25.4, Units::Inches)]
        {
            let (_keep, files, _) = outline(model, &["--dxf", edition, "--show", show]);
            let drawing = load(&files[0]);
            if edition == "2000" {
                assert_eq!(drawing.header.default_drawing_units, unit);
            }
            let name = names(&files)[0].clone();
            let thickness = if show == "mm" { "12mm" } else { "0.472in" };
            assert_eq!(name, format!("P1_{thickness}_qty1.dxf"));
            let list = contours(&drawing);
            let length: f64 = list.iter().map(|c| c.length).sum();
            near(length * per_unit, 1_433.446_431, 0.02, "length of all cuts");
            let rank = |c: &Contour| match c.layer.as_str() {
                "MARK" => 0,
                "CUT-INSIDE" => 1,
                "CUT-OUTSIDE" => 2,
                other => panic!("layer {other}"),
            };
            assert!(list.iter().map(rank).is_sorted(), "outer contour last");
            let told = words(&drawing);
            let has = |text: &str| told.iter().any(|w| w.contains(text));
            assert!(
                has("1 piece") && has(&format!("Units of this file: {show}.")),
                "{told:?}"
            );
            assert!(has("leave the edges of the model by"), "{told:?}");
        }
    }
}

/// A canopy bay has one bracket of the other hand: a file of its own, the mirror image of the first.
#[test]
fn the_opposite_hand_is_a_file_of_its_own() {
    let (_keep, files, said) = outline(Path::new("fixtures/canopy_bay_01.stl"), &[]);
    let file = |name: &str| {
        let found = files.iter().find(|f| f.ends_with(name));
        load(found.unwrap_or_else(|| panic!("{name} is not among {said}")))
    };
    let (own, other) = (file("P2_4mm_qty3.dxf"), file("P2-opposite_4mm_qty1.dxf"));
    assert!(words(&other).iter().any(|w| w.contains("opposite hand")));
    let (a, b) = (contours(&own), contours(&other));
    assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(&b) {
        assert_eq!(a.layer, b.layer);
        near(a.length, b.length, 1e-6, "length");
        near(a.area, b.area, 1e-4, "area, anticlockwise both");
    }
    // Left and right are changed over: the middles of the holes add up to the length of the flat.
    let hole = |d: &Drawing| {
        d.entities().find_map(|e| match &e.specific {
            EntityType::Circle(c) => Some((c.center.x, c.center.y)),
            _ => None,
        })
    };
    let (p, q) = (hole(&own).expect("a hole"), hole(&other).expect("a hole"));
    let right = |d: &Drawing| {
        let corners = d.entities().filter_map(|e| match &e.specific {
            EntityType::LwPolyline(p) => Some(p.vertices.iter().map(|v| v.x).fold(0.0, f64::max)),
            _ => None,
        });
        corners.fold(0.0, f64::max)
    };
    near(p.0 + q.0, right(&own), 1e-3, "mirrored");
    near(p.1, q.1, 1e-6, "height");
}

#[test]
fn holes_that_are_drilled_afterwards_are_cut_small() {
    let model = Path::new("fixtures/plate/cover_csk_01_t005.stl");
    let (_keep, files, _) = outline(model, &["--pilot", "12mm", "--pilot-diameter", "3mm"]);
    let drawing = load(&files[0]);
    let small = contours(&drawing);
    let cut = |c: &&Contour| c.layer == "CUT-INSIDE";
    let mut sizes: Vec<f64> = small.iter().filter(cut).map(|c| c.radii[0] * 2.0).collect();
    sizes.sort_by(f64::total_cmp);
    near(sizes[0], 3.0, 1e-9, "pilot");
    near(sizes[1], 3.0, 1e-9, "pilot");
    near(sizes[2], 20.0, 0.01, "left as it is");
    assert!(words(&drawing).iter().any(|w| w.contains("drill to 6.6")));
}

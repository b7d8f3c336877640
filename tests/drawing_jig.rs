//! Check jigs against closed forms of the pieces' design, and read back by a library that did not
//! write them.

use std::fs;
use std::path::Path;

use soapstone::analysis::{Asked as Reading, Examined, examine};
use soapstone::drawing::bulge;
use soapstone::drawing::dxf::{Edition, Form, dxf};
use soapstone::drawing::jig::{Asked, Jig, jig};
use soapstone::drawing::scene::{Corner, Purpose, Scene, Shape};
use soapstone::measure::{STEEL_DENSITY, Show, Unit};

fn model(name: &str) -> Examined {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/corpus")
        .join(name);
    let asked = Reading {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    examine(&fs::read(path).expect("the fixture"), name, &asked).expect("a model")
}

fn asked() -> Asked {
    Asked {
        clearance: 0.5,
        width: 50.0,
        beyond: 10.0,
        joints: vec![],
        sheet: None,
        show: Show::Millimetre,
    }
}

fn made(name: &str, asked: &Asked) -> Jig {
    jig(&model(name).report.parts[0], asked).unwrap_or_else(|why| panic!("{name}: {why}"))
}

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() < within, "{a}, not {b}");
}

/// Radii of the arcs of a contour.
fn radii(corners: &[Corner]) -> Vec<f64> {
    bulge::pieces(corners, true)
        .filter_map(|(a, b, turn)| bulge::arc(a, b, turn))
        .map(|arc| arc.radius)
        .collect()
}

fn contours(scene: &Scene, purpose: Purpose) -> Vec<&Vec<Corner>> {
    let of = |item: &'_ soapstone::drawing::scene::Item| item.purpose == purpose;
    scene
        .items
        .iter()
        .filter(|item| of(item))
        .filter_map(|item| match &item.shape {
            Shape::Path { corners, .. } => Some(corners),
            _ => None,
        })
        .collect()
}

/// Rib of square tube 40, R 1200, 60° between its ends (`fixtures/corpus/truth.json`): its chord is
/// 2 R sin 30° = 1200, its rise R (1 − cos 30°), and its cuts lean 40° and 50° in the plane.
#[test]
fn the_pocket_of_a_rolled_rib_is_two_true_arcs() {
    let jig = made("eaves_rib_01_t02.stl", &asked());
    let way = &jig.way;
    let (from, to) = (way.at(0.0).0, way.at(way.length()).0);
    near((to - from).norm(), 1200.0, 0.02);
    near(to.y, 0.0, 1e-9);
    let crown = way.at(way.length() / 2.0).0;
    near(crown.y, 1200.0 * (1.0 - 30.0_f64.to_radians().cos()), 0.02);
    let mut arcs = radii(&jig.pocket_contour);
    arcs.sort_by(f64::total_cmp);
    assert_eq!(arcs.len(), 2);
    near(arcs[0], 1200.0 - 20.5, 0.02);
    near(arcs[1], 1200.0 + 20.5, 0.02);
    // A band about its middle line is as large as length times width.
    near(jig.pocket, 41.0, 0.02);
    let length = bulge::length(&jig.pocket_contour, true) / 2.0 - jig.pocket;
    near(bulge::area(&jig.pocket_contour), length * jig.pocket, 1e-3);
    // Outside: the same arcs 50 further out and in, and a quarter of a round at each corner.
    let outer = contours(&jig.sheets[0].scene, Purpose::CutOutside);
    let arcs = radii(outer[0]);
    for want in [1200.0 - 70.5, 1200.0 + 70.5, 50.0] {
        assert!(
            arcs.iter().any(|r| (r - want).abs() < 0.02),
            "{want}: {arcs:?}"
        );
    }
    assert!(
        arcs.iter()
            .all(|r| [1129.5, 1270.5, 50.0].iter().any(|w| (r - w).abs() < 0.02))
    );
    let square = way.at(way.length()).1 + std::f64::consts::FRAC_PI_2;
    let mut leans: Vec<f64> = way
        .cuts
        .iter()
        .filter(|c| c.station > 0.0)
        .map(|c| (c.along.y.atan2(c.along.x) - square).to_degrees())
        .map(|a| (a + 90.0).rem_euclid(180.0) - 90.0)
        .collect();
    leans.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    near(leans[0].abs(), 40.0, 0.02);
    near(leans[1].abs(), 50.0, 0.02);
    assert!(leans[0] * leans[1] < 0.0);
}

/// Half a round of tube 25, R 80: pocket from 67 to 93; mark to mark over its outer edge is 2 × 93.
#[test]
fn marks_of_a_half_round_stand_a_diameter_apart() {
    let jig = made("hook_01_t02.stl", &asked());
    near(jig.between_cuts.expect("two cuts"), 186.0, 0.02);
    near(jig.way.chord.value, 160.0, 0.02);
    let marks = jig.sheets[0].scene.items.iter();
    assert_eq!(marks.filter(|i| i.purpose == Purpose::Mark).count(), 4);
}

/// The edge of a gutter of 4 mm plate, rolled to 300 inside through 110°: its middle surface.
#[test]
fn the_edge_of_a_rolled_plate() {
    let truth = truth("gutter_01_t02.stl");
    let number = |key: &str| {
        truth[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key}: {truth}"))
    };
    let (inside, outside) = (number("inside_radius"), number("outside_radius"));
    let half = number("arc_deg").to_radians() / 2.0;
    let jig = made("gutter_01_t02.stl", &asked());
    let middle = (inside + outside) / 2.0;
    near(jig.way.chord.value, 2.0 * middle * half.sin(), 0.02);
    near(jig.way.rise.value, middle * (1.0 - half.cos()), 0.02);
    near(jig.way.chord.value, number("chord"), 0.02);
    near(jig.way.rise.value, number("rise"), 0.02);
    // Holes at 100 and 300 along the flat, whose neutral line is the middle of the plate.
    let stations: Vec<f64> = jig.way.holes.iter().map(|h| h.0).collect();
    let length = jig.way.length();
    for want in [100.0, 300.0] {
        let from_either = |s: &f64| (s - want).abs().min((length - s - want).abs());
        assert!(
            stations.iter().any(|s| from_either(s) < 0.05),
            "{stations:?}"
        );
    }
    let arcs = radii(&jig.pocket_contour);
    for want in [inside - 0.5, outside + 0.5] {
        assert!(
            arcs.iter().any(|r| (r - want).abs() < 0.02),
            "{want}: {arcs:?}"
        );
    }
}

fn truth(file: &str) -> serde_json::Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/corpus/truth.json");
    let all: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(path).expect("the truth")).expect("JSON");
    let models = all["models"].as_array().expect("models");
    let found = models
        .iter()
        .find(|m| m["file"] == file)
        .expect("the model");
    found["parts"][0].clone()
}

/// Two bends in opposite directions in one plane: the path of the design, piece by piece.
#[test]
fn an_s_curve_keeps_both_radii() {
    let jig = made("s_curve_01_t02.stl", &asked());
    let spans = truth("s_curve_01_t02.stl")["spans"].clone();
    let arcs: Vec<f64> = spans
        .as_array()
        .expect("spans")
        .iter()
        .filter_map(|s| s["centreline_radius"].as_f64())
        .collect();
    assert_eq!(arcs.len(), 2);
    let found = radii(&jig.pocket_contour);
    for radius in arcs {
        let half = jig.pocket / 2.0;
        for want in [radius - half, radius + half] {
            assert!(
                found.iter().any(|r| (r - want).abs() < 0.05),
                "{want}: {found:?}"
            );
        }
    }
}

/// Split to a sheet: every piece fits, no metal is lost but the slots of the joints, arcs stay arcs.
#[test]
fn pieces_fit_the_sheet_and_make_the_whole() {
    let whole = made("eaves_rib_01_t02.stl", &asked());
    let split = made(
        "eaves_rib_01_t02.stl",
        &Asked {
            sheet: Some((600.0, 300.0)),
            joints: vec![600.0],
            ..asked()
        },
    );
    assert_eq!(split.sheets.len(), 3);
    for sheet in &split.sheets {
        let size = sheet.extent.1 - sheet.extent.0;
        assert!(size.x <= 600.0 && size.y <= 300.0, "{size}");
        assert!(sheet.extent.0.coords.norm() < 1e-9);
        for contour in contours(&sheet.scene, Purpose::CutOutside) {
            for radius in radii(contour) {
                let known = [1129.5, 1179.5, 1220.5, 1270.5, 50.0];
                assert!(known.iter().any(|w| (radius - w).abs() < 0.02), "{radius}");
            }
        }
    }
    let rails = |k: usize| contours(&split.sheets[k].scene, Purpose::CutOutside).len();
    assert_eq!([rails(0), rails(1), rails(2)], [1, 2, 1]);
    // Across a rail 50 wide the slot runs along a dovetail: 50 − 2 × 6.5 + 2 × √(3.5² + 16²) + 20.
    let slot = 0.2 * (50.0 - 13.0 + 2.0 * 3.5_f64.hypot(16.0) + 20.0);
    near(whole.area - split.area, 4.0 * slot, 0.5);
    let said = |words: &str| {
        let texts = split.sheets.iter().flat_map(|s| s.scene.texts());
        texts.filter(|t| t.words.contains(words)).count()
    };
    assert_eq!(said("joint at 600"), 1);
    assert_eq!(said("chord 1200"), 3);
    assert_eq!(said("rise 160.77"), 3);
    assert_eq!(said("piece 2 of 3"), 1);
}

#[test]
fn files_read_back_with_true_arcs() {
    let jig = made("eaves_rib_01_t02.stl", &asked());
    for edition in [Edition::R12, Edition::Y2000] {
        let form = Form {
            edition,
            unit: Unit::Millimetre,
        };
        let text = dxf(&jig.sheets[0].scene, form);
        let drawing = dxf::Drawing::load(&mut text.as_bytes()).expect("a drawing");
        let mut closed = 0;
        let mut arcs = 0;
        for entity in drawing.entities() {
            let bulges: Vec<f64> = match &entity.specific {
                dxf::entities::EntityType::Polyline(line) => {
                    closed += usize::from(line.is_closed());
                    line.vertices().map(|v| v.bulge).collect()
                }
                dxf::entities::EntityType::LwPolyline(line) => {
                    closed += usize::from(line.is_closed());
                    line.vertices.iter().map(|v| v.bulge).collect()
                }
                _ => continue,
            };
            arcs += bulges.iter().filter(|b| **b != 0.0).count();
        }
        assert_eq!(closed, 2);
        assert!(arcs >= 8, "{arcs} arcs");
    }
}

#[test]
fn what_can_not_be_checked_flat_says_why() {
    for (name, words) in [
        ("handrail_01_p24.obj", "one plane"),
        ("ring_01_p48.obj", "closed"),
        ("beam_01_t02.stl", "straight"),
        ("cowl_cone_01_t02.stl", "cylinder"),
    ] {
        let why = jig(&model(name).report.parts[0], &asked()).expect_err(name);
        assert!(why.contains(words), "{name}: {why}");
    }
    let off = Asked {
        joints: vec![5000.0],
        ..asked()
    };
    assert!(jig(&model("hook_01_t02.stl").report.parts[0], &off).is_err());
}

//! `soapstone check --scan`: scans and re-exports with known faults.

mod scan_shapes;

use std::fs;

use assert_cmd::Command;
use scan_shapes::{Folded, Holed, Mesh, Tube};
use serde_json::Value;

/// A square tube 40 x 40 x 2.5, corners 5 and 2.5, R 800 through 70°; as a model, coarsely drawn: one
/// facet spans 5°, so the middle of a facet lies 0.76 mm inside the arc.
const RIB: Tube = Tube {
    size: [40.0, 40.0],
    corner: 5.0,
    wall: 2.5,
    radius: Some(800.0),
    length: 977.384_381_116_824_6,
    twist: 0.0,
    rings: 14,
    flat: 0,
    round: 4,
};

/// A rectangular tube 60 x 40 x 3, 900 long.
const RAIL: Tube = Tube {
    size: [60.0, 40.0],
    corner: 6.0,
    wall: 3.0,
    radius: None,
    length: 900.0,
    twist: 0.0,
    rings: 1,
    flat: 0,
    round: 4,
};

/// A plate 200 x 120 x 8 with one hole of 22.
const PLATE: Holed = Holed {
    size: [200.0, 120.0],
    thickness: 8.0,
    hole: [70.0, 50.0],
    diameter: 22.0,
    rolled: None,
    around: 48,
    rings: 1,
};

const TURN: [f64; 3] = [0.7, -1.9, 0.4];
const SHIFT: [f64; 3] = [310.0, -75.0, 1240.0];

/// As a scanner sees it: fine, rough, somewhere else.
fn scanned(tube: Tube, sigma: f64, seed: u64) -> Mesh {
    let rings = (tube.length / 9.0) as usize;
    Tube {
        rings,
        flat: 4,
        round: 3,
        ..tube
    }
    .mesh()
    .moved(TURN, SHIFT)
    .rough(sigma, seed)
}

fn scanned_plate(plate: Holed, sigma: f64, seed: u64) -> Mesh {
    Holed {
        around: 160,
        rings: 14,
        ..plate
    }
    .mesh()
    .moved(TURN, SHIFT)
    .rough(sigma, seed)
}

#[test]
fn a_good_piece_is_good_though_the_model_is_coarse() {
    for (name, tube) in [("rib", RIB), ("rail", RAIL)] {
        let (code, answer) = check(
            name,
            &tube.mesh(),
            &scanned(tube, 0.05, 1),
            &["--tol", "0.5mm"],
        );
        assert_eq!(
            (code, &answer["verdict"]),
            (Some(0), &"yes".into()),
            "{answer:#}"
        );
        assert!(
            number(&answer["deviation"]["value"]).abs() < 0.3,
            "{answer:#}"
        );
        for size in sizes(&answer) {
            off(&answer, size["what"].as_str().expect("a name"), 0.0);
        }
    }
}

#[test]
fn a_radius_one_per_cent_over() {
    let made = Tube {
        radius: Some(808.0),
        ..RIB
    };
    for sigma in [0.0, 0.05, 0.2] {
        let (code, answer) = check(
            "over",
            &RIB.mesh(),
            &scanned(made, sigma, 2),
            &["--tol", "0.5mm"],
        );
        assert_eq!(
            (code, &answer["verdict"]),
            (Some(1), &"no".into()),
            "{answer:#}"
        );
        off(&answer, "centreline radius", 8.0);
        off(&answer, "length on the centreline", 0.0);
        off(&answer, "angle turned", -70.0 / 101.0);
        assert!(words(&answer).contains("Under-rolled"), "{answer:#}");
        let radius = &answer["radius"];
        assert!((number(&radius["value"]) - 808.0).abs() < 0.8, "{radius}");
    }
    let tight = Tube {
        radius: Some(792.0),
        ..RIB
    };
    let (_, answer) = check(
        "tight",
        &RIB.mesh(),
        &scanned(tight, 0.05, 3),
        &["--tol", "0.5mm"],
    );
    off(&answer, "centreline radius", -8.0);
    assert!(words(&answer).contains("Over-rolled"), "{answer:#}");
}

#[test]
fn half_a_degree_of_twist() {
    for (name, tube) in [("rib", RIB), ("rail", RAIL)] {
        let made = Tube { twist: 0.5, ..tube };
        let (_, answer) = check(
            name,
            &tube.mesh(),
            &scanned(made, 0.03, 4),
            &["--tol", "1mm"],
        );
        off(&answer, "twist from end 0 to end 1", 0.5);
        assert!(words(&answer).contains("Twisted"), "{answer:#}");
    }
}

#[test]
fn two_millimetres_too_long() {
    for (name, tube) in [("rib", RIB), ("rail", RAIL)] {
        let made = Tube {
            length: tube.length + 2.0,
            ..tube
        };
        for sigma in [0.0, 0.1] {
            let (_, answer) = check(
                name,
                &tube.mesh(),
                &scanned(made, sigma, 5),
                &["--tol", "0.5mm"],
            );
            off(&answer, "length on the centreline", 2.0);
            assert_eq!(answer["verdict"], "no", "{answer:#}");
            assert!(words(&answer).contains("Too long"), "{answer:#}");
        }
    }
}

#[test]
fn a_bowed_rail() {
    // R 50 m over 900 mm is a bow of 2.025 mm; the width is across the bend, so it bows along the height.
    let made = Tube {
        radius: Some(50_000.0),
        ..RAIL
    };
    let (_, answer) = check(
        "bow",
        &RAIL.mesh(),
        &scanned(made, 0.05, 6),
        &["--tol", "0.5mm"],
    );
    let bow: f64 = sizes(&answer)
        .iter()
        .filter(|s| s["kind"] == "bow")
        .map(|s| number(&s["made"]["value"]).abs())
        .fold(0.0, f64::max);
    assert!((bow - 2.025).abs() < 0.2, "{answer:#}");
    assert!(words(&answer).contains("Bent"), "{answer:#}");
}

#[test]
fn a_shifted_hole_and_a_wrong_size() {
    let made = Holed {
        hole: [71.5, 50.0],
        ..PLATE
    };
    let (_, answer) = check(
        "hole",
        &PLATE.mesh(),
        &scanned_plate(made, 0.03, 7),
        &["--tol", "0.5mm"],
    );
    let place = |word: &str| {
        let found = sizes(&answer)
            .into_iter()
            .find(|s| {
                s["kind"] == "hole_place" && s["what"].as_str().is_some_and(|w| w.contains(word))
            })
            .expect("a place");
        number(&found["off"]["value"])
    };
    // Which corner is the first is the model's affair: the amount counts.
    assert!((place(", x").abs() - 1.5).abs() < 0.15, "{answer:#}");
    assert!(place(", y").abs() < 0.15, "{answer:#}");
    assert_eq!(answer["verdict"], "no", "{answer:#}");
    off(&answer, "hole 1, diameter", 0.0);

    let made = Holed {
        size: [202.0, 120.0],
        thickness: 8.3,
        diameter: 21.0,
        ..PLATE
    };
    let (_, answer) = check(
        "size",
        &PLATE.mesh(),
        &scanned_plate(made, 0.03, 8),
        &["--tol", "0.5mm"],
    );
    off(&answer, "length", 2.0);
    off(&answer, "width", 0.0);
    off(&answer, "thickness", 0.3);
    off(&answer, "hole 1, diameter", -1.0);
}

#[test]
fn a_plate_rolled_too_wide() {
    let asked = Holed {
        size: [400.0, 250.0],
        thickness: 4.0,
        hole: [200.0, 90.0],
        rolled: Some(300.0),
        around: 80,
        rings: 10,
        ..PLATE
    };
    let made = Holed {
        rolled: Some(303.0),
        ..asked
    };
    let (_, answer) = check(
        "rolled",
        &asked.mesh(),
        &scanned_plate(made, 0.03, 9),
        &["--tol", "0.3mm"],
    );
    off(&answer, "mid-thickness radius", 3.0);
    assert_eq!(answer["verdict"], "no", "{answer:#}");
}

#[test]
fn a_partial_scan_speaks_of_what_it_shows() {
    // One side and 60 % of the length: the far end isn't shown.
    let made = Tube {
        radius: Some(808.0),
        ..RIB
    };
    let whole = Tube {
        rings: 110,
        flat: 4,
        round: 3,
        ..made
    }
    .mesh();
    let part = whole
        .kept(|p| p.x > -5.0 && p.z < 560.0)
        .moved(TURN, SHIFT)
        .rough(0.05, 10);
    let (code, answer) = check("part", &RIB.mesh(), &part, &["--tol", "0.3mm"]);
    assert_eq!(code, Some(1));
    off(&answer, "centreline radius", 8.0);
    assert!(
        size(&answer, "length on the centreline")["made"].is_null(),
        "{answer:#}"
    );
    let small = whole
        .kept(|p| p.z < 150.0 && p.x > 0.0)
        .moved(TURN, SHIFT)
        .rough(0.05, 11);
    let (code, answer) = check("little", &RIB.mesh(), &small, &["--tol", "2mm"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(1), &"unclear".into()),
        "{answer:#}"
    );
    assert!(words(&answer).contains("too little"), "{answer:#}");
}

#[test]
fn full_makes_what_is_not_shown_missing() {
    let cut = scanned(RAIL, 0.03, 12);
    let far = Tube {
        rings: 100,
        flat: 4,
        round: 3,
        ..RAIL
    }
    .mesh()
    .kept(|p| p.z < 860.0)
    .moved(TURN, SHIFT);
    let (code, _) = check("all", &RAIL.mesh(), &cut, &["--tol", "0.5mm", "--full"]);
    assert_eq!(code, Some(0));
    let (code, answer) = check("short", &RAIL.mesh(), &far, &["--tol", "0.5mm", "--full"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(1), &"no".into()),
        "{answer:#}"
    );
    let (code, answer) = check("short", &RAIL.mesh(), &far, &["--tol", "0.5mm"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(1), &"unclear".into()),
        "{answer:#}"
    );
}

#[test]
fn a_clamp_beside_the_piece_is_left_out() {
    let clamp = Tube {
        size: [90.0, 30.0],
        length: 120.0,
        corner: 6.0,
        rings: 12,
        ..RAIL
    }
    .mesh()
    .moved([1.0, 0.3, 0.0], [400.0, 0.0, 1300.0]);
    let scan = scanned(RIB, 0.05, 13).and(&clamp);
    let (_, answer) = check("clamp", &RIB.mesh(), &scan, &["--tol", "0.5mm"]);
    assert!(
        number(&answer["deviation"]["value"]).abs() < 0.3,
        "{answer:#}"
    );
    assert!(words(&answer).contains("nowhere near"), "{answer:#}");
}

#[test]
fn in_inches_and_of_the_other_hand() {
    let scan = scanned(RAIL, 0.03, 14);
    let model = save("unit_model.stl", &RAIL.mesh().stl(1.0));
    let file = save("unit_scan.stl", &scan.stl(25.4));
    let (code, answer) = run(&model, &file, &["--tol", "0.5mm"]);
    assert_eq!(code, Some(0), "{answer:#}");
    assert_eq!(answer["scan"]["mm_per_file_unit"], 25.4);

    let made = Holed {
        hole: [PLATE.size[0] - PLATE.hole[0], PLATE.hole[1]],
        ..PLATE
    };
    // A flat plate turned over is the same plate; a rolled one is not.
    let (code, answer) = check(
        "over",
        &PLATE.mesh(),
        &scanned_plate(made, 0.02, 15),
        &["--tol", "0.5mm"],
    );
    assert_eq!(code, Some(0), "{answer:#}");
}

/// Scan of the open corpus: 50 x 50 x 3 tube, R 700 through 60°, noise of 0.2 mm; its clean twin by
/// formula, as the corpus describes it.
#[test]
fn the_corpus_scan_against_its_clean_twin() {
    let twin = Tube {
        size: [50.0, 50.0],
        corner: 6.0,
        wall: 3.0,
        radius: Some(700.0),
        length: 700.0 * std::f64::consts::FRAC_PI_3,
        rings: 24,
        ..RIB
    };
    let model = save("twin.stl", &twin.mesh().stl(1.0));
    let scan = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/scan/scan_hoop_n02.ply"
    );
    let (code, answer) = run(&model, scan, &["--tol", "1mm"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(0), &"yes".into()),
        "{answer:#}"
    );
    for size in sizes(&answer) {
        // Five points across a wall of 3 mm don't tell how its end leans.
        if size["kind"] != "cut_angle" {
            off(&answer, size["what"].as_str().expect("a name"), 0.0);
        }
    }
}

#[test]
fn a_picture_is_written_and_not_over_another() {
    let model = save("picture_model.stl", &RAIL.mesh().stl(1.0));
    let scan = save("picture_scan.stl", &scanned(RAIL, 0.05, 16).stl(1.0));
    for end in ["svg", "html"] {
        let file = format!("{}/picture.{end}", env!("CARGO_TARGET_TMPDIR"));
        let _ = fs::remove_file(&file);
        let (code, _, err) = raw(&model, &scan, &["--tol", "1mm", "--picture", &file]);
        assert_eq!((code, err.as_str()), (Some(0), ""));
        let text = fs::read_to_string(&file).expect("the picture");
        assert!(text.contains("<svg") && text.contains("class=\"band0\""));
        let (code, _, err) = raw(&model, &scan, &["--tol", "1mm", "--picture", &file]);
        assert!(code == Some(2) && err.contains("--force"), "{err}");
    }
    let (code, _, err) = raw(&model, &scan, &["--tol", "1mm", "--picture", "x.bmp"]);
    assert!(code == Some(2) && err.contains(".svg or .html"), "{err}");
}

/// A channel 60, 100 and 40 between its bends, of 4 mm, inside radius 4.
const CHANNEL: Folded = Folded {
    flats: [60.0, 100.0, 40.0],
    bends: [90.0, 90.0],
    joggled: false,
    inside: 4.0,
    thickness: 4.0,
    width: 150.0,
    steps: [1, 8, 1],
};

/// The size of a kind that was asked to be so.
fn asked<'a>(answer: &'a Value, kind: &str, of: f64) -> Vec<&'a Value> {
    let all = sizes(answer).into_iter();
    all.filter(|s| s["kind"] == kind && (number(&s["asked"]["value"]) - of).abs() < 0.05)
        .collect()
}

/// To the outside mould line a bend adds (4 + 4) tan(angle / 2): 8 at 90°, 8.141 at 91°.
#[test]
fn a_fold_one_degree_over_and_flanges_too_long() {
    let made = Folded {
        flats: [60.0, 101.0, 41.5],
        bends: [91.0, 90.0],
        steps: [12, 6, 20],
        ..CHANNEL
    };
    for (joggled, sigma) in [(false, 0.0), (false, 0.05), (true, 0.05)] {
        let model = Folded { joggled, ..CHANNEL };
        let made = Folded { joggled, ..made };
        let scan = made.mesh().moved(TURN, SHIFT).rough(sigma, 7);
        let (code, answer) = check("fold", &model.mesh(), &scan, &["--tol", "0.5mm"]);
        assert_eq!((code, &answer["verdict"]), (Some(1), &"no".into()));
        let angles = asked(&answer, "angle_turned", 90.0);
        let mut over: Vec<f64> = angles.iter().map(|a| number(&a["off"]["value"])).collect();
        over.sort_by(f64::total_cmp);
        assert!(over.len() == 2 && over[0].abs() < 0.05, "{angles:#?}");
        assert!((over[1] - 1.0).abs() < 0.1, "{angles:#?}");
        for (flange, off) in [(68.0, 0.141), (116.0, 1.141), (48.0, 1.5)] {
            let found = asked(&answer, "length", flange);
            let size = found
                .first()
                .unwrap_or_else(|| panic!("{flange}: {answer:#}"));
            let (value, doubt) = (
                number(&size["off"]["value"]),
                number(&size["off"]["plus_minus"]),
            );
            assert!(
                (value - off).abs() < (0.1 * off).max(1.5 * doubt).max(0.02),
                "{size:#}"
            );
        }
        assert!(words(&answer).contains("Over-bent"), "{answer:#}");
        // as asked
        let good = Folded {
            steps: [12, 6, 20],
            ..model
        };
        let scan = good.mesh().moved(TURN, SHIFT).rough(sigma, 8);
        let (code, answer) = check("flat", &model.mesh(), &scan, &["--tol", "0.5mm"]);
        assert_eq!(
            (code, &answer["verdict"]),
            (Some(0), &"yes".into()),
            "{answer:#}"
        );
    }
}

/// Holes of a bracket from where a rule is laid: 19 and 25 from the free edges, 35 and twice 20 from the
/// sides (fixtures/corpus/truth.json has the places on the flat, 130.13 by 70).
#[test]
fn holes_of_a_folded_plate_from_its_edges() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let model = path.join("fixtures/corpus/l_bracket_01.stl");
    let model = model.display().to_string();
    let (code, answer) = run(&model, &model, &["--tol", "0.5mm"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(0), &"yes".into()),
        "{answer:#}"
    );
    for (what, at) in [
        ("hole 1, from the free edge", 19.0),
        ("hole 2, from the free edge", 25.0),
        ("hole 3, from the free edge", 25.0),
        ("hole 1, from the side edge", 35.0),
        ("hole 2, from the side edge", 20.0),
        ("hole 3, from the side edge", 20.0),
        ("flange 1, to the outside", 60.0),
        ("flange 2, to the outside", 80.0),
    ] {
        off(&answer, what, 0.0);
        let asked = number(&size(&answer, what)["asked"]["value"]);
        assert!((asked - at).abs() < 0.02, "{what}: {asked}");
    }
}

#[test]
fn what_is_no_scan_is_refused() {
    let model = save("none_model.stl", &RAIL.mesh().stl(1.0));
    let text = save("none.stl", b"solid nothing\nendsolid\n");
    let (code, _, err) = raw(&model, &text, &["--tol", "1mm"]);
    assert_eq!(code, Some(2), "{err}");
    let scan = save("none_scan.stl", &scanned(RAIL, 0.05, 17).stl(1.0));
    let (code, _, err) = raw(&model, &scan, &[]);
    assert!(code == Some(2) && err.contains("No tolerance"), "{err}");
}

fn save(name: &str, bytes: &[u8]) -> String {
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("scan_{name}"));
    fs::write(&path, bytes).expect("a scratch file");
    path.display().to_string()
}

fn check(name: &str, model: &Mesh, scan: &Mesh, arguments: &[&str]) -> (Option<i32>, Value) {
    // Tests run side by side: the files of each bear its own name.
    let name = format!("{:?}_{name}", std::thread::current().name());
    let name: String = name.chars().filter(|c| c.is_alphanumeric()).collect();
    let model = save(&format!("{name}_model.stl"), &model.stl(1.0));
    let scan = save(&format!("{name}_scan.stl"), &scan.stl(1.0));
    run(&model, &scan, arguments)
}

fn run(model: &str, scan: &str, arguments: &[&str]) -> (Option<i32>, Value) {
    let (code, out, err) = raw(model, scan, &[arguments, &["--format", "json"]].concat());
    assert_eq!(err, "", "{arguments:?}");
    (code, serde_json::from_str(&out).expect("JSON"))
}

fn raw(model: &str, scan: &str, arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .args(["check", model, "--unit", "mm", "--scan", scan])
        .args(arguments)
        .output()
        .expect("a run");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn sizes(answer: &Value) -> Vec<&Value> {
    answer["scan"]["sizes"]
        .as_array()
        .expect("sizes")
        .iter()
        .collect()
}

fn size<'a>(answer: &'a Value, what: &str) -> &'a Value {
    sizes(answer)
        .into_iter()
        .find(|s| s["what"] == what)
        .unwrap_or_else(|| panic!("{what}: {answer:#}"))
}

/// The size is off by so much: within a tenth, or within 3 standard uncertainties (1.5 times its ±).
fn off(answer: &Value, what: &str, truth: f64) {
    let found = &size(answer, what)["off"];
    assert!(!found.is_null(), "{what} isn't told: {answer:#}");
    let (value, doubt) = (number(&found["value"]), number(&found["plus_minus"]));
    let allowed = (1.5 * doubt).max(0.1 * truth.abs());
    assert!(
        (value - truth).abs() <= allowed,
        "{what}: {value} ±{doubt}, not {truth}"
    );
    // A ± so wide that anything would pass is no answer.
    assert!(doubt < 0.3 + 0.3 * truth.abs(), "{what}: ±{doubt}");
}

fn words(answer: &Value) -> String {
    answer["reasons"]
        .as_array()
        .expect("reasons")
        .iter()
        .map(|r| r.as_str().expect("words"))
        .collect::<Vec<_>>()
        .join(" ")
}

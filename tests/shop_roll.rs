//! `soapstone roll` against published and computed arcs, and from the outside.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;
use soapstone::measure::Unit;
use soapstone::shop::arc::{
    chord, fall, ordinate, radius, radius_per_chord, radius_per_rise, rise,
};
use soapstone::shop::roll::log::read_log;

const MODEL: &str = "fixtures/canopy_bay_01.stl";

fn rows(text: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes())
        .records()
        .map(|row| row.expect("a row"))
        .collect()
}

fn field(row: &csv::StringRecord, k: usize) -> f64 {
    row[k].parse().expect("a number")
}

/// Machinery's Handbook and the 62 ft chord rule of US railways (both from memory), and computed rows.
#[test]
fn radius_angle_and_length_from_chord_and_rise() {
    for row in rows(include_str!("../shared/reference/arc_chord_rise.csv")) {
        let (c, h, r) = (field(&row, 1), field(&row, 2), field(&row, 3));
        let found = radius(c, h).expect("a radius");
        assert!((found - r).abs() < 1e-6 + 1e-9 * r, "{}: {found}", &row[0]);
        // The file prints degrees and lengths to six places.
        let angle = field(&row, 4);
        assert!(
            (chord(found, angle) - c).abs() < 2e-8 * found,
            "{}",
            &row[0]
        );
        assert!((found * angle.to_radians() - field(&row, 5)).abs() < 2e-6 + 1e-8 * found);
        if angle <= 180.0 {
            let back = rise(found, c).expect("a rise");
            assert!((back - h).abs() < 1e-9 * h.max(1.0), "{}: {back}", &row[0]);
        }
    }
}

/// Propagation of the errors of chord and rise (JCGM 100:2008, 5.1.2; clause from memory).
#[test]
fn what_an_error_of_chord_or_rise_does_to_the_radius() {
    for row in rows(include_str!(
        "../shared/reference/arc_radius_uncertainty.csv"
    )) {
        let (c, h, u_chord, u_rise) = (
            field(&row, 0),
            field(&row, 1),
            field(&row, 2),
            field(&row, 3),
        );
        let by_chord = radius_per_chord(c, h);
        let by_rise = radius_per_rise(c, h);
        assert!((by_chord - field(&row, 5)).abs() < 1e-6);
        assert!((by_rise - field(&row, 6)).abs() < 1e-6);
        assert!(((by_chord * u_chord).hypot(by_rise * u_rise) - field(&row, 7)).abs() < 1e-5);
    }
}

/// Ordinates computed by another program.
#[test]
fn ordinates_from_the_chord_and_from_the_crown() {
    let table = rows(include_str!("../shared/reference/arc_ordinates.csv"));
    assert!(table.len() > 30);
    for row in table {
        let (r, c, x) = (field(&row, 0), field(&row, 1), field(&row, 3));
        let near = |found: Option<f64>, want: f64| (found.expect("a number") - want).abs() < 1e-6;
        assert!(near(rise(r, c), field(&row, 2)));
        assert!(near(ordinate(r, c, x), field(&row, 4)), "{r} {c} {x}");
        assert!(near(fall(r, x), field(&row, 5)), "{r} {c} {x}");
    }
}

/// The gauge stays the same while the tube bends: the reading is the rise of the outside or inside
/// circle that has the same section depth around the stage's centreline.
#[test]
fn stages_keep_the_depth_of_the_section() {
    let sheet = json(&["--gauge", "500mm", "--tol", "1mm", "--reading", "0.3mm"]);
    for reading in sheet["readings"].as_array().expect("readings") {
        let side = if reading["on"] == "outside" {
            20.0
        } else {
            -20.0
        };
        for stage in reading["stages"].as_array().expect("stages") {
            let share = number(&stage["share"]);
            let want = if share == 0.0 {
                0.0
            } else {
                rise(1000.0 / share + side, 500.0).expect("a rise")
            };
            assert!((number(&stage["rise"]) - want).abs() < 0.001, "{stage}");
        }
        let target = number(&reading["rise"]["value"]);
        assert!((number(&reading["stop"]) - (target + 0.7)).abs() < 0.001);
        assert!(number(&reading["slow"]) < target);
    }
}

/// The canopy's rib: square tube 40, centreline R 1000 through 80°, so L = 1396.263 mm.
#[test]
fn blank_marks_and_template_of_the_demo_rib() {
    let sheet = json(&["--waste", "150mm", "--pitch", "100mm", "--on", "inside"]);
    assert_eq!(sheet["part"], "M1");
    assert!((number(&sheet["blank"]["value"]) - 1696.263).abs() < 0.05);
    let tangents: Vec<f64> = sheet["marks"]
        .as_array()
        .expect("marks")
        .iter()
        .filter(|mark| mark["kind"] == "tangent")
        .map(|mark| number(&mark["at"]["value"]))
        .collect();
    assert!((tangents[0] - 150.0).abs() < 0.05 && (tangents[1] - 1546.263).abs() < 0.05);
    let template = &sheet["template"];
    assert!((number(&template["chord"]) - 2.0 * 980.0 * 40_f64.to_radians().sin()).abs() < 0.05);
    for o in sheet["ordinates"].as_array().expect("ordinates") {
        let (x, y) = (number(&o["x"]), number(&o["y"]));
        let centre = 980.0 * 40_f64.to_radians().cos();
        assert!((x.hypot(y + centre) - 980.0).abs() < 0.05, "{o}");
    }
}

/// Common practice (rolling_practice.csv): half the distance of the outer rolls, and the grip.
#[test]
fn waste_from_the_rolls() {
    let practice = include_str!("../shared/reference/rolling_practice.csv");
    assert!(practice.contains("0.5 x distance, plus grip"));
    let sheet = json(&["--roll-spacing", "400mm", "--grip", "30mm"]);
    assert_eq!(sheet["blank_made_of"]["waste"][0], 230.0);
    assert!(practice.contains("150 to 600 mm"));
    let planned = number(&json(&[])["blank_made_of"]["waste"][0]);
    assert!((150.0..=600.0).contains(&planned));
}

#[test]
fn a_log_of_passes_says_how_much_further() {
    // 4 mm a pass: the target of 30.1 mm is (30.1 - 17) / 4 passes away.
    let log = scratch("roll_log.csv", "pass,reading\n1,5\n2,9.02\n3,12.98\n4,17\n");
    let sheet = json(&["--gauge", "500mm", "--log", &log]);
    let target = number(&sheet["readings"][0]["rise"]["value"]);
    let further = &sheet["progress"]["further"];
    let (value, doubt) = (number(&further["value"]), number(&further["plus_minus"]));
    assert!(
        (value - (target - 17.0) / 4.0).abs() < doubt && doubt < 0.3,
        "{further}"
    );
    let (code, _, err) = roll(&["--log", &scratch("roll_short.csv", "reading\n5\n9\n")]);
    assert_eq!(code, Some(2));
    assert!(err.contains("fewer than three"), "{err}");
}

#[test]
fn a_log_that_bends_is_taken_from_its_end() {
    // The first passes only take up slack.
    let log = scratch(
        "roll_bent.csv",
        "setting,reading\n0,0\n1,0.1\n2,0.3\n3,2\n4,5\n5,8.01\n6,10.99\n7,14\n",
    );
    let sheet = json(&["--gauge", "500mm", "--log", &log]);
    let progress = &sheet["progress"];
    assert_eq!(progress["by"], "setting");
    assert!(number(&progress["used"]) <= 6.0, "{progress}");
    assert!(
        (number(&progress["growth"]["value"]) - 3.0).abs() < 0.25,
        "{progress}"
    );
}

#[test]
fn a_log_without_heads_or_in_inches_is_read() {
    let (passes, by_setting) = read_log(b"5\n9\n13\n", Unit::Millimetre).expect("a log");
    assert!(!by_setting && passes[2].setting == 3.0);
    let (passes, by_setting) =
        read_log(b"setting;reading\n0.5;1/4in\n", Unit::Millimetre).expect("a log");
    assert!(by_setting && passes[0].reading == 6.35);
    assert!(read_log(b"pass,rise\n1,2\n", Unit::Millimetre).is_err());
}

#[test]
fn what_can_not_be_rolled_is_refused_with_a_reason() {
    for (arguments, word) in [
        (&["--part", "M9"][..], "M9"),
        (&["--part", "P1"], "no circular arc"),
        (&["--gauge", "12 furlong"], "not a length"),
        (&["--arc", "7"], "no arc 7"),
        (&["--template-chord", "9m"], "template"),
        (&["--pitch", "0.001mm"], "pitch"),
        (&["--waste=-5mm"], "less than nothing"),
    ] {
        let (code, _, err) = roll(arguments);
        assert_eq!(code, Some(2), "{arguments:?}");
        assert!(err.contains(word), "{arguments:?}: {err}");
    }
}

#[test]
fn the_table_says_that_springback_is_not_predicted() {
    let (code, out, _) = roll(&["--width", "80", "--show", "in/16"]);
    assert_eq!(code, Some(0));
    assert!(out.contains("Springback is not predicted"), "{out}");
    let (code, out, _) = roll(&["--format", "csv"]);
    assert_eq!(code, Some(0));
    assert!(
        out.starts_with("kind,of,face,gauge_mm,at_mm,value_mm"),
        "{out}"
    );
}

fn roll(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["roll", MODEL, "--unit", "mm"])
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

fn json(arguments: &[&str]) -> Value {
    let (code, out, err) = roll(&[arguments, &["--format", "json"]].concat());
    assert_eq!((code, err.as_str()), (Some(0), ""), "{arguments:?}");
    serde_json::from_str(&out).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn scratch(name: &str, text: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    fs::write(&path, text).expect("a scratch file");
    path.display().to_string()
}

/// A gutter of 4 mm plate rolled to 300 inside, and a cone: their truths stand in
/// fixtures/corpus/truth.json.
fn truth(file: &str) -> Value {
    let text = include_str!("../fixtures/corpus/truth.json");
    let all: Value = serde_json::from_str(text).expect("JSON");
    let models = all["models"].as_array().expect("models");
    let own = models
        .iter()
        .find(|m| m["file"].as_str().is_some_and(|f| f.ends_with(file)));
    own.expect("the model")["parts"][0].clone()
}

fn sheet_of(file: &str, arguments: &[&str]) -> Value {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["roll", &format!("fixtures/corpus/{file}"), "--unit", "mm"])
        .args(["--format", "json"])
        .args(arguments)
        .output()
        .expect("a run");
    assert!(output.status.success(), "{file}");
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn a_rolled_plate_is_read_on_both_faces() {
    let file = "gutter_01_t02.stl";
    let truth = truth(file);
    let (inside, outside) = (
        number(&truth["inside_radius"]),
        number(&truth["outside_radius"]),
    );
    let sheet = sheet_of(file, &["--gauge", "200mm"]);
    let mut faces = 0;
    for reading in sheet["readings"].as_array().expect("readings") {
        let radius = match reading["on"].as_str() {
            Some("outside") => outside,
            Some("inside") => inside,
            _ => continue,
        };
        let want = rise(radius, 200.0).expect("a rise");
        assert!(
            (number(&reading["rise"]["value"]) - want).abs() < 0.02,
            "{reading}"
        );
        faces += 1;
    }
    assert_eq!(faces, 2);
    // Common practice: the neutral line of a rolled plate runs in the middle of its thickness.
    let developed = number(&sheet["blank_made_of"]["developed"]["value"]);
    assert!(
        (developed - number(&truth["flat_length"])).abs() < 0.1,
        "{developed}"
    );
}

#[test]
fn a_cone_is_read_at_both_edges() {
    let file = "cowl_cone_01_t02.stl";
    let truth = truth(file);
    let radii = [
        number(&truth["mid_radius_1"]),
        number(&truth["mid_radius_2"]),
    ];
    let (wide, narrow) = (radii[0].max(radii[1]), radii[0].min(radii[1]));
    let sheet = sheet_of(file, &["--gauge", "100mm"]);
    let edges: Vec<&str> = sheet["readings"]
        .as_array()
        .expect("readings")
        .iter()
        .filter_map(|r| r["edge"].as_str())
        .collect();
    assert!(
        edges.contains(&"wide") && edges.contains(&"narrow"),
        "{sheet:#}"
    );
    for reading in sheet["readings"].as_array().expect("readings") {
        let middle = if reading["edge"] == "wide" {
            wide
        } else {
            narrow
        };
        let found = radius(100.0, number(&reading["rise"]["value"])).expect("a radius");
        let side = if reading["on"] == "outside" {
            0.5
        } else {
            -0.5
        };
        // The edges are square to the wall, so their corners lie half a thickness along its normal.
        let lean = number(&truth["half_angle_deg"]).to_radians().cos();
        let want = middle + side * number(&truth["thickness"]) * lean;
        assert!((found - want).abs() < 0.02, "{found} {want}: {reading}");
    }
}

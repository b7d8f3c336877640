//! K-factors of one's own, the reading of one's own, and holes that do not stay round.

mod plate_files;

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use nalgebra::Point2;
use plate_files::build::{Fold, circle, extrude, revolve, strip};
use serde_json::Value;
use soapstone::body::Body;
use soapstone::finding::Code;
use soapstone::plate::{KFrom, Neutral, ShopRow, din_6935, measure, measure_with};
use soapstone::surface::segment;
use tempfile::TempDir;

fn soapstone(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
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
    let (code, out, err) = soapstone(&[arguments, &["--format", "json", "--unit", "mm"]].concat());
    assert_eq!(code, Some(0), "{err}");
    serde_json::from_str(&out).expect("JSON")
}

fn codes(report: &Value) -> Vec<String> {
    let findings = report["findings"].as_array().expect("findings");
    findings
        .iter()
        .map(|f| f["code"].as_str().expect("a code").to_owned())
        .collect()
}

/// The body as an OBJ file.
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

fn box_of(length: f64, width: f64, thickness: f64) -> Body {
    let corners = [(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)];
    extrude(&corners.map(|(x, y)| Point2::new(x, y)), thickness)
}

const ANGLE: Fold = Fold {
    angle: 90.0,
    inside_radius: 6.0,
    chords: 8,
};

/// A right-angled bracket of 3 mm, inside radius 6, straights of 40 and 60.
fn bracket() -> Body {
    extrude(&strip(3.0, &[40.0, 60.0], &[ANGLE]), 150.0)
}

/// Straights plus the arc at the neutral line: 100 + π/2·(6 + K·3).
fn developed(k: f64) -> f64 {
    100.0 + std::f64::consts::FRAC_PI_2 * (6.0 + 3.0 * k)
}

#[test]
fn the_factor_given_is_the_factor_used() {
    let body = bracket();
    let row = |thickness, inside_radius, k_factor| ShopRow {
        thickness,
        inside_radius,
        k_factor,
    };
    let table = |rows: Vec<ShopRow>| Neutral::Table(rows);
    let covered = table(vec![row(3.0, 4.0, 0.36), row(3.0, 8.0, 0.44)]);
    let elsewhere = table(vec![row(5.0, 6.0, 0.44)]);
    for (neutral, k, from, unclear) in [
        (Neutral::Din6935, din_6935(2.0), KFrom::Din6935, false),
        (Neutral::Factor(0.33), 0.33, KFrom::Given, false),
        (Neutral::Factor(0.8), 0.8, KFrom::Given, true),
        (covered, 0.40, KFrom::ShopTable, false),
        (elsewhere, din_6935(2.0), KFrom::Din6935, true),
    ] {
        let m = measure_with(&body, &segment(&body), &neutral).expect("a plate");
        let width = m.plate.flat.width.expect("width").value;
        assert!((width - developed(k)).abs() < 1e-4, "{neutral:?}: {width}");
        assert_eq!(m.plate.flat.k_from, Some(from), "{neutral:?}");
        assert_eq!(m.plate.bends[0].k_from, from);
        assert!((m.plate.bends[0].k_factor - k).abs() < 1e-4);
        let said = m.findings.iter().any(|f| f.code == Code::KUnclear);
        assert_eq!(said, unclear, "{neutral:?}: {:?}", m.findings);
    }
}

/// Rolled plates stay on the surface amid the thickness whatever the factor of folds.
#[test]
fn rolled_plates_do_not_take_the_factor_of_folds() {
    let profile = [(495.0, 0.0), (505.0, 0.0), (505.0, 200.0), (495.0, 200.0)];
    let body = revolve(&profile.map(|(r, z)| Point2::new(r, z)), 90.0, 24);
    let m = measure_with(&body, &segment(&body), &Neutral::Factor(0.3)).expect("a plate");
    assert_eq!(m.plate.flat.k_from, Some(KFrom::MidSurface));
    let length = m.plate.flat.length.expect("length").value;
    assert!(
        (length - 500.0 * std::f64::consts::FRAC_PI_2).abs() < 1e-3,
        "{length}"
    );
}

#[test]
fn the_factor_stands_on_every_output() {
    let folder = TempDir::new().expect("a folder");
    let model = "fixtures/plate/l_bracket_01.stl";
    let table = folder.path().join("brake.csv");
    fs::write(&table, "thickness mm;inside radius mm;K\n100;100;0,4\n").expect("a file");
    let (_, text, _) = soapstone(&["read", model, "--unit", "mm", "--k-factor", "0.333"]);
    assert!(text.contains("0.333 (as given)"), "{text}");
    let report = json(&["read", model, "--k-factor", "0.333"]);
    let flat = &report["parts"][0]["plate"]["flat"];
    assert_eq!(
        (flat["k_factor"].as_f64(), flat["k_from"].as_str()),
        (Some(0.333), Some("given"))
    );
    let out = folder.path().join("cut");
    let place = out.to_str().expect("a path");
    let (code, _, err) = soapstone(&[
        "outline",
        model,
        "--unit",
        "mm",
        "--k-factor",
        "0.333",
        "-o",
        place,
    ]);
    assert_eq!(code, Some(0), "{err}");
    for file in fs::read_dir(&out).expect("files") {
        let file = file.expect("a file").path();
        let text = fs::read_to_string(&file).expect("text");
        assert!(text.contains("0.333 (as given)"), "{}", file.display());
    }
    // A table without a row for this bend says so, and DIN 6935 stands in.
    let k_table = table.to_str().expect("a path");
    let report = json(&["read", model, "--k-table", k_table]);
    assert_eq!(report["parts"][0]["plate"]["flat"]["k_from"], "din_6935");
    assert!(codes(&report).contains(&"k_unclear".to_owned()));
}

#[test]
fn factors_and_readings_that_make_no_sense_are_refused() {
    let model = "fixtures/plate/l_bracket_01.stl";
    for (arguments, word) in [
        (&["--k-factor", "1.7"][..], "between 0 and 1"),
        (&["--k-factor", "NaN"], "between 0 and 1"),
        (&["--k-table", "no/such.csv"], "no/such.csv"),
        (&["--k-table", "Cargo.toml"], "line"),
        (&["--as", "P1"], "as in --as P2=bar"),
        (&["--as", "P1=beam"], "as in --as P2=bar"),
        (&["--as", "P9=bar"], "Ask for one of P1"),
        (&["--as", "P1=tube"], "can't be read as a tube"),
    ] {
        let (code, out, err) = soapstone(&[&["read", model, "--unit", "mm"], arguments].concat());
        assert_eq!((code, out.as_str()), (Some(2), ""), "{arguments:?}");
        assert!(err.contains(word), "{arguments:?}: {err}");
    }
}

/// The class rule's limits: a strip is a bar from a length of 4 widths on, a closed cylinder of no
/// published size a tube from a length of 2 diameters on. Within 20 % of them the other reading is named
/// and can be had; beyond, it is not named.
#[test]
fn the_other_reading_is_named_and_can_be_forced() {
    let folder = TempDir::new().expect("a folder");
    let pipe = |length: f64| {
        let profile = [(93.3, 0.0), (100.0, 0.0), (100.0, length), (93.3, length)];
        revolve(&profile.map(|(r, z)| Point2::new(r, z)), 360.0, 60)
    };
    for (name, body, class, other, forced) in [
        (
            "short",
            box_of(300.0, 80.0, 5.0),
            "flat_plate",
            Some("a flat bar"),
            ("bar", "straight_member"),
        ),
        (
            "long",
            box_of(340.0, 80.0, 5.0),
            "straight_member",
            Some("a plate"),
            ("plate", "flat_plate"),
        ),
        (
            "longer",
            box_of(800.0, 80.0, 5.0),
            "straight_member",
            None,
            ("plate", "flat_plate"),
        ),
        (
            "collar",
            pipe(380.0),
            "rolled_plate",
            Some("a tube"),
            ("tube", "straight_member"),
        ),
        (
            "pipe",
            pipe(440.0),
            "straight_member",
            Some("a rolled plate"),
            ("plate", "rolled_plate"),
        ),
        (
            "ring",
            pipe(100.0),
            "rolled_plate",
            None,
            ("tube", "straight_member"),
        ),
    ] {
        let path = folder.path().join(format!("{name}.obj"));
        save(&body, &path);
        let model = path.to_str().expect("a path");
        let report = json(&["read", model]);
        let part = &report["parts"][0];
        assert_eq!(part["class"], class, "{name}");
        let named = report["findings"]
            .as_array()
            .expect("findings")
            .iter()
            .find(|f| f["code"] == "class_unclear");
        match other {
            Some(words) => {
                let message = named.expect(name)["message"].as_str().expect("text");
                assert!(message.contains(words), "{name}: {message}");
            }
            None => assert!(named.is_none(), "{name}: {named:?}"),
        }
        let mark = part["mark"].as_str().expect("a mark");
        let report = json(&["read", model, "--as", &format!("{mark}={}", forced.0)]);
        let part = &report["parts"][0];
        assert_eq!(part["class"], forced.1, "{name}");
        assert_eq!(part["mark"], mark, "{name}: the mark stays");
        assert!(
            codes(&report).contains(&"class_unclear".to_owned()),
            "{name}: it is said"
        );
    }
}

/// A panel of 5 mm rolled to 380 inside with holes of 16: cut round in the flat, they span 8/382.5 rad
/// to either side, on the inside 2·380·sin(8/382.5) = 15.895 mm.
#[test]
fn holes_that_do_not_stay_round_are_named() {
    let report = json(&["read", "fixtures/plate/canopy_panel_01_wrap.stl"]);
    let findings = report["findings"].as_array().expect("findings");
    let named = findings.iter().find(|f| f["code"] == "hole_distorts");
    let message = named.expect("named")["message"].as_str().expect("text");
    assert!(
        message.starts_with("2 holes of 16.0 mm (at x 60.0, y 60.0; x 350.0, y 60.0"),
        "{message}"
    );
    assert!(message.contains("pin of 15.9 mm"), "{message}");
    // Folds: the middle of a hole of 10 mm stands 8 mm from where the bend of a 3 mm sheet begins.
    for (distance, code) in [(8.0, true), (20.0, false)] {
        let body = drilled_bracket(distance);
        let m = measure(&body, &segment(&body)).expect("a plate");
        assert_eq!(m.plate.holes.len(), 1);
        let named = m.findings.iter().find(|f| f.code == Code::HoleDistorts);
        assert_eq!(named.is_some(), code, "{distance}: {:?}", m.findings);
    }
}

/// The bracket with a round hole of 10 mm in its leg of 60, the middle this far from the bend.
fn drilled_bracket(distance: f64) -> Body {
    let profile = strip(3.0, &[40.0, 60.0], &[ANGLE]);
    let plain = extrude(&profile, 150.0);
    // The leg of 60 runs along y after the right angle; its faces are planes of constant x.
    let low = profile
        .iter()
        .map(|p| p.x)
        .fold(f64::NEG_INFINITY, f64::max);
    let tip = profile
        .iter()
        .map(|p| p.y)
        .fold(f64::NEG_INFINITY, f64::max);
    let centre = Point2::new(tip - 60.0 + distance, 75.0);
    let ring = circle(centre, 5.0, 24);
    let (tip_in, bend) = (tip, tip - 60.0);
    let mut out: Vec<[[f64; 3]; 3]> = Vec::new();
    for f in &plain.facets {
        let [a, b, c] = f.map(|v| plain.vertices[v as usize]);
        let flat = [a, b, c].iter().all(|p| (p.x - a.x).abs() < 1e-9)
            && a.x > low - 3.0 - 1e-9
            && [a, b, c].iter().all(|p| p.y >= bend - 1e-9);
        if !flat {
            out.push([a, b, c].map(|p| [p.x, p.y, p.z]));
        }
    }
    // Both faces again, as a fan from the hole to the rectangle bend..tip × 0..150.
    let corner = |k: usize| [(tip_in, 150.0), (bend, 150.0), (bend, 0.0), (tip_in, 0.0)][k % 4];
    for (x, outward) in [(low, true), (low - 3.0, false)] {
        let at = |p: (f64, f64)| [x, p.0, p.1];
        let mut push = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
            out.push(if outward { [a, b, c] } else { [a, c, b] });
        };
        for k in 0..24 {
            let (p, q) = (ring[k], ring[(k + 1) % 24]);
            let quarter = k / 6;
            push(at((p.x, p.y)), at(corner(quarter)), at((q.x, q.y)));
            if k % 6 == 5 {
                push(at((q.x, q.y)), at(corner(quarter)), at(corner(quarter + 1)));
            }
        }
    }
    for k in 0..24 {
        let (p, q) = (ring[k], ring[(k + 1) % 24]);
        let at = |x: f64, p: Point2<f64>| [x, p.x, p.y];
        out.push([at(low, p), at(low, q), at(low - 3.0, q)]);
        out.push([at(low, p), at(low - 3.0, q), at(low - 3.0, p)]);
    }
    plate_files::build::body(&out)
}

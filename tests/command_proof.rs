//! `soapstone proof` from the outside.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

const MODEL: &str = "fixtures/proof/sample_plate.obj";

fn proof(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args([&["proof", MODEL], arguments, &["--unit", "mm"]].concat())
        .output()
        .expect("a run");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn json(arguments: &[&str]) -> (Option<i32>, Value) {
    let (code, out, err) = proof(&[arguments, &["--format", "json"]].concat());
    (
        code,
        serde_json::from_str(&out).unwrap_or_else(|why| panic!("{why}: {out}{err}")),
    )
}

/// A program written to a file of its own.
fn changed(change: impl Fn(String) -> String) -> tempfile::NamedTempFile {
    let text = fs::read_to_string("fixtures/proof/sample_plate.ngc").expect("the sample");
    let file = tempfile::NamedTempFile::new().expect("a place");
    fs::write(file.path(), change(text)).expect("a file");
    file
}

fn reasons(answer: &Value) -> String {
    answer["reasons"].to_string()
}

/// Length, area and pierces of `sample_plate.json`, which come from the making of the plate.
#[test]
fn the_three_sample_programs_cut_the_sample_plate() {
    let truth = fs::read_to_string("fixtures/proof/sample_plate.json").expect("the truth");
    let truth: Value = serde_json::from_str(&truth).expect("JSON");
    for name in [
        "sample_plate.ngc",
        "sample_plate_r12.dxf",
        "sample_plate_2000.dxf",
    ] {
        let (code, answer) = json(&[&format!("fixtures/proof/{name}")]);
        assert_eq!(
            (code, &answer["verdict"]),
            (Some(0), &"yes".into()),
            "{name}: {answer}"
        );
        assert_eq!(answer["part"], "P1");
        assert_eq!(answer["hand"], "same");
        assert_eq!(answer["scale"], 1.0);
        assert_eq!(answer["kerf_side"], "none");
        assert_eq!(answer["pierces"], truth["pierces"], "{name}");
        let length = answer["cut_length"].as_f64().expect("a length");
        assert!(
            (length - truth["cut_length"].as_f64().expect("a length")).abs() < 1e-6,
            "{name}: {length}"
        );
        let off = answer["largest_departure"].as_f64().expect("a departure");
        assert!(off < 0.003, "{name}: {off}");
        assert_eq!(
            answer["extent"],
            serde_json::json!([[0.0, 0.0], [200.0, 120.0]]),
            "{name}"
        );
    }
}

#[test]
fn plain_sentences_and_exit_codes() {
    for (what, change, verdict, words) in [
        (
            "inches",
            ("G21", "G20"),
            "no",
            "25.4 times the size: millimetres are read as inches",
        ),
        (
            "a hole less",
            ("G3 X75 Y60 I-15 J0\n", ""),
            "no",
            "1 hole of P1 not cut",
        ),
        (
            "a small hole",
            ("I-15 J0", "I-14 J0"),
            "no",
            "comes out ⌀28.00",
        ),
        ("open", ("G3 X15 Y0 R15", ""), "no", "does not close"),
        (
            "unknown",
            ("M3\nF2000", "M3\nM64 P0\nF2000"),
            "unclear",
            "Line 5 has an unknown word, M64",
        ),
        (
            "a loop",
            ("M3\nF2000", "M3\nO100 repeat [3]\nF2000"),
            "unclear",
            "beyond what is read",
        ),
        ("told", ("G40", "G42"), "no", "to the side of the piece"),
    ] {
        let file = changed(|text| text.replacen(change.0, change.1, 1));
        let (code, answer) = json(&[&file.path().display().to_string()]);
        assert_eq!(
            (code, &answer["verdict"]),
            (Some(1), &verdict.into()),
            "{what}: {answer}"
        );
        assert!(reasons(&answer).contains(words), "{what}: {answer}");
    }
}

#[test]
fn a_program_that_breaks_the_rules_is_named_by_its_line() {
    for (change, words) in [
        (
            ("G3 X75 Y60 I-15 J0", "G3 X75 Y61 I-15 J5"),
            "Line 6 has an arc whose start lies",
        ),
        (
            ("X185 Y120 R15", "X185 Y120 R2"),
            "Line 13 has an arc of radius 2.000 mm between ends",
        ),
        (
            ("G1 X185 Y0", "G1 X185 X0"),
            "Line 10 has the word X more than once",
        ),
        (
            ("G1 X185 Y0", "G1 X99999999 Y0"),
            "Line 10 goes to a place more than 100 m off",
        ),
        (
            ("G1 X185 Y0", "G1 X"),
            "Line 10 has no number after the letter X",
        ),
        (
            ("G1 X185 Y0", "G28 X0 Y0\nG1 X185 Y0\n"),
            "only the control knows",
        ),
        (("M3", "M7"), "The program cuts nothing."),
    ] {
        let file = changed(|text| text.replace(change.0, change.1));
        let (code, out, err) = proof(&[&file.path().display().to_string()]);
        assert_eq!((code, out.as_str()), (Some(2), ""), "{words}");
        assert!(err.contains(words), "{words}: {err}");
    }
}

#[test]
fn options_are_asked_and_answered() {
    let program = "fixtures/proof/sample_plate.ngc";
    let (code, answer) = json(&[program, "--sheet", "300x200"]);
    assert_eq!(code, Some(0), "{answer}");
    let (code, answer) = json(&[program, "--sheet", "130x300"]);
    assert_eq!(code, Some(1));
    assert!(
        reasons(&answer).contains("only with the sheet turned"),
        "{answer}"
    );
    // A kerf that the program does not allow for.
    let (code, answer) = json(&[program, "--kerf", "1.5mm"]);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(1), &"no".into()),
        "{answer}"
    );
    let file = changed(|text| text.replace("M3", "M7").replace("M5", "M8"));
    let path = file.path().display().to_string();
    assert_eq!(json(&[&path, "--on", "7", "--off", "8"]).0, Some(0));
    assert_eq!(proof(&[program, "--part", "P9"]).0, Some(2));
    assert_eq!(proof(&[program, "--part", "P1"]).0, Some(0));
    let (code, answer) = json(&["fixtures/proof/sample_plate_r12.dxf", "--layer", "cut"]);
    assert_eq!((code, &answer["missing_holes"]), (Some(1), &1.into()));
}

#[test]
fn the_picture_and_the_program_are_left_alone() {
    let folder = tempfile::tempdir().expect("a place");
    let picture = folder.path().join("over.svg").display().to_string();
    let program = "fixtures/proof/sample_plate.ngc";
    let before = fs::read(program).expect("the sample");
    let (code, out, _) = proof(&[program, "-o", &picture]);
    assert_eq!(code, Some(0));
    assert!(out.contains("does not replace a dry run"), "{out}");
    let drawn = fs::read_to_string(&picture).expect("a picture");
    assert!(drawn.contains("the plate as designed") && !drawn.contains("NaN"));
    assert_eq!(proof(&[program, "-o", &picture]).0, Some(2));
    assert_eq!(proof(&[program, "-o", "over.png"]).0, Some(2));
    assert_eq!(before, fs::read(program).expect("the sample"));
    for width in ["80", "140"] {
        let (_, out, _) = proof(&[program, "--width", width]);
        let widest = out.lines().map(|line| line.chars().count()).max();
        assert!(widest <= width.parse().ok(), "{out}");
    }
}

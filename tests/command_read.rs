//! `soapstone read` from the outside.

use assert_cmd::Command;
use serde_json::Value;

const MODEL: &str = "fixtures/canopy_bay_01.stl";

fn read(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("read")
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
    let (code, out, err) = read(&[arguments, &["--format", "json"]].concat());
    assert_eq!((code, err.as_str()), (Some(0), ""), "{arguments:?}");
    serde_json::from_str(&out).expect("JSON")
}

fn marks(report: &Value) -> Vec<String> {
    let parts = report["parts"].as_array().expect("parts");
    let mark = |part: &Value| part["mark"].as_str().expect("a mark").to_owned();
    parts.iter().map(mark).collect()
}

#[test]
fn the_report_says_what_was_read_and_in_which_unit() {
    let report = json(&[MODEL, "--unit", "in"]);
    assert_eq!(report["schema"], 1);
    assert_eq!(report["tool"]["name"], "soapstone");
    assert_eq!(report["source"]["path"], MODEL);
    assert_eq!(report["source"]["format"], "stl-binary");
    assert_eq!(report["source"]["facets"], 3780);
    assert_eq!(report["length_unit"]["mm_per_file_unit"], 25.4);
    assert_eq!(report["length_unit"]["basis"], "stated");
}

#[test]
fn without_a_unit_the_basis_is_another_and_a_finding_says_so() {
    let report = json(&[MODEL]);
    assert_ne!(report["length_unit"]["basis"], "stated");
    let findings = report["findings"].as_array().expect("findings");
    let about_unit = |f: &Value| f["code"] == "unit_inferred" || f["code"] == "unit_unclear";
    assert!(findings.iter().any(about_unit), "{findings:?}");
}

#[test]
fn marks_are_unique_and_ask_for_one_part() {
    let all = marks(&json(&[MODEL, "--unit", "mm"]));
    let mut unique = all.clone();
    unique.sort();
    unique.dedup();
    assert_eq!(unique.len(), all.len(), "{all:?}");
    let last = all.last().expect("a part");
    assert_eq!(
        &marks(&json(&[MODEL, "--unit", "mm", "--part", last])),
        &[last.as_str()]
    );
}

#[test]
fn a_mark_that_is_not_there_names_those_that_are() {
    let (code, out, err) = read(&[MODEL, "--unit", "mm", "--part", "Z99"]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.contains("has the mark \"Z99\""), "{err}");
    for mark in marks(&json(&[MODEL, "--unit", "mm"])).iter().take(20) {
        assert!(err.contains(mark.as_str()), "{err}");
    }
}

#[test]
fn the_same_file_gives_the_same_bytes() {
    for format in ["table", "json", "csv"] {
        let run = || read(&[MODEL, "--unit", "mm", "--format", format]).1;
        assert_eq!(run(), run(), "{format}");
    }
}

#[test]
fn no_line_is_wider_than_asked_and_none_is_coloured_off_a_terminal() {
    for width in ["80", "140"] {
        let (code, out, _) = read(&[MODEL, "--unit", "mm", "--width", width]);
        assert_eq!(code, Some(0));
        let widest = out
            .lines()
            .map(|line| line.chars().count())
            .max()
            .unwrap_or(0);
        assert!(
            widest <= width.parse().expect("a number"),
            "{widest} columns"
        );
        assert!(!out.contains('\u{1b}'));
    }
}

#[test]
fn csv_has_a_row_for_every_part() {
    let (_, out, _) = read(&[MODEL, "--unit", "mm", "--format", "csv"]);
    let mut reader = csv::Reader::from_reader(out.as_bytes());
    let rows: Vec<_> = reader.records().map(|row| row.expect("a row")).collect();
    let listed: Vec<_> = rows.iter().map(|row| row[0].to_owned()).collect();
    assert_eq!(listed, marks(&json(&[MODEL, "--unit", "mm"])));
}

#[test]
fn what_is_no_model_is_refused_with_cause_and_remedy() {
    let (code, out, err) = read(&["README.md"]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.starts_with("soapstone: README.md: "), "{err}");
    assert!(err.contains("Export"), "{err}");
}

//! Does ± hold the design value as often as it should? Members and plates of a seeded generator, with
//! vertices on the true surface or sections true across each flat, with noise, in text or binary.
//!
//! `SOAPSTONE_CALIBRATE=2000 cargo test --release --test calibration -- --nocapture` prints the table.

mod calibrated;

use calibrated::draw;
use calibrated::tally::Tallies;
use soapstone::analysis::{Asked, analyse};

/// Counts the cases from `first` on, every `step`th.
fn run(first: u64, step: u64, end: u64) -> Tallies {
    let mut all = Tallies::default();
    for seed in (first..end).step_by(step as usize) {
        let (case, written, bytes) = draw(seed);
        let name = if written.digits.is_some() {
            "a.obj"
        } else {
            "a.stl"
        };
        if let Ok(folder) = std::env::var("SOAPSTONE_CALIBRATE_KEEP") {
            std::fs::write(format!("{folder}/{seed}{}", &name[1..]), &bytes).unwrap();
        }
        let asked = Asked {
            mm_per_unit: Some(written.unit),
            density: 7850.0,
        };
        let report = analyse(&bytes, name, &asked).unwrap();
        if std::env::var_os("SOAPSTONE_CALIBRATE_SHOW").is_some() {
            println!("seed {seed}: {written:?} {}", case.words());
        }
        all.enter(&case, seed, &serde_json::to_value(&report).unwrap());
    }
    all
}

#[test]
fn plus_minus_holds_the_design_value() {
    let cases: u64 = std::env::var("SOAPSTONE_CALIBRATE").map_or(40, |n| n.parse().unwrap());
    let (one, two) = std::thread::scope(|scope| {
        let other = scope.spawn(|| run(1, 2, cases));
        (run(0, 2, cases), other.join().unwrap())
    });
    let mut all = one;
    all.merge(two);
    println!("{}", all.table());
    let given: usize = all.0.values().map(|t| t.given).sum();
    let inside: usize = all.0.values().map(|t| t.inside).sum();
    let missing: usize = all.0.values().map(|t| t.missing).sum();
    println!("{given} numbers given, {inside} inside ±, {missing} missing");
    // Over 150 cases it is 97 %; of forty a single odd one weighs more.
    assert!(inside as f64 >= 0.9 * given as f64, "± too narrow");
    assert!(
        missing as f64 <= 0.1 * given as f64,
        "too many numbers missing"
    );
}

/// The report of a drawn case.
fn report(seed: u64) -> serde_json::Value {
    let (_, written, bytes) = draw(seed);
    let name = if written.digits.is_some() {
        "a.obj"
    } else {
        "a.stl"
    };
    let asked = Asked {
        mm_per_unit: Some(written.unit),
        density: 7850.0,
    };
    serde_json::to_value(analyse(&bytes, name, &asked).unwrap()).unwrap()
}

/// Channels of 4 mm with flanges of 75: the edge of a flange is less than a hundredth of the outline.
/// They were read as special sections, and their lengths were off.
#[test]
fn channels_with_thin_flanges() {
    for seed in [1706, 1691, 1583] {
        let report = report(seed);
        let section = &report["parts"][0]["member"]["section"];
        assert_eq!(section["shape"], "channel", "seed {seed}: {section}");
    }
}

/// Plates of a scan that can't be measured as plates: a strip of 215 by 406 is no bar either.
#[test]
fn scattered_sheet_is_no_bar() {
    for seed in [132, 299] {
        let report = report(seed);
        assert_eq!(report["parts"][0]["class"], "other", "seed {seed}");
        let why = report["unresolved"][0]["reason"].as_str().unwrap();
        assert!(why.contains("scatter"), "seed {seed}: {why}");
    }
}

//! No model of any shape panics, or makes a number that is none: from its bytes to the report in all its
//! forms, the drawings and the cut list.
//!
//! `SOAPSTONE_MODELS_SECONDS=3600 cargo test --release --test report_any -- --nocapture` goes on for so
//! long, starting also from the models beside the repository, and says how many it tried.
//! `SOAPSTONE_MODELS_SEED=N` tries number N alone. `SOAPSTONE_MODELS_KEEP=FILE` writes each down first.
//! `SOAPSTONE_MODELS_FOUND=FILE` tries what the fuzz target `report` found, and puts a model beside it.

mod any_model;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use any_model::{Dice, Mesh, changed, whole};

/// Small models of every kind, and those beside the repository when asked to go on for long.
fn models(long: bool) -> Vec<Mesh> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let shared = std::env::var_os("SOAPSTONE_SHARED");
    let shared = shared.map_or_else(|| root.join("../shared"), PathBuf::from);
    match long {
        false => any_model::models(&[root.join("fixtures")], 60_000),
        true => any_model::models(&[root.join("fixtures"), shared.join("real/files")], 200_000),
    }
}

/// Numbers that look like chance and are the same everywhere (splitmix64).
fn chance(number: u64) -> Vec<u8> {
    let mut state = number;
    let next = || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)).to_le_bytes()
    };
    std::iter::repeat_with(next).take(32).flatten().collect()
}

#[test]
fn changed_models() {
    let given = |name: &str| std::env::var(name).ok()?.parse::<u64>().ok();
    let (seconds, only) = (
        given("SOAPSTONE_MODELS_SECONDS"),
        given("SOAPSTONE_MODELS_SEED"),
    );
    let keep = std::env::var_os("SOAPSTONE_MODELS_KEEP");
    let models = models(seconds.is_some() || only.is_some());
    assert!(models.len() > 40, "{} models", models.len());
    let begun = Instant::now();
    let first = given("SOAPSTONE_MODELS_FROM").or(only).unwrap_or(0);
    let (mut found, mut slowest) = (Vec::new(), (Duration::ZERO, 0));
    let mut number = first;
    loop {
        let go_on = match (only, seconds) {
            (Some(_), _) => number == first,
            (_, Some(seconds)) => begun.elapsed() < Duration::from_secs(seconds),
            _ => number < 40,
        };
        if !go_on {
            break;
        }
        let bytes = changed(&mut Dice(&chance(number)), &models).stl();
        if let Some(file) = &keep {
            std::fs::write(file, &bytes).expect("a place to keep the model");
        }
        let unit = [Some(1.0), None, Some(25.4)][number as usize % 3];
        let begun = Instant::now();
        if catch_unwind(AssertUnwindSafe(|| whole(&bytes, "any.stl", unit))).is_err() {
            println!("model {number}");
            found.push(number);
        }
        if begun.elapsed() > slowest.0 {
            slowest = (begun.elapsed(), number);
            if seconds.is_some() {
                println!("{:?} for model {number}", slowest.0);
            }
        }
        number += 1;
    }
    println!("{} models tried, slowest {slowest:?}", number - first);
    assert!(
        found.is_empty(),
        "SOAPSTONE_MODELS_SEED=N with N among {found:?}"
    );
}

/// As `fuzz/fuzz_targets/report.rs` takes it.
#[test]
fn found_by_coverage() {
    let Some(file) = std::env::var_os("SOAPSTONE_MODELS_FOUND").map(PathBuf::from) else {
        return;
    };
    let bytes = std::fs::read(&file).expect("a file that was found");
    let (first, rest) = bytes.split_first().expect("some bytes");
    let unit = [Some(1.0), None, Some(25.4)][usize::from(first >> 3) % 3];
    let (end, model) = match first & 7 {
        name @ 0..=3 => (
            ["stl", "obj", "ply", "3mf"][usize::from(name)],
            rest.to_vec(),
        ),
        _ => ("stl", changed(&mut Dice(rest), &models(false)).stl()),
    };
    let beside = file.with_extension(end);
    std::fs::write(&beside, &model).expect("a place beside it");
    println!("{} in units of {unit:?} mm", beside.display());
    whole(&model, &format!("a.{end}"), unit);
}

/// Found by coverage: a bar whose ends passed each other, so that it had no length.
#[test]
fn ends_that_pass_each_other() {
    let found = "109afaf8d7f009b49010ed1bf9c901a4b565000000000000004fb77f2c0952c8f30700000000000000c4e709ff58383f2d54622c89edd2ae495db7033c20e176616c754ced";
    let bytes: Vec<u8> = (0..found.len() / 2)
        .map(|k| u8::from_str_radix(&found[2 * k..2 * k + 2], 16).expect("a byte"))
        .collect();
    let model = changed(&mut Dice(&bytes), &models(false)).stl();
    whole(&model, "a.stl", Some(25.4));
}

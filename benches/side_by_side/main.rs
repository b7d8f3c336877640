//! Speed as ratios, everything in one run on one machine: `cargo bench --bench side_by_side`.
//!
//! Words after `--`: the most facets (1000000 unless told), and `python=PATH` for a Python that has
//! the peer of `peer.py`; `benches/side_by_side/with_peer` sets one up.

mod clock;
mod models;

use std::path::{Path, PathBuf};
use std::process::Command;

use clock::{Run, command, function, in_turn};
use models::As;

const PROGRAM: &str = env!("CARGO_BIN_EXE_soapstone");

fn main() {
    let mut most = 1_000_000;
    let mut python = None;
    for word in std::env::args().skip(1) {
        if let Some(path) = word.strip_prefix("python=") {
            python = Some(path.to_owned());
        } else if let Ok(n) = word.parse() {
            most = n;
        }
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("bench-models");
    std::fs::create_dir_all(&folder).expect("a folder for the models");
    start(&folder);
    let mut whole: Vec<(&str, usize, f64, f64)> = Vec::new();
    for (name, each) in [("tube", None), ("pieces", Some(500))] {
        println!("\n{name}: ms, and in brackets the ratio to the row's last column");
        println!(
            "facets     bytes  weld+bodies    stl_io    read    text     obj    peer  memory/file"
        );
        for facets in [10_000, 100_000, 1_000_000, 10_000_000] {
            if facets > most {
                continue;
            }
            let row = sizes(&folder, name, facets, each, python.as_deref());
            whole.push((name, facets, row.read, row.bytes));
        }
    }
    println!("\ngrowth exponents (time as a power of the facets)");
    for name in ["tube", "pieces"] {
        let own: Vec<_> = whole.iter().filter(|w| w.0 == name).collect();
        for pair in own.windows(2) {
            let by = |a: f64, b: f64| (b / a).ln() / (pair[1].1 as f64 / pair[0].1 as f64).ln();
            println!(
                "{name} {} to {}: read {:.2}, bytes {:.2}",
                pair[0].1,
                pair[1].1,
                by(pair[0].2, pair[1].2),
                by(pair[0].3, pair[1].3)
            );
        }
    }
}

/// Start and a small model beside a program that only says hello.
fn start(folder: &Path) {
    let hello = folder.join("hello");
    let source = folder.join("hello.rs");
    std::fs::write(&source, "fn main() { println!(\"hello\"); }").expect("a file");
    let rustc = std::env::var("RUSTC").unwrap_or_else(|_| "rustc".into());
    let built = Command::new(rustc)
        .arg("-O")
        .arg(&source)
        .arg("-o")
        .arg(&hello)
        .status();
    assert!(built.is_ok_and(|s| s.success()), "rustc builds the hello");
    let hello = hello.to_string_lossy().into_owned();
    let small = model(folder, "tube", 10_000, None, As::Binary);
    let pieces = model(folder, "pieces", 10_000, Some(500), As::Binary);
    let runs = in_turn(
        15,
        &mut [
            &mut || command(&hello, &[]),
            &mut || command(PROGRAM, &["--help"]),
            &mut || command(PROGRAM, &["read", &small, "--unit", "mm"]),
            &mut || command(PROGRAM, &["read", &pieces, "--unit", "mm"]),
        ],
    );
    println!(
        "whole processes beside one that says hello ({:.1} ms)",
        1e3 * runs[0].wall
    );
    for (name, run) in ["--help", "read, tube of 10000", "read, 20 pieces of 500"]
        .iter()
        .zip(&runs[1..])
    {
        println!(
            "{name}: {:.1} ms, {:.1} x",
            1e3 * run.wall,
            run.wall / runs[0].wall
        );
    }
}

fn model(folder: &Path, name: &str, facets: usize, each: Option<usize>, form: As) -> String {
    let end = match form {
        As::Binary => ".stl",
        As::Text => "-text.stl",
        As::Obj => ".obj",
    };
    let path: PathBuf = folder.join(format!("{name}-{facets}{end}"));
    if !path.exists() {
        let triangles = match each {
            None => models::tube(facets),
            Some(each) => models::pieces(facets, each),
        };
        models::write(&path, &triangles, form).expect("a model is written");
    }
    path.to_string_lossy().into_owned()
}

/// Seconds of one size.
struct Row {
    bytes: f64,
    read: f64,
}

fn sizes(
    folder: &Path,
    name: &str,
    facets: usize,
    each: Option<usize>,
    python: Option<&str>,
) -> Row {
    let binary = model(folder, name, facets, each, As::Binary);
    // the text forms of ten million facets take gigabytes
    let texts = (facets <= 1_000_000)
        .then(|| [As::Text, As::Obj].map(|form| model(folder, name, facets, each, form)));
    let rounds = if facets >= 1_000_000 { 3 } else { 7 };
    let read = |path: &str| command(PROGRAM, &["read", path, "--unit", "mm"]);
    let mut bytes = || {
        function(|| {
            let all = std::fs::read(&binary).expect("the model");
            std::hint::black_box(all.iter().map(|b| u64::from(*b)).sum::<u64>());
        })
    };
    let mut bodies = || {
        function(|| {
            let all = std::fs::read(&binary).expect("the model");
            let found = soapstone::analysis::bodies(&all, &binary, |_, _| 1.0).expect("bodies");
            let volume: f64 = found.bodies.iter().map(|b| b.volume).sum();
            assert!(std::hint::black_box(volume) > 0.0);
        })
    };
    let mut crate_alone = || {
        function(|| {
            let file = std::fs::File::open(&binary).expect("the model");
            let mesh = stl_io::read_stl(&mut std::io::BufReader::new(file)).expect("a mesh");
            std::hint::black_box(mesh.faces.len());
        })
    };
    let mut whole = || read(&binary);
    let mut text = || texts.as_ref().map_or_else(Run::default, |t| read(&t[0]));
    let mut obj = || texts.as_ref().map_or_else(Run::default, |t| read(&t[1]));
    let mut peer = || python.map_or_else(Run::default, |python| peer(python, &binary));
    let runs = in_turn(
        rounds,
        &mut [
            &mut bytes,
            &mut bodies,
            &mut crate_alone,
            &mut whole,
            &mut text,
            &mut obj,
            &mut peer,
        ],
    );
    let last = if python.is_some() {
        runs[6].wall
    } else {
        runs[0].wall
    };
    let cell = |run: &Run| {
        if run.wall == 0.0 {
            "-".to_owned()
        } else {
            format!("{:.1} ({:.2})", 1e3 * run.wall, run.wall / last)
        }
    };
    let size = std::fs::metadata(&binary).map_or(1, |m| m.len());
    let cells: Vec<String> = runs.iter().map(cell).collect();
    println!(
        "{facets:>8}  {}  {:.2}",
        cells.join("  "),
        runs[3].peak as f64 / size as f64
    );
    println!(
        "          weld+bodies / bytes {:.1}, stl_io / weld+bodies {:.1}, text / binary {:.2}, obj / binary {:.2}",
        runs[1].wall / runs[0].wall,
        runs[2].wall / runs[1].wall,
        runs[4].wall / runs[3].wall,
        runs[5].wall / runs[3].wall
    );
    Row {
        bytes: runs[0].wall,
        read: runs[3].wall,
    }
}

/// The peer's own seconds, without the start of Python.
fn peer(python: &str, path: &str) -> Run {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/side_by_side/peer.py");
    let out = Command::new(python)
        .args([script, path])
        .output()
        .unwrap_or_else(|e| panic!("{python}: {e}"));
    let said = String::from_utf8_lossy(&out.stdout);
    let seconds = said.split_whitespace().next().and_then(|w| w.parse().ok());
    Run {
        wall: seconds
            .unwrap_or_else(|| panic!("the peer says: {}", String::from_utf8_lossy(&out.stderr))),
        peak: 0,
    }
}

//! The JSON report is complete: from it alone every piece can be made again, in its place, and what
//! is made lies on the model, every vertex of it and every part of its surface.

mod rebuilt;

use std::path::{Path, PathBuf};
use std::process::Command;

use rebuilt::model::Model;
use rebuilt::{Outcome, compare, make};
use serde_json::Value;

/// How far a vertex may lie from what was made, mm.
const ALLOWED: f64 = 0.1;

/// A file with its unit and the standard deviation of the noise it was given, mm.
struct Case {
    path: PathBuf,
    unit: String,
    noise: f64,
}

fn root(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Files of a folder with the units of its truth.
fn corpus(folder: &Path, truth: &Path) -> Vec<Case> {
    let truth: Value = serde_json::from_slice(&std::fs::read(truth).unwrap()).unwrap();
    (rebuilt::json::list(&truth["models"]).iter())
        .filter_map(|model| {
            let name = Path::new(model["file"].as_str()?).file_name()?;
            let noise = (rebuilt::json::list(&model["damage"]).iter())
                .filter(|d| d[0] == "noise")
                .filter_map(|d| d[1].as_f64());
            Some(Case {
                path: folder.join(name),
                unit: match model["units"].as_str()? {
                    "inch" => "in".to_owned(),
                    unit => unit.to_owned(),
                },
                noise: noise.sum(),
            })
        })
        .filter(|case| case.path.exists())
        .collect()
}

fn report(path: &Path, unit: &str) -> Value {
    let binary = std::env::var("SOAPSTONE_BIN").unwrap_or(env!("CARGO_BIN_EXE_soapstone").into());
    let out = Command::new(binary)
        .arg("read")
        .arg(path)
        .args(["--unit", unit, "--format", "json"])
        .output()
        .unwrap();
    serde_json::from_slice(&out.stdout).unwrap_or_else(|_| {
        panic!(
            "{}: {}",
            path.display(),
            String::from_utf8_lossy(&out.stderr)
        )
    })
}

fn rebuild(case: &Case) -> Outcome {
    let report = report(&case.path, &case.unit);
    let name = case.path.to_string_lossy();
    let (soup, _) = soapstone::read::read(&std::fs::read(&case.path).unwrap(), &name).unwrap();
    let mm = report["length_unit"]["mm_per_file_unit"].as_f64().unwrap();
    let model = Model::new(&soup.points, &soup.facets, mm);
    // The largest of some ten thousand errors is 4.5 standard deviations; coordinates are rounded twice.
    let allowed = ALLOWED + 4.5 * case.noise + 4.0 * model.step;
    let laid = |after: bool| {
        let mut missing = Vec::new();
        let pieces = make(&report, after, &mut missing);
        let outcome = compare(&pieces, &model, allowed);
        Outcome { missing, ..outcome }
    };
    let drilled = laid(true);
    let off = |o: &Outcome| o.vertices_off + o.points_off;
    if off(&drilled) > 0 {
        let mut cut = laid(false);
        if off(&cut) < off(&drilled) {
            cut.missing.push(
                "round holes are round on the flat, not in place; the report doesn't say which"
                    .into(),
            );
            return cut;
        }
    }
    drilled
}

fn table(cases: &[Case]) -> Vec<(String, Outcome)> {
    println!(
        "{:32} {:>6} {:>8} {:>9} {:>6} {:>8} {:>9} {:>6} {:>7}",
        "model", "pieces", "vertices", "worst mm", "off", "points", "worst mm", "off", "sag mm"
    );
    let mut out = Vec::new();
    for case in cases {
        let name = case
            .path
            .file_name()
            .unwrap()
            .to_string_lossy()
            .into_owned();
        let o = rebuild(case);
        let far = |f: &Option<rebuilt::Far>| f.as_ref().map_or(f64::NAN, |f| f.distance);
        println!(
            "{name:32} {:6} {:8} {:9.4} {:6} {:8} {:9.4} {:6} {:7.3}",
            o.pieces,
            o.vertices,
            far(&o.vertex),
            o.vertices_off,
            o.points,
            far(&o.surface),
            o.points_off,
            o.sag
        );
        for (what, f, off) in [
            ("vertex", &o.vertex, o.vertices_off),
            ("made", &o.surface, o.points_off),
        ] {
            if let (Some(f), true) = (f, off > 0) {
                let [x, y, z] = f.at.coords.into();
                println!(
                    "    {what} {:.3} mm off {} at {x:.3} {y:.3} {z:.3}",
                    f.distance, f.piece
                );
            }
        }
        for why in &o.missing {
            println!("    {why}");
        }
        out.push((name, o));
    }
    out
}

/// Files named in `SOAPSTONE_REBUILD` (`path:unit`, blanks between), for a look at single ones.
#[test]
fn files_named_by_the_caller() {
    let Ok(named) = std::env::var("SOAPSTONE_REBUILD") else {
        return;
    };
    let cases: Vec<Case> = named
        .split_whitespace()
        .map(|word| {
            let (path, unit) = word.rsplit_once(':').unwrap_or((word, "mm"));
            Case {
                path: path.into(),
                unit: unit.into(),
                noise: 0.0,
            }
        })
        .collect();
    table(&cases);
}

/// Models of which a vertex or a made point is off, and pieces that were not made, may be so few.
fn holds(made: &[(String, Outcome)], vertices: usize, points: usize) {
    let off = |f: &dyn Fn(&Outcome) -> usize| made.iter().filter(|m| f(&m.1) > 0).count();
    let (v, p) = (off(&|o| o.vertices_off), off(&|o| o.points_off));
    println!(
        "{} models; a vertex is off in {v}, a made point in {p}",
        made.len()
    );
    assert!(v <= vertices, "vertices are off in {v} models");
    assert!(p <= points, "made points are off in {p} models");
}

/// One plate's edge leans (`collar_01`: a tube cut by a plane after it was rolled), which the report
/// has no number for. Coarse facets across round corners hide some of what was made.
#[test]
fn the_corpus_can_be_made_again() {
    let shared = Path::new("../shared/corpus");
    let all = std::env::var_os("SOAPSTONE_REBUILD_ALL").is_some() && shared.exists();
    let folder = root("fixtures/corpus");
    let (models, truth, points) = match all {
        true => (shared.join("models"), shared.join("truth.json"), 3),
        false => (folder.clone(), folder.join("truth.json"), 2),
    };
    let cases = corpus(&models, &truth);
    assert!(!cases.is_empty());
    holds(&table(&cases), 1, points);
}

/// Every copy of every piece stands in its place; facets of holes stand inside what was made.
#[test]
fn the_bridge_can_be_made_again() {
    let case = Case {
        path: root("fixtures/demo/footbridge.obj"),
        unit: "mm".into(),
        noise: 0.0,
    };
    let made = table(&[case]);
    assert!(made[0].1.pieces > 40);
    holds(&made, 0, 1);
}

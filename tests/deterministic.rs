//! The same bytes in, the same bytes out: twice, in two processes, on one processor and on all.
//!
//! `SOAPSTONE_OTHER=$PWD/target/release/soapstone cargo test --test deterministic` compares with what
//! another build writes, and reads the whole corpus beside the repository with both where it is.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// Model, and its unit where the bytes are to be read with one.
const MODELS: [(&str, Option<&str>); 6] = [
    ("fixtures/canopy_bay_01.stl", None),
    ("fixtures/openings/many_openings.stl", Some("mm")),
    ("fixtures/corpus/hat_tray_01.stl", Some("mm")),
    ("fixtures/corpus/near_ring_01_t02.ply", None),
    ("fixtures/joined/portal.stl", Some("mm")),
    ("fixtures/corpus/saddle_plate_01_p.3mf", None),
];

/// Everything the program writes about a model, by name.
fn written(
    program: &Path,
    model: &str,
    unit: Option<&str>,
    folder: &Path,
    alone: bool,
) -> Vec<(String, Vec<u8>)> {
    fs::create_dir_all(folder).expect("a folder");
    let run = |arguments: &[&str]| {
        // One processor for the whole process, where the system can do that.
        let mut command = match alone && Path::new("/usr/bin/taskset").exists() {
            true => {
                let mut command = Command::new("taskset");
                command.args(["1"]).arg(program);
                command
            }
            false => Command::new(program),
        };
        command.current_dir(env!("CARGO_MANIFEST_DIR"));
        command.args([arguments[0], model]).args(&arguments[1..]);
        command.args(unit.iter().flat_map(|unit| ["--unit", unit]));
        let output = command.output().expect("a run");
        (arguments.join(" "), output.stdout)
    };
    let to = |name: &str| folder.join(name).to_string_lossy().into_owned();
    let mut all = vec![
        run(&["read", "--format", "json"]),
        run(&["read"]),
        run(&["cutlist", "--format", "json"]),
    ];
    for (verb, name) in [
        ("sheet", "a.pdf"),
        ("sheet", "a.html"),
        ("sheet", "b.svg"),
        ("markout", "c.pdf"),
        ("outline", "o"),
        ("lay", "l"),
        ("jig", "j.dxf"),
    ] {
        run(&[verb, "-o", &to(name)]);
    }
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        let mut entries: Vec<PathBuf> = fs::read_dir(next)
            .expect("a folder")
            .map(|entry| entry.expect("an entry").path())
            .collect();
        entries.sort();
        for path in entries {
            match path.is_dir() {
                true => folders.push(path),
                false => {
                    let name = path.strip_prefix(folder).expect("a name");
                    all.push((
                        name.to_string_lossy().into_owned(),
                        fs::read(&path).expect("a file"),
                    ));
                }
            }
        }
    }
    all
}

#[test]
fn two_runs_write_the_same_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    for (k, (model, unit)) in MODELS.into_iter().enumerate() {
        let own = assert_cmd::cargo::cargo_bin!("soapstone");
        let first = written(
            own,
            model,
            unit,
            &folder.path().join(format!("{k}-first")),
            false,
        );
        let second = written(
            own,
            model,
            unit,
            &folder.path().join(format!("{k}-second")),
            true,
        );
        same(model, &first, &second);
    }
}

fn same(model: &str, first: &[(String, Vec<u8>)], second: &[(String, Vec<u8>)]) {
    let names = |list: &[(String, Vec<u8>)]| {
        list.iter()
            .map(|(name, _)| name.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(names(first), names(second), "{model}");
    assert!(first.len() >= 6, "{model}: {:?}", names(first));
    for ((name, a), (_, b)) in first.iter().zip(second) {
        assert!(!a.is_empty() && a == b, "{model}: {name} differs");
    }
}

#[test]
fn another_build_writes_the_same_bytes() {
    let Some(other) = env::var_os("SOAPSTONE_OTHER").map(PathBuf::from) else {
        println!("skipped: SOAPSTONE_OTHER names no other build");
        return;
    };
    let own = assert_cmd::cargo::cargo_bin!("soapstone");
    let folder = tempfile::tempdir().expect("a folder");
    for (k, (model, unit)) in MODELS.into_iter().enumerate() {
        let to = |build: &str| folder.path().join(format!("{k}-{build}"));
        let first = written(own, model, unit, &to("own"), false);
        same(
            model,
            &first,
            &written(&other, model, unit, &to("other"), false),
        );
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let corpus = root.join("../shared/corpus");
    let folders = ["fixtures/corpus", "fixtures/plate", "fixtures/joined"].map(|f| root.join(f));
    let mut read = 0;
    for model in folders.iter().chain([&corpus]).flat_map(models_in) {
        let report = |program: &Path| {
            let mut command = Command::new(program);
            command.args(["read", "--format", "json"]).arg(&model);
            command.output().expect("a run").stdout
        };
        assert!(report(own) == report(&other), "{} differs", model.display());
        read += 1;
    }
    println!("{read} models read alike");
    assert!(read >= 60);
}

/// The models of a folder and of the folders in it, in order of their names; none where it is missing.
fn models_in(folder: &PathBuf) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut all: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    all.sort();
    all.iter()
        .flat_map(|path| match path.is_dir() {
            true => models_in(path),
            false => vec![path.clone()],
        })
        .filter(|path| {
            let end = path.extension().and_then(|e| e.to_str());
            matches!(end, Some("stl" | "obj" | "ply" | "3mf"))
        })
        .collect()
}

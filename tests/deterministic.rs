//! The same bytes in, the same bytes out: twice, in two processes, on one processor and on all.

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
fn written(model: &str, unit: Option<&str>, folder: &Path, alone: bool) -> Vec<(String, Vec<u8>)> {
    fs::create_dir_all(folder).expect("a folder");
    let run = |arguments: &[&str]| {
        let program = assert_cmd::cargo::cargo_bin!("soapstone");
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
        let first = written(
            model,
            unit,
            &folder.path().join(format!("{k}-first")),
            false,
        );
        let second = written(
            model,
            unit,
            &folder.path().join(format!("{k}-second")),
            true,
        );
        let names = |list: &[(String, Vec<u8>)]| {
            list.iter()
                .map(|(name, _)| name.clone())
                .collect::<Vec<_>>()
        };
        assert_eq!(names(&first), names(&second), "{model}");
        assert!(first.len() >= 6, "{model}: {:?}", names(&first));
        for ((name, a), (_, b)) in first.iter().zip(&second) {
            assert!(!a.is_empty() && a == b, "{model}: {name} differs");
        }
    }
}

//! Files are written whole or not at all, whatever comes between.
#![cfg(unix)]

use std::fs::{self, File};
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::{TempDir, tempdir};

const PLATES: &str = "fixtures/openings/many_openings.stl";

fn program() -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("soapstone"));
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn run(arguments: &[&str]) -> Output {
    program().args(arguments).output().expect("a run")
}

/// The same where no file may be larger than 512 or 1024 bytes, whichever the shell counts in.
fn run_small(arguments: &str, to: Stdio) -> Output {
    let program = assert_cmd::cargo::cargo_bin!("soapstone");
    Command::new("sh")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["-c", "ulimit -f 1; exec \"$0\" $1"])
        .arg(program)
        .arg(arguments)
        .stdout(to)
        .stderr(Stdio::piped())
        .output()
        .expect("a run")
}

fn place(folder: &TempDir, name: &str) -> String {
    folder.path().join(name).to_string_lossy().into_owned()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

/// Refused with exit code 2, in one line with these words, and nothing said of what was done.
fn refused(output: &Output, words: &[&str]) {
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{err}");
    assert_eq!(err.lines().count(), 1, "{err}");
    assert!(output.stdout.is_empty());
    for word in words {
        assert!(err.contains(word), "{err}");
    }
}

#[test]
fn a_file_that_is_there_is_kept_unless_forced() {
    let folder = tempdir().expect("a folder");
    let shop = place(&folder, "soapstone.toml");
    fs::write(&shop, "mine").expect("a file");
    refused(
        &run(&["shop-file", "-o", &shop]),
        &["is there already", "--force"],
    );
    assert_eq!(fs::read(&shop).expect("a file"), b"mine");
    assert!(run(&["shop-file", "-o", &shop, "--force"]).status.success());
    assert!(fs::read(&shop).expect("a file").len() > 100);
    assert_eq!(names(folder.path()), ["soapstone.toml"]);
}

#[test]
fn where_one_file_is_there_none_of_the_others_is_written() {
    let folder = tempdir().expect("a folder");
    let to = folder.path().to_str().expect("a path");
    assert!(
        run(&["outline", PLATES, "--unit", "mm", "-o", to])
            .status
            .success()
    );
    let all = names(folder.path());
    assert!(all.len() >= 2, "{all:?}");
    let kept = all.last().expect("a file");
    for name in all.iter().filter(|name| *name != kept) {
        fs::remove_file(folder.path().join(name)).expect("a file less");
    }
    refused(
        &run(&["outline", PLATES, "--unit", "mm", "-o", to]),
        &[kept, "nothing was written"],
    );
    assert_eq!(names(folder.path()), [kept.as_str()]);
}

#[test]
fn a_place_that_can_not_be_written_is_told_with_a_remedy() {
    let folder = tempdir().expect("a folder");
    let to = place(&folder, "there");
    fs::create_dir(&to).expect("a folder");
    refused(
        &run(&["shop-file", "-o", &to]),
        &["it is a folder", "the name of a file"],
    );
    refused(
        &run(&["shop-file", "--force", "-o", &to]),
        &["it is a folder"],
    );
    let nowhere = place(&folder, "not/there.toml");
    refused(
        &run(&["shop-file", "-o", &nowhere]),
        &["its folder isn't there", "Make the folder"],
    );
    let file = place(&folder, "file");
    fs::write(&file, "").expect("a file");
    refused(
        &run(&[
            "outline",
            PLATES,
            "--unit",
            "mm",
            "-o",
            &format!("{file}/in"),
        ]),
        &["a file stands where its folder should"],
    );
    assert_eq!(names(folder.path()), ["file", "there"]);
}

/// `/dev/full` refuses every byte, as a full disk does.
#[test]
fn a_full_disk_is_told() {
    if !Path::new("/dev/full").exists() {
        println!("skipped: this system has no /dev/full");
        return;
    }
    let words = ["can't be written: the disk is full. Make room on it"];
    refused(&run(&["shop-file", "-o", "/dev/full"]), &words);
    for verb in [
        &["schema"][..],
        &["read", PLATES, "--unit", "mm"],
        &["shop-file", "-o", "-"],
    ] {
        let full = File::options()
            .write(true)
            .open("/dev/full")
            .expect("a device");
        let output = program().args(verb).stdout(full).output().expect("a run");
        refused(&output, &words);
    }
}

#[test]
fn nothing_is_left_of_a_file_that_grows_too_large() {
    let folder = tempdir().expect("a folder");
    let words = ["no file as large as this. Make room"];
    let to = place(&folder, "a/b/c");
    refused(
        &run_small(
            &format!("outline {PLATES} --unit mm -o {to}"),
            Stdio::piped(),
        ),
        &words,
    );
    let to = place(&folder, "sheet.pdf");
    refused(
        &run_small(&format!("sheet {PLATES} --unit mm -o {to}"), Stdio::piped()),
        &words,
    );
    assert_eq!(names(folder.path()), [""; 0]);
    // What the shell itself opened can't be taken back, only told.
    let out = File::create(folder.path().join("schema.json")).expect("a file");
    refused(&run_small("schema", out.into()), &words);
}

#[test]
fn a_reader_that_goes_away_is_content() {
    for arguments in [
        &["read", PLATES, "--unit", "mm", "--format", "json"][..],
        &["read", PLATES, "--unit", "mm"],
        &["cutlist", "fixtures/canopy_bay_01.stl", "--unit", "mm"],
        &["shop-file", "-o", "-"],
    ] {
        let mut child = program()
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("a run");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("an end");
        let err = String::from_utf8_lossy(&output.stderr);
        assert_eq!(
            (output.status.code(), &*err),
            (Some(0), ""),
            "{arguments:?}"
        );
    }
}

#[test]
fn a_device_is_written_to_and_stays_one() {
    let output = run(&["shop-file", "-o", "/dev/stdout"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(
        output.stdout.starts_with(b"#"),
        "{:?}",
        output.stdout.first()
    );
    assert!(
        run(&["shop-file", "--force", "-o", "/dev/null"])
            .status
            .success()
    );
    assert!(!fs::metadata("/dev/null").expect("a device").is_file());
}

/// Bars of many sizes, so that there is much to write and little to measure.
fn bars(path: &str, count: usize) {
    let mut text = String::new();
    for k in 0..count {
        let (x, y, at) = (50.0 + k as f64, 30.0, 100.0 * k as f64);
        for corner in 0..8 {
            let place = [
                x * f64::from(corner & 1),
                y * f64::from(corner >> 1 & 1),
                5.0 * f64::from(corner >> 2),
            ];
            text += &format!("v {} {} {}\n", place[0], place[1] + at, place[2]);
        }
        for face in [
            "1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6",
        ] {
            let corner = |n: &str| n.parse::<usize>().expect("a number") + 8 * k;
            let face: Vec<String> = face.split(' ').map(|n| corner(n).to_string()).collect();
            text += &format!("f {}\n", face.join(" "));
        }
    }
    fs::write(path, text).expect("a model");
}

/// Stopped at the moment the first file shows: all files are there, or none, and nothing else.
#[test]
fn a_stop_leaves_all_files_or_none() {
    let folder = tempdir().expect("a folder");
    let model = place(&folder, "bars.obj");
    bars(&model, 60);
    let mut stopped = 0;
    for (k, signal) in ["INT", "TERM", "HUP", "INT", "TERM", "HUP"]
        .into_iter()
        .enumerate()
    {
        let to = place(&folder, &format!("laid-{k}"));
        let mut child = program()
            .args(["lay", &model, "--unit", "mm", "-o", &to])
            .stdout(Stdio::null())
            .spawn()
            .expect("a run");
        let begun = || fs::read_dir(&to).is_ok_and(|mut entries| entries.next().is_some());
        while !begun() && child.try_wait().expect("a child").is_none() {
            std::thread::sleep(std::time::Duration::from_micros(100));
        }
        let number = child.id().to_string();
        let _ = Command::new("kill")
            .args(["-s", signal, &number])
            .stderr(Stdio::null())
            .status();
        let end = child.wait().expect("an end");
        assert!(end.success() || end.signal().is_some(), "{end}");
        stopped += usize::from(end.signal().is_some());
        match Path::new(&to).exists() {
            true => assert_eq!(names(Path::new(&to)).len(), 60),
            false => assert!(!end.success()),
        }
    }
    println!("{stopped} of 6 were stopped");
}

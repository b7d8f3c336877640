//! What the program says, and with which exit code, when it can't do what it is asked.

use std::process::{Command as Process, Stdio};

use assert_cmd::Command;

/// Exit code, standard output and standard error.
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

#[test]
fn a_file_that_is_not_there_is_named_once_with_a_remedy() {
    let (code, out, err) = soapstone(&["read", "fixtures/no_such_file.stl"]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert_eq!(err.lines().count(), 1, "{err}");
    assert_eq!(err.matches("no_such_file.stl").count(), 1, "{err}");
    assert!(
        err.starts_with("soapstone: fixtures/no_such_file.stl can't be opened: "),
        "{err}"
    );
    assert!(
        err.ends_with("Check the path and that you may read the file.\n"),
        "{err}"
    );
}

#[test]
fn options_that_make_no_sense_say_what_would() {
    for (arguments, remedy) in [
        (
            &["read", "x.stl", "--unit", "furlong"][..],
            "write mm, cm, m, in or ft",
        ),
        (
            &["read", "x.stl", "--show", "in/7"][..],
            "write mm, in, in/8, in/16, in/32 or in/64",
        ),
        (
            &["read", "x.stl", "--format", "xml"][..],
            "[possible values: table, json, csv]",
        ),
        (&["read", "x.stl", "--width", "wide"][..], "--width"),
        (&["read"][..], "<MODEL>"),
        (&["measure"][..], "--help"),
        (&[][..], "Usage: soapstone <COMMAND>"),
        (
            &["generate", "man", "paint"][..],
            "`soapstone help` lists them",
        ),
    ] {
        let (code, out, err) = soapstone(arguments);
        assert_eq!((code, out.as_str()), (Some(2), ""), "{arguments:?}");
        assert!(err.contains(remedy), "{arguments:?}: {err}");
    }
}

#[test]
fn help_version_pages_and_completions_are_there() {
    for (arguments, words) in [
        (&["--help"][..], "Exit codes: 0 done"),
        (&["--version"][..], env!("CARGO_PKG_VERSION")),
        (&["help", "read"][..], "--show"),
        (&["generate", "man"][..], ".TH soapstone"),
        (&["generate", "man", "read"][..], "soapstone\\-read"),
        (&["generate", "bash"][..], "_soapstone()"),
        (&["generate", "zsh"][..], "#compdef soapstone"),
        (&["generate", "fish"][..], "complete -c soapstone"),
    ] {
        let (code, out, err) = soapstone(arguments);
        assert_eq!((code, err.as_str()), (Some(0), ""), "{arguments:?}");
        assert!(out.contains(words), "{arguments:?}: {out}");
    }
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let mut child = Process::new(assert_cmd::cargo::cargo_bin!("soapstone"))
        .arg("schema")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("a run");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("an end");
    assert_eq!(output.status.code(), Some(0));
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

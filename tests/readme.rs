//! The examples in README.md are what the program prints.
//!
//! `README_UPDATE=1 cargo test --test readme` writes them anew.

use std::path::Path;
use std::{env, fs};

use assert_cmd::Command;

const BEGIN: &str = "```text\n$ soapstone ";
const END: &str = "\n```";

#[test]
fn examples_are_true() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let readme = fs::read_to_string(&path).expect("README.md");
    let mut fresh = String::new();
    let mut rest = readme.as_str();
    let mut examples = 0;
    while let Some((before, after)) = rest.split_once(BEGIN) {
        let (example, later) = after.split_once(END).expect("the end of an example");
        let arguments = example.lines().next().unwrap_or_default();
        fresh.push_str(&format!(
            "{before}{BEGIN}{arguments}\n{}{}",
            printed(arguments),
            &END[1..]
        ));
        rest = later;
        examples += 1;
    }
    fresh.push_str(rest);
    assert!(examples > 0, "README.md shows no example");
    if env::var_os("README_UPDATE").is_some() {
        fs::write(&path, fresh).expect("README.md can be written");
    } else {
        assert!(
            fresh == readme,
            "README.md is out of date: README_UPDATE=1 cargo test --test readme"
        );
    }
}

fn printed(arguments: &str) -> String {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(arguments.split(' '))
        .output()
        .expect("a run");
    assert!(output.status.success(), "{arguments}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

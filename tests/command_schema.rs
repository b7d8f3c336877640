//! `soapstone schema`.

use std::fs;
use std::path::Path;

use assert_cmd::Command;

#[test]
fn the_published_schema_is_the_one_the_program_prints() {
    let printed = Command::cargo_bin("soapstone")
        .expect("the program")
        .arg("schema")
        .output()
        .expect("a run");
    assert!(printed.status.success());
    let published = Path::new(env!("CARGO_MANIFEST_DIR")).join("shared/report.schema.json");
    let published = fs::read(published).expect("the published schema");
    assert!(
        printed.stdout == published,
        "shared/report.schema.json is out of date: `cargo run -- schema > shared/report.schema.json`"
    );
}

//! Programs from outside that tests look with. Where one is missing its tests skip, saying so; where
//! `SOAPSTONE_NO_SKIP` is set, as in `.ci/run`, they fail instead.

use std::path::PathBuf;
use std::{env, fs};

/// The first of `names` on the path; says that the test is skipped where there is none.
pub fn program(names: &[&str], package: &str) -> Option<PathBuf> {
    let path = env::var_os("PATH").unwrap_or_default();
    let folders: Vec<PathBuf> = env::split_paths(&path).collect();
    let found = names
        .iter()
        .flat_map(|name| folders.iter().map(move |folder| folder.join(name)))
        .find(|file| fs::metadata(file).is_ok_and(|m| m.is_file()));
    if found.is_none() {
        let why = format!("no {} here (Debian package {package})", names.join(" or "));
        assert!(env::var_os("SOAPSTONE_NO_SKIP").is_none(), "{why}");
        eprintln!("skipped: {why}");
    }
    found
}

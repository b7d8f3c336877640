//! Model files to bodies for the plate tests.
#![allow(dead_code)]

pub mod build;

use std::path::{Path, PathBuf};

use soapstone::body::Body;

/// Bodies of a model file, coordinates times `mm_per_unit`.
pub fn bodies(path: &Path, mm_per_unit: f64) -> Vec<Body> {
    let bytes = std::fs::read(path).expect("the file is there");
    let name = path.to_string_lossy();
    let (soup, _) = soapstone::read::read(&bytes, &name).expect("the file is sound");
    let names: Vec<Option<String>> = soup.groups.iter().map(|g| g.name.clone()).collect();
    let (mesh, _) = soapstone::weld::weld(soup, mm_per_unit);
    soapstone::body::separate(mesh, &names).0
}

/// A model of the corpus beside the repository; `None`, said on the terminal, where it is missing.
pub fn corpus(model: &str) -> Option<PathBuf> {
    let path = Path::new("../shared/corpus/models").join(model);
    if path.exists() {
        return Some(path);
    }
    println!("skipped: {} is not here", path.display());
    None
}

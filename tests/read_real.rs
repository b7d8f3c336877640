//! Models from elsewhere, read in place: each that is odd must say in what way.
//!
//! The folder is no part of the repository; without it these tests say so and pass.

use std::path::PathBuf;

use soapstone::read::{ReadError, TriangleSoup, read};

fn folder() -> Option<PathBuf> {
    let beside = || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared");
    let shared = std::env::var_os("SOAPSTONE_SHARED").map_or_else(beside, PathBuf::from);
    let files = shared.join("real/files");
    if files.is_dir() {
        return Some(files);
    }
    eprintln!("skipped: {} is missing", files.display());
    None
}

/// Facets read, and all that was said.
fn outcome(
    result: Result<(TriangleSoup, Vec<soapstone::finding::Finding>), ReadError>,
) -> (Option<usize>, String) {
    match result {
        Ok((soup, findings)) => {
            let said: Vec<String> = findings
                .iter()
                .map(|f| format!("{:?} {:?}: {}", f.severity, f.code, f.message))
                .collect();
            (Some(soup.facets.len()), said.join("\n"))
        }
        Err(error) => (None, format!("{:?}: {error}", error.code())),
    }
}

/// File, facets expected (`None`: an error), and words that must be said, in any case of letters.
/// What is odd about each is as its public source or the catalogue beside the files tells it.
const ODD: [(&str, Option<usize>, &[&str]); 32] = [
    (
        "t03_tube_2_25cm.stl",
        Some(256),
        &["64 of 256 stored normals are zero"],
    ),
    (
        "t04_tube_9_5mm.stl",
        Some(256),
        &["64 of 256 stored normals are zero"],
    ),
    (
        "t11_arch_300.stl",
        Some(56),
        &["starts with the word solid"],
    ),
    (
        "p02_plate_holes.stl",
        Some(1252),
        &["starts with the word solid"],
    ),
    (
        "p06_idler_riser.stl",
        Some(1572),
        &["starts with the word solid"],
    ),
    (
        "a03_tower3.stl",
        Some(2912),
        &["starts with the word solid"],
    ),
    (
        "o01_header_78_bytes.stl",
        Some(1768),
        &["78 bytes", "header", "solid"],
    ),
    ("o02_utf16be.obj", Some(12), &["UTF-16 big endian"]),
    (
        "o03_line_continuation.obj",
        Some(12),
        &["line continuation", "round the same corners"],
    ),
    ("o05_malformed1.obj", Some(7), &["vertex 12", "8 vertices"]),
    ("o07_zero_bytes.obj", None, &["empty", "zero bytes"]),
    (
        "o09_empty_solid_then_triangle.stl",
        Some(1),
        &["2 solids", "empty", "emptySolid"],
    ),
    (
        "o21_binary_starts_with_nl.ply",
        Some(12),
        &["start with a newline byte"],
    ),
    ("o17_points_only.obj", None, &["points only"]),
    ("o25_empty_26_bytes.stl", None, &["no facets"]),
    ("o26_empty_ascii.stl", None, &["no facets"]),
    ("o27_empty_binary.stl", None, &["zero facets"]),
    ("o30_multibody_ascii.stl", Some(32), &["2 solids", "CR LF"]),
    (
        "o31_mixed_case_keywords.stl",
        Some(24),
        &["2 solids", "mixed-case"],
    ),
    ("o32_negative_indices.obj", Some(12), &["negative indices"]),
    ("o35_nonmanifold_edge.obj", Some(8), &[]),
    ("o40_seven_eighths_cube.stl", Some(24), &[]),
    ("o44_invalid_face.obj", None, &["no valid face"]),
    ("o45_zero_index.obj", Some(1), &["index zero"]),
    ("o46_nan_coordinates.obj", Some(34), &["NaN", "infinite"]),
    ("o47_leading_dot.obj", Some(1), &["leading decimal dot"]),
    (
        "o52_invalid_unicode_header.stl",
        Some(12),
        &["invalid Unicode"],
    ),
    ("o53_empty_header.stl", Some(68), &["header is empty"]),
    (
        "o59_3mf_whose_model_part_is_missing.3mf",
        Some(12),
        &["model part is missing"],
    ),
    (
        "o62_3mf_without_a_build_element.3mf",
        Some(12),
        &["without a build element"],
    ),
    ("o65_torus.3mf", Some(2200), &[]),
    ("o56_no_normal.stl", Some(1), &["without a normal"]),
];

#[test]
fn every_odd_file_says_what_is_odd() {
    let Some(folder) = folder() else { return };
    for (file, facets, words) in ODD {
        let path = folder.join(file);
        let bytes = std::fs::read(&path).unwrap();
        let (read, said) = outcome(read(&bytes, file));
        println!("{file}: {read:?}\n{said}\n");
        assert_eq!(read, facets, "{file}: {said}");
        for word in words {
            assert!(
                said.to_lowercase().contains(&word.to_lowercase()),
                "{file} should say {word:?}: {said}"
            );
        }
    }
}

#[test]
fn every_file_is_read_or_refused_with_a_reason() {
    let Some(folder) = folder() else { return };
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    names.sort();
    for path in names {
        let bytes = std::fs::read(&path).unwrap();
        let (read, said) = outcome(read(&bytes, &path.to_string_lossy()));
        println!("{}: {read:?}\n{said}\n", path.display());
        assert!(read.is_some() || !said.is_empty());
    }
}

//! Models made elsewhere: fixtures of this repository, and the larger sets beside it.

mod weld_shapes;

use std::path::{Path, PathBuf};

use soapstone::body::Body;
use soapstone::finding::{Code, Finding};
use weld_shapes::{assert_near, bodies, codes};

fn load(path: &Path) -> (Vec<Body>, Vec<Finding>) {
    let bytes = std::fs::read(path).unwrap();
    let (soup, _) = soapstone::read::read(&bytes, &path.to_string_lossy()).unwrap();
    bodies(soup)
}

fn fixture(name: &str) -> (Vec<Body>, Vec<Finding>) {
    load(
        &Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures/weld")
            .join(name),
    )
}

/// A file of the sets kept beside the repository, or `None` (said) where they are missing.
fn beside(name: &str) -> Option<(Vec<Body>, Vec<Finding>)> {
    let path: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../shared")
        .join(name);
    if path.exists() {
        return Some(load(&path));
    }
    println!("skipped: {} is not here", path.display());
    None
}

#[test]
fn hook_with_slivers() {
    let (b, f) = fixture("dmg_hook_sliver.stl");
    assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, true, 3432));
    assert_near(b[0].volume, 35_909.908_878, 1e-6);
    assert_eq!(codes(&f), vec![Code::DegenerateFacets]);
}

#[test]
fn tube_sunk_into_a_plate_stays_separate() {
    let (b, f) = fixture("foot_overlap_01.stl");
    assert_eq!(
        b.iter().map(|b| b.facets.len()).collect::<Vec<_>>(),
        vec![556, 304]
    );
    assert_near(b.iter().map(|b| b.volume).sum(), 462_397.481_689, 1e-6);
    assert!(f.is_empty(), "{f:?}");
}

/// Volumes of the undamaged facets, as the generator of the set states them.
#[test]
fn damaged_hoops() {
    if let Some((b, f)) = beside("corpus/models/dmg_hoop_unweld.stl") {
        assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, true, 8896));
        assert_near(b[0].volume, 1_272_526.673_553, 3e-4);
        assert_eq!(codes(&f), vec![Code::OpenEdges]);
        // Corners were moved by up to 1e-5 of the model's longest side.
        assert!(
            b[0].quantum > 2e-3 && b[0].quantum < 2e-2,
            "{}",
            b[0].quantum
        );
    }
    if let Some((b, f)) = beside("corpus/models/dmg_hoop_dup_flip.stl") {
        assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, true, 8896));
        assert_near(b[0].volume, 1_272_526.673_553, 1e-6);
        assert_eq!(codes(&f), vec![Code::DuplicateFacets, Code::FlippedFacets]);
    }
    if let Some((b, f)) = beside("corpus/models/dmg_tangent_far.stl") {
        assert_eq!((b.len(), b[0].closed), (1, true));
        assert_near(b[0].volume, 607_863.171_439, 1e-3);
        assert_eq!(codes(&f), vec![Code::FarFromOrigin]);
    }
    if let Some((b, f)) = beside("corpus/models/dmg_beam_holes.stl") {
        assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, false, 5480));
        assert_eq!(codes(&f), vec![Code::OpenEdges]);
    }
}

/// Odd files of the set of real models, with what its catalogue says of each.
#[test]
fn odd_real_models() {
    // Tubes with zero-area facets, the rest given for both sides.
    for name in ["t03_tube_2_25cm", "t04_tube_9_5mm"] {
        if let Some((b, f)) = beside(&format!("real/files/{name}.stl")) {
            assert_eq!((b.len(), b[0].closed, b[0].facets.len()), (1, false, 96));
            let c = codes(&f);
            assert!(
                c.contains(&Code::DegenerateFacets) && c.contains(&Code::DuplicateFacets),
                "{c:?}"
            );
        }
    }
    // Twelve bodies, 16 open edges.
    if let Some((b, f)) = beside("real/files/a06_shoe_rack.stl") {
        assert_eq!(b.len(), 12);
        assert!(
            f.iter()
                .any(|f| f.code == Code::OpenEdges && f.message.starts_with("16 edges")),
            "{f:?}"
        );
    }
    // Two tetrahedra that share a face.
    if let Some((b, f)) = beside("real/files/o35_nonmanifold_edge.obj") {
        assert_eq!(b.len(), 2);
        assert!(b.iter().all(|b| b.closed && b.facets.len() == 4));
        assert!(codes(&f).contains(&Code::NonManifoldEdges));
    }
}

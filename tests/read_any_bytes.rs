//! Any bytes at all: read to a sound soup or refused with a reason, never a panic.

use std::io::{Cursor, Write};

use proptest::prelude::*;
use soapstone::read::{fault, read};

const ENDINGS: [&str; 5] = ["a.stl", "a.obj", "a.ply", "a.3mf", "a"];

fn survives(bytes: &[u8]) {
    for name in ENDINGS {
        match read(bytes, name) {
            Ok((soup, findings)) => {
                assert_eq!(fault(&soup), None);
                assert!(
                    findings
                        .iter()
                        .all(|f| !f.message.is_empty() && f.message.len() < 4000)
                );
            }
            Err(error) => assert!(error.to_string().len() > 10),
        }
    }
}

/// One small model of every kind.
fn seeds() -> Vec<Vec<u8>> {
    let file = |name: &str| {
        std::fs::read(format!(
            "{}/fixtures/read/{name}",
            env!("CARGO_MANIFEST_DIR")
        ))
        .unwrap()
    };
    let mut stl = vec![b' '; 80];
    stl.extend(2u32.to_le_bytes());
    stl.extend((0..100u8).map(|i| if i % 4 == 3 { 65 } else { i }));
    let mut ply = b"ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n".to_vec();
    ply.extend(
        [0.0f32, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0]
            .iter()
            .flat_map(|x| x.to_le_bytes()),
    );
    ply.extend([3, 0, 0, 0, 0, 1, 0, 0, 0, 2, 0, 0, 0]);
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    zip.start_file("3D/3dmodel.model", stored).unwrap();
    zip.write_all(&file("placed_and_mirrored.model")).unwrap();
    let package = zip.finish().unwrap().into_inner();
    let wide = |text: Vec<u8>| {
        String::from_utf8(text)
            .unwrap()
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect()
    };
    vec![
        stl,
        ply,
        package,
        file("two_solids.stl"),
        file("facet_of_four.stl"),
        file("objects_and_groups.obj"),
        file("concave_face.obj"),
        wide(file("concave_face.obj")),
        file("table.ply"),
        file("strip.ply"),
    ]
}

proptest! {
    #[test]
    fn random_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        survives(&bytes);
    }

    #[test]
    fn random_words(words in proptest::collection::vec(
        prop::sample::select(vec![
            "solid", "facet", "normal", "outer", "loop", "vertex", "endloop", "endfacet", "endsolid", "end", "v", "f", "o",
            "g", "\\\n", "\n", "1", "-1", "0", "2/3", "1e999", "nan", "-0.0", "1,5", ".5", "ply", "format ascii 1.0",
            "element vertex 2", "element face 1", "property list uchar int vertex_indices", "property float x", "end_header",
        ]), 0..60)) {
        survives(words.join(" ").as_bytes());
        survives(words.join("\n").as_bytes());
    }

    #[test]
    fn changed_models(
        seed in 0usize..10,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4u8), 0..8),
        cut in any::<prop::sample::Index>(),
        whole in any::<bool>(),
    ) {
        let mut bytes = seeds().swap_remove(seed);
        for (at, value, kind) in changes {
            let at = at.index(bytes.len().max(1)).min(bytes.len().saturating_sub(1));
            match kind {
                0 if !bytes.is_empty() => bytes[at] = value,
                1 => bytes.insert(at, value),
                2 if !bytes.is_empty() => { bytes.remove(at); }
                _ => {
                    let piece = bytes[at..(at + usize::from(value)).min(bytes.len())].to_vec();
                    bytes.splice(at..at, piece);
                }
            }
        }
        if !whole {
            bytes.truncate(cut.index(bytes.len() + 1));
        }
        survives(&bytes);
    }
}

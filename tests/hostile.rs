//! Files that are broken, huge or meant to do harm: each ends soon, in plain words, within the bounds
//! that the README states.

use std::fs;
use std::io::{Cursor, Write};
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// Exit code, standard output and standard error of `read` on a file with these bytes.
fn read(name: &str, bytes: &[u8]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    fs::write(&path, bytes).expect("a file");
    let output = Command::new(assert_cmd::cargo::cargo_bin!("soapstone"))
        .args(["read", "--unit", "mm", "--format", "json"])
        .arg(&path)
        .output()
        .expect("a run");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// Refused in one line with these words.
fn refused(name: &str, bytes: &[u8], words: &[&str]) {
    let (code, out, err) = read(name, bytes);
    assert_eq!((code, out.as_str()), (Some(2), ""), "{err}");
    assert_eq!(err.lines().count(), 1, "{err}");
    for word in words {
        assert!(err.contains(word), "{err}");
    }
}

/// Read, with findings that hold these words.
fn reported(name: &str, bytes: &[u8], words: &[&str]) -> Value {
    let (code, out, err) = read(name, bytes);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    let report: Value = serde_json::from_str(&out).expect("JSON");
    let said = format!("{} {}", report["findings"], report["unresolved"]);
    for word in words {
        assert!(said.contains(word), "{word}: {said}");
    }
    report
}

type Facet = [[f32; 3]; 3];

fn stl(facets: &[Facet]) -> Vec<u8> {
    let mut bytes = vec![0; 80];
    bytes.extend((facets.len() as u32).to_le_bytes());
    for facet in facets {
        bytes.extend([0; 12]);
        bytes.extend(facet.as_flattened().iter().flat_map(|x| x.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

fn quad(a: [f32; 3], b: [f32; 3], c: [f32; 3], d: [f32; 3]) -> [Facet; 2] {
    [[a, b, c], [a, c, d]]
}

fn at(facets: &[Facet], by: [f32; 3]) -> impl Iterator<Item = Facet> + '_ {
    facets
        .iter()
        .map(move |f| f.map(|p| [p[0] + by[0], p[1] + by[1], p[2] + by[2]]))
}

/// A box with one corner at the origin.
fn block([x, y, z]: [f32; 3]) -> Vec<Facet> {
    let p = |i: usize| {
        [
            x * (i & 1) as f32,
            y * (i >> 1 & 1) as f32,
            z * (i >> 2) as f32,
        ]
    };
    let sides = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    sides
        .iter()
        .flat_map(|s| quad(p(s[0]), p(s[1]), p(s[2]), p(s[3])))
        .collect()
}

fn zipped(name: &str, content: impl Iterator<Item = Vec<u8>>) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default().large_file(true);
    zip.start_file(name, options).expect("a part");
    content.for_each(|some| zip.write_all(&some).expect("a part"));
    zip.finish().expect("a package").into_inner()
}

#[test]
fn a_count_of_four_billion_takes_no_memory() {
    let mut bytes = stl(&[[[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]]);
    bytes[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    refused(
        "a.stl",
        &bytes,
        &["ends after facet 1 of 4 294 967 295", "Export it again"],
    );
    let header = |count: u64| {
        format!(
            "ply\nformat binary_little_endian 1.0\nelement vertex {count}\nproperty float x\nproperty float y\n\
             property float z\nelement face {count}\nproperty list uint int vertex_indices\nend_header\n"
        )
    };
    let mut ply = header(4_000_000_000).into_bytes();
    ply.extend([0; 36]);
    refused("a.ply", &ply, &["ends after vertex 3 of 4 000 000 000"]);
    // A face that says it has four billion corners.
    let mut ply = header(1).into_bytes();
    ply.extend([0; 12]);
    ply.extend(u32::MAX.to_le_bytes());
    refused("a.ply", &ply, &["The file ends"]);
}

#[test]
fn a_small_package_that_unpacks_to_gigabytes_is_refused() {
    // One that says so, and one that says it is small.
    let spaces = || (0..1040).map(|_| vec![b' '; 1 << 20]);
    let mut bytes = zipped("3D/3dmodel.model", spaces());
    assert!(bytes.len() < 8 << 20);
    let words = [
        "unpacks to more than the 1 073 741 824 bytes",
        "coarser mesh",
    ];
    refused("a.3mf", &bytes, &words);
    let size = (1040u32 << 20).to_le_bytes();
    let mut lies = 0;
    for k in 0..bytes.len() - 4 {
        if bytes[k..k + 4] == size {
            bytes[k..k + 4].copy_from_slice(&1000u32.to_le_bytes());
            lies += 1;
        }
    }
    assert!(lies > 0);
    let (code, out, err) = read("a.3mf", &bytes);
    assert_eq!((code, out.as_str()), (Some(2), ""), "{err}");
    assert!(err.contains("3MF"), "{err}");
}

#[test]
fn lines_without_end_and_nesting_without_end() {
    // Eight million numbers on one line; a name of a megabyte; a line continued for ever.
    let numbers = format!("v 0 0 0\nv 1 0 0\nv 0 1 0\nf{}\n", " 1".repeat(4 << 20));
    refused("a.obj", numbers.as_bytes(), &["corners", "32 768"]);
    let name = format!(
        "o {}\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "x".repeat(1 << 20)
    );
    let report = reported("a.obj", name.as_bytes(), &[]);
    assert!(report["parts"][0]["name"].as_str().expect("a name").len() < 1000);
    let continued = format!(
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3{}\n",
        " \\\n".repeat(1 << 20)
    );
    reported("a.obj", continued.as_bytes(), &[]);
    let groups = format!(
        "v 0 0 0\nv 1 0 0\nv 0 1 0\n{}f 1 2 3\n",
        "g a\no b\n".repeat(1 << 18)
    );
    reported("a.obj", groups.as_bytes(), &[]);
    let deep = format!("<model><resources>{}", "<a>".repeat(1 << 20));
    let bytes = zipped("3D/3dmodel.model", [deep.into_bytes()].into_iter());
    refused("a.3mf", &bytes, &["The file ends inside the first object"]);
}

#[test]
fn many_faces_of_many_corners_are_refused_before_they_are_cut_up() {
    let n = 30_000;
    let mut text = String::new();
    for k in 0..n {
        let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(n)).sin_cos();
        text += &format!("v {} {} 0\n", 100.0 * cos, 100.0 * sin);
    }
    let face: String = (1..=n).map(|k| format!(" {k}")).collect();
    text += &format!("f{face}\n").repeat(40);
    refused(
        "a.obj",
        text.as_bytes(),
        &["too many corners, up to 30 000 each"],
    );
}

#[test]
fn numbers_that_are_none_are_left_out_and_told() {
    let facets = block([40.0, 30.0, 20.0]);
    for (bad, what) in [
        (f32::NAN, "NaN"),
        (f32::INFINITY, "infinity"),
        (f32::NEG_INFINITY, "−infinity"),
    ] {
        let mut broken = facets.clone();
        broken[3][1][2] = bad;
        let report = reported(
            "a.stl",
            &stl(&broken),
            &["no finite number", "Export it again"],
        );
        assert_eq!(report["source"]["facets"], 11, "{what}");
        refused("a.stl", &stl(&[[[bad; 3]; 3]]), &["no finite number"]);
    }
    // As large and as small as numbers go.
    for size in [f32::MAX, 1e30, f32::MIN_POSITIVE, 1e-42] {
        reported("a.stl", &stl(&block([size, size, size])), &[]);
    }
}

#[test]
fn bodies_without_volume_or_without_an_inside() {
    let sheet: Vec<Facet> = quad(
        [0.0; 3],
        [90.0, 0.0, 0.0],
        [90.0, 60.0, 0.0],
        [0.0, 60.0, 0.0],
    )
    .into();
    let back = sheet.iter().map(|[a, b, c]| [*a, *c, *b]);
    let both: Vec<Facet> = sheet.iter().copied().chain(back).collect();
    let report = reported("a.stl", &stl(&both), &[]);
    assert!(report["parts"][0]["mass"].is_null(), "{}", report["parts"]);
    let point = [[[1.0, 2.0, 3.0]; 3]; 20];
    let report = reported("a.stl", &stl(&point), &["nothing to measure"]);
    assert_eq!(report["findings"][0]["severity"], "error");
    // A band with one turn in it has one side only: nothing lies inside it.
    let n = 64;
    let rim = |k: usize, side: f32| {
        let turn = std::f32::consts::TAU * k as f32 / n as f32;
        let r = 100.0 + side * (turn / 2.0).cos();
        [r * turn.cos(), r * turn.sin(), side * (turn / 2.0).sin()]
    };
    let band: Vec<Facet> = (0..n)
        .flat_map(|k| quad(rim(k, -9.0), rim(k + 1, -9.0), rim(k + 1, 9.0), rim(k, 9.0)))
        .collect();
    let report = reported("a.stl", &stl(&band), &["ne"]);
    for part in report["parts"].as_array().expect("parts") {
        assert!(part["mass"].is_null() && part["volume"].is_null(), "{part}");
    }
}

#[test]
fn many_loose_facets() {
    // All alike, and all different; neither is compared each with each.
    let mut state = 1u32;
    let mut chance = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1u32 << 24) as f32
    };
    let mut facets = Vec::new();
    for k in 0..20_000 {
        let by = [(k % 300) as f32 * 3.0, (k / 300) as f32 * 3.0, 0.0];
        let own = if k % 2 == 0 {
            [0.0; 3]
        } else {
            [chance(), chance(), chance()]
        };
        let facet = [
            [0.0, 0.0, 0.0],
            [1.0 + own[0], 0.0, 0.0],
            [own[1], 1.0 + own[2], 0.0],
        ];
        facets.extend(at(&[facet], by));
    }
    let report = reported("a.stl", &stl(&facets), &["open"]);
    let parts = report["parts"].as_array().expect("parts");
    assert!(parts[0]["mass"].is_null());
    let pieces: u64 = parts
        .iter()
        .map(|p| p["quantity"].as_u64().unwrap_or(0) + p["opposite_hand"].as_u64().unwrap_or(0))
        .sum();
    assert_eq!(pieces, 20_000);
}

#[test]
fn many_bodies_side_by_side_and_inside_each_other() {
    let bar = block([20.0, 30.0, 400.0]);
    let many: Vec<Facet> = (0..3_000)
        .flat_map(|k| {
            at(
                &bar,
                [(k % 150) as f32 * 50.0, (k / 150) as f32 * 50.0, 0.0],
            )
            .collect::<Vec<_>>()
        })
        .collect();
    let report = reported("a.stl", &stl(&many), &[]);
    assert_eq!(report["parts"].as_array().expect("parts").len(), 1);
    assert_eq!(report["parts"][0]["quantity"], 3_000);
    let nested: Vec<Facet> = (1..=1_500)
        .flat_map(|k| {
            let side = 2.0 * k as f32;
            at(&block([side; 3]), [-side / 2.0; 3]).collect::<Vec<_>>()
        })
        .collect();
    let report = reported("a.stl", &stl(&nested), &[]);
    let parts = report["parts"].as_array().expect("parts").len();
    assert_eq!(parts, 1_500);
}

/// A hill of chance: no surface that anything is made of, in one body.
#[test]
fn one_body_of_very_many_facets() {
    let n = 150;
    let mut state = 7u32;
    let height: Vec<f32> = (0..=n * (n + 1) + n)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1u32 << 24) as f32 * 2.0
        })
        .collect();
    let p = |i: usize, j: usize| [i as f32, j as f32, height[i * (n + 1) + j]];
    let facets: Vec<Facet> = (0..n * n)
        .flat_map(|k| {
            let (i, j) = (k / n, k % n);
            quad(p(i, j), p(i + 1, j), p(i + 1, j + 1), p(i, j + 1))
        })
        .collect();
    let report = reported("a.stl", &stl(&facets), &[]);
    assert_eq!(report["parts"].as_array().expect("parts").len(), 1);
    assert_eq!(report["parts"][0]["class"], "other");
}

/// A file that never ends is read no further than the bound.
#[cfg(unix)]
#[test]
fn a_file_longer_than_the_bound_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = folder.path().join("long.stl");
    // A hole in the file system: long, but takes no room.
    fs::File::create(&long)
        .and_then(|file| file.set_len((4 << 30) + 1))
        .expect("a file");
    let run = |arguments: &[&str]| {
        let output = Command::new(assert_cmd::cargo::cargo_bin!("soapstone"))
            .args(arguments)
            .output()
            .expect("a run");
        assert_eq!(output.status.code(), Some(2));
        String::from_utf8(output.stderr).expect("UTF-8")
    };
    let err = run(&["read", long.to_str().expect("a path")]);
    assert!(err.contains("longer than the 4096 MiB"), "{err}");
    let plate = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/proof/sample_plate.obj"
    );
    let err = run(&["read", plate, "--shop", "/dev/zero"]);
    assert!(err.contains("/dev/zero is longer than the 64 MiB"), "{err}");
    let err = run(&["read", folder.path().to_str().expect("a path")]);
    assert!(err.contains("it is a folder"), "{err}");
}

/// A narrow tube with one facet so far off that nothing of the tube is left of the rounding: its section
/// seemed to have no width, and its sides to take more points than there is memory.
#[test]
fn a_section_without_width() {
    let (x, y, z) = (3.524_186, 4.514_626_5, 268.789_15);
    let far = -1.907_876e31;
    let facets = [
        [[x, -y, 0.0], [x, -y, z], [-x, -y, z]],
        [[x, y, 0.0], [x, -y, z], [x, -y, 0.0]],
        [[x, y, 0.0], [x, y, z], [x, -y, z]],
        [[-x, y, 0.0], [x, y, z], [x, y, 0.0]],
        [[-x, y, 0.0], [-x, y, z], [x, y, z]],
        [[-x, -y, 0.0], [-x, y, z], [-x, y, 0.0]],
        [
            [3.240_869, 4.152_105, far],
            [-2.457_227, 3.156_738_3, far],
            [2.479_264_7, 3.187_668_3, far],
        ],
    ];
    reported("a.stl", &stl(&facets), &[]);
}

/// A file in `fixtures`, and a file to write in a folder that is gone with the handle.
fn drawn(verb: &str, model: &str, words: &[&str]) -> (Option<i32>, u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let model = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/corpus")
        .join(model);
    let to = folder
        .path()
        .join(if verb == "jig" { "a.dxf" } else { "a.pdf" });
    let output = Command::new(assert_cmd::cargo::cargo_bin!("soapstone"))
        .arg(verb)
        .args(words)
        .arg(model)
        .arg("-o")
        .arg(&to)
        .output()
        .expect("a run");
    let written: u64 = fs::read_dir(folder.path())
        .expect("the folder")
        .map(|f| f.and_then(|f| f.metadata()).expect("a file").len())
        .sum();
    (output.status.code(), written)
}

/// A heap of 150 different blocks, each in most of the others: more marks than stand beside a picture,
/// and thousands of pairs that run into each other.
#[test]
fn a_heap_of_different_pieces() {
    let heap: Vec<Facet> = (0..150)
        .flat_map(|k| {
            let k = k as f32;
            at(&block([30.0 + k, 200.0, 300.0 + 2.0 * k]), [k, 2.0 * k, k]).collect::<Vec<_>>()
        })
        .collect();
    let folder = tempfile::tempdir().expect("a folder");
    let model = folder.path().join("heap.stl");
    fs::write(&model, stl(&heap)).expect("a file");
    let run = |words: &[&str]| {
        let output = Command::new(assert_cmd::cargo::cargo_bin!("soapstone"))
            .args(words)
            .args(["--unit", "mm"])
            .arg(&model)
            .current_dir(folder.path())
            .output()
            .expect("a run");
        assert_eq!(output.status.code(), Some(0));
        output.stdout
    };
    let list: Value = serde_json::from_slice(&run(&["cutlist", "--format", "json"])).expect("JSON");
    let findings = list["findings"].as_array().expect("findings");
    assert!(findings.len() < 500, "{}", findings.len());
    let more = |f: &Value| {
        f["message"]
            .as_str()
            .is_some_and(|m| m.contains("more pairs"))
    };
    assert!(findings.iter().any(more));
    run(&["sheet", "-o", "heap.html"]);
    let page = fs::read_to_string(folder.path().join("heap.html")).expect("a page");
    assert!(page.contains("largest parts"));
}

/// A strut of metres read as kilometres: its wraps would be hundreds of thousands of sheets.
#[test]
fn a_wrap_of_more_sheets_than_can_be_pasted() {
    let (code, length) = drawn("markout", "strut_01_p24.obj", &["--unit", "m"]);
    assert_eq!(code, Some(0));
    assert!((10_000..1_000_000).contains(&length), "{length} bytes");
}

/// Tens of metres: what cuts regions apart takes places by an absolute distance.
#[test]
fn a_jig_as_large_as_a_hall() {
    let words = ["--unit", "in", "--sheet", "40000x15000", "--joint", "100"];
    let (code, length) = drawn("jig", "hoop_01_p12.obj", &words);
    assert_eq!(code, Some(0));
    assert!(length > 1000, "{length} bytes");
}

//! Models joined to one solid, drawn for these tests with known sizes and exported by a CAD kernel
//! at 0.2 mm, in an oblique pose.

use std::path::{Path, PathBuf};

use soapstone::analysis::{Asked, analyse};
use soapstone::finding::Code;
use soapstone::measure::Quantity;
use soapstone::member::{EndShape, Shape};
use soapstone::report::{Report, ReportedPart};

fn read(path: &Path) -> Report {
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: 7850.0,
    };
    let bytes = std::fs::read(path).unwrap();
    analyse(&bytes, &path.to_string_lossy(), &asked).unwrap()
}

fn fixture(name: &str) -> Report {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    read(&root.join("fixtures/joined").join(name))
}

fn near(q: Option<Quantity>, design: f64) {
    let q = q.expect("a value");
    assert!(
        (q.value - design).abs() <= 0.02,
        "{} is not {design}",
        q.value
    );
}

fn length(part: &ReportedPart) -> Option<Quantity> {
    part.member.as_ref()?.centreline.length
}

fn thickness(part: &ReportedPart) -> Option<Quantity> {
    part.plate.as_ref()?.thickness
}

fn shape(part: &ReportedPart) -> Option<Shape> {
    Some(part.member.as_ref()?.section.shape)
}

fn told(report: &Report, code: Code, mark: &str) -> usize {
    let own = |f: &&soapstone::finding::Finding| f.code == code && f.part.as_deref() == Some(mark);
    report.findings.iter().filter(own).count()
}

#[test]
fn leaning_post_and_its_plate() {
    let r = fixture("post_leaning_on_plate.stl");
    assert_eq!((r.parts.len(), r.unresolved.len()), (2, 0));
    let (post, plate) = (&r.parts[0], &r.parts[1]);
    assert_eq!(shape(post), Some(Shape::Square));
    // 700 long from 200 below its turning point; the face of the plate is 10 above that
    near(length(post), 500.0 - 10.0 / 25f64.to_radians().cos());
    let ends = &post.member.as_ref().unwrap().ends;
    let off = |e: usize| ends[e].cuts[0].off_square.value;
    assert!((off(0).max(off(1)) - 25.0).abs() < 0.01);
    near(thickness(plate), 10.0);
    let plate = plate.plate.as_ref().unwrap();
    near(plate.flat.length, 160.0);
    near(plate.flat.width, 120.0);
    assert_eq!(plate.holes.len(), 2);
    assert_eq!(told(&r, Code::JoinedParts, "M1"), 1);
    assert_eq!(told(&r, Code::EndAssumed, "M1"), 1);
    assert_eq!(told(&r, Code::JoinedParts, "P1"), 1);
}

#[test]
fn two_posts_between_two_plates_are_one_part_twice() {
    let r = fixture("portal.stl");
    assert_eq!(r.parts.len(), 3);
    assert_eq!((r.parts[0].quantity, r.parts[0].bodies.len()), (2, 1));
    near(length(&r.parts[0]), 500.0);
    near(thickness(&r.parts[1]), 12.0);
    near(thickness(&r.parts[2]), 8.0);
    assert_eq!(told(&r, Code::EndAssumed, "M1"), 2);
}

#[test]
fn branch_is_coped_and_header_whole() {
    let r = fixture("branch_at_55.stl");
    assert_eq!(r.parts.len(), 2);
    near(length(&r.parts[0]), 600.0);
    let branch = r.parts[1].member.as_ref().unwrap();
    // the centreline leaves the axis of the other tube at 55° and ends 300 from it
    near(
        branch.centreline.length,
        300.0 - 30.15 / 35f64.to_radians().cos(),
    );
    let saddle = branch.ends.iter().find_map(|e| e.saddle.as_ref()).unwrap();
    near(Some(saddle.diameter), 60.3);
    near(Some(saddle.angle), 55.0);
    near(Some(saddle.offset), 0.0);
    assert!(r.parts[0].member.as_ref().unwrap().holes.is_empty());
}

#[test]
fn solid_bar_on_a_tube() {
    let r = fixture("bar_on_tube.stl");
    assert_eq!(r.parts.len(), 2);
    assert_eq!(shape(&r.parts[0]), Some(Shape::Round));
    assert_eq!(shape(&r.parts[1]), Some(Shape::RoundBar));
    near(length(&r.parts[1]), 300.0 - 30.15);
}

#[test]
fn mitred_legs_and_a_foot() {
    for (name, pieces) in [("mitre_sharp_corners.stl", 2), ("mitre_on_foot.stl", 3)] {
        let r = fixture(name);
        assert_eq!((r.parts.len(), r.unresolved.len()), (pieces, 0), "{name}");
        near(length(&r.parts[0]), 500.0);
        near(length(&r.parts[1]), 400.0);
        for leg in &r.parts[..2] {
            let ends = &leg.member.as_ref().unwrap().ends;
            assert!(ends.iter().all(|e| e.shape == EndShape::Plane));
            let mitred =
                |e: &&soapstone::member::End| (e.cuts[0].off_square.value - 45.0).abs() < 0.01;
            assert_eq!(ends.iter().filter(mitred).count(), 1);
            assert!(told(&r, Code::JoinedParts, &leg.mark) >= 1);
        }
    }
}

#[test]
fn one_piece_with_inner_corners_stays_one() {
    // A plate with a blind hole and a step: floors of holes are no pieces.
    let obj = "v 0 0 0\nv 80 0 0\nv 80 60 0\nv 0 60 0\nv 0 0 20\nv 80 0 20\nv 80 60 20\nv 0 60 20\n\
               v 20 20 20\nv 50 20 20\nv 50 40 20\nv 20 40 20\nv 20 20 8\nv 50 20 8\nv 50 40 8\nv 20 40 8\n\
               f 4 3 2 1\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n\
               f 5 6 10 9\nf 6 7 11 10\nf 7 8 12 11\nf 8 5 9 12\n\
               f 9 10 14 13\nf 10 11 15 14\nf 11 12 16 15\nf 12 9 13 16\nf 13 14 15 16\n";
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: 7850.0,
    };
    let r = analyse(obj.as_bytes(), "pocket.obj", &asked).unwrap();
    assert_eq!(r.parts.len(), 1);
    assert!(r.findings.iter().all(|f| f.code != Code::JoinedParts));
}

#[test]
fn foot_of_the_corpus() {
    let path: PathBuf =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/corpus/models/foot_welded_01.stl");
    if !path.exists() {
        println!("skipped: {} is not here", path.display());
        return;
    }
    let r = read(&path);
    assert_eq!(r.parts.len(), 2);
    near(length(&r.parts[0]), 260.0);
    near(thickness(&r.parts[1]), 12.0);
}

#[test]
fn overlap_of_two_solids_is_told_with_its_depth() {
    // A bar 20 x 20 x 200 drawn 4 deep into a plate 12 thick.
    let block = |[x, y, z]: [f64; 3], [dx, dy, dz]: [f64; 3], first: u32| {
        let mut text = String::new();
        for k in 0..8 {
            let at = |bit: u32, from: f64, by: f64| from + by * f64::from(k >> bit & 1);
            text += &format!("v {} {} {}\n", at(0, x, dx), at(1, y, dy), at(2, z, dz));
        }
        for f in [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ] {
            let [a, b, c, d] = f.map(|v: u32| v + first);
            text += &format!("f {a} {b} {c} {d}\n");
        }
        text
    };
    let obj = block([0.0, 0.0, 0.0], [120.0, 100.0, 12.0], 1)
        + &block([50.0, 40.0, 8.0], [20.0, 20.0, 200.0], 9);
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: 7850.0,
    };
    let r = analyse(obj.as_bytes(), "sunk.obj", &asked).unwrap();
    assert_eq!(r.parts.len(), 2);
    let said: Vec<&str> = r
        .findings
        .iter()
        .filter(|f| f.code == Code::JoinedParts)
        .map(|f| f.message.as_str())
        .collect();
    assert_eq!(said.len(), 2);
    assert!(said.iter().all(|m| m.contains("4.0 mm deep")), "{said:?}");
}

//! Real tubes and bars with documented sizes, read in place: others' work, no part of the repository.
//! Without the folder these tests say so and pass.

use std::path::PathBuf;

use soapstone::analysis::{Asked, analyse};
use soapstone::finding::Code;
use soapstone::measure::{Quantity, STEEL_DENSITY};
use soapstone::member::{EndShape, Member, Shape, Span};
use soapstone::report::Report;

/// The report on a file; `None`, said on the terminal, where the file is missing.
fn read(name: &str, mm_per_unit: f64) -> Option<Report> {
    let beside = || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared");
    let shared = std::env::var_os("SOAPSTONE_SHARED").map_or_else(beside, PathBuf::from);
    let path = shared.join("real/files").join(name);
    let Ok(bytes) = std::fs::read(&path) else {
        eprintln!("skipped: {} is missing", path.display());
        return None;
    };
    let asked = Asked {
        mm_per_unit: Some(mm_per_unit),
        density: STEEL_DENSITY,
    };
    Some(analyse(&bytes, name, &asked).expect("a model"))
}

/// The only member of a file and the codes of all findings.
fn member(name: &str, mm_per_unit: f64) -> Option<(Member, Vec<Code>)> {
    let report = read(name, mm_per_unit)?;
    assert_eq!(report.parts.len(), 1, "{name}");
    let codes = report.findings.iter().map(|f| f.code).collect();
    let part = report.parts.into_iter().next()?;
    Some((part.member.expect("a member"), codes))
}

fn near(got: Option<Quantity>, want: f64, what: &str) {
    let got = got.expect(what);
    assert!(
        (got.value - want).abs() <= got.plus_minus.max(0.01),
        "{what}: {got:?}, documented {want}"
    );
}

/// Hook of the examples of build123d 0.13.0 (Apache-2.0), `pegboard_j_hook.py`: rod 0.82 × 6.45 mm,
/// from its tip 10 straight, 170° at 11.5, 31.3 straight, 70° at 3.6, 6 straight, −70° at 3.6, 6
/// straight, 96.217 mm in all; ground flat on both sides to 5.089, and a thicker stub on the end.
#[test]
fn a_hook_has_its_documented_bends() {
    let Some((member, codes)) = member("t26_j_hook.stl", 1.0) else {
        return;
    };
    assert_eq!(member.section.shape, Shape::RoundBar);
    near(member.section.diameter, 5.289, "rod");
    near(member.centreline.length, 96.217, "developed length");
    let mut bends = Vec::new();
    let mut straights = Vec::new();
    for span in &member.spans {
        match span {
            Span::Arc { radius, angle, .. } => bends.push((*radius, *angle)),
            Span::Straight { length } => straights.push(*length),
            other => panic!("{other:?}"),
        }
    }
    for ((radius, angle), (r, a)) in bends.iter().zip([(3.6, 70.0), (3.6, 70.0), (11.5, 170.0)]) {
        near(*radius, r, "bend radius");
        near(Some(*angle), a, "bend angle");
    }
    assert_eq!((bends.len(), straights.len()), (3, 4));
    for (length, want) in straights.iter().zip([6.0, 6.0, 31.3, 10.0]) {
        near(Some(*length), want, "straight");
    }
    assert!(codes.contains(&Code::SectionFlats), "{codes:?}");
    assert!(codes.contains(&Code::LeftOut), "{codes:?}");
}

/// Pipe of the catalogue: NPS 4 schedule 10S of ASME B36.19M, 114.3 × 3.048, 500 mm long.
#[test]
fn a_pipe_has_its_nominal_size() {
    let Some((member, _)) = member("t28_pipe_nps4_10s.stl", 1.0) else {
        return;
    };
    assert_eq!(member.section.shape, Shape::Round);
    near(member.section.diameter, 114.3, "outside diameter");
    near(member.section.wall, 3.048, "wall");
    near(member.centreline.length, 500.0, "length");
}

/// A tube whose inside has no facets worth the name; its description gives 22.5 mm for the inside.
#[test]
fn a_tube_without_an_inside_is_no_solid_bar() {
    let Some((member, codes)) = member("t03_tube_2_25cm.stl", 1000.0) else {
        return;
    };
    assert_eq!(member.section.shape, Shape::Round);
    let (d, wall) = (member.section.diameter, member.section.wall.expect("wall"));
    near(
        d.map(|d| Quantity::new(d.value - 2.0 * wall.value, 0.02)),
        22.5,
        "inside",
    );
    assert!(codes.contains(&Code::WallNotVisible), "{codes:?}");
}

/// Axle of the catalogue, one inch thick and 845 mm long.
#[test]
fn an_axle_is_an_inch_thick() {
    let Some((member, _)) = member("t15_axle.stl", 1000.0) else {
        return;
    };
    assert_eq!(member.section.shape, Shape::RoundBar);
    near(member.section.diameter, 25.4, "diameter");
    near(member.centreline.length, 845.0, "length");
}

/// Sensor arch of the catalogue, 300 mm high: two legs mitred to a beam and two struts, one solid.
#[test]
fn an_arch_is_taken_apart_and_stands_300_high() {
    let Some(report) = read("t11_arch_300.stl", 1000.0) else {
        return;
    };
    assert!(report.unresolved.is_empty());
    let pieces: Vec<usize> = report.parts.iter().map(|p| p.quantity as usize).collect();
    assert_eq!(pieces, [1, 2, 2]);
    let leg = report.parts[1].member.as_ref().expect("a leg");
    near(leg.longest_edge, 300.0, "height");
    let volume: f64 = (report.parts.iter())
        .map(|p| p.quantity as f64 * p.volume.expect("a volume").value)
        .sum();
    // volume of the facets by another program
    assert!((volume - 1_211_411.9).abs() < 1.0, "{volume}");
}

/// Standpipe of the catalogue, its cup neither a plane cut nor a cope: the end named is the one that is.
#[test]
fn an_end_that_is_no_cut_is_named_by_its_own_number() {
    for mm_per_unit in [1.0, 1000.0] {
        let Some(report) = read("t41_standpipe.stl", mm_per_unit) else {
            return;
        };
        let member = report.parts[0].member.as_ref().expect("a member");
        let other = member.ends.iter().position(|e| e.shape == EndShape::Other);
        let said = report
            .findings
            .iter()
            .find(|f| f.code == Code::EndAssumed)
            .expect("a word about the end");
        let named = format!("End {} ", other.expect("an end of another shape"));
        assert!(said.message.starts_with(&named), "{}", said.message);
    }
}

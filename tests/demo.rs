//! The demo models: the files are what the example draws, and are read as they were drawn.

mod demo_model;

use std::path::Path;

use demo_model::{bridge::bridge, canopy::canopy, write};
use serde_json::Value;
use soapstone::analysis::{Asked, analyse};
use soapstone::report::{Report, ReportedPart};

fn fixture(name: &str) -> Vec<u8> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::read(root.join("fixtures/demo").join(name)).unwrap()
}

fn read(bytes: &[u8], name: &str) -> Report {
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: 7850.0,
    };
    analyse(bytes, name, &asked).unwrap()
}

fn numbers(text: &str) -> Vec<f64> {
    text.split_whitespace()
        .filter_map(|w| w.parse().ok())
        .collect()
}

#[test]
fn the_files_are_what_the_example_draws() {
    let bay = canopy(0);
    assert_eq!(
        fixture("canopy_bay.stl").len(),
        write::stl(&bay.solids).len()
    );
    for (name, solids) in [
        ("canopy_bay.obj", &bay.solids),
        ("footbridge.obj", &bridge(0).solids),
    ] {
        let (drawn, kept) = (write::obj(solids), fixture(name));
        let (drawn, kept) = (numbers(&drawn), numbers(&String::from_utf8(kept).unwrap()));
        assert_eq!(drawn.len(), kept.len(), "{name}: cargo run --example demo");
        // the sines of another machine may differ in their last digit
        assert!(
            drawn.iter().zip(&kept).all(|(a, b)| (a - b).abs() < 2.5e-4),
            "{name}"
        );
    }
}

#[test]
fn every_solid_is_closed_and_right_side_out() {
    for seed in [0, 1, 2] {
        for solid in canopy(seed).solids.iter().chain(&bridge(seed).solids) {
            let mut edges = std::collections::BTreeMap::new();
            let mut volume = 0.0;
            for [a, b, c] in &solid.triangles {
                volume += a.coords.cross(&b.coords).dot(&c.coords) / 6.0;
                for (p, q) in [(a, b), (b, c), (c, a)] {
                    let key = |p: &demo_model::solid::P3| {
                        [p.x, p.y, p.z].map(|x| (x * 1e4).round() as i64)
                    };
                    let (p, q) = (key(p), key(q));
                    if p != q {
                        *edges.entry((p.min(q), p.max(q))).or_insert(0) +=
                            if p < q { 1 } else { -1 };
                    }
                }
            }
            assert!(volume > 0.0, "{} of seed {seed}", solid.name);
            assert!(
                edges.values().all(|n| *n == 0),
                "{} of seed {seed} is open",
                solid.name
            );
        }
    }
}

/// Whether a part of the report is the one of the truth.
fn is(part: &ReportedPart, truth: &Value) -> bool {
    let number = |key: &str| truth[key].as_f64();
    let class = serde_json::to_value(part.class).unwrap();
    if class != truth["class"]
        || part.quantity != truth["quantity"]
        || part.opposite_hand != truth["opposite_hand"]
    {
        return false;
    }
    let near = |q: Option<soapstone::measure::Quantity>, design: Option<f64>| match (q, design) {
        (_, None) => true,
        (Some(q), Some(design)) => (q.value - design).abs() <= 0.02 + q.plus_minus,
        (None, Some(_)) => false,
    };
    let holes = |diameters: Vec<f64>| {
        let wanted = truth["holes"].as_array().unwrap();
        let total: u64 = wanted.iter().map(|h| h["count"].as_u64().unwrap()).sum();
        total == diameters.len() as u64
            && wanted.iter().all(|h| {
                let same = diameters
                    .iter()
                    .filter(|d| (*d - h["diameter"].as_f64().unwrap()).abs() < 0.02);
                same.count() as u64 == h["count"].as_u64().unwrap()
            })
    };
    if let Some(member) = &part.member {
        let diameters = member
            .holes
            .iter()
            .filter_map(|h| h.diameter)
            .map(|q| q.value);
        return near(member.centreline.length, number("length")) && holes(diameters.collect());
    }
    if let Some(plate) = &part.plate {
        let diameters = plate
            .holes
            .iter()
            .filter_map(|h| h.diameter)
            .map(|q| q.value);
        return near(plate.thickness, number("thickness"))
            && near(
                plate.flat.length,
                truth["flat"][0].as_f64().or(number("length")),
            )
            && near(plate.flat.width, truth["flat"][1].as_f64())
            && holes(diameters.collect());
    }
    false
}

/// Parts of the truth that the report does not have as they were drawn.
fn missing(report: &Report, truth: &str) -> Vec<String> {
    let truth: Value = serde_json::from_slice(&fixture(truth)).unwrap();
    let parts = truth["parts"].as_array().unwrap();
    parts
        .iter()
        .filter(|t| !report.parts.iter().any(|part| is(part, t)))
        .map(|t| t["name"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn the_footbridge_is_read_as_drawn() {
    let report = read(&fixture("footbridge.obj"), "footbridge.obj");
    assert_eq!(missing(&report, "footbridge.json"), [""; 0]);
    let kerb = |part: &&ReportedPart| part.class == soapstone::part::Class::BentPlate;
    let kerb = report.parts.iter().find(kerb).unwrap();
    let flanges = &kerb.plate.as_ref().unwrap().flanges;
    let mut flanges: Vec<f64> = flanges.iter().map(|q| q.value).collect();
    flanges.sort_by(f64::total_cmp);
    assert!((flanges[0] - 50.0).abs() < 0.01 && (flanges[1] - 100.0).abs() < 0.01);
}

#[test]
fn the_bay_is_read_as_drawn() {
    let report = read(&fixture("canopy_bay.stl"), "canopy_bay.stl");
    assert_eq!(missing(&report, "canopy_bay.json"), [""; 0]);
    // six cleats of each hand stand askew, and each is an angle of 60 x 60 x 6
    let cleats = report.parts.iter().filter(|p| {
        let section = p.member.as_ref().map(|m| m.section.shape);
        section == Some(soapstone::member::Shape::Angle)
    });
    let pieces: u32 = cleats.map(|p| p.quantity + p.opposite_hand).sum();
    assert_eq!(pieces, 6);
}

//! 3MF: what the build list says stands where it says, as large as it says.

mod read_expect;

use std::io::{Cursor, Write};

use read_expect::{reads, said, volume};
use soapstone::finding::{Code, Severity};
use soapstone::read::{Format, ReadError, read};
use zip::write::SimpleFileOptions;

const RELATIONSHIPS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/main.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;

fn zipped(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn model(file: &str) -> Vec<u8> {
    std::fs::read(format!(
        "{}/fixtures/read/{file}",
        env!("CARGO_MANIFEST_DIR")
    ))
    .unwrap()
}

fn package(file: &str) -> Vec<u8> {
    zipped(&[
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/main.model", &model(file)),
    ])
}

/// Six times the volume of the wedge in the fixtures.
const WEDGE: f64 = 10.5 * 20.25 * 30.125;

#[test]
fn components_are_placed_scaled_and_mirrored() {
    let (soup, findings) = reads(&package("placed_and_mirrored.model"), "a.3mf");
    assert_eq!(
        (soup.format, soup.declared_mm_per_unit),
        (Format::ThreeMf, Some(25.4))
    );
    let names: Vec<_> = soup
        .groups
        .iter()
        .map(|g| (g.name.as_deref().unwrap_or(""), g.first_facet))
        .collect();
    assert_eq!(
        names,
        [("wedge & key", 0), ("wedge & key", 4), ("wedge & key", 8)]
    );
    // A mirror image that kept its corner order would count its volume as negative.
    assert!(
        (volume(&soup) - (8.0 + 8.0 + 1.0) * WEDGE).abs() < 1e-6,
        "{}",
        volume(&soup)
    );
    assert_eq!(soup.points[4 + 1], [2.0 * (100.0 - 10.5), 0.0, 5.0]);
    assert!(said(&findings).contains("mirror image"));
}

#[test]
fn circles_and_explosions_are_refused() {
    let error = read(&package("contains_itself.model"), "a.3mf").unwrap_err();
    assert!(error.to_string().contains("contains itself"), "{error}");
    let error = read(&package("multiplies.model"), "a.3mf").unwrap_err();
    assert!(matches!(error, ReadError::TooLarge { .. }), "{error}");
}

#[test]
fn wrong_references_are_left_out_and_said() {
    let (soup, findings) = reads(&package("wrong_references.model"), "a.3mf");
    assert_eq!(soup.facets.len(), 3);
    let said = said(&findings);
    for words in [
        "1 triangle left out",
        "object 7, which is not there; and 1 more",
        "1 support structure",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

#[test]
fn a_damaged_package_says_what_is_missing() {
    let whole = package("unknown_unit.model");
    assert!(
        read(&whole[..whole.len() / 2], "a.3mf")
            .unwrap_err()
            .to_string()
            .contains("cut short")
    );
    let none = zipped(&[("_rels/.rels", RELATIONSHIPS.as_bytes())]);
    let error = read(&none, "a.3mf").unwrap_err().to_string();
    assert!(
        error.contains("\"/3D/main.model\"") && error.contains("no other model"),
        "{error}"
    );
    let other = zipped(&[
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", &model("slice_vertices.model")),
    ]);
    let (soup, findings) = reads(&other, "a.3mf");
    assert_eq!(soup.facets.len(), 4);
    let damaged = findings
        .iter()
        .find(|f| f.code == Code::PackageDamaged)
        .unwrap();
    assert!(
        damaged.severity == Severity::Warning
            && damaged.message.contains("\"3D/3dmodel.model\" was read")
    );
}

#[test]
fn text_faults_are_named() {
    let error = read(&package("decimal_comma.model"), "a.3mf").unwrap_err();
    assert_eq!(
        error,
        ReadError::DecimalComma {
            line: 4,
            text: "10,5".into()
        }
    );
    let error = read(&package("cut_short.model"), "a.3mf").unwrap_err();
    assert!(
        matches!(
            error,
            ReadError::Truncated {
                item: "object",
                done: 1,
                of: None
            }
        ),
        "{error}"
    );
}

#[test]
fn an_unknown_unit_is_not_guessed() {
    let (soup, findings) = reads(&package("unknown_unit.model"), "a.3mf");
    assert_eq!(soup.declared_mm_per_unit, None);
    assert!(
        findings
            .iter()
            .any(|f| f.code == Code::UnitUnclear && f.message.contains("cubit"))
    );
}

#[test]
fn slices_are_no_vertices() {
    let (soup, _) = reads(&package("slice_vertices.model"), "a.3mf");
    assert!((volume(&soup) - WEDGE).abs() < 1e-6);
}

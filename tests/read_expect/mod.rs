//! What the tests of reading expect of a file.
#![allow(dead_code)]

use soapstone::finding::Finding;
use soapstone::read::{ReadError, TriangleSoup, fault, read};

fn bytes_of(file: &str) -> Vec<u8> {
    let path = format!("{}/fixtures/read/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Reads these bytes; the result keeps the rules of a soup.
pub fn reads(bytes: &[u8], name: &str) -> (TriangleSoup, Vec<Finding>) {
    let (soup, findings) = read(bytes, name).unwrap_or_else(|error| panic!("{name}: {error}"));
    assert_eq!(fault(&soup), None, "{name}");
    (soup, findings)
}

/// Reads a fixture.
pub fn fixture(file: &str) -> (TriangleSoup, Vec<Finding>) {
    reads(&bytes_of(file), file)
}

/// The error a fixture gives.
pub fn refuses(file: &str) -> ReadError {
    read(&bytes_of(file), file)
        .err()
        .unwrap_or_else(|| panic!("{file} was read"))
}

/// All messages.
pub fn said(findings: &[Finding]) -> String {
    findings
        .iter()
        .map(|f| f.message.as_str())
        .collect::<Vec<_>>()
        .join("\n")
}

/// Twice the area of each facet.
pub fn areas(soup: &TriangleSoup) -> Vec<f64> {
    let area = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| soup.points[i as usize]);
        let (u, v) = (
            [b[0] - a[0], b[1] - a[1], b[2] - a[2]],
            [c[0] - a[0], c[1] - a[1], c[2] - a[2]],
        );
        let cross = [
            u[1] * v[2] - u[2] * v[1],
            u[2] * v[0] - u[0] * v[2],
            u[0] * v[1] - u[1] * v[0],
        ];
        cross.iter().map(|x| x * x).sum::<f64>().sqrt()
    };
    soup.facets.iter().map(area).collect()
}

/// Six times the signed volume of a closed soup.
pub fn volume(soup: &TriangleSoup) -> f64 {
    let term = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| soup.points[i as usize]);
        a[0] * (b[1] * c[2] - b[2] * c[1])
            + a[1] * (b[2] * c[0] - b[0] * c[2])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    soup.facets.iter().map(term).sum()
}

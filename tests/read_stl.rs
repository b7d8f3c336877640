//! STL as it comes: every way of writing it is read whole, every fault is named.

mod read_expect;

use read_expect::{fixture, reads, refuses, said};
use soapstone::finding::Code;
use soapstone::read::{Format, Precision, ReadError, TriangleSoup, read};

/// A binary STL of `facets` right triangles 1.5 mm apart in z, with this header and count.
fn binary(header: &[u8], count: u32, facets: usize) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.extend(count.to_le_bytes());
    for i in 0..facets {
        let z = 1.5 * i as f32;
        let facet = [
            [0.0, 0.0, 1.0],
            [0.0, 0.0, z],
            [10.25, 0.0, z],
            [0.0, 20.5, z],
        ];
        bytes.extend(
            facet
                .as_flattened()
                .iter()
                .flat_map(|x: &f32| x.to_le_bytes()),
        );
        bytes.extend([0, 0]);
    }
    bytes
}

fn header(text: &str) -> Vec<u8> {
    let mut header = text.as_bytes().to_vec();
    header.resize(80, b' ');
    header
}

fn names(soup: &TriangleSoup) -> Vec<(Option<&str>, u32)> {
    soup.groups
        .iter()
        .map(|g| (g.name.as_deref(), g.first_facet))
        .collect()
}

#[test]
fn every_solid_is_kept_with_its_name() {
    let (soup, findings) = fixture("two_solids.stl");
    assert_eq!((soup.facets.len(), soup.format), (3, Format::StlAscii));
    assert_eq!(
        names(&soup),
        [(Some("left rail"), 0), (Some("right rail"), 1)]
    );
    assert!(said(&findings).contains("2 solids"));
}

#[test]
fn ways_of_writing_the_same_facet() {
    let files = [
        ("solid_without_name.stl", ""),
        ("leading_blank_and_mark.stl", "byte-order mark"),
        ("capitals.stl", "capital"),
        ("lines_end_in_cr.stl", "CR alone"),
        ("one_line.stl", ""),
        ("no_solid_line.stl", "outside solid"),
        ("no_endsolid.stl", "after facet 2"),
        ("stray_lines.stl", "\"color\""),
    ];
    for (file, word) in files {
        let (soup, findings) = fixture(file);
        assert!(
            said(&findings).contains(word),
            "{file}: {}",
            said(&findings)
        );
        // f64 from the text, not from binary32.
        assert_eq!(soup.points[1], [12345.678901, 0.0, 0.0], "{file}");
    }
}

#[test]
fn minus_zero_is_zero() {
    let (soup, _) = fixture("minus_zero.stl");
    assert!(
        soup.points
            .as_flattened()
            .iter()
            .all(|x| x.is_sign_positive())
    );
    let mut bytes = binary(&header(""), 1, 1);
    bytes[84 + 12..84 + 16].copy_from_slice(&(-0.0f32).to_le_bytes());
    let (soup, _) = reads(&bytes, "a.stl");
    assert!(soup.points[0][0].is_sign_positive());
}

#[test]
fn facets_that_are_not_finite_are_dropped_and_counted() {
    let (soup, findings) = fixture("not_finite.stl");
    assert_eq!(soup.facets.len(), 1);
    assert!(
        findings
            .iter()
            .any(|f| f.code == Code::NotFinite && f.message.starts_with("2 facets"))
    );
    let mut bytes = binary(&header(""), 3, 3);
    bytes[84 + 50 + 20..84 + 50 + 24].copy_from_slice(&f32::NAN.to_le_bytes());
    let (soup, findings) = reads(&bytes, "a.stl");
    assert_eq!(soup.facets.len(), 2);
    assert!(said(&findings).contains("1 facet with"));
}

#[test]
fn a_facet_of_four_corners_is_cut_where_it_is_concave() {
    let (soup, findings) = fixture("facet_of_four.stl");
    // The diagonal through the inner corner, the only one inside the face.
    let inner = soup.facets.iter().all(|t| t.contains(&2) && t.contains(&0));
    assert!(soup.facets.len() == 2 && inner, "{:?}", soup.facets);
    assert!(said(&findings).contains("more than three corners"));
}

#[test]
fn normals_against_the_corners_are_said() {
    let (_, findings) = fixture("every_normal_against.stl");
    assert!(findings.iter().any(|f| f.code == Code::NormalsDisagree));
}

#[test]
fn text_errors_name_the_place() {
    let comma = ReadError::DecimalComma {
        line: 5,
        text: "12,5".into(),
    };
    assert_eq!(refuses("decimal_comma.stl"), comma);
    assert_eq!(
        refuses("cut_in_third_facet.stl"),
        ReadError::Truncated {
            item: "facet",
            done: 2,
            of: None
        }
    );
    assert!(
        refuses("word_for_number.stl")
            .to_string()
            .starts_with("Line 5: \"left\"")
    );
}

#[test]
fn length_decides_not_the_first_word() {
    for text in [
        "solid part",
        "SOLID\nfacet normal",
        "ply\nformat",
        "v 1 2 3\nf 1 2 3\n",
        "PK\x03\x04",
    ] {
        let (soup, _) = reads(&binary(&header(text), 4, 4), "a.obj");
        assert_eq!(
            (soup.facets.len(), soup.format),
            (4, Format::StlBinary),
            "{text:?}"
        );
        assert_eq!(soup.precision, Precision::Binary32);
        assert_eq!(soup.points[10], [10.25, 0.0, 4.5]);
    }
}

#[test]
fn a_binary_file_cut_short_says_where() {
    let mut bytes = binary(&header("solid part"), 9410, 1204);
    bytes.truncate(84 + 1203 * 50 + 17);
    let error = read(&bytes, "part.stl").unwrap_err();
    assert_eq!(
        error.to_string(),
        "The file ends after facet 1 203 of 9 410. Export it again."
    );
    let error = read(&bytes[..100], "part.stl").unwrap_err();
    assert_eq!(
        error.to_string(),
        "The file ends before the first facet of 9 410. Export it again."
    );
    assert!(read(&bytes[..60], "part.stl").is_err());
}

#[test]
fn four_billion_facets_are_not_believed() {
    let error = read(&binary(&header(""), u32::MAX, 2), "part.stl").unwrap_err();
    assert_eq!(
        error,
        ReadError::Truncated {
            item: "facet",
            done: 2,
            of: Some(u64::from(u32::MAX))
        }
    );
}

#[test]
fn a_count_of_zero_with_facets_behind_it_is_no_empty_file() {
    let (soup, findings) = reads(&binary(&header(""), 0, 5), "a.stl");
    assert_eq!(soup.facets.len(), 5);
    assert!(findings.iter().any(|f| f.code == Code::CountMismatch));
    let mut odd = binary(&header(""), 0, 5);
    odd.push(0);
    assert!(
        read(&odd, "a.stl")
            .unwrap_err()
            .to_string()
            .contains("zero facets, but 251 bytes follow")
    );
}

#[test]
fn bytes_behind_the_last_facet_are_said() {
    let mut bytes = binary(&header(""), 2, 2);
    bytes.extend([7; 60]);
    let (soup, findings) = reads(&bytes, "a.stl");
    assert_eq!(soup.facets.len(), 2);
    assert!(
        said(&findings).contains("60 bytes after the last facet"),
        "{}",
        said(&findings)
    );
}

#[test]
fn binary_files_one_behind_the_other_are_all_read() {
    let bytes = [binary(&header("a"), 2, 2), binary(&header("b"), 3, 3)].concat();
    let (soup, findings) = reads(&bytes, "a.stl");
    assert_eq!(soup.facets.len(), 5);
    assert!(findings.iter().any(|f| f.code == Code::SeveralSolids));
}

#[test]
fn a_header_of_the_wrong_length_is_found() {
    for length in [78, 79, 81, 96] {
        let (soup, findings) = reads(&binary(&vec![b'h'; length], 30, 30), "a.stl");
        assert_eq!(soup.facets.len(), 30);
        assert!(
            findings
                .iter()
                .any(|f| f.code == Code::HeaderShifted && f.message.contains(&length.to_string()))
        );
        assert_eq!(soup.points[4], [10.25, 0.0, 1.5]);
    }
}

//! PLY in its three encodings.

mod read_expect;

use read_expect::{areas, fixture, reads, refuses, said};
use soapstone::read::{Format, Precision, ReadError, read};

/// A pyramid over a square, binary, with a property before and a list behind the coordinates.
fn binary(order: &str, real: &str, vertices: usize) -> Vec<u8> {
    let big = order == "binary_big_endian";
    let header = format!(
        "ply\nformat {order} 1.0\nelement vertex {vertices}\nproperty short tag\nproperty {real} x\nproperty {real} y\n\
         property {real} z\nproperty list uchar ushort extra\nelement face 5\nproperty list uchar uint vertex_indices\nend_header\n"
    );
    let mut bytes = header.into_bytes();
    let put = |little: &[u8], bytes: &mut Vec<u8>| {
        let mut number = little.to_vec();
        if big {
            number.reverse();
        }
        bytes.extend(number);
    };
    let corners = [
        [0.0, 0.0, 0.0],
        [10.1, 0.0, 0.0],
        [10.1, 10.1, 0.0],
        [0.0, 10.1, 0.0],
        [5.0, 5.0, 7.7],
    ];
    for point in corners {
        put(&(-3i16).to_le_bytes(), &mut bytes);
        for x in point {
            match real {
                "float" => put(&(x as f32).to_le_bytes(), &mut bytes),
                _ => put(&f64::to_le_bytes(x), &mut bytes),
            }
        }
        bytes.push(2);
        put(&1u16.to_le_bytes(), &mut bytes);
        put(&2u16.to_le_bytes(), &mut bytes);
    }
    let faces: [&[u32]; 5] = [
        &[3, 2, 1, 0],
        &[0, 1, 4],
        &[1, 2, 4],
        &[2, 3, 4],
        &[3, 0, 4],
    ];
    for face in faces {
        bytes.push(face.len() as u8);
        face.iter().for_each(|i| put(&i.to_le_bytes(), &mut bytes));
    }
    bytes
}

#[test]
fn both_byte_orders_and_both_widths() {
    for order in ["binary_little_endian", "binary_big_endian"] {
        for (real, precision, tolerance) in [
            ("float", Precision::Binary32, 1e-6),
            ("double", Precision::Binary64, 0.0),
        ] {
            let (soup, findings) = reads(&binary(order, real, 5), "a.ply");
            assert_eq!(
                (soup.facets.len(), soup.format, soup.precision),
                (6, Format::Ply, precision)
            );
            assert!((soup.points[4][2] - 7.7).abs() <= tolerance);
            assert!(findings.is_empty(), "{}", said(&findings));
        }
    }
}

#[test]
fn text_with_lists_and_colours() {
    let (soup, findings) = fixture("table.ply");
    assert_eq!(soup.facets.len(), 2);
    assert!((areas(&soup).iter().sum::<f64>() / 2.0 - 110.25).abs() < 1e-9);
    assert!(findings.is_empty(), "{}", said(&findings));
}

#[test]
fn strips_alternate() {
    let (soup, _) = fixture("strip.ply");
    assert_eq!(soup.facets, [[0, 1, 2], [2, 1, 3]]);
}

#[test]
fn a_file_cut_short_says_where() {
    let error = ReadError::Truncated {
        item: "face",
        done: 1,
        of: Some(2),
    };
    assert_eq!(refuses("cut_short.ply"), error);
    assert_eq!(
        error.to_string(),
        "The file ends after face 1 of 2. Export it again."
    );
    let bytes = binary("binary_little_endian", "float", 5);
    let error = read(&bytes[..bytes.len() - 3], "a.ply").unwrap_err();
    assert_eq!(
        error,
        ReadError::Truncated {
            item: "face",
            done: 4,
            of: Some(5)
        }
    );
    // The faces are read as vertices until the data end.
    let error = read(
        &binary("binary_little_endian", "float", 4_000_000_000),
        "a.ply",
    )
    .unwrap_err();
    assert!(
        matches!(
            error,
            ReadError::Truncated {
                item: "vertex",
                of: Some(4_000_000_000),
                ..
            }
        ),
        "{error}"
    );
}

#[test]
fn bytes_behind_the_data_are_said() {
    let mut bytes = binary("binary_little_endian", "float", 5);
    bytes.extend([1; 40]);
    let (soup, findings) = reads(&bytes, "a.ply");
    assert_eq!(soup.facets.len(), 6);
    assert!(said(&findings).contains("40 bytes after the last row"));
}

#[test]
fn errors_are_named() {
    assert_eq!(
        refuses("decimal_comma.ply"),
        ReadError::DecimalComma {
            line: 11,
            text: "1,5".into()
        }
    );
    assert!(
        refuses("points_only.ply")
            .to_string()
            .contains("points only: 2 vertices")
    );
}

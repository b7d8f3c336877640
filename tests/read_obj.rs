//! OBJ as it comes.

mod read_expect;

use read_expect::{areas, fixture, refuses, said};
use soapstone::finding::Code;
use soapstone::read::{Format, Precision, ReadError};

#[test]
fn a_concave_face_keeps_its_area() {
    let (soup, _) = fixture("concave_face.obj");
    assert_eq!((soup.facets.len(), soup.format), (4, Format::Obj));
    // Two legs: 60.5 × 6.25 and 6.25 × 33.75.
    let area = 60.5 * 6.25 + 6.25 * 33.75;
    assert!((areas(&soup).iter().sum::<f64>() / 2.0 - area).abs() < 1e-9);
}

#[test]
fn a_straight_corner_gives_no_flat_facet() {
    let (soup, _) = fixture("straight_corner.obj");
    assert_eq!(soup.facets.len(), 3);
    assert!(areas(&soup).iter().all(|a| *a > 1.0), "{:?}", areas(&soup));
}

#[test]
fn lines_may_be_continued() {
    let (soup, findings) = fixture("continued_lines.obj");
    assert_eq!((soup.facets.len(), soup.points[1]), (2, [10.0, 0.0, 0.0]));
    assert!(said(&findings).contains("line continuation") && said(&findings).contains("CR LF"));
}

#[test]
fn objects_name_parts_and_groups_do_where_there_are_no_objects() {
    let named = |file: &str| {
        let (soup, _) = fixture(file);
        soup.groups
            .into_iter()
            .map(|g| (g.name.unwrap_or_default(), g.first_facet))
            .collect::<Vec<_>>()
    };
    let expected = [("bracket", 0), ("bracket", 1), ("brace", 2)].map(|(n, i)| (n.to_owned(), i));
    assert_eq!(named("objects_and_groups.obj"), expected);
    let expected = [("post", 0), ("", 1), ("rail upper", 2)].map(|(n, i)| (n.to_owned(), i));
    assert_eq!(named("groups_only.obj"), expected);
    assert_eq!(
        named("name_in_latin_1.obj"),
        [("Gel\u{e4}nder".to_owned(), 0)]
    );
}

#[test]
fn harmless_oddities() {
    assert!(said(&fixture("commas_between.obj").1).contains("commas stand between"));
    assert_eq!(fixture("later_vertices.obj").0.facets.len(), 1);
    assert_eq!(
        fixture("later_vertices.obj").0.precision,
        Precision::SignificantDigits(6)
    );
}

#[test]
fn what_is_left_out_is_said() {
    let (_, findings) = fixture("free_form.obj");
    assert!(said(&findings).contains("free-form"));
    let (_, findings) = fixture("weights_and_colours.obj");
    assert!(
        said(&findings).starts_with("1 vertex weight left out"),
        "{}",
        said(&findings)
    );
    let (soup, findings) = fixture("before_the_first.obj");
    assert_eq!(soup.facets.len(), 1);
    assert!(
        findings
            .iter()
            .any(|f| f.code == Code::BadIndex && f.message.contains("line 5"))
    );
}

#[test]
fn text_errors_name_the_line() {
    assert_eq!(
        refuses("decimal_comma.obj"),
        ReadError::DecimalComma {
            line: 2,
            text: "1,5".into()
        }
    );
    assert!(
        refuses("two_coordinates.obj")
            .to_string()
            .starts_with("Line 2: a vertex with fewer")
    );
}

//! The report as a value, as JSON and as CSV.

use serde_json::Value;

use super::sample::canopy;
use super::{csv, finite, json, only_part};
use crate::finding::{Code, Severity};
use crate::measure::{Show, quantity};
use crate::member::Span;

fn value() -> Value {
    serde_json::from_str(&json::json(&canopy()).expect("JSON")).expect("sound JSON")
}

/// Every name other programs rely on, at a place where the sample has a value for it.
#[test]
fn the_agreed_names_are_there() {
    let report = value();
    let numbers = [
        "/schema",
        "/source/facets",
        "/length_unit/mm_per_file_unit",
        "/parts/0/quantity",
        "/parts/0/opposite_hand",
        "/parts/0/bodies/0",
        "/parts/0/body",
        "/parts/0/volume/value",
        "/parts/0/volume/plus_minus",
        "/parts/0/surface_area/value",
        "/parts/0/mass/value",
        "/parts/0/density",
        "/parts/0/frame/origin/0",
        "/parts/0/member/section/width/value",
        "/parts/0/member/section/height/value",
        "/parts/0/member/section/wall/value",
        "/parts/0/member/section/corner_radius/value",
        "/parts/0/member/section/inner_corner_radius/value",
        "/parts/0/member/section/area/value",
        "/parts/0/member/centreline/length/value",
        "/parts/0/member/centreline/chord/value",
        "/parts/0/member/centreline/rise/value",
        "/parts/0/member/spans/0/length/value",
        "/parts/0/member/spans/0/radius/value",
        "/parts/0/member/spans/0/angle/value",
        "/parts/0/member/spans/0/inside_radius/value",
        "/parts/0/member/spans/0/outside_radius/value",
        "/parts/0/member/ends/0/point/0",
        "/parts/0/member/ends/0/cuts/0/off_square/value",
        "/parts/0/member/ends/0/cuts/0/tilt_width/value",
        "/parts/0/member/ends/0/cuts/0/tilt_height/value",
        "/parts/0/member/ends/0/cuts/0/normal/2",
        "/parts/0/member/ends/0/cuts/0/point/2",
        "/parts/0/member/twist/value",
        "/parts/1/member/section/diameter/value",
        "/parts/1/member/holes/0/diameter/value",
        "/parts/1/member/holes/0/station/value",
        "/parts/1/member/holes/0/around/value",
        "/parts/1/member/holes/0/walls",
        "/parts/1/member/holes/0/axis/2",
        "/parts/1/member/spans/3/rotation/value",
        "/parts/2/plate/thickness/value",
        "/parts/2/plate/flat/length/value",
        "/parts/2/plate/flat/width/value",
        "/parts/2/plate/flat/perimeter/value",
        "/parts/2/plate/flat/area/value",
        "/parts/2/plate/outline/2/radius/value",
        "/parts/2/plate/outline/2/angle/value",
        "/parts/2/plate/holes/0/x/value",
        "/parts/2/plate/holes/0/y/value",
        "/parts/2/plate/holes/0/from_centroid/value",
        "/parts/2/plate/holes/0/countersink_diameter/value",
        "/parts/2/plate/holes/0/countersink_angle/value",
        "/unresolved/0/facets",
        "/unresolved/0/bodies/0",
    ];
    for place in numbers {
        assert!(
            report.pointer(place).is_some_and(Value::is_number),
            "{place}"
        );
    }
    let words = [
        ("/tool/name", "soapstone"),
        ("/source/path", "canopy.stl"),
        ("/source/format", "stl-binary"),
        ("/length_unit/basis", "inferred"),
        ("/findings/0/code", "wall_not_visible"),
        ("/findings/0/severity", "warning"),
        ("/findings/0/part", "M2"),
        ("/parts/0/mark", "M1"),
        ("/parts/0/name", "rib"),
        ("/parts/0/class", "rolled_member"),
        ("/parts/0/member/section/shape", "square"),
        ("/parts/0/member/section/stock/designation", "50 x 50 x 3"),
        ("/parts/0/member/ends/0/shape", "plane"),
        ("/parts/0/member/spans/0/kind", "arc"),
        ("/parts/1/member/spans/0/kind", "straight"),
        ("/parts/1/member/holes/1/kind", "slot"),
        ("/parts/2/plate/form", "flat"),
        ("/parts/2/plate/outline/0/kind", "line"),
        ("/parts/2/plate/holes/0/kind", "countersunk"),
    ];
    for (place, word) in words {
        assert_eq!(
            report.pointer(place).and_then(Value::as_str),
            Some(word),
            "{place}"
        );
    }
    for place in [
        "/parts/0/plate",
        "/parts/1/name",
        "/parts/1/member/spans/3/radius",
        "/parts/1/mass",
        "/parts/2/member",
        "/parts/2/plate/flat/k_factor",
        "/findings/1/part",
    ] {
        assert_eq!(report.pointer(place), Some(&Value::Null), "{place}");
    }
}

#[test]
fn mass_is_volume_by_density() {
    let report = canopy();
    let (part, mass) = (&report.parts[0], report.parts[0].mass.expect("a mass"));
    let volume = part.volume.expect("a volume");
    assert!((mass.value - volume.value * 7850e-9).abs() < 1e-12);
    assert!((mass.plus_minus - volume.plus_minus * 7850e-9).abs() < 1e-12);
}

#[test]
fn findings_stand_worst_first_and_under_their_mark() {
    let report = canopy();
    let order: Vec<_> = report
        .findings
        .iter()
        .map(|f| (f.severity, f.part.as_deref()))
        .collect();
    assert_eq!(
        order,
        [
            (Severity::Warning, Some("M2")),
            (Severity::Note, None),
            (Severity::Note, Some("M2")),
        ]
    );
}

#[test]
fn one_part_keeps_what_concerns_it() {
    let report = only_part(canopy(), "M2").expect("part M2");
    assert_eq!(
        (
            report.parts.len(),
            report.findings.len(),
            report.unresolved.len()
        ),
        (1, 3, 0)
    );
    let report = only_part(canopy(), "X1").expect("part X1");
    assert_eq!(
        (
            report.parts.len(),
            report.findings.len(),
            report.unresolved.len()
        ),
        (1, 1, 1)
    );
    assert_eq!(only_part(canopy(), "M9"), None);
}

#[test]
fn what_is_not_finite_is_dropped_and_said() {
    let mut report = canopy();
    let part = &mut report.parts[0];
    part.volume = Some(quantity(f64::NAN, 1.0));
    let member = part.member.as_mut().expect("a member");
    member.section.wall = Some(quantity(3.0, f64::INFINITY));
    if let Some(Span::Arc { radius, .. }) = member.spans.first_mut() {
        *radius = Some(quantity(f64::INFINITY, 0.0));
    }
    member.ends[0].cuts[0].normal[1] = f64::NAN;
    let finding = finite::keep_finite(part).expect("a finding");
    assert_eq!(
        (finding.code, finding.severity),
        (Code::NotFinite, Severity::Warning)
    );
    let member = part.member.as_ref().expect("a member");
    assert_eq!(
        (part.volume, member.section.wall, member.ends.len()),
        (None, None, 0)
    );
    assert!(matches!(member.spans[..], [Span::Arc { radius: None, .. }]));

    let plate = report.parts[2].plate.as_mut().expect("a plate");
    plate.holes[0].point[0] = f64::NAN;
    plate.holes[1].x = Some(quantity(f64::NAN, f64::NAN));
    plate.flat.k_factor = Some(f64::NAN);
    assert!(finite::keep_finite(&mut report.parts[2]).is_some());
    let plate = report.parts[2].plate.as_ref().expect("a plate");
    assert_eq!(
        (plate.holes.len(), plate.holes[0].x, plate.flat.k_factor),
        (1, None, None)
    );
    assert_eq!(
        finite::keep_finite(&mut report.parts[2]),
        None,
        "nothing is left to drop"
    );
}

#[test]
fn csv_in_both_systems() {
    insta::assert_snapshot!(
        "csv_mm",
        csv::csv(&canopy(), Show::Millimetre).expect("CSV")
    );
    insta::assert_snapshot!(
        "csv_in",
        csv::csv(&canopy(), Show::InchFraction(16)).expect("CSV")
    );
}

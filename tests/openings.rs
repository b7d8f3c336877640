//! Openings in plates and rolled sections, against the sizes they were drawn with.

use std::path::Path;

use nalgebra::Point2;
use serde_json::Value;
use soapstone::analysis::{Asked, analyse};
use soapstone::finding::Code;
use soapstone::measure::{Quantity, STEEL_DENSITY};
use soapstone::plate::{HoleKind, PlateFace, PlateHole, Segment};
use soapstone::report::{Report, ReportedPart};

mod plate_files;

fn read(bytes: &[u8], name: &str) -> Report {
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    analyse(bytes, name, &asked).expect("a report")
}

/// A model and its truth.
fn model(name: &str) -> (Report, Value) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/openings");
    let bytes = |ending: &str| std::fs::read(folder.join(format!("{name}.{ending}"))).expect(name);
    let truth = serde_json::from_slice(&bytes("json")).expect("a truth");
    (read(&bytes("stl"), name), truth)
}

fn near(q: Option<Quantity>, want: f64, what: &str) {
    let q = q.unwrap_or_else(|| panic!("{what} is given"));
    assert!(
        (q.value - want).abs() <= 1e-4 + q.plus_minus,
        "{what}: {} ± {}, drawn {want}",
        q.value,
        q.plus_minus
    );
    assert!(
        q.plus_minus < 0.005 * want.abs().max(2.0),
        "{what}: ± {}",
        q.plus_minus
    );
}

/// Volume and surface as the kernel has them.
fn weighs_as_drawn(part: &ReportedPart, truth: &Value) {
    near(part.volume, truth["volume"].as_f64().unwrap(), "volume");
    near(
        part.surface_area,
        truth["surface_area"].as_f64().unwrap(),
        "surface",
    );
}

#[test]
fn windows_have_sides_and_corners() {
    let (report, truth) = model("many_openings");
    let part = &report.parts[0];
    weighs_as_drawn(part, &truth);
    let plate = part.plate.as_ref().expect("a plate");
    let cutouts: Vec<&PlateHole> = plate
        .holes
        .iter()
        .filter(|h| h.kind == HoleKind::Cutout)
        .collect();
    let wanted = truth["cutouts"].as_array().unwrap();
    assert_eq!(cutouts.len(), wanted.len());
    for want in wanted {
        let number = |key: &str| want[key].as_f64();
        let (length, width) = (number("length").unwrap(), number("width").unwrap());
        let hole = cutouts
            .iter()
            .min_by(|a, b| {
                let off = |h: &PlateHole| {
                    (h.length.unwrap().value - length).abs()
                        + (h.width.unwrap().value - width).abs()
                };
                off(a).total_cmp(&off(b))
            })
            .unwrap();
        near(hole.length, length, "length");
        near(hole.width, width, "width");
        match number("corner_radius") {
            Some(r) => near(hole.corner_radius, r, "corner"),
            None => assert_eq!(hole.corner_radius, None, "five sides"),
        }
        let turned = hole.direction.unwrap() - number("direction").unwrap();
        assert!(turned.abs() < 0.02, "turned {turned} too far");
        if let (Some(x), Some(y)) = (number("x"), number("y")) {
            near(hole.x, x, "x");
            near(hole.y, y, "y");
        }
    }
    // The schedule has a line for each size.
    let schedule = part.hole_schedule.as_ref().expect("a schedule");
    let rows = schedule
        .sizes
        .iter()
        .filter(|s| s.kind == HoleKind::Cutout && s.width.is_some());
    assert_eq!(rows.count(), 4);
}

#[test]
fn a_countersink_says_which_face_it_is_made_from() {
    let (report, truth) = model("many_openings");
    let plate = report.parts[0].plate.as_ref().expect("a plate");
    for (key, face) in [
        ("countersunk_front", PlateFace::Front),
        ("countersunk_back", PlateFace::Back),
    ] {
        let at = |k: usize| truth[key][k].as_f64().unwrap();
        let hole = plate
            .holes
            .iter()
            .find(|h| (h.x.unwrap().value - at(0)).hypot(h.y.unwrap().value - at(1)) < 0.05)
            .expect(key);
        assert_eq!(hole.kind, HoleKind::Countersunk);
        assert_eq!(hole.made_from, Some(face), "{key}");
        near(hole.countersink_diameter, 18.0, "head");
        near(hole.countersink_angle, 90.0, "angle");
    }
}

#[test]
fn a_hole_wider_than_the_bend_it_lies_in_is_named() {
    let (report, truth) = model("hole_over_a_bend");
    let part = &report.parts[0];
    let plate = part.plate.as_ref().expect("a plate");
    assert_eq!(plate.bends.len(), 1);
    near(Some(plate.bends[0].inside_radius), 6.0, "inside radius");
    near(Some(plate.bends[0].angle), 90.0, "angle");
    let mut flanges: Vec<f64> = plate.flanges.iter().map(|q| q.value).collect();
    flanges.sort_by(f64::total_cmp);
    assert!((flanges[0] - 71.0).abs() < 0.01 && (flanges[1] - 91.0).abs() < 0.01);
    assert_eq!(plate.holes.len(), 2, "{:?}", plate.holes);
    let all = |code: Code| report.findings.iter().any(|f| f.code == code);
    assert!(all(Code::HoleDistorts), "{:?}", report.findings);
    assert!(!all(Code::NotDevelopable), "{:?}", report.findings);
    let volume = part.volume.expect("a volume");
    let drawn = truth["volume"].as_f64().unwrap();
    assert!(
        (volume.value - drawn).abs() < volume.plus_minus.max(0.005 * drawn),
        "{volume:?}, drawn {drawn}"
    );
}

#[test]
fn a_channel_gives_web_flanges_and_what_goes_through_each() {
    let (report, truth) = model("channel_window");
    let part = &report.parts[0];
    weighs_as_drawn(part, &truth);
    let member = part.member.as_ref().expect("a member");
    near(member.section.web_thickness, 5.0, "web");
    near(member.section.flange_thickness, 8.5, "flange");
    near(member.section.inner_corner_radius, 9.0, "root");
    assert_eq!(member.section.wall, None);
    // EN 10365:2017
    let stock = member.section.stock.as_ref().expect("a listed size");
    assert!(
        stock.exact && stock.designation.starts_with("PFC 100x50"),
        "{stock:?}"
    );
    let walls: Vec<(u32, Option<f64>)> = member
        .holes
        .iter()
        .map(|h| (h.walls, h.diameter.map(|q| q.value.round())))
        .collect();
    assert_eq!(walls, [(2, Some(13.0)), (1, Some(10.0)), (1, None)]);
    let window = &member.holes[2];
    near(window.length, 60.0, "window");
    near(window.width, 30.0, "window");
    near(window.corner_radius, 4.0, "its corners");
    near(window.metal, 5.0, "the web it is in");
}

#[test]
fn an_angle_is_drilled_through_one_leg() {
    let (report, truth) = model("angle_drilled");
    let part = &report.parts[0];
    weighs_as_drawn(part, &truth);
    let member = part.member.as_ref().expect("a member");
    near(member.section.wall, 8.0, "leg");
    near(member.section.corner_radius, 0.0, "heel, not the toes");
    near(member.section.inner_corner_radius, 10.0, "root");
    assert_eq!(member.holes.len(), 3);
    assert!(member.holes.iter().all(|h| h.walls == 1));
}

/// Eight sides at 45° are an octagon, however well a circle goes through their corners.
#[test]
fn a_regular_octagon_is_no_disc() {
    let octagon = plate_files::build::circle(Point2::origin(), 100.0, 8);
    let body = plate_files::build::extrude(&octagon, 8.0);
    let m = soapstone::plate::measure(&body, &soapstone::surface::segment(&body)).expect("a plate");
    assert_eq!(m.plate.outline.len(), 8);
    assert!(
        m.plate
            .outline
            .iter()
            .all(|s| matches!(s, Segment::Line { .. }))
    );
    let side = 200.0 * (std::f64::consts::PI / 8.0).sin();
    near(m.plate.flat.perimeter, 8.0 * side, "all round");
    assert!(m.findings.iter().any(|f| f.code == Code::ArcUnclear));
    // Sixteen are a disc.
    let disc = plate_files::build::circle(Point2::origin(), 100.0, 16);
    let body = plate_files::build::extrude(&disc, 8.0);
    let m = soapstone::plate::measure(&body, &soapstone::surface::segment(&body)).expect("a plate");
    assert_eq!(m.plate.outline.len(), 1);
}

//! DXF files read back by a library that did not write them: the same lengths, areas and holes.

use std::f64::consts::{PI, TAU};
use std::fs;
use std::path::Path;

use dxf::Drawing;
use dxf::entities::EntityType;
use soapstone::analysis::{Asked, analyse};
use soapstone::drawing::bulge;
use soapstone::drawing::dxf::{Edition, Form, dxf};
use soapstone::drawing::outline::cap::{Fit, cap};
use soapstone::drawing::outline::flat::{self, Hand};
use soapstone::drawing::outline::pilot::Pilot;
use soapstone::drawing::outline::{self, Plan};
use soapstone::drawing::scene::{Corner, NARROW, Place, Purpose, Scene, Shape};
use soapstone::measure::{STEEL_DENSITY, Show, Unit};
use soapstone::report::Report;

/// A closed contour as the library gave it back.
struct Contour {
    layer: String,
    length: f64,
    area: f64,
    arcs: usize,
    circle: Option<f64>,
}

fn read_back(text: &str) -> (Drawing, Vec<Contour>) {
    let drawing = Drawing::load(&mut text.as_bytes()).expect("a DXF the library reads");
    let contours = drawing.entities().filter_map(contour).collect();
    (drawing, contours)
}

fn contour(entity: &dxf::entities::Entity) -> Option<Contour> {
    let layer = entity.common.layer.clone();
    let corners: Vec<(f64, f64, f64)> = match &entity.specific {
        EntityType::Circle(c) => {
            return Some(Contour {
                layer,
                length: TAU * c.radius,
                area: PI * c.radius * c.radius,
                arcs: 1,
                circle: Some(2.0 * c.radius),
            });
        }
        EntityType::LwPolyline(p) => {
            assert!(p.is_closed(), "an open contour");
            p.vertices.iter().map(|v| (v.x, v.y, v.bulge)).collect()
        }
        EntityType::Polyline(p) => {
            assert!(p.is_closed(), "an open contour");
            p.vertices()
                .map(|v| (v.location.x, v.location.y, v.bulge))
                .collect()
        }
        _ => return None,
    };
    let (mut length, mut area, mut arcs) = (0.0, 0.0, 0);
    for (k, &(x, y, bulge)) in corners.iter().enumerate() {
        let (x2, y2, _) = corners[(k + 1) % corners.len()];
        let chord = f64::hypot(x2 - x, y2 - y);
        area += (x * y2 - x2 * y) / 2.0;
        if bulge == 0.0 {
            length += chord;
            continue;
        }
        // Radius from chord and angle, not by the road the writer took.
        let angle = 4.0 * bulge.atan();
        let radius = chord / 2.0 / (angle / 2.0).sin().abs();
        length += radius * angle.abs();
        area += radius * radius / 2.0 * (angle - angle.sin());
        arcs += 1;
    }
    Some(Contour {
        layer,
        length,
        area,
        arcs,
        circle: None,
    })
}

fn fixture(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/drawing")
        .join(name)
}

fn report(name: &str) -> Report {
    let bytes = fs::read(fixture(name)).expect("the fixture");
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    analyse(&bytes, name, &asked).expect("a model")
}

fn plan(report: &Report, hand: Hand, asked: &outline::Asked) -> Plan {
    let part = &report.parts[0];
    let plate = part.plate.as_ref().expect("a plate");
    outline::plan(part, plate, hand, asked, &report.findings).expect("an outline")
}

const PLAIN: outline::Asked = outline::Asked {
    show: Show::Millimetre,
    pilot: None,
};

const FORMS: [Form; 4] = [
    Form {
        edition: Edition::R12,
        unit: Unit::Millimetre,
    },
    Form {
        edition: Edition::Y2000,
        unit: Unit::Millimetre,
    },
    Form {
        edition: Edition::R12,
        unit: Unit::Inch,
    },
    Form {
        edition: Edition::Y2000,
        unit: Unit::Inch,
    },
];

fn near(got: f64, want: f64, within: f64, what: &str) {
    assert!((got - want).abs() <= within, "{what}: {got}, not {want}");
}

/// Sizes of `sample_plate.json`, beside the two files it describes.
#[test]
fn the_sample_plate_comes_back_from_both_editions() {
    let corner = |x: f64, y: f64, bulge: f64| Corner {
        at: Place::new(x, y),
        bulge,
    };
    let round = (PI / 8.0).tan();
    let outer = vec![
        corner(15.0, 0.0, 0.0),
        corner(185.0, 0.0, round),
        corner(200.0, 15.0, 0.0),
        corner(200.0, 105.0, round),
        corner(185.0, 120.0, 0.0),
        corner(15.0, 120.0, round),
        corner(0.0, 105.0, 0.0),
        corner(0.0, 15.0, round),
    ];
    let mut scene = Scene::default();
    let hole = Shape::Circle {
        centre: Place::new(60.0, 60.0),
        radius: 15.0,
    };
    scene.stroke(Purpose::CutInside, NARROW, hole);
    let outer = Shape::Path {
        corners: outer,
        closed: true,
    };
    scene.stroke(Purpose::CutOutside, NARROW, outer);
    for form in FORMS {
        let unit = form.unit.millimetres();
        let (_, contours) = read_back(&dxf(&scene, form));
        let [hole, outer] = contours.as_slice() else {
            panic!("{} contours", contours.len());
        };
        near(
            outer.length * unit,
            614.247_779_607_693_8,
            1e-6,
            "outline length",
        );
        near(
            hole.length * unit,
            94.247_779_607_693_79,
            1e-6,
            "hole length",
        );
        let net = (outer.area - hole.area) * unit * unit;
        near(net, 23_100.0, 1e-4, "net area");
        assert_eq!((outer.arcs, outer.layer.as_str()), (4, "CUT-OUTSIDE"));
        assert_eq!(hole.layer, "CUT-INSIDE");
    }
    // The reader of this test on the file made elsewhere.
    let text = fs::read_to_string(fixture("sample_plate_2000.dxf")).expect("the fixture");
    let (_, contours) = read_back(&text);
    let length: f64 = contours.iter().map(|c| c.length).sum();
    near(
        length,
        708.495_559_215_387_6,
        1e-6,
        "cut length of the sample",
    );
}

/// Design values of the plate, from the exact model it was made of.
#[test]
fn a_plate_with_slots_and_an_opening() {
    let report = report("saddle_plate_01.stl");
    let plan = plan(&report, Hand::AsModelled, &PLAIN);
    for form in FORMS {
        let unit = form.unit.millimetres();
        let (drawing, contours) = read_back(&dxf(&plan.scene, form));
        let length: f64 = contours.iter().map(|c| c.length).sum();
        near(length * unit, 1_433.446_431, 0.02, "length of all cuts");
        let (outer, inner) = contours.split_last().expect("contours");
        assert_eq!(outer.layer, "CUT-OUTSIDE");
        assert!(inner.iter().all(|c| c.layer == "CUT-INSIDE"));
        assert_eq!(inner.len(), 5);
        near(outer.length * unit, 859.269_463, 0.02, "outer contour");
        let net = outer.area.abs() - inner.iter().map(|c| c.area.abs()).sum::<f64>();
        near(net * unit * unit, 43_395.462, 2.0, "net area");
        let mut circles: Vec<f64> = inner.iter().filter_map(|c| c.circle).collect();
        circles.sort_by(f64::total_cmp);
        near(circles[0] * unit, 18.0, 0.01, "a round hole");
        near(circles[1] * unit, 22.0, 0.01, "a round hole");
        // A slot is two lines and two arcs, not a row of chords.
        let slots = inner.iter().filter(|c| c.arcs == 2 && c.circle.is_none());
        assert_eq!(slots.count(), 2);
        let code = match form.unit {
            Unit::Inch => dxf::enums::Units::Inches,
            _ => dxf::enums::Units::Millimeters,
        };
        if form.edition == Edition::Y2000 {
            assert_eq!(drawing.header.default_drawing_units, code);
        }
    }
}

#[test]
fn the_opposite_hand_is_the_mirror_image_and_stays_anticlockwise() {
    let report = report("saddle_plate_01.stl");
    let own = plan(&report, Hand::AsModelled, &PLAIN);
    let other = plan(&report, Hand::Opposite, &PLAIN);
    near(other.cut_length, own.cut_length, 1e-9, "length of all cuts");
    near(other.area, own.area, 1e-6, "net area");
    let outer = |plan: &Plan| {
        let found = plan
            .scene
            .items
            .iter()
            .find(|item| item.purpose == Purpose::CutOutside);
        match found.map(|item| item.shape.clone()) {
            Some(Shape::Path { corners, .. }) => corners,
            _ => panic!("no outer contour"),
        }
    };
    let (a, b) = (outer(&own), outer(&other));
    assert!(bulge::area(&a) > 0.0 && bulge::area(&b) > 0.0);
    let centroid =
        |corners: &[Corner]| corners.iter().map(|c| c.at.x).sum::<f64>() / corners.len() as f64;
    near(
        centroid(&a) + centroid(&b),
        300.0,
        0.02,
        "mirrored about the middle",
    );
}

#[test]
fn countersinks_are_marked_and_small_holes_cut_as_pilots() {
    let report = report("cover_csk_01_t005.stl");
    let asked = outline::Asked {
        pilot: Some(Pilot {
            under: 12.0,
            diameter: Some(3.0),
        }),
        ..PLAIN
    };
    let count = |plan: &Plan, layer: &str| {
        let (_, contours) = read_back(&dxf(&plan.scene, FORMS[1]));
        let mut sizes: Vec<f64> = contours
            .iter()
            .filter(|c| c.layer == layer)
            .filter_map(|c| c.circle.map(|d| (d * 100.0).round() / 100.0))
            .collect();
        sizes.sort_by(f64::total_cmp);
        sizes
    };
    let own = plan(&report, Hand::AsModelled, &PLAIN);
    assert_eq!(count(&own, "CUT-INSIDE"), [6.6, 6.6, 20.0]);
    assert_eq!(count(&own, "MARK"), [13.0, 13.0]);
    let smaller = plan(&report, Hand::AsModelled, &asked);
    assert_eq!(count(&smaller, "CUT-INSIDE"), [3.0, 3.0, 20.0]);
    let words: Vec<&str> = smaller.scene.texts().map(|t| t.words.as_str()).collect();
    assert!(
        words.contains(&"2 holes cut as pilot 3: drill to 6.6"),
        "{words:?}"
    );
}

#[test]
fn bend_lines_say_which_way_and_how_far() {
    let report = report("hat_tray_01.stl");
    let plan = plan(&report, Hand::AsModelled, &PLAIN);
    let count = |purpose| {
        let items = plan.scene.items.iter();
        items.filter(|item| item.purpose == purpose).count()
    };
    assert_eq!((count(Purpose::BendUp), count(Purpose::BendDown)), (2, 2));
    for angle in ["45°", "60°"] {
        let told = plan.scene.texts().filter(|t| t.words.contains(angle));
        assert_eq!(told.count(), 2, "{angle}");
    }
}

#[test]
fn bulge_to_centre_radius_and_length() {
    let mut rows = csv::Reader::from_path(fixture("dxf_bulge.csv")).expect("the fixture");
    let mut seen = 0;
    for row in rows.records() {
        let row = row.expect("a row");
        let n: Vec<f64> = row.iter().map(|t| t.parse().expect("a number")).collect();
        let (from, to) = (Place::new(n[0], n[1]), Place::new(n[2], n[3]));
        let exact = (n[4].to_radians() / 4.0).tan();
        near(exact, n[5], 1e-6, "bulge");
        let arc = bulge::arc(from, to, exact).expect("an arc");
        near(arc.radius, n[6], 1e-6, "radius");
        near(arc.centre.x, n[7], 1e-6, "centre");
        near(arc.centre.y, n[8], 1e-6, "centre");
        near(arc.radius * arc.sweep.abs(), n[9], 1e-6, "arc length");
        seen += 1;
    }
    assert_eq!(seen, 7);
}

/// A tube cut by a plane: the section's area over the cosine of the cut; parallel curves by
/// Steiner's formula, area less perimeter times the distance plus π times its square.
#[test]
fn caps_have_the_area_of_their_cut() {
    let report = report("strut_01_t10.stl");
    let member = report.parts[0].member.as_ref().expect("a member");
    let cosine = (40.07_f64).to_radians().cos();
    let full = cap(member, 0, Fit::Outside(0.0)).expect("a cap");
    let area = PI * 24.15 * 24.15 / cosine;
    near(flat::area(&full.shape), area, 1.0, "cap on the cut");
    assert!(full.departure <= 0.01);
    let less = cap(member, 0, Fit::Outside(2.0)).expect("a cap");
    let want = flat::area(&full.shape) - 2.0 * flat::length(&full.shape) + 4.0 * PI;
    near(flat::area(&less.shape), want, 0.1, "cap less 2 all round");
    let inside = cap(member, 1, Fit::Inside(0.5)).expect("a cap");
    let want = PI * 20.45 * 20.45 / (45.0_f64).to_radians().cos();
    near(flat::area(&inside.shape), want, 1.0, "plug");

    let report = self::report("beam_01_t02.stl");
    let member = report.parts[0].member.as_ref().expect("a member");
    let full = cap(member, 0, Fit::Outside(0.0)).expect("a cap");
    // Tilts of 30° and 20°: 1/cos of the cut = sqrt(1 + tan²30 + tan²20).
    let slope = (1.0_f64 + 1.0 / 3.0 + (20.0_f64).to_radians().tan().powi(2)).sqrt();
    let section = 80.0 * 40.0 - (4.0 - PI) * 7.0 * 7.0;
    near(
        flat::area(&full.shape),
        section * slope,
        1.0,
        "compound cut",
    );
}

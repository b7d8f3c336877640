//! Models that show only the outside of a piece: a solid bar is not claimed where a tube may be meant.

use soapstone::analysis::{Asked, analyse};
use soapstone::finding::Code;
use soapstone::measure::STEEL_DENSITY;
use soapstone::member::Shape;
use soapstone::report::Report;

fn read(obj: &str) -> Report {
    let asked = Asked {
        mm_per_unit: Some(1.0),
        density: STEEL_DENSITY,
    };
    analyse(obj.as_bytes(), "skin.obj", &asked).expect("a model")
}

/// A prism 500 long over points of a section, with a face on as many of its ends as asked for.
fn prism(section: &[(f64, f64)], faces: usize) -> String {
    let n = section.len();
    let mut text = String::new();
    for z in [0.0, 500.0] {
        for (x, y) in section {
            text += &format!("v {x} {y} {z}\n");
        }
    }
    for k in 0..n {
        let next = (k + 1) % n;
        text += &format!("f {} {} {} {}\n", k + 1, next + 1, n + next + 1, n + k + 1);
    }
    let ring = |from: usize| (1..=n).map(move |k| format!(" {}", from + k));
    if faces > 0 {
        text += &format!("f{}\n", ring(0).rev().collect::<String>());
    }
    if faces > 1 {
        text += &format!("f{}\n", ring(n).collect::<String>());
    }
    text
}

fn circle(radius: f64) -> Vec<(f64, f64)> {
    (0..48)
        .map(|k| (std::f64::consts::TAU * k as f64 / 48.0).sin_cos())
        .map(|(s, c)| (radius * c, radius * s))
        .collect()
}

const BOX: [(f64, f64); 4] = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)];

fn told(report: &Report) -> bool {
    report
        .findings
        .iter()
        .any(|f| f.code == Code::WallNotVisible)
}

#[test]
fn an_open_skin_has_neither_wall_nor_mass() {
    for (section, shape) in [(&circle(24.15)[..], Shape::Round), (&BOX[..], Shape::Rect)] {
        let report = read(&prism(section, 0));
        let part = &report.parts[0];
        let s = &part.member.as_ref().unwrap().section;
        assert_eq!(s.shape, shape);
        assert!(s.wall.is_none() && s.area.is_none() && part.mass.is_none());
        assert!(told(&report));
    }
}

#[test]
fn one_full_end_shows_a_solid_bar() {
    for faces in [1, 2] {
        let report = read(&prism(&circle(24.15), faces));
        let part = &report.parts[0];
        let s = &part.member.as_ref().unwrap().section;
        assert_eq!(s.shape, Shape::RoundBar, "{faces}");
        assert!(part.mass.is_some() && !told(&report));
    }
}

#[test]
fn rings_on_the_ends_show_the_wall() {
    let mut text = prism(&circle(30.0), 0);
    for (z, end) in [(0.0, 0), (500.0, 48)] {
        let first = 96 + end + 1;
        for (x, y) in circle(27.0) {
            text += &format!("v {x} {y} {z}\n");
        }
        for k in 0..48 {
            let next = (k + 1) % 48;
            let quad = [end + k + 1, end + next + 1, first + next, first + k];
            let quad = if end == 0 {
                [quad[3], quad[2], quad[1], quad[0]]
            } else {
                quad
            };
            // the outer ring of the skin runs anticlockwise seen from above
            let quad = [quad[0], quad[1], quad[2], quad[3]].map(|v| v.to_string());
            text += &format!("f {}\n", quad.join(" "));
        }
    }
    let report = read(&text);
    let part = &report.parts[0];
    let s = &part.member.as_ref().unwrap().section;
    assert_eq!(s.shape, Shape::Round);
    let wall = s.wall.unwrap();
    assert!((wall.value - 3.0).abs() < wall.plus_minus, "{wall:?}");
    // π (30² − 27²) 500 mm³ of steel
    let mass = part.mass.unwrap();
    let want = std::f64::consts::PI * 171.0 * 500.0 * STEEL_DENSITY * 1e-9;
    assert!(
        (mass.value - want).abs() < mass.plus_minus,
        "{mass:?} {want}"
    );
    assert!(told(&report));
}

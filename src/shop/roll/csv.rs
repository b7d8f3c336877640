//! The roll sheet as CSV: one row per number, for a spreadsheet.

use ::csv::{Error, Writer};

use super::RollSheet;
use crate::measure::{Quantity, Show, decimals};
use crate::shop::curved::Side;

const HEADS: [&str; 7] = ["kind", "of", "face", "gauge", "at", "value", "plus_minus"];

/// The sheet as CSV with a head line; lengths in mm or decimal inches, as the heads say.
pub fn csv(sheet: &RollSheet, show: Show) -> Result<String, Error> {
    let unit = show.length_symbol();
    let factor = show.per_millimetre();
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record(HEADS.iter().enumerate().map(|(k, head)| match k {
        3.. => format!("{head}_{unit}"),
        _ => (*head).to_owned(),
    }))?;
    let number = |mm: f64| format!("{:.4}", mm * factor);
    let pair = |q: Quantity| {
        let q = q.scaled(factor);
        let places = decimals(q.plus_minus / 10.0, 6);
        [
            format!("{:.places$}", q.value),
            format!("{:.places$}", q.plus_minus),
        ]
    };
    let mut row = |kind: &str, of: &str, face: &str, gauge: &str, at: &str, value: [String; 2]| {
        let [value, plus_minus] = value;
        writer.write_record([kind, of, face, gauge, at, &value, &plus_minus])
    };
    row("blank", &sheet.part, "", "", "", pair(sheet.blank))?;
    row(
        "developed length",
        &sheet.part,
        "",
        "",
        "",
        pair(sheet.blank_made_of.developed),
    )?;
    for mark in &sheet.marks {
        let across = mark.across.map_or_else(String::new, |q| number(q.value));
        row("mark", &mark.what, "", "", &across, pair(mark.at))?;
    }
    for reading in &sheet.readings {
        let (arc, face) = (reading.arc.to_string(), side(reading.on));
        let gauge = number(reading.chord);
        for stage in &reading.stages {
            let radius = stage.centreline_radius.map_or_else(String::new, number);
            let kind = format!("reading at {:.0} %", 100.0 * stage.share);
            row(
                &kind,
                &arc,
                face,
                &gauge,
                &radius,
                [number(stage.rise), String::new()],
            )?;
        }
        row("target reading", &arc, face, &gauge, "", pair(reading.rise))?;
        row(
            "slow down",
            &arc,
            face,
            &gauge,
            "",
            [number(reading.slow), String::new()],
        )?;
        row(
            "never pass",
            &arc,
            face,
            &gauge,
            "",
            [number(reading.stop), String::new()],
        )?;
    }
    let arc = sheet.template.arc.to_string();
    let face = side(sheet.template.on);
    for ordinate in &sheet.ordinates {
        let at = number(ordinate.x);
        row(
            "ordinate",
            &arc,
            face,
            "",
            &at,
            [number(ordinate.y), String::new()],
        )?;
        row(
            "below crown tangent",
            &arc,
            face,
            "",
            &at,
            [number(ordinate.from_tangent), String::new()],
        )?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|failed| Error::from(failed.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn side(side: Side) -> &'static str {
    match side {
        Side::Outside => "outside",
        Side::Inside => "inside",
        Side::Centreline => "centreline",
    }
}

//! The answer as CSV, one row per size compared.

use ::csv::{Error, Writer};

use super::{Answer, Evidence, Verdict};
use crate::measure::{Quantity, Show};

/// The answer as CSV with a head line; lengths in mm or decimal inches, as the column unit says.
pub fn csv(answer: &Answer, show: Show) -> Result<String, Error> {
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record([
        "part",
        "what",
        "answer",
        "unit",
        "asked",
        "made",
        "deviation",
        "plus_minus",
        "tolerance",
    ])?;
    let length = (show.per_millimetre(), show.length_symbol());
    let mut row = |what: &str,
                   verdict: Option<Verdict>,
                   unit: (f64, &str),
                   asked: f64,
                   made: f64,
                   off: Quantity,
                   tolerance: Option<f64>| {
        let number = |value: f64| format!("{:.4}", value * unit.0);
        writer.write_record([
            answer.part.as_str(),
            what,
            verdict.map_or("", word),
            unit.1,
            &number(asked),
            &number(made),
            &number(off.value),
            &number(off.plus_minus),
            &tolerance.map_or_else(String::new, number),
        ])
    };
    let sizes = answer.scan.iter().flat_map(|scan| &scan.sizes);
    for size in sizes {
        if let (Some(made), Some(off)) = (size.made, size.off) {
            let unit = if size.unit == "deg" {
                (1.0, "deg")
            } else {
                length
            };
            row(
                &size.what,
                None,
                unit,
                size.asked.value,
                made.value,
                off,
                None,
            )?;
        }
    }
    for line in &answer.lines {
        let unit = if line.unit == "deg" {
            (1.0, "deg")
        } else {
            length
        };
        row(
            &line.what,
            Some(line.verdict),
            unit,
            line.asked.value,
            line.measured.value,
            line.deviation,
            line.tolerance,
        )?;
    }
    if let (Some(off), false) = (answer.deviation, answer.evidence == Evidence::Measured) {
        let asked = match (&answer.reading, &answer.points) {
            (Some(reading), _) => reading.asked.value,
            (None, Some(points)) => points.asked.value,
            (None, None) => 0.0,
        };
        let what = if answer.evidence == Evidence::Scan {
            "largest distance"
        } else {
            "rise"
        };
        row(
            what,
            Some(answer.verdict),
            length,
            asked,
            asked + off.value,
            off,
            answer.tolerance,
        )?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|failed| Error::from(failed.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Yes => "yes",
        Verdict::No => "no",
        Verdict::Unclear => "unclear",
    }
}

//! Sizes read by hand, one line each, and the template to fill them into.

use schemars::JsonSchema;
use serde::Serialize;

use super::decision::{all, verdict};
use super::items::{Item, Kind, items};
use super::{Answer, Evidence, Tolerance, Verdict};
use crate::measure::{Quantity, Show, Unit, decimals, quantity};
use crate::report::{Report, ReportedPart};
use crate::shop::columns::{Columns, Row};
use crate::shop::nearest::nearest;
use crate::shop::text::{fine, with_unit};
use crate::shop::{Origin, Refused};

/// Error of a reading when nobody says: tape or rule, mm; protractor, degrees. Common practice, no source.
const TAPE: f64 = 0.5;
const PROTRACTOR: f64 = 0.5;

/// One size, read and judged. In mm, or in degrees.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Line {
    /// Name of the size.
    pub what: String,
    /// "mm" or "deg".
    pub unit: String,
    /// What was asked.
    pub asked: Quantity,
    /// What was read, with its error.
    pub measured: Quantity,
    /// Measured less asked.
    pub deviation: Quantity,
    /// Tolerance; null where none is known, which makes the line unclear.
    pub tolerance: Option<f64>,
    /// Within, out, or can't be told.
    pub verdict: Verdict,
}

/// What the fabricator says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Tolerance of lengths that bring none of their own.
    pub tolerance: Option<Tolerance>,
    /// Tolerance of angles that bring none of their own, degrees.
    pub angle_tolerance: Option<f64>,
    /// Error of one reading of a length, mm, where a line brings none.
    pub error: Option<f64>,
    /// Unit of bare numbers and of the sentences.
    pub show: Show,
}

/// A CSV to fill in: a line for every size of the part that can be read by hand.
pub fn template(part: &ReportedPart, show: Show) -> Result<String, Refused> {
    let items = items(part);
    if items.is_empty() {
        return Err(Refused::new(
            format!("{} has no size that could be read by hand.", part.mark),
            "Ask for another part.",
        ));
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut rows = vec![["what", "asked", "unit", "measured", "reading", "tol"].map(str::to_owned)];
    for item in &items {
        let (factor, unit) = unit_of(item.kind, show);
        let asked = item.asked.scaled(factor);
        let places = decimals(asked.plus_minus, 3).max(1);
        rows.push([
            item.what.clone(),
            format!("{:.places$}", asked.value),
            unit.to_owned(),
            String::new(),
            String::new(),
            String::new(),
        ]);
    }
    let failed = |why: csv::Error| {
        Refused::new(
            format!("The template can't be written: {why}."),
            "Report the model.",
        )
    };
    for row in &rows {
        writer.write_record(row).map_err(failed)?;
    }
    let bytes = writer.into_inner().unwrap_or_default();
    let head = format!(
        "# Part {}. Fill in the column measured, and where you like the error of that reading (95 in 100 lie within it) and a tolerance.\n# Lines left empty are not judged. Bare numbers are in the unit of their line.\n",
        part.mark
    );
    Ok(head + &String::from_utf8_lossy(&bytes))
}

fn unit_of(kind: Kind, show: Show) -> (f64, &'static str) {
    match kind {
        Kind::Length => (show.per_millimetre(), show.length_symbol()),
        Kind::Angle => (1.0, "deg"),
    }
}

/// Judges a filled-in template.
pub fn check(
    report: &Report,
    part: &ReportedPart,
    text: &[u8],
    asked: &Asked,
) -> Result<Answer, Refused> {
    let file = Columns::read(text, &[])?;
    let known = items(part);
    let (what, measured) = (file.need("what")?, file.need("measured")?);
    let mut answer = Answer::blank(
        part,
        Evidence::Measured,
        Origin::of(report, &[&part.mark]),
        asked.show,
    );
    let mut assumed = false;
    for row in &file.rows {
        if row.text(measured).is_empty() {
            continue;
        }
        let item = find(&known, row.text(what), row.line)?;
        answer
            .lines
            .push(line(&file, row, item, asked, &mut assumed)?);
    }
    if answer.lines.is_empty() {
        return Err(Refused::new(
            "No line of the file has a number in its column measured.",
            "Fill in what you read; `check --template` writes the lines.",
        ));
    }
    answer.verdict = all(answer.lines.iter().map(|line| line.verdict));
    let worst = answer
        .lines
        .iter()
        .max_by(|a, b| share(a).total_cmp(&share(b)));
    answer.deviation = worst.map(|line| line.deviation);
    answer.tolerance = worst.and_then(|line| line.tolerance);
    answer.reasons = reasons(&answer.lines, asked.show);
    if assumed {
        answer.reasons.push(format!(
            "Where no error of a reading was given, {} and {PROTRACTOR}° were taken.",
            with_unit(TAPE, asked.show)
        ));
    }
    Ok(answer)
}

/// How much of its tolerance a line takes up.
fn share(line: &Line) -> f64 {
    line.deviation.value.abs() / line.tolerance.unwrap_or(f64::INFINITY)
}

fn find<'a>(known: &'a [Item], what: &str, number: u64) -> Result<&'a Item, Refused> {
    let same = |item: &&Item| item.what.eq_ignore_ascii_case(what.trim());
    known.iter().find(same).ok_or_else(|| {
        let remedy = nearest(what, known.iter().map(|item| item.what.as_str())).map_or_else(
            || "`check --template` writes the sizes of the part.".to_owned(),
            |near| format!("Do you mean \"{near}\"? `check --template` writes them all."),
        );
        Refused::new(
            format!("Line {number}: the part has no size called \"{what}\"."),
            remedy,
        )
    })
}

fn line(
    file: &Columns,
    row: &Row,
    item: &Item,
    asked: &Asked,
    assumed: &mut bool,
) -> Result<Line, Refused> {
    let bare = unit(file, row, item, asked.show)?;
    let number = |column: usize| match (item.kind, bare) {
        (Kind::Length, Some(bare)) => row.length(column, bare),
        _ => row.number(column),
    };
    let cell = |name: &str| {
        file.find(&[name])
            .filter(|column| !row.text(*column).is_empty())
            .map(number)
            .transpose()
    };
    same_part(item, cell("asked")?, row.line, asked.show)?;
    let value = number(file.need("measured")?)?;
    let fallback = match item.kind {
        Kind::Length => asked.error,
        Kind::Angle => None,
    };
    let error = cell("reading")?.or(fallback).unwrap_or_else(|| {
        *assumed = true;
        match item.kind {
            Kind::Length => TAPE,
            Kind::Angle => PROTRACTOR,
        }
    });
    let measured = quantity(value, error);
    let deviation = quantity(value - item.asked.value, error.hypot(item.asked.plus_minus));
    let tolerance = cell("tol")?.or_else(|| tolerance(item, asked));
    Ok(Line {
        what: item.what.clone(),
        unit: unit_of(item.kind, Show::Millimetre).1.to_owned(),
        asked: item.asked,
        measured,
        deviation,
        tolerance,
        verdict: tolerance.map_or(Verdict::Unclear, |limit| verdict(deviation, limit)),
    })
}

/// Unit of bare lengths in a row; `None` for an angle.
fn unit(file: &Columns, row: &Row, item: &Item, show: Show) -> Result<Option<Unit>, Refused> {
    let text = file.find(&["unit"]).map_or("", |column| row.text(column));
    let wrong =
        |why: String| Refused::new(format!("Line {}: {why}.", row.line), "Correct the file.");
    match item.kind {
        Kind::Angle if text.is_empty() || matches!(text, "deg" | "°") => Ok(None),
        Kind::Angle => Err(wrong(format!("an angle is read in deg, not in \"{text}\""))),
        Kind::Length if text.is_empty() => Ok(Some(show.bare_unit())),
        Kind::Length => text
            .parse()
            .map(Some)
            .map_err(|why| wrong(format!("{why}"))),
    }
}

/// A file filled in for another part or another unit must not be judged.
fn same_part(item: &Item, asked: Option<f64>, line: u64, show: Show) -> Result<(), Refused> {
    let Some(asked) = asked else {
        return Ok(());
    };
    // What rounding in the template can lose, in mm or degrees.
    let slack = item.asked.plus_minus + 0.06 / show.per_millimetre().min(1.0);
    if (asked - item.asked.value).abs() <= slack {
        return Ok(());
    }
    Err(Refused::new(
        format!(
            "Line {line}: \"{}\" is {:.2} in the file but {:.2} in the model.",
            item.what, asked, item.asked.value
        ),
        "The file was filled in for another part, model or unit: write a new one with `check --template`.",
    ))
}

fn tolerance(item: &Item, asked: &Asked) -> Option<f64> {
    match (item.kind, asked.tolerance) {
        (Kind::Length, Some(Tolerance::Given(mm))) => Some(mm),
        (Kind::Length, Some(Tolerance::Class(class))) => class.linear(item.asked.value),
        (Kind::Angle, Some(Tolerance::Class(class))) => {
            asked.angle_tolerance.or_else(|| class.angular(item.leg?))
        }
        (Kind::Angle, _) => asked.angle_tolerance,
        (Kind::Length, None) => None,
    }
}

fn reasons(lines: &[Line], show: Show) -> Vec<String> {
    let mut reasons = Vec::new();
    for line in lines.iter().filter(|line| line.verdict != Verdict::Yes) {
        let off = line.deviation.value;
        let size = match line.unit.as_str() {
            "deg" => format!("{:.2}°", off.abs()),
            _ => with_unit(off.abs(), fine(show)),
        };
        let way = if off > 0.0 { "too large" } else { "too small" };
        reasons.push(match (line.verdict, line.tolerance) {
            (Verdict::No, _) => format!("{}: {size} {way}, outside the tolerance.", line.what),
            (_, None) => format!(
                "{}: no tolerance is known for it; give one with --tol, --angle-tol, --class or in the column tol.",
                line.what
            ),
            _ => format!("{}: {size} {way}; the error of the reading leaves open whether that is within.", line.what),
        });
    }
    if reasons.is_empty() {
        reasons.push(
            "Every line lies within its tolerance, whatever the error of the readings.".into(),
        );
    }
    reasons
}

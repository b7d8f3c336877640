//! What the passes so far say: how fast the reading grows, and how much further to go.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Reading, RollSheet};
use crate::geometry::statistics::student_95;
use crate::measure::{Quantity, Unit, quantity};
use crate::shop::Refused;
use crate::shop::columns::{Columns, Row};

/// One pass: how far the roll was set (or its number), and what the gauge read afterwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pass {
    /// Setting of the roll in the shop's own unit, or the number of the pass.
    pub setting: f64,
    /// Reading, mm.
    pub reading: f64,
}

/// How far the work has come. The settings are in the unit of the log.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Progress {
    /// Passes read.
    pub passes: usize,
    /// Passes the growth was taken from, the latest.
    pub used: usize,
    /// What the steps are counted in: "pass" or "setting".
    pub by: String,
    /// Growth of the reading for one step, mm.
    pub growth: Quantity,
    /// Latest reading, mm.
    pub latest: f64,
    /// Reading still to gain to the target, mm.
    pub to_gain: f64,
    /// Steps from the latest pass to the target.
    pub further: Quantity,
    /// Steps that are safe to go before reading again: short of the target by ±.
    pub safe: f64,
    /// The same as one sentence.
    pub words: String,
}

/// Most passes of a log: the oldest are dropped one by one, which takes the square of them.
const MOST: usize = 5_000;

/// Passes out of a CSV with a column `reading` and a column `setting` or `pass` (their order, where
/// neither is there); true when the steps are settings. Bare readings are in `bare`.
pub fn read_log(text: &[u8], bare: Unit) -> Result<(Vec<Pass>, bool), Refused> {
    let file = Columns::read(text, &["reading"])?;
    let reading = file.need("reading")?;
    if file.rows.len() > MOST {
        return Err(Refused::new(
            format!("The log has {} passes.", file.rows.len()),
            format!("Give those of one piece, {MOST} at most."),
        ));
    }
    let setting = file.find(&["setting"]);
    let steps = setting.or_else(|| file.find(&["pass"]));
    let one = |(place, row): (usize, &Row)| {
        Ok(Pass {
            setting: match steps {
                Some(column) => row.number(column)?,
                None => place as f64 + 1.0,
            },
            reading: row.length(reading, bare)?,
        })
    };
    let passes: Result<Vec<Pass>, Refused> = file.rows.iter().enumerate().map(one).collect();
    Ok((passes?, setting.is_some()))
}

/// Fits the passes and fills in [`RollSheet::progress`], against the first reading of the sheet.
/// `error` is the 95 % half-width of a reading, mm; `by_setting` says what the steps are.
///
/// A straight line through reading over setting; while a parabola fits the passes significantly
/// better, the oldest pass is dropped. ± is the 95 % interval of the setting at which the line
/// meets the target, from the scatter of the passes (Student's t), never narrower than `error`
/// alone makes it.
pub fn with_progress(
    mut sheet: RollSheet,
    passes: &[Pass],
    by_setting: bool,
    error: f64,
) -> Result<RollSheet, Refused> {
    let target = sheet.readings.first().ok_or_else(|| {
        Refused::new(
            "No gauge reading suits this arc, so the log can't be compared with one.",
            "Give the gauge the log was read with, as in --gauge 300mm.",
        )
    })?;
    sheet.progress = Some(progress(passes, target, by_setting, error)?);
    Ok(sheet)
}

fn progress(
    passes: &[Pass],
    target: &Reading,
    by_setting: bool,
    error: f64,
) -> Result<Progress, Refused> {
    if passes.len() < 3 {
        return Err(Refused::new(
            format!(
                "The log has {} and the growth can't be told from fewer than three.",
                match passes.len() {
                    0 => "no pass".to_owned(),
                    1 => "one pass".to_owned(),
                    n => format!("{n} passes"),
                }
            ),
            "Go on in small steps and write down each reading.",
        ));
    }
    let mut used = passes;
    while used.len() > 3 && bent(used, error) {
        used = used.get(1..).unwrap_or_default();
    }
    let line = Line::through(used, error).ok_or_else(|| {
        Refused::new(
            "All passes of the log have the same setting.",
            "Write down the number of the pass or the setting of the roll, one that changes.",
        )
    })?;
    if line.slope <= line.slope_doubt {
        return Err(Refused::new(
            "The readings of the log don't grow beyond their own scatter.",
            "Check that the piece is read free and in the same place each time, and go on in small steps.",
        ));
    }
    let last = passes[passes.len() - 1];
    let (further, safe) = line.steps_to(target.rise.value, last);
    let by = if by_setting { "setting" } else { "pass" };
    let to_gain = target.rise.value - last.reading;
    Ok(Progress {
        passes: passes.len(),
        used: used.len(),
        by: by.to_owned(),
        growth: quantity(line.slope, line.slope_doubt),
        latest: last.reading,
        to_gain,
        further,
        safe,
        words: words(to_gain, further, safe, by, last.reading > target.stop),
    })
}

fn words(to_gain: f64, further: Quantity, safe: f64, by: &str, passed: bool) -> String {
    if passed {
        return "The latest reading is past the one never to pass: stop, and check the piece."
            .to_owned();
    }
    if to_gain <= 0.0 {
        return "The target is reached: stop, and check the piece.".to_owned();
    }
    let (value, doubt) = (further.value, further.plus_minus);
    let (further, safe) = match by {
        "pass" => (
            format!("About {value:.1} ±{doubt:.1} more passes like the last ones to the target"),
            safe.floor(),
        ),
        _ => (
            format!("About {value:.2} ±{doubt:.2} more on the setting to the target"),
            safe,
        ),
    };
    match safe {
        safe if safe <= 0.0 => format!(
            "{further}, too little to go by the log: take the lightest step there is and read again."
        ),
        safe => format!(
            "{further}; go no more than {safe}, then read again.",
            safe = short(safe)
        ),
    }
}

fn short(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Straight line of reading over setting.
struct Line {
    count: f64,
    mean_setting: f64,
    mean_reading: f64,
    slope: f64,
    slope_doubt: f64,
    spread: f64,
    /// 95 % half-width of one reading, by its scatter or by its stated error.
    reading_doubt: f64,
}

impl Line {
    fn through(passes: &[Pass], error: f64) -> Option<Line> {
        let count = passes.len() as f64;
        let mean = |of: fn(&Pass) -> f64| passes.iter().map(of).sum::<f64>() / count;
        let (mean_setting, mean_reading) = (mean(|p| p.setting), mean(|p| p.reading));
        let spread: f64 = passes
            .iter()
            .map(|p| (p.setting - mean_setting).powi(2))
            .sum();
        if spread.is_nan() || spread <= 0.0 {
            return None;
        }
        let slope = passes
            .iter()
            .map(|p| (p.setting - mean_setting) * (p.reading - mean_reading))
            .sum::<f64>()
            / spread;
        let squares: f64 = passes
            .iter()
            .map(|p| (p.reading - mean_reading - slope * (p.setting - mean_setting)).powi(2))
            .sum();
        let freedom = passes.len().saturating_sub(2).max(1);
        let scatter = (squares / freedom as f64).sqrt() * student_95(freedom);
        let reading_doubt = scatter.max(error);
        Some(Line {
            count,
            mean_setting,
            mean_reading,
            slope,
            slope_doubt: reading_doubt / spread.sqrt(),
            spread,
            reading_doubt,
        })
    }

    /// Steps from the last pass to where the line meets the target, and how many are safe.
    fn steps_to(&self, target: f64, last: Pass) -> (Quantity, f64) {
        let setting = self.mean_setting + (target - self.mean_reading) / self.slope;
        let off = setting - self.mean_setting;
        let doubt = self.reading_doubt / self.slope
            * (1.0 + 1.0 / self.count + off * off / self.spread).sqrt();
        let further = quantity(setting - last.setting, doubt);
        (further, (further.value - further.plus_minus).max(0.0))
    }
}

/// True when the passes follow a parabola significantly better than a straight line.
fn bent(passes: &[Pass], error: f64) -> bool {
    let Some(line) = Line::through(passes, error) else {
        return false;
    };
    // Part of the squares of the settings that a straight line does not already explain.
    let square = |p: &Pass| (p.setting - line.mean_setting).powi(2);
    let count = line.count;
    let mean = passes.iter().map(square).sum::<f64>() / count;
    let tilt = passes
        .iter()
        .map(|p| (p.setting - line.mean_setting) * square(p))
        .sum::<f64>()
        / line.spread;
    let curved = |p: &Pass| square(p) - mean - tilt * (p.setting - line.mean_setting);
    let spread: f64 = passes.iter().map(|p| curved(p).powi(2)).sum();
    if spread.is_nan() || spread <= 1e-12 * line.spread * line.spread {
        return false;
    }
    let coefficient = passes.iter().map(|p| curved(p) * p.reading).sum::<f64>() / spread;
    let left: f64 = passes
        .iter()
        .map(|p| {
            let fitted = line.mean_reading
                + line.slope * (p.setting - line.mean_setting)
                + coefficient * curved(p);
            (p.reading - fitted).powi(2)
        })
        .sum();
    let freedom = passes.len().saturating_sub(3).max(1);
    let doubt = ((left / freedom as f64).sqrt() * student_95(freedom)).max(error) / spread.sqrt();
    coefficient.abs() > doubt
}

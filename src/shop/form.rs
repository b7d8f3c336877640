//! The forms the answers share: where the numbers come from, JSON and its schema.

use schemars::{JsonSchema, schema_for};
use serde::Serialize;

use crate::finding::Finding;
use crate::report::{LengthUnit, Report, Source};

/// The model an answer was taken from.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Origin {
    /// The model file.
    pub source: Source,
    /// How file units became millimetres.
    pub length_unit: LengthUnit,
    /// What was noticed about the file and the parts the answer speaks of, worst first.
    pub findings: Vec<Finding>,
}

impl Origin {
    /// Of a report, with the findings about the file and about the parts with these marks.
    pub fn of(report: &Report, marks: &[&str]) -> Origin {
        let wanted = |finding: &&Finding| {
            finding
                .part
                .as_deref()
                .is_none_or(|mark| marks.contains(&mark))
        };
        Origin {
            source: report.source.clone(),
            length_unit: report.length_unit.clone(),
            findings: report.findings.iter().filter(wanted).cloned().collect(),
        }
    }
}

/// An answer as indented JSON with a newline at the end.
pub fn json<T: Serialize>(answer: &T) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(answer)?;
    text.push('\n');
    Ok(text)
}

/// JSON Schema (draft 2020-12) of an answer, with a newline at the end.
pub fn schema<T: JsonSchema>() -> Result<String, serde_json::Error> {
    json(&schema_for!(T))
}

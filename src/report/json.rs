//! The report as JSON, and the schema of that JSON.

use super::Report;

/// The report as indented JSON with a newline at the end.
pub fn json(report: &Report) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(report)?;
    text.push('\n');
    Ok(text)
}

/// JSON Schema (draft 2020-12) of [`json`], with a newline at the end.
pub fn schema() -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(&schemars::schema_for!(Report))?;
    text.push('\n');
    Ok(text)
}

//! What was noticed, under the table.

use super::page::{Emphasis, Page, wrapped};
use crate::finding::{Finding, Severity};
use crate::report::Report;

pub(super) fn write(page: &mut Page, report: &Report) {
    if report.findings.is_empty() {
        return;
    }
    page.blank();
    page.heading("Findings, worst first");
    for (number, finding) in report.findings.iter().enumerate() {
        let (word, emphasis) = severity_words(finding.severity);
        page.emphasised(
            format!("[{}] {word}{}", number + 1, belongs_to(finding)),
            emphasis,
        );
        for text in [&finding.message, &finding.remedy] {
            for line in wrapped(text, page.width.saturating_sub(4)) {
                page.line(format!("    {line}"));
            }
        }
    }
}

fn belongs_to(finding: &Finding) -> String {
    finding
        .part
        .as_ref()
        .map_or_else(String::new, |mark| format!(", part {mark}"))
}

fn severity_words(severity: Severity) -> (&'static str, Emphasis) {
    match severity {
        Severity::Error => ("ERROR", Emphasis::Red),
        Severity::Warning => ("WARNING", Emphasis::Yellow),
        Severity::Note => ("Note", Emphasis::Blue),
    }
}

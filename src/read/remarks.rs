//! What a reader notices on the way.

use crate::finding::{Code, Finding, Severity};

/// Findings so far, and the harmless oddities that end up in one note together.
#[derive(Debug, Default)]
pub(super) struct Remarks {
    findings: Vec<Finding>,
    oddities: Vec<String>,
}

impl Remarks {
    /// A finding of its own.
    pub fn add(
        &mut self,
        code: Code,
        severity: Severity,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.findings
            .push(Finding::new(code, severity, message, remedy));
    }

    /// Something unusual that changes no number; said once however often it occurs.
    pub fn odd(&mut self, what: impl Into<String>) {
        let what = what.into();
        if !self.oddities.contains(&what) {
            self.oddities.push(what);
        }
    }

    /// The first remark that explains why nothing could be used, if there is one.
    pub fn worst(&self) -> Option<&str> {
        let first = self
            .findings
            .iter()
            .find(|f| f.severity >= Severity::Warning);
        first.map(|f| f.message.as_str())
    }

    /// All findings, the oddities as one note at the end.
    pub fn into_findings(mut self) -> Vec<Finding> {
        if !self.oddities.is_empty() {
            let message = format!(
                "Unusual, but read without loss: {}.",
                self.oddities.join("; ")
            );
            self.add(Code::UnusualForm, Severity::Note, message, "Nothing to do.");
        }
        self.findings
    }
}

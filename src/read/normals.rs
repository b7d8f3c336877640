//! Stored facet normals against the order of the corners. They are compared, never used.

use crate::finding::{Code, Severity};

use super::remarks::Remarks;
use super::wording::{count, grouped};

/// Tally of stored normals.
#[derive(Debug, Default)]
pub(super) struct Normals {
    compared: usize,
    zero: usize,
    not_finite: usize,
    against: usize,
}

impl Normals {
    /// Compares one stored normal with the corners of its facet.
    #[inline]
    pub fn compare(&mut self, stored: [f64; 3], corners: &[[f64; 3]; 3]) {
        let [a, b, c] = *corners;
        let edge = |to: [f64; 3]| [to[0] - a[0], to[1] - a[1], to[2] - a[2]];
        let (u, v) = (edge(b), edge(c));
        let wound = [
            u[1] * v[2] - u[2] * v[1],
            u[2] * v[0] - u[0] * v[2],
            u[0] * v[1] - u[1] * v[0],
        ];
        let dot = |p: [f64; 3], q: [f64; 3]| p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
        self.compared += 1;
        if !stored.iter().sum::<f64>().is_finite() {
            self.not_finite += 1;
            return;
        }
        if stored == [0.0; 3] {
            self.zero += 1;
            return;
        }
        let along = dot(stored, wound);
        // More than 120 degrees apart: a needle's computed normal can wander, but not that far.
        if along < 0.0 && along * along > 0.25 * dot(stored, stored) * dot(wound, wound) {
            self.against += 1;
        }
    }

    /// Adds another tally.
    pub fn add(&mut self, other: &Normals) {
        self.compared += other.compared;
        self.zero += other.zero;
        self.not_finite += other.not_finite;
        self.against += other.against;
    }

    /// Reports what does not agree.
    pub fn say(&self, remarks: &mut Remarks) {
        if self.zero > 0 {
            remarks.odd(format!(
                "{} of {} stored normals are zero",
                grouped(self.zero as u64),
                grouped(self.compared as u64)
            ));
        }
        if self.not_finite > 0 {
            let normals = count(self.not_finite, "stored normal");
            remarks.odd(format!(
                "{normals} with numbers that are not finite (NaN or infinite)"
            ));
        }
        let given = self.compared - self.zero - self.not_finite;
        if self.against == 0 {
            return;
        }
        let (severity, message) = if self.against == given {
            let message = "Every stored normal points against the order of the corners: the model may have been \
                           mirrored or turned inside out by the export.";
            (Severity::Warning, message.to_owned())
        } else {
            let message = format!(
                "{} of {} point against the order of the corners.",
                grouped(self.against as u64),
                count(given, "stored normal")
            );
            (Severity::Note, message)
        };
        let remedy = "The corners were followed, not the normals. Compare the hand of one part with the drawing.";
        remarks.add(Code::NormalsDisagree, severity, message, remedy);
    }
}

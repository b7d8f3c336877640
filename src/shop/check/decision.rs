//! The decision rule: a doubt counts against whoever claims something.

use schemars::JsonSchema;
use serde::Serialize;

use crate::measure::Quantity;

/// Answer to "is it as asked?".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Within the tolerance, whatever the readings' error.
    Yes,
    /// Outside the tolerance, whatever the readings' error.
    No,
    /// The readings can't tell.
    Unclear,
}

/// Yes when |deviation| + U ≤ tolerance, no when |deviation| − U > tolerance, else unclear, with U the
/// expanded uncertainty of the deviation (ISO 14253-1, from memory).
pub fn verdict(deviation: Quantity, tolerance: f64) -> Verdict {
    let off = deviation.value.abs();
    if off + deviation.plus_minus <= tolerance {
        Verdict::Yes
    } else if off - deviation.plus_minus > tolerance {
        Verdict::No
    } else {
        Verdict::Unclear
    }
}

/// One answer for several: no when any is no, else unclear when any is, or when there is none.
pub fn all(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
    let mut whole = None;
    for verdict in verdicts {
        whole = Some(match (whole, verdict) {
            (Some(Verdict::No), _) | (_, Verdict::No) => Verdict::No,
            (Some(Verdict::Unclear), _) | (_, Verdict::Unclear) => Verdict::Unclear,
            _ => Verdict::Yes,
        });
    }
    whole.unwrap_or(Verdict::Unclear)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::quantity;

    #[test]
    fn doubt_makes_it_unclear() {
        for (value, doubt, want) in [
            (0.7, 0.3, Verdict::Yes),
            (-0.7, 0.31, Verdict::Unclear),
            (1.3, 0.31, Verdict::Unclear),
            (-1.31, 0.3, Verdict::No),
            (f64::NAN, 0.3, Verdict::Unclear),
        ] {
            assert_eq!(
                verdict(quantity(value, doubt), 1.0),
                want,
                "{value} ±{doubt}"
            );
        }
        assert_eq!(all([]), Verdict::Unclear);
        assert_eq!(all([Verdict::Yes, Verdict::Unclear]), Verdict::Unclear);
        assert_eq!(
            all([Verdict::Unclear, Verdict::No, Verdict::Yes]),
            Verdict::No
        );
        assert_eq!(all([Verdict::Yes, Verdict::Yes]), Verdict::Yes);
    }
}

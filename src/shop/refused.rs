//! Why a question of the shop can't be answered.

use thiserror::Error;

/// What stands in the way, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{cause} {remedy}")]
pub struct Refused {
    /// What stands in the way, one sentence.
    pub cause: String,
    /// What to do about it, one sentence.
    pub remedy: String,
}

impl Refused {
    /// A refusal.
    pub fn new(cause: impl Into<String>, remedy: impl Into<String>) -> Refused {
        Refused {
            cause: cause.into(),
            remedy: remedy.into(),
        }
    }
}

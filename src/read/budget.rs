//! Whether a 3MF assembly ends and fits, found before anything is placed: a few lines of nested
//! components can ask for more facets than there are atoms.

use std::collections::BTreeMap;

use super::MOST_FACETS;
use super::assembly::{Models, find};
use super::error::ReadError;
use super::model_xml::Use;
use super::wording::grouped;

/// Components inside components.
const MOST_LEVELS: usize = 32;
/// Objects placed, all levels together.
const MOST_PLACED: u64 = 1_000_000;

/// What one use of an object comes to, with everything in it.
#[derive(Clone, Copy, Default)]
struct Total {
    placed: u64,
    facets: u64,
    points: u64,
    levels: usize,
}

/// `None` while an object is being counted: meeting it then is a circle.
type Known = BTreeMap<(String, i64), Option<Total>>;

/// Counts what the build list asks for.
///
/// # Errors
/// [`ReadError::Package`] for an object that contains itself or is nested too deep,
/// [`ReadError::TooLarge`].
pub(super) fn check(models: &Models, root: &str, items: &[Use]) -> Result<(), ReadError> {
    let mut known = Known::new();
    let mut all = Total::default();
    for item in items {
        all.add(&total(models, root, item, 1, &mut known)?);
    }
    let limits = [
        (all.placed, MOST_PLACED, "objects"),
        (all.facets, MOST_FACETS, "facets"),
        (all.points, MOST_FACETS, "vertices"),
    ];
    match limits.into_iter().find(|(n, limit, _)| n > limit) {
        Some((_, limit, what)) => Err(ReadError::TooLarge {
            problem: format!("The 3MF places more than {} {what}.", grouped(limit)),
        }),
        None => Ok(()),
    }
}

fn total(
    models: &Models,
    part: &str,
    used: &Use,
    level: usize,
    known: &mut Known,
) -> Result<Total, ReadError> {
    let part = used.path.as_deref().unwrap_or(part);
    let key = (part.to_ascii_lowercase(), used.object);
    let refuse = |what: String| {
        let problem = format!("Object {} of the 3MF {what}.", used.object);
        Err(ReadError::Package {
            problem,
            remedy: "Export it again.".into(),
        })
    };
    let total = match known.get(&key) {
        Some(Some(total)) => *total,
        Some(None) => return refuse("contains itself".into()),
        None if level > MOST_LEVELS => {
            return refuse(format!("is nested deeper than {MOST_LEVELS} levels"));
        }
        None => {
            known.insert(key.clone(), None);
            let mut total = Total {
                placed: 1,
                ..Total::default()
            };
            if let Some(object) = find(models, part, used.object) {
                total.facets = object.triangles.len() as u64;
                total.points = object.points.len() as u64;
                for component in &object.components {
                    total.add(&self::total(models, part, component, level + 1, known)?);
                }
            }
            total.levels += 1;
            known.insert(key, Some(total));
            total
        }
    };
    if level - 1 + total.levels > MOST_LEVELS {
        return refuse(format!("is nested deeper than {MOST_LEVELS} levels"));
    }
    Ok(total)
}

impl Total {
    fn add(&mut self, other: &Total) {
        self.placed = self.placed.saturating_add(other.placed);
        self.facets = self.facets.saturating_add(other.facets);
        self.points = self.points.saturating_add(other.points);
        self.levels = self.levels.max(other.levels);
    }
}

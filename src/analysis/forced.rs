//! Pieces read otherwise than the class rule would have them.

use thiserror::Error;

use super::Measured;
use crate::body::Body;
use crate::finding::{Code, Finding, Severity};
use crate::instance::Counted;
use crate::part::{self, Choices, Class, Part, Reading};
use crate::read::ReadError;

/// Why a model can't be measured as asked.
#[derive(Debug, Error)]
pub enum ExamineError {
    /// The file is no model that can be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// No part has a mark that a reading was asked for.
    #[error("no part has the mark \"{mark}\"")]
    NoSuchMark {
        /// Mark as given.
        mark: String,
        /// Marks there are.
        marks: Vec<String>,
    },
    /// A part is not what it was asked to be read as.
    #[error("{mark} can't be read as {}, because {why}.", reading.words())]
    NotThat {
        /// Its mark.
        mark: String,
        /// What was asked.
        reading: Reading,
        /// What stands against it.
        why: &'static str,
    },
}

/// Puts the readings asked for in the place of those of the class rule. Marks stay as they were, so that
/// one reading changes the names of no other part.
pub(super) fn force(
    counted: &mut Vec<Counted>,
    measured: &Measured,
    choices: &Choices,
) -> Result<(), ExamineError> {
    let bodies = &measured.bodies;
    for (mark, reading) in &choices.readings {
        let place = counted.iter().position(|c| c.mark == *mark);
        let Some(place) = place else {
            return Err(ExamineError::NoSuchMark {
                mark: mark.clone(),
                marks: counted.iter().map(|c| c.mark.clone()).collect(),
            });
        };
        let refuse = |why| ExamineError::NotThat {
            mark: mark.clone(),
            reading: *reading,
            why,
        };
        let was = counted[place].part.class;
        let own = counted[place].bodies.clone();
        let mut parts = measured.parts.clone();
        for part in parts.iter_mut().filter(|p| own.contains(&p.body)) {
            let alone = measured
                .parts
                .iter()
                .filter(|p| p.body == part.body)
                .count()
                == 1;
            if !alone {
                return Err(refuse(
                    "it is one body with other pieces; export them apart",
                ));
            }
            let body: &Body = bodies
                .get(part.body as usize)
                .ok_or_else(|| refuse("its body is not there"))?;
            *part = part::measure_as(body, &choices.neutral, *reading).map_err(refuse)?;
            part.findings.extend(note(was, part.class, *reading));
        }
        // Ends that stand in other bodies are looked for again, on these parts alone.
        part::note_overlaps(&mut parts, bodies);
        let forced: Vec<Part> = parts
            .into_iter()
            .filter(|p| own.contains(&p.body))
            .collect();
        let (mut again, _) = crate::instance::count(forced, bodies);
        for (k, group) in again.iter_mut().enumerate() {
            group.mark = match k {
                0 => mark.clone(),
                _ => format!("{mark}-{}", k + 1),
            };
        }
        counted.splice(place..=place, again);
    }
    Ok(())
}

fn note(was: Class, is: Class, reading: Reading) -> Option<Finding> {
    (was != is).then(|| {
        Finding::new(
            Code::ClassUnclear,
            Severity::Note,
            format!(
                "Read as {} because --as asks for it; by the usual rule it is {}.",
                reading.words(),
                class_words(was)
            ),
            "Leave --as away for the usual reading.",
        )
    })
}

fn class_words(class: Class) -> &'static str {
    match class {
        Class::StraightMember => "a straight bar, tube or section",
        Class::RolledMember => "a rolled bar, tube or section",
        Class::BentMember => "a bent bar, tube or section",
        Class::FlatPlate => "a flat plate",
        Class::RolledPlate => "a rolled plate",
        Class::BentPlate => "a folded plate",
        Class::Other => "neither member nor plate",
    }
}

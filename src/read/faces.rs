//! Faces of any number of corners, checked against the vertices and cut into triangles.

use crate::finding::{Code, Severity};

use super::Group;
use super::error::ReadError;
use super::polygon::{self, MOST_CORNERS, MOST_WORK};
use super::remarks::Remarks;
use super::wording::{count, grouped};
use crate::geometry::ears::Scratch;

/// Why a face cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// It names vertex 0 where numbers start from 1.
    Zero,
    /// It counts back past the first vertex.
    Before(i64),
    /// It names a vertex that does not exist.
    Beyond(i64),
    /// This word is no vertex number.
    Word(String),
    /// It has fewer than three corners.
    Corners(usize),
    /// It has more corners than this program cuts up.
    TooMany(usize),
}

/// All faces of a file, one behind the other.
#[derive(Debug, Default)]
pub(super) struct Faces {
    corners: Vec<u32>,
    /// End in `corners`, and the place in the file, of each face.
    ends: Vec<(usize, usize)>,
    /// First trouble with its place, and how many faces had any.
    bad: Option<(usize, Trouble)>,
    bad_count: usize,
}

/// A whole number with an optional sign that fills the word.
#[inline]
pub(super) fn integer(word: &[u8]) -> Option<i64> {
    let (negative, digits) = match word {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, word),
    };
    if digits.is_empty() || digits.len() > 18 {
        return None;
    }
    let mut value = 0i64;
    for byte in digits {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            return None;
        }
        value = value * 10 + i64::from(digit);
    }
    Some(if negative { -value } else { value })
}

impl Faces {
    /// Faces kept so far.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Adds a corner (index from 0) to the face being read.
    #[inline]
    pub fn corner(&mut self, index: u32) {
        self.corners.push(index);
    }

    /// Ends the face being read, which stands at `place` in the file.
    pub fn close(&mut self, place: usize, trouble: Option<Trouble>) {
        let start = self.ends.last().map_or(0, |(end, _)| *end);
        let trouble = trouble.or_else(|| match self.corners.len() - start {
            n @ 0..=2 => Some(Trouble::Corners(n)),
            n if n > MOST_CORNERS => Some(Trouble::TooMany(n)),
            _ => None,
        });
        match trouble {
            Some(trouble) => {
                self.corners.truncate(start);
                self.refuse(place, trouble);
            }
            None => self.ends.push((self.corners.len(), place)),
        }
    }

    /// Refuses what would take too long to cut up.
    fn check_work(&self) -> Result<(), ReadError> {
        let starts = [0].into_iter().chain(self.ends.iter().map(|(end, _)| *end));
        let corners = self
            .ends
            .iter()
            .zip(starts)
            .map(|((end, _), start)| end - start);
        let work: u64 = corners
            .clone()
            .filter(|n| *n > 4)
            .map(|n| (n as u64).pow(2))
            .sum();
        match work <= MOST_WORK {
            true => Ok(()),
            false => Err(ReadError::TooLarge {
                problem: format!(
                    "The model's faces have too many corners, up to {} each, to be cut into triangles.",
                    grouped(corners.max().unwrap_or(0) as u64)
                ),
            }),
        }
    }

    fn refuse(&mut self, place: usize, trouble: Trouble) {
        self.bad_count += 1;
        // The first in the file, also when it is found last.
        if self.bad.as_ref().is_none_or(|(first, _)| place < *first) {
            self.bad = Some((place, trouble));
        }
    }

    /// Cuts all faces into triangles. `runs` are the first face and name of each group; `place` says
    /// where a face stands ("line 12"); `first_number` is the number of the first vertex in the format.
    ///
    /// # Errors
    /// [`ReadError::TooLarge`] when there are more triangles than 32-bit indices can carry.
    pub fn triangles(
        mut self,
        points: &[[f64; 3]],
        runs: Vec<(usize, Option<String>)>,
        first_number: i64,
        place: impl Fn(usize) -> String,
        remarks: &mut Remarks,
    ) -> Result<(Vec<[u32; 3]>, Vec<Group>), ReadError> {
        self.check_work()?;
        let mut facets: Vec<[u32; 3]> = Vec::with_capacity(self.ends.len());
        let mut groups: Vec<Group> = Vec::new();
        let mut runs = runs.into_iter().peekable();
        let (mut scratch, mut ring) = (Scratch::default(), Vec::new());
        let (mut not_finite, mut mended) = (0, None);
        let mut start = 0;
        for (face, (end, at)) in std::mem::take(&mut self.ends).into_iter().enumerate() {
            while let Some((_, name)) = runs.next_if(|(first, _)| *first <= face) {
                groups.push(Group {
                    name,
                    first_facet: facets.len() as u32,
                });
            }
            let corners = &self.corners[start..end];
            start = end;
            if let Some(beyond) = corners.iter().find(|i| **i as usize >= points.len()) {
                let number = i64::from(*beyond) + first_number;
                self.refuse(at, Trouble::Beyond(number));
                continue;
            }
            if corners
                .iter()
                .any(|i| points[*i as usize].iter().any(|x| !x.is_finite()))
            {
                not_finite += 1;
                continue;
            }
            if let [a, b, c] = *corners {
                facets.push([a, b, c]);
                continue;
            }
            ring.clear();
            ring.extend_from_slice(corners);
            let change = polygon::mend(&mut ring);
            if change.rounds > 1 || change.repeated > 0 {
                let (_, _, times) = mended.get_or_insert((at, change, 0usize));
                *times += 1;
            }
            polygon::triangulate(points, &ring, &mut scratch, &mut facets);
            super::corner_total(facets.len())?;
        }
        super::corner_total(facets.len())?;
        self.say(points.len(), not_finite, mended.as_ref(), &place, remarks);
        Ok((facets, groups))
    }

    fn say(
        &self,
        vertices: usize,
        not_finite: usize,
        mended: Option<&(usize, polygon::Mended, usize)>,
        place: &impl Fn(usize) -> String,
        remarks: &mut Remarks,
    ) {
        if let Some((at, trouble)) = &self.bad {
            let what = match trouble {
                Trouble::Zero => "names vertex 0 (index zero); the first vertex is 1".into(),
                Trouble::Before(n) => format!("counts back to vertex {n}, before the first one"),
                Trouble::Beyond(n) => format!(
                    "names vertex {}, but there are {}",
                    grouped(n.unsigned_abs()),
                    count(vertices, "vertex")
                ),
                Trouble::Word(word) => format!("names \"{word}\", which is no vertex number"),
                Trouble::Corners(n) => format!("is no valid face: it has {}", count(*n, "corner")),
                Trouble::TooMany(n) => format!(
                    "has {}, more than the {} this program cuts up",
                    count(*n, "corner"),
                    grouped(MOST_CORNERS as u64)
                ),
            };
            let code = match trouble {
                Trouble::Zero | Trouble::Before(_) | Trouble::Beyond(_) => Code::BadIndex,
                _ => Code::IgnoredContent,
            };
            let more = match self.bad_count {
                1 => "It was left out".to_owned(),
                n => format!(
                    "It and {} were left out",
                    count(n - 1, "other invalid face")
                ),
            };
            let message = format!("The face on {} {what}. {more}.", place(*at));
            remarks.add(
                code,
                Severity::Error,
                message,
                "Export the model again: surfaces are missing.",
            );
        }
        super::say_not_finite(not_finite, "face", remarks);
        if let Some((at, change, times)) = mended {
            let what = match change.rounds {
                0 | 1 => format!(
                    "names the same corner twice in a row ({})",
                    count(change.repeated, "time")
                ),
                n => format!("goes {n} times round the same corners"),
            };
            let more = if *times > 1 {
                format!(", and {} like it", count(times - 1, "more face"))
            } else {
                String::new()
            };
            remarks.add(
                Code::DegenerateFacets,
                Severity::Note,
                format!(
                    "The face on {} {what}{more}; one round was kept.",
                    place(*at)
                ),
                "Nothing to do.",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integers_fill_their_word() {
        for (word, value) in [
            ("12", Some(12)),
            ("-3", Some(-3)),
            ("+4", Some(4)),
            ("", None),
            ("-", None),
            ("1x", None),
            ("1.0", None),
        ] {
            assert_eq!(integer(word.as_bytes()), value, "{word}");
        }
        assert_eq!(integer(b"99999999999999999999999"), None);
    }
}

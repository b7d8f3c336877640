//! Text STL: `solid` blocks of `facet` … `vertex` … `endfacet`.
//!
//! Words decide, not line ends or capitals. Every solid is kept, coordinates are read to f64.

use crate::finding::{Code, Severity};

use super::decimal::{Decimal, Unusable};
use super::error::ReadError;
use super::normals::Normals;
use super::polygon::{self, Scratch};
use super::precision::Tally;
use super::remarks::Remarks;
use super::text::{Text, bad_number};
use super::wording::{count, grouped, name, quoted};
use super::{Format, Group, TriangleSoup};

#[derive(Default)]
struct Solids {
    points: Vec<[f64; 3]>,
    facets: Vec<[u32; 3]>,
    groups: Vec<Group>,
    /// Blocks opened by `solid`.
    blocks: usize,
    /// Facets written, kept or not.
    written: usize,
    without_normal: usize,
    capitals: bool,
    polygons: usize,
    not_finite: usize,
    too_few_corners: Option<(usize, usize)>,
    unknown: Option<(usize, String, usize)>,
    tally: Tally,
    normals: Normals,
    scratch: Scratch,
}

/// Keywords in any case of letters.
fn is(word: &[u8], keyword: &str) -> bool {
    word == keyword.as_bytes() || word.eq_ignore_ascii_case(keyword.as_bytes())
}

/// Reads a text STL.
///
/// # Errors
/// [`ReadError::Truncated`] when the text stops inside a facet, [`ReadError::DecimalComma`],
/// [`ReadError::Malformed`] with the line of a word that cannot be a number, [`ReadError::Empty`].
pub(super) fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<TriangleSoup, ReadError> {
    let mut text = Text::new(bytes);
    let mut solids = Solids::default();
    let mut open = false;
    while let Some(word) = text.word() {
        solids.capitals |= word.iter().any(u8::is_ascii_uppercase);
        if is(word, "facet") {
            if !open {
                remarks.odd("facets stand outside solid and endsolid");
                open = true;
            }
            facet(bytes, &mut text, &mut solids)?;
        } else if is(word, "solid") {
            if open {
                remarks.odd("a solid begins before the one above it ends");
            }
            open = true;
            solids.blocks += 1;
            solids.groups.push(Group {
                name: solid_name(&mut text),
                first_facet: solids.facets.len() as u32,
            });
        } else if is(word, "endsolid")
            || (is(word, "end") && text.peek().is_some_and(|w| is(w, "solid")))
        {
            open = false;
            text.rest_of_line();
        } else {
            let at = text.offset() - word.len();
            let (_, _, times) = solids
                .unknown
                .get_or_insert_with(|| (text.line_at(at), quoted(word), 0));
            *times += 1;
            text.rest_of_line();
        }
    }
    if solids.capitals {
        remarks.odd("keywords are in mixed-case or capital letters");
    }
    if open && solids.blocks > 0 {
        let after = solids.written;
        remarks.add(
            Code::Truncated,
            Severity::Warning,
            format!(
                "The text ends without endsolid, after facet {}.",
                grouped(after as u64)
            ),
            "Check that no part is missing, or export it again.",
        );
    }
    solids.say(remarks);
    if solids.facets.is_empty() {
        return Err(ReadError::Empty {
            holds: solids.nothing(remarks),
        });
    }
    Ok(solids.into_soup())
}

/// The rest of the line, up to a facet that begins on it.
fn solid_name(text: &mut Text) -> Option<String> {
    let start = text.offset();
    let line = text.rest_of_line();
    let mut words = Text::new(line);
    while let Some(word) = words.word() {
        let at = words.offset() - word.len();
        let facet = is(word, "facet")
            && words
                .peek()
                .is_some_and(|w| is(w, "normal") || is(w, "outer"));
        if facet || is(word, "endsolid") {
            text.go_to(start + at);
            return name(&line[..at]);
        }
    }
    name(line)
}

/// One facet, from behind the word `facet` to behind `endfacet`.
fn facet(bytes: &[u8], text: &mut Text, solids: &mut Solids) -> Result<(), ReadError> {
    let start = text.offset();
    let mut stored = None;
    let mut corners = [[0.0; 3]; 3];
    let mut read = 0usize;
    let mut finite = true;
    let first = solids.points.len();
    let cut_short = |solids: &Solids| ReadError::Truncated {
        item: "facet",
        done: solids.written as u64,
        of: None,
    };
    loop {
        let Some(word) = text.word() else {
            return Err(cut_short(solids));
        };
        solids.capitals |= word.first().is_some_and(u8::is_ascii_uppercase);
        if is(word, "vertex") {
            let Some(corner) = triple(bytes, text)? else {
                return Err(cut_short(solids));
            };
            let point = corner.map(|x| x.map_or(f64::NAN, |d| d.value));
            finite &= corner.iter().all(Option::is_some);
            if let Some(slot) = corners.get_mut(read) {
                *slot = point;
            }
            corner.iter().flatten().for_each(|d| solids.tally.add(d));
            solids.points.push(point);
            read += 1;
        } else if is(word, "normal") {
            let Some(normal) = triple(bytes, text)? else {
                return Err(cut_short(solids));
            };
            stored = Some(normal.map(|x| x.map_or(0.0, |d| d.value)));
        } else if is(word, "endfacet") {
            break;
        } else if is(word, "end") {
            // "end facet" and "end loop" in two words.
            if text.word().is_none_or(|w| is(w, "facet")) {
                break;
            }
        } else if is(word, "facet") || is(word, "solid") || is(word, "endsolid") {
            // endfacet was forgotten; the word belongs to what follows.
            text.go_to(text.offset() - word.len());
            break;
        } else if !(is(word, "outer") || is(word, "loop") || is(word, "endloop")) {
            let problem = format!(
                "Line {}: \"{}\" stands where the corners of a facet should.",
                text.line_at(text.offset() - word.len()),
                quoted(word)
            );
            return Err(ReadError::Malformed { problem });
        }
    }
    solids.written += 1;
    solids.without_normal += usize::from(stored.is_none());
    if !finite || read < 3 {
        solids.points.truncate(first);
        if finite {
            let (_, times) = solids
                .too_few_corners
                .get_or_insert((text.line_at(start), 0));
            *times += 1;
        } else {
            solids.not_finite += 1;
        }
        return Ok(());
    }
    super::corner_total(solids.points.len() / 3 + 1)?;
    if let Some(stored) = stored {
        solids.normals.compare(stored, corners);
    }
    let first = first as u32;
    if read == 3 {
        solids.facets.push([first, first + 1, first + 2]);
    } else {
        solids.polygons += 1;
        let ring: Vec<u32> = (first..first + read as u32).collect();
        polygon::triangulate(
            &solids.points,
            &ring,
            &mut solids.scratch,
            &mut solids.facets,
        );
    }
    Ok(())
}

/// Three numbers; `None` where one is not finite. `Ok(None)` when the text ends first.
fn triple(bytes: &[u8], text: &mut Text) -> Result<Option<[Option<Decimal>; 3]>, ReadError> {
    let mut out = [None; 3];
    for slot in &mut out {
        let before = text.offset();
        match text.number() {
            Some(Ok(number)) => *slot = Some(number),
            Some(Err(Unusable::NotFinite)) => {}
            Some(Err(why)) => {
                let word = Text::new(&bytes[before..]).word().unwrap_or_default();
                let at_end = text.rest().is_empty();
                // Half a number or half a keyword at the very end is a cut, not a slip of the pen.
                if at_end && why == Unusable::NotANumber {
                    return Ok(None);
                }
                return Err(bad_number(bytes, text.offset() - word.len(), word, why));
            }
            None => return Ok(None),
        }
    }
    Ok(Some(out))
}

impl Solids {
    fn say(&mut self, remarks: &mut Remarks) {
        super::say_not_finite(self.not_finite, "facet", remarks);
        if let Some((line, times)) = self.too_few_corners {
            remarks.add(
                Code::IgnoredContent,
                Severity::Error,
                format!(
                    "{} with fewer than three corners left out, the first on line {line}.",
                    count(times, "facet")
                ),
                "Export it again.",
            );
        }
        if let Some((line, word, times)) = &self.unknown {
            remarks.add(
                Code::IgnoredContent,
                Severity::Warning,
                format!(
                    "{} not understood, the first on line {line}: \"{word}\".",
                    count(*times, "line")
                ),
                "Export it again if a part is missing.",
            );
        }
        if self.without_normal > 0 {
            remarks.odd(format!(
                "{} without a normal",
                count(self.without_normal, "facet")
            ));
        }
        if self.polygons > 0 {
            remarks.odd(format!(
                "{} with more than three corners",
                count(self.polygons, "facet")
            ));
        }
        self.normals.say(remarks);
        self.say_solids(remarks);
    }

    fn say_solids(&mut self, remarks: &mut Remarks) {
        let total = self.facets.len() as u32;
        let ends: Vec<u32> = self
            .groups
            .iter()
            .skip(1)
            .map(|g| g.first_facet)
            .chain([total])
            .collect();
        let sizes: Vec<u32> = self
            .groups
            .iter()
            .zip(&ends)
            .map(|(g, end)| end - g.first_facet)
            .collect();
        let called = |g: &Group| {
            g.name
                .as_ref()
                .map_or("without a name".into(), |n| format!("\"{n}\""))
        };
        let listed = |pick: &dyn Fn(u32) -> bool| {
            let all = self
                .groups
                .iter()
                .zip(&sizes)
                .filter(|(_, size)| pick(**size));
            let names: Vec<String> = all.map(|(g, _)| called(g)).collect();
            match names.len() {
                0..=6 => names.join(", "),
                n => format!("{} and {} more", names[..5].join(", "), n - 5),
            }
        };
        let empty = sizes.iter().filter(|n| **n == 0).count();
        if self.blocks > 1 {
            let mixed = |g: &Group| {
                g.name.as_ref().is_some_and(|n| {
                    n.chars().any(char::is_uppercase) && n.chars().any(char::is_lowercase)
                })
            };
            let kept = if self.groups.iter().any(mixed) {
                " with their mixed-case names"
            } else {
                ""
            };
            remarks.add(
                Code::SeveralSolids,
                Severity::Note,
                format!(
                    "{} solids in one file: {}; all were read{kept}.",
                    self.blocks,
                    listed(&|_| true)
                ),
                "Nothing to do.",
            );
        }
        if empty > 0 && total > 0 {
            remarks.add(
                Code::Empty,
                Severity::Note,
                format!(
                    "{} empty (no facets): {}.",
                    count(empty, "solid"),
                    listed(&|n| n == 0)
                ),
                "Check that no part is missing.",
            );
        }
        let mut sizes = sizes.into_iter();
        if total > 0 {
            self.groups.retain(|_| sizes.next() != Some(0));
        }
    }

    /// What a text without usable facets holds.
    fn nothing(&self, remarks: &Remarks) -> String {
        let holds = match self.groups.as_slice() {
            [only] => match &only.name {
                Some(name) => format!("The solid \"{name}\" is empty: the STL has no facets"),
                None => "The solid is empty: the STL has no facets".into(),
            },
            _ => format!(
                "All {} are empty: the STL has no facets",
                count(self.blocks, "solid")
            ),
        };
        match remarks.worst() {
            Some(worst) => format!("{holds} that can be used. {worst}"),
            None => format!("{holds}."),
        }
    }

    fn into_soup(mut self) -> TriangleSoup {
        if let [only] = self.groups.as_slice()
            && only.name.is_none()
        {
            self.groups.clear();
        }
        TriangleSoup {
            precision: self.tally.precision(),
            points: self.points,
            facets: self.facets,
            groups: self.groups,
            declared_mm_per_unit: None,
            format: Format::StlAscii,
        }
    }
}

//! Text STL: `solid` blocks of `facet` … `vertex` … `endfacet`.
//!
//! Words decide, not line ends or capitals. Every solid is kept, coordinates are read to f64.

use crate::finding::{Code, Severity};

use super::decimal::{Decimal, Unusable};
use super::error::ReadError;
use super::polygon;
use super::remarks::Remarks;
use super::stl_solids::Solids;
use super::text::{Text, bad_number};
use super::wording::{grouped, name, quoted};
use super::{Group, TriangleSoup};

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

/// A facet written as nearly all are: small letters, a normal, three finite corners.
fn usual(text: &mut Text) -> Option<([f64; 3], [[Decimal; 3]; 3])> {
    let three = |text: &mut Text| -> Option<[Decimal; 3]> {
        let mut number = || text.number()?.ok();
        Some([number()?, number()?, number()?])
    };
    let corner = |text: &mut Text| {
        if text.takes(b"vertex") {
            three(text)
        } else {
            None
        }
    };
    let normal = if text.takes(b"normal") {
        three(text)?
    } else {
        return None;
    };
    if !(text.takes(b"outer") && text.takes(b"loop")) {
        return None;
    }
    let corners = [corner(text)?, corner(text)?, corner(text)?];
    (text.takes(b"endloop") && text.takes(b"endfacet")).then(|| (normal.map(|d| d.value), corners))
}

/// One facet, from behind the word `facet` to behind `endfacet`.
fn facet(bytes: &[u8], text: &mut Text, solids: &mut Solids) -> Result<(), ReadError> {
    let start = text.offset();
    if let Some((normal, corners)) = usual(text) {
        corners
            .as_flattened()
            .iter()
            .for_each(|d| solids.tally.add(d));
        let corners = corners.map(|c| c.map(|d| d.value));
        super::corner_total(solids.points.len() / 3 + 1)?;
        solids.normals.compare(normal, &corners);
        let first = solids.points.len() as u32;
        solids.points.extend_from_slice(&corners);
        solids.facets.push([first, first + 1, first + 2]);
        solids.written += 1;
        return Ok(());
    }
    text.go_to(start);
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
            stored = Some(normal.map(|x| x.map_or(f64::NAN, |d| d.value)));
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
        solids.normals.compare(stored, &corners);
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

//! Binary STL: an 80-byte header, a count of facets, 50 bytes for each facet.

use crate::finding::{Code, Severity};
use crate::geometry::side_by_side;

use super::error::ReadError;
use super::join::Joined;
use super::normals::Normals;
use super::remarks::Remarks;
use super::wording::{count, grouped};
use super::{Format, Precision, TriangleSoup};

const HEADER: usize = 80;
const PREFIX: usize = HEADER + 4;
const FACET: usize = 50;
/// Header lengths searched when 80 does not fit.
const WRONG_HEADERS: std::ops::RangeInclusive<usize> = 0..=256;

fn count_at(bytes: &[u8], at: usize) -> Option<usize> {
    let four: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
    usize::try_from(u32::from_le_bytes(four)).ok()
}

/// True when the count at byte 80 explains the length of the file to the byte.
pub(super) fn size_fits(bytes: &[u8]) -> bool {
    count_at(bytes, HEADER).is_some_and(|n| n.checked_mul(FACET) == bytes.len().checked_sub(PREFIX))
}

/// Length of a header other than 80 bytes whose count explains the length of the file.
pub(super) fn shifted_header(bytes: &[u8]) -> Option<usize> {
    WRONG_HEADERS.filter(|h| *h != HEADER).find(|&h| {
        let fits = |n: usize| n > 0 && n.checked_mul(FACET) == bytes.len().checked_sub(h + 4);
        count_at(bytes, h).is_some_and(fits)
    })
}

/// Facet records that follow each other in the file.
struct Run {
    start: usize,
    facets: usize,
}

/// Reads a binary STL, whatever its length says.
///
/// # Errors
/// [`ReadError::Truncated`] when facets are missing, [`ReadError::Empty`] when there are none.
pub(super) fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<TriangleSoup, ReadError> {
    let runs = runs(bytes, remarks)?;
    let facets: usize = runs.iter().map(|r| r.facets).sum();
    if facets == 0 {
        return Err(ReadError::Empty {
            holds: "The binary STL says it has zero facets, and it has none.".into(),
        });
    }
    super::corner_total(facets)?;
    let strips: Vec<(usize, &[u8])> = (runs.iter())
        .flat_map(|r| bytes[r.start..r.start + r.facets * FACET].chunks(STRIP * FACET))
        .enumerate()
        .collect();
    let seen = side_by_side::each(
        &strips,
        |(k, records)| {
            // the first takes in the points of the others
            let room = if *k == 0 {
                facets
            } else {
                records.len() / FACET
            };
            Strip::read(records, room)
        },
        |_| {},
    );
    let mut seen = seen.into_iter();
    let mut all = seen.next().unwrap_or_else(|| Strip::read(&[], 0));
    seen.for_each(|strip| all.append(strip));
    super::say_not_finite(all.not_finite, "facet", remarks);
    all.normals.say(remarks);
    Ok(TriangleSoup {
        points: all.joined.points(),
        distinct: true,
        facets: all.facets,
        groups: Vec::new(),
        precision: Precision::Binary32,
        declared_mm_per_unit: None,
        format: Format::StlBinary,
    })
}

/// Facets read in one go; strips are read side by side.
const STRIP: usize = 1 << 19;

/// What facets that follow each other in the file hold.
struct Strip {
    joined: Joined,
    facets: Vec<[u32; 3]>,
    normals: Normals,
    not_finite: usize,
}

impl Strip {
    /// Reads whole records; `room` is how many facets' points the table is made for.
    fn read(records: &[u8], room: usize) -> Strip {
        let mut strip = Strip {
            joined: Joined::for_facets(room),
            facets: Vec::with_capacity(room),
            normals: Normals::default(),
            not_finite: 0,
        };
        for record in records.as_chunks::<FACET>().0 {
            let number = |k: usize| {
                let at = 4 * k;
                f32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]])
            };
            let triple = |k: usize| [number(k), number(k + 1), number(k + 2)];
            let corners = [triple(3), triple(6), triple(9)];
            // NaN and infinities times zero are NaN.
            if corners.as_flattened().iter().map(|x| x * 0.0).sum::<f32>() != 0.0 {
                strip.not_finite += 1;
                continue;
            }
            strip.facets.push(corners.map(|p| strip.joined.number(p)));
            (strip.normals).compare(triple(0).map(f64::from), &corners.map(|p| p.map(f64::from)));
        }
        strip
    }

    /// Adds the facets that follow in the file.
    fn append(&mut self, later: Strip) {
        let numbers = self.joined.append(later.joined);
        let renumbered = |f: [u32; 3]| f.map(|n| numbers[n as usize]);
        self.facets.extend(later.facets.into_iter().map(renumbered));
        self.normals.add(&later.normals);
        self.not_finite += later.not_finite;
    }
}

/// Where the facets stand, from the counts and the length of the file.
fn runs(bytes: &[u8], remarks: &mut Remarks) -> Result<Vec<Run>, ReadError> {
    let Some(promised) = count_at(bytes, HEADER) else {
        return Err(ReadError::Malformed {
            problem: format!(
                "The file ends inside the 84-byte header of a binary STL, at byte {}.",
                bytes.len()
            ),
        });
    };
    if !size_fits(bytes)
        && let Some(header) = shifted_header(bytes)
    {
        return Ok(vec![shifted(bytes, header, remarks)]);
    }
    say_header(&bytes[..HEADER], remarks);
    let present = (bytes.len() - PREFIX) / FACET;
    if promised > present {
        return Err(ReadError::Truncated {
            item: "facet",
            done: present as u64,
            of: Some(promised as u64),
        });
    }
    if promised == 0 && present > 0 {
        return uncounted(bytes.len() - PREFIX, remarks);
    }
    let mut runs = vec![Run {
        start: PREFIX,
        facets: promised,
    }];
    after_last_facet(bytes, PREFIX + promised * FACET, &mut runs, remarks);
    Ok(runs)
}

fn shifted(bytes: &[u8], header: usize, remarks: &mut Remarks) -> Run {
    let facets = (bytes.len() - header - 4) / FACET;
    remarks.add(
        Code::HeaderShifted,
        Severity::Note,
        format!(
            "The header is {header} bytes long instead of 80 and so are the facets shifted; with that the file is \
             whole ({}).",
            count(facets, "facet")
        ),
        "Nothing to do. Other programs may see an empty file.",
    );
    say_header(&bytes[..header], remarks);
    Run {
        start: header + 4,
        facets,
    }
}

/// The count is zero but data follow: taken only where the data are whole facets.
fn uncounted(length: usize, remarks: &mut Remarks) -> Result<Vec<Run>, ReadError> {
    if !length.is_multiple_of(FACET) {
        return Err(ReadError::Malformed {
            problem: format!(
                "The binary STL says it has zero facets, but {} bytes follow, which is no whole number of facets.",
                grouped(length as u64)
            ),
        });
    }
    let facets = length / FACET;
    remarks.add(
        Code::CountMismatch,
        Severity::Warning,
        format!(
            "The header says zero facets, but {} follow; they were read.",
            count(facets, "facet")
        ),
        "Check that no part is missing, or export it again.",
    );
    Ok(vec![Run {
        start: PREFIX,
        facets,
    }])
}

/// Bytes behind the last facet: another whole binary STL is read, anything else is said and left.
fn after_last_facet(bytes: &[u8], mut end: usize, runs: &mut Vec<Run>, remarks: &mut Remarks) {
    while let Some(facets) = count_at(bytes, end + HEADER) {
        let start = end + PREFIX;
        let whole = facets.checked_mul(FACET).and_then(|n| n.checked_add(start));
        let Some(next) = whole.filter(|next| facets > 0 && *next <= bytes.len()) else {
            break;
        };
        runs.push(Run { start, facets });
        end = next;
    }
    if runs.len() > 1 {
        remarks.add(
            Code::SeveralSolids,
            Severity::Note,
            format!(
                "The file is {} binary STL files one behind the other; all were read.",
                runs.len()
            ),
            "Nothing to do.",
        );
    }
    let left = bytes.len() - end;
    if left > 0 {
        let room = match left / FACET {
            0 => String::new(),
            n => format!(", room for {}", count(n, "facet")),
        };
        remarks.add(
            Code::CountMismatch,
            Severity::Warning,
            format!(
                "{} after the last facet the header counts{room} were left out.",
                count(left, "byte")
            ),
            "Check that no part is missing, or export it again.",
        );
    }
}

fn say_header(header: &[u8], remarks: &mut Remarks) {
    let text = header
        .iter()
        .rposition(|b| *b != 0)
        .map_or(&[][..], |last| &header[..=last]);
    if header
        .trim_ascii()
        .get(..5)
        .is_some_and(|word| word.eq_ignore_ascii_case(b"solid"))
    {
        remarks.odd("the binary header starts with the word solid, as text STL does");
    }
    if text.trim_ascii().is_empty() {
        remarks.odd("the header is empty");
    } else if std::str::from_utf8(text).is_err() {
        remarks.odd("the header holds invalid Unicode");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strips_are_the_whole() {
        let mut records: Vec<u8> = Vec::new();
        for k in 0..40u8 {
            let corner = |n: u8| [f32::from(n % 7), f32::from(n % 5), f32::from(n % 3)];
            let normal = [[0.0; 3], [0.0, 0.0, 1.0], [0.0, 0.0, -1.0]][usize::from(k % 3)];
            let mut facet = [normal, corner(k), corner(k + 1), corner(k + 2)];
            if k == 23 {
                facet[2][1] = f32::NAN;
            }
            records.extend(facet.as_flattened().iter().flat_map(|x| x.to_le_bytes()));
            records.extend([0, 0]);
        }
        let whole = Strip::read(&records, 40);
        let points = whole.joined.points();
        for cut in [1, 17, 23, 39] {
            let (first, later) = records.split_at(cut * FACET);
            let mut strips = Strip::read(first, 40);
            strips.append(Strip::read(later, 40 - cut));
            assert_eq!(strips.facets, whole.facets);
            assert_eq!(strips.not_finite, 1);
            assert_eq!(
                format!("{:?}", strips.normals),
                format!("{:?}", whole.normals)
            );
            assert_eq!(strips.joined.points(), points);
        }
    }
}

//! Bytes to triangles. No other module knows a file format.
//!
//! [`read`] finds out the format by size and grammar and hands over to one reader per format. A reader
//! keeps everything it understands, says what it left out, and fails only where nothing can be said.

mod assembly;
mod budget;
mod decimal;
mod encoding;
mod error;
mod faces;
mod groups;
mod invariant;
mod join;
mod model_xml;
mod normals;
mod obj;
mod package;
mod placement;
mod ply;
mod ply_binary;
mod ply_header;
mod ply_text;
mod polygon;
mod precision;
mod remarks;
mod sniff;
mod stl_ascii;
mod stl_binary;
mod stl_solids;
mod text;
mod threemf;
mod wording;

pub use error::ReadError;
pub use invariant::fault;

use crate::finding::{Code, Finding, Severity};
use remarks::Remarks;
use sniff::Kind;
use wording::count;

use schemars::JsonSchema;
use serde::Serialize;

/// File format a model was read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Format {
    /// Binary STL.
    #[serde(rename = "stl-binary")]
    StlBinary,
    /// ASCII STL.
    #[serde(rename = "stl-ascii")]
    StlAscii,
    /// Wavefront OBJ.
    #[serde(rename = "obj")]
    Obj,
    /// PLY, ASCII or binary.
    #[serde(rename = "ply")]
    Ply,
    /// 3MF package.
    #[serde(rename = "3mf")]
    ThreeMf,
}

/// How finely the file writes a coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Precision {
    /// IEEE binary32: the step is the float spacing at the coordinate's size.
    Binary32,
    /// IEEE binary64.
    Binary64,
    /// Text whose coordinates are all multiples of `step` (file units).
    Step(f64),
    /// Text with this many significant digits.
    SignificantDigits(u32),
}

/// A named run of facets: an ASCII solid, an OBJ object or group, a 3MF build item.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Name in the file, if it has one.
    pub name: Option<String>,
    /// Index of its first facet; it runs to the next group's first facet.
    pub first_facet: u32,
}

/// Triangles as the file gives them, in file units, not yet welded.
#[derive(Clone, Debug)]
pub struct TriangleSoup {
    /// Vertex coordinates, file units.
    pub points: Vec<[f64; 3]>,
    /// True when no two points are equal: the reader has made those one already.
    pub distinct: bool,
    /// Corner indices into `points`, counter-clockwise seen from outside when the file is sound.
    pub facets: Vec<[u32; 3]>,
    /// Named runs of facets, in order; empty when the file names nothing.
    pub groups: Vec<Group>,
    /// How finely coordinates are written.
    pub precision: Precision,
    /// Millimetres per file unit where the format states it (3MF), else `None`.
    pub declared_mm_per_unit: Option<f64>,
    /// Where it came from.
    pub format: Format,
}

/// The triangles of a model file, in file units, and what was noticed on the way.
///
/// `name_hint` is the name of the file; its ending decides only where the content does not.
/// Coordinates are finite and never −0; every corner index is valid; there is at least one facet.
///
/// # Errors
/// [`ReadError`] when there is nothing that could be measured, with the cause and the remedy.
pub fn read(bytes: &[u8], name_hint: &str) -> Result<(TriangleSoup, Vec<Finding>), ReadError> {
    let ending = name_hint
        .rsplit_once('.')
        .map_or(String::new(), |(_, end)| end.to_ascii_lowercase());
    let mut text_remarks = Remarks::default();
    let text = encoding::plain(bytes, &mut text_remarks);
    let kind = sniff::kind(bytes, &text, &ending)?;
    let mut remarks = match kind {
        Kind::StlBinary | Kind::Package => Remarks::default(),
        Kind::StlAscii | Kind::Obj | Kind::Ply => text_remarks,
    };
    if let Some(misnamed) = sniff::misnamed(kind, &ending) {
        remarks.odd(misnamed);
    }
    let mut soup = match kind {
        Kind::StlBinary => stl_binary::read(bytes, &mut remarks)?,
        Kind::StlAscii => stl_ascii::read(&text, &mut remarks)?,
        Kind::Obj => obj::read(&text, &mut remarks)?,
        Kind::Ply => ply::read(&text, &mut remarks)?,
        Kind::Package => threemf::read(bytes, &mut remarks)?,
    };
    if kind != Kind::StlBinary && kind != Kind::Package {
        say_line_ends(&text, &mut remarks);
    }
    if soup.facets.is_empty() {
        let holds = remarks
            .worst()
            .map_or("The file holds no facets.", |worst| worst)
            .to_owned();
        return Err(ReadError::Empty { holds });
    }
    // STL readers keep the points of sound facets only.
    if !matches!(kind, Kind::StlBinary | Kind::StlAscii) {
        drop_unusable_points(&mut soup);
    }
    if !soup.distinct {
        say_repeated(&soup.facets, &mut remarks);
    }
    groups::tidy(&mut soup.groups, soup.facets.len() as u32);
    Ok((soup, remarks.into_findings()))
}

/// Line ends other than a plain line feed, judged by the first one.
fn say_line_ends(text: &[u8], remarks: &mut Remarks) {
    let end = text
        .iter()
        .position(|b| matches!(b, b'\r' | b'\n'))
        .unwrap_or(text.len());
    match text[end..] {
        [b'\r', b'\n', ..] => remarks.odd("lines end in CR LF"),
        [b'\r', ..] => remarks.odd("lines end in CR alone"),
        _ => {}
    }
}

/// Facets of a model, and points, after all placing: what some 30 GB of memory can hold while they are
/// joined. 32-bit indices carry three corners of each.
const MOST_FACETS: u64 = 50_000_000;

/// Corners of that many facets, where so many are taken.
fn corner_total(facets: usize) -> Result<usize, ReadError> {
    match facets as u64 <= MOST_FACETS {
        true => Ok(3 * facets),
        false => Err(ReadError::TooLarge {
            problem: format!(
                "The model has more than the {} facets this program takes.",
                wording::grouped(MOST_FACETS)
            ),
        }),
    }
}

/// Whether a model with so many points and faces is taken, asked while it is read.
fn taken(points: usize, faces: usize) -> Result<(), ReadError> {
    corner_total(faces)?;
    match points as u64 <= 3 * MOST_FACETS {
        true => Ok(()),
        false => Err(ReadError::TooLarge {
            problem: format!(
                "The model has more than the {} vertices this program takes.",
                wording::grouped(3 * MOST_FACETS)
            ),
        }),
    }
}

fn say_not_finite(n: usize, noun: &str, remarks: &mut Remarks) {
    if n == 0 {
        return;
    }
    let (message, severity) = if noun == "vertex" {
        let has = if n == 1 {
            "has a coordinate that is"
        } else {
            "have coordinates that are"
        };
        (
            format!(
                "{} {has} no finite number (NaN or infinite).",
                count(n, noun)
            ),
            Severity::Warning,
        )
    } else {
        let was = if n == 1 { "was" } else { "were" };
        let message = format!(
            "{} with coordinates that are no finite number (NaN or infinite) {was} left out.",
            count(n, noun)
        );
        (message, Severity::Error)
    };
    remarks.add(
        Code::NotFinite,
        severity,
        message,
        "Export it again: the shape has holes there.",
    );
}

/// Facets that name one vertex twice have no area; they stay, so that nothing is hidden.
fn say_repeated(facets: &[[u32; 3]], remarks: &mut Remarks) {
    let repeated = facets
        .iter()
        .filter(|[a, b, c]| a == b || b == c || c == a)
        .count();
    if repeated > 0 {
        remarks.add(
            Code::DegenerateFacets,
            Severity::Note,
            format!(
                "{} with the same vertex twice, which leaves no area.",
                count(repeated, "facet")
            ),
            "Nothing to do.",
        );
    }
}

/// Takes out points that are no finite numbers; no facet uses them any more.
fn drop_unusable_points(soup: &mut TriangleSoup) {
    let usable = |p: &[f64; 3]| p.iter().all(|x| x.is_finite());
    if soup.points.iter().all(usable) {
        return;
    }
    let mut kept = 0u32;
    let renumbered: Vec<u32> = soup
        .points
        .iter()
        .map(|p| {
            kept += u32::from(usable(p));
            kept.saturating_sub(1)
        })
        .collect();
    soup.points.retain(usable);
    for corner in soup.facets.as_flattened_mut() {
        *corner = renumbered[*corner as usize];
    }
}

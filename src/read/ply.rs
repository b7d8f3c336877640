//! PLY: vertices and faces, as text or binary in either byte order.
//!
//! Follows G. Turk, "The PLY Polygon File Format" (1994): a header that lists the elements and their
//! properties, then the rows of each element in turn.

use crate::finding::{Code, Severity};

use super::error::ReadError;
use super::faces::{Faces, Trouble};
use super::ply_binary::BinaryRows;
use super::ply_header::{Element, Encoding, Meaning, Property, Role, Scalar, Shape, header};
use super::ply_text::TextRows;
use super::precision::Tally;
use super::remarks::Remarks;
use super::wording::{count, grouped};
use super::{Format, Precision, TriangleSoup};

/// The rows of the data, whichever way they are written. Each call takes one row.
pub(super) trait Rows {
    /// The coordinates of a vertex row; not finite where the file says so.
    fn vertex(&mut self, properties: &[Property]) -> Result<[f64; 3], RowFault>;
    /// Appends the corners of a face row.
    fn corners(&mut self, properties: &[Property], out: &mut Vec<i64>) -> Result<(), RowFault>;
    /// Passes over a row.
    fn skip(&mut self, properties: &[Property]) -> Result<(), RowFault>;
    /// Bytes from the start of the data to the next row.
    fn offset(&self) -> usize;
    /// Bytes that are still unread and are no blanks at the end of a text.
    fn left(&self) -> usize;
}

/// Why a row could not be read.
#[derive(Clone, Debug)]
pub(super) enum RowFault {
    /// The data end.
    End,
    /// The row itself is wrong.
    Wrong(ReadError),
}

/// Reads a PLY.
///
/// # Errors
/// [`ReadError::Truncated`] with the vertex or face reached, [`ReadError::DecimalComma`],
/// [`ReadError::Malformed`], [`ReadError::Empty`].
pub(super) fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<TriangleSoup, ReadError> {
    let header = header(bytes, remarks)?;
    check(&header.elements)?;
    match header.encoding {
        Encoding::Ascii => {
            let mut tally = Tally::default();
            let mut rows = TextRows::new(bytes, header.data, &mut tally);
            let (points, faces) = elements(&header.elements, &mut rows, remarks)?;
            rows.say(remarks);
            let place =
                |face: usize| format!("line {}", super::text::line_of(bytes, header.data + face));
            finish(points, faces, tally.precision(), place, remarks)
        }
        Encoding::LittleEndian | Encoding::BigEndian => {
            if matches!(bytes.get(header.data), Some(b'\n' | b'\r')) {
                remarks.odd("the binary data start with a newline byte");
            }
            let big = header.encoding == Encoding::BigEndian;
            let mut rows = BinaryRows::new(&bytes[header.data..], big);
            let (points, faces) = elements(&header.elements, &mut rows, remarks)?;
            let precision = binary_precision(&header.elements, &points);
            let place = |at: usize| format!("byte {}", grouped((header.data + at) as u64));
            finish(points, faces, precision, place, remarks)
        }
    }
}

/// Every vertex needs x, y and z; every face its corners.
fn check(elements: &[Element]) -> Result<(), ReadError> {
    let malformed = |problem: &str| {
        Err(ReadError::Malformed {
            problem: problem.into(),
        })
    };
    for element in elements {
        let has = |meaning: Meaning| element.properties.iter().any(|p| p.meaning == meaning);
        match element.role {
            Role::Vertex if !(0..3).all(|k| has(Meaning::Coordinate(k))) => {
                return malformed("The PLY gives its vertices no x, y and z.");
            }
            Role::Face | Role::Strip if !has(Meaning::Corners) && element.count > 0 => {
                return malformed("The PLY gives its faces no list of corners (vertex_indices).");
            }
            _ => {}
        }
    }
    Ok(())
}

fn elements(
    elements: &[Element],
    rows: &mut impl Rows,
    remarks: &mut Remarks,
) -> Result<(Vec<[f64; 3]>, Faces), ReadError> {
    let (mut points, mut faces, mut corners) = (Vec::new(), Faces::default(), Vec::new());
    for element in elements.iter().filter(|e| !e.properties.is_empty()) {
        let properties = &element.properties;
        let item = match element.role {
            Role::Vertex => "vertex",
            Role::Face => "face",
            Role::Strip => "strip",
            Role::Other => "row",
        };
        for done in 0..element.count {
            let place = rows.offset();
            corners.clear();
            let row = match element.role {
                Role::Vertex => rows.vertex(properties).map(|point| points.push(point)),
                Role::Other => rows.skip(properties),
                Role::Face | Role::Strip => rows.corners(properties, &mut corners),
            };
            match row {
                Ok(()) => {}
                Err(RowFault::End) => {
                    return Err(ReadError::Truncated {
                        item,
                        done,
                        of: Some(element.count),
                    });
                }
                Err(RowFault::Wrong(error)) => return Err(error),
            }
            super::taken(points.len(), faces.len())?;
            match element.role {
                Role::Face => add_face(&corners, place, &mut faces),
                Role::Strip => add_strip(&corners, place, &mut faces),
                Role::Vertex | Role::Other => {}
            }
        }
    }
    let left = rows.left();
    if left > 0 {
        remarks.add(
            Code::CountMismatch,
            Severity::Warning,
            format!(
                "{} after the last row the header counts were left out.",
                count(left, "byte")
            ),
            "Check that no part is missing, or export it again.",
        );
    }
    Ok((points, faces))
}

fn add_face(corners: &[i64], place: usize, faces: &mut Faces) {
    let mut trouble = None;
    for &corner in corners {
        match u32::try_from(corner) {
            Ok(corner) => faces.corner(corner),
            Err(_) => trouble = trouble.or(Some(Trouble::Beyond(corner))),
        }
    }
    faces.close(place, trouble);
}

/// A strip of triangles, every second one turned over; −1 starts anew.
fn add_strip(corners: &[i64], place: usize, faces: &mut Faces) {
    for strip in corners.split(|i| *i == -1) {
        for (k, three) in strip.windows(3).enumerate() {
            let [a, b, c] = [three[0], three[1], three[2]];
            let face = if k % 2 == 0 { [a, b, c] } else { [b, a, c] };
            // Strips are joined by triangles without area; those are no faces.
            if a != b && b != c && c != a {
                add_face(&face, place, faces);
            }
        }
    }
}

fn binary_precision(elements: &[Element], points: &[[f64; 3]]) -> Precision {
    let coordinates = elements
        .iter()
        .filter(|e| e.role == Role::Vertex)
        .flat_map(|e| &e.properties);
    let coordinates = coordinates.filter(|p| matches!(p.meaning, Meaning::Coordinate(_)));
    let single = |x: &f64| f64::from(*x as f32) == *x;
    let (mut real, mut double) = (false, true);
    for property in coordinates {
        real |= matches!(property.shape, Shape::One(Scalar::F32 | Scalar::F64));
        double &= property.shape == Shape::One(Scalar::F64);
    }
    match (real, double) {
        (false, _) => Precision::Step(1.0),
        // Doubles that are all binary32 numbers have been binary32 before.
        (true, true) if !points.as_flattened().iter().all(single) => Precision::Binary64,
        (true, _) => Precision::Binary32,
    }
}

fn finish(
    points: Vec<[f64; 3]>,
    faces: Faces,
    precision: Precision,
    place: impl Fn(usize) -> String,
    remarks: &mut Remarks,
) -> Result<TriangleSoup, ReadError> {
    let not_finite = points
        .iter()
        .filter(|p| p.iter().any(|x| !x.is_finite()))
        .count();
    super::say_not_finite(not_finite, "vertex", remarks);
    let (facets, groups) = faces.triangles(&points, Vec::new(), 0, place, remarks)?;
    if facets.is_empty() {
        let holds = match points.len() {
            0 => "The PLY holds no vertices and no faces".to_owned(),
            n => format!(
                "The PLY holds points only: {} and no usable face",
                count(n, "vertex")
            ),
        };
        let more = remarks
            .worst()
            .map_or(String::new(), |worst| format!(" {worst}"));
        return Err(ReadError::Empty {
            holds: format!("{holds}.{more}"),
        });
    }
    Ok(TriangleSoup {
        distinct: false,
        points,
        facets,
        groups,
        precision,
        declared_mm_per_unit: None,
        format: Format::Ply,
    })
}

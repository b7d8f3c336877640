//! The head of a PLY: encoding, and the elements in the order of the data.

use super::error::ReadError;
use super::faces::integer;
use super::remarks::Remarks;
use super::text::{Text, line_of};
use super::wording::quoted;

/// How the data behind the header are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Ascii,
    LittleEndian,
    BigEndian,
}

/// Type of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Scalar {
    fn named(word: &[u8]) -> Option<Scalar> {
        Some(match word.to_ascii_lowercase().as_slice() {
            b"char" | b"int8" => Scalar::I8,
            b"uchar" | b"uint8" => Scalar::U8,
            b"short" | b"int16" => Scalar::I16,
            b"ushort" | b"uint16" => Scalar::U16,
            b"int" | b"int32" => Scalar::I32,
            b"uint" | b"uint32" => Scalar::U32,
            b"float" | b"float32" => Scalar::F32,
            b"double" | b"float64" => Scalar::F64,
            _ => return None,
        })
    }

    /// Bytes in a binary file.
    pub fn size(self) -> usize {
        match self {
            Scalar::I8 | Scalar::U8 => 1,
            Scalar::I16 | Scalar::U16 => 2,
            Scalar::I32 | Scalar::U32 | Scalar::F32 => 4,
            Scalar::F64 => 8,
        }
    }
}

/// One number, or a count and that many numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    One(Scalar),
    List(Scalar, Scalar),
}

/// What a property means for a mesh.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meaning {
    /// Coordinate x, y or z.
    Coordinate(usize),
    /// Corners of a face or strip.
    Corners,
    /// Nothing that shapes the part.
    Other,
}

/// A property of an element.
#[derive(Clone, Copy, Debug)]
pub(super) struct Property {
    pub shape: Shape,
    pub meaning: Meaning,
}

/// What an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Vertex,
    Face,
    Strip,
    Other,
}

/// A run of equal rows in the data.
#[derive(Clone, Debug)]
pub(super) struct Element {
    pub role: Role,
    pub count: u64,
    pub properties: Vec<Property>,
}

/// A whole header, and where the data begin.
#[derive(Clone, Debug)]
pub(super) struct Header {
    pub encoding: Encoding,
    pub elements: Vec<Element>,
    pub data: usize,
}

/// Reads the header.
///
/// # Errors
/// [`ReadError::Malformed`] with the line that cannot be understood.
pub(super) fn header(bytes: &[u8], remarks: &mut Remarks) -> Result<Header, ReadError> {
    let mut text = Text::new(bytes);
    let crlf = {
        let first = Text::new(bytes).line_tail().len();
        bytes[first..].starts_with(b"\r\n")
    };
    let mut encoding = None;
    let mut elements: Vec<Element> = Vec::new();
    loop {
        let start = text.offset();
        let fault = |what: String| {
            let problem = format!("Line {} of the PLY header: {what}.", line_of(bytes, start));
            ReadError::Malformed { problem }
        };
        if text.rest().is_empty() {
            return Err(ReadError::Malformed {
                problem: "The PLY header has no end (no end_header line).".into(),
            });
        }
        let mut words = Text::new(text.line_tail());
        let keyword = words
            .word()
            .map(<[u8]>::to_ascii_lowercase)
            .unwrap_or_default();
        match keyword.as_slice() {
            b"end_header" => break,
            b"format" => encoding = Some(format(words.word(), &fault)?),
            b"element" => elements.push(element(&mut words, &fault)?),
            b"property" => {
                let Some(element) = elements.last_mut() else {
                    return Err(fault("a property stands before the first element".into()));
                };
                let property = property(&mut words, element.role, &fault)?;
                element.properties.push(property);
            }
            b"" | b"ply" | b"comment" | b"obj_info" => {}
            other => remarks.odd(format!(
                "the header line \"{}\" was passed over",
                quoted(other)
            )),
        }
        text.rest_of_line();
    }
    let end = text.offset() + text.line_tail().len();
    let line_end = if crlf && bytes[end..].starts_with(b"\r\n") {
        2
    } else {
        1
    };
    let encoding = encoding.ok_or_else(|| ReadError::Malformed {
        problem: "The PLY header names no format.".into(),
    })?;
    Ok(Header {
        encoding,
        elements,
        data: (end + line_end).min(bytes.len()),
    })
}

type Fault<'a> = &'a dyn Fn(String) -> ReadError;

fn format(word: Option<&[u8]>, fault: Fault) -> Result<Encoding, ReadError> {
    match word.map(<[u8]>::to_ascii_lowercase).as_deref() {
        Some(b"ascii") => Ok(Encoding::Ascii),
        Some(b"binary_little_endian") => Ok(Encoding::LittleEndian),
        Some(b"binary_big_endian") => Ok(Encoding::BigEndian),
        other => Err(fault(format!(
            "the format \"{}\" is unknown",
            quoted(other.unwrap_or_default())
        ))),
    }
}

fn element(words: &mut Text, fault: Fault) -> Result<Element, ReadError> {
    let role = match words.word() {
        Some(b"vertex") => Role::Vertex,
        Some(b"face") => Role::Face,
        Some(b"tristrips") => Role::Strip,
        Some(_) => Role::Other,
        None => return Err(fault("an element without a name".into())),
    };
    let count = words
        .word()
        .and_then(integer)
        .and_then(|n| u64::try_from(n).ok());
    let count = count.ok_or_else(|| fault("an element without a count".into()))?;
    Ok(Element {
        role,
        count,
        properties: Vec::new(),
    })
}

fn property(words: &mut Text, role: Role, fault: Fault) -> Result<Property, ReadError> {
    let mut scalar = || {
        let word = words.word().unwrap_or_default();
        (Scalar::named(word), word)
    };
    let unknown = |word: &[u8]| fault(format!("the type \"{}\" is unknown", quoted(word)));
    let shape = match scalar() {
        (Some(one), _) => Shape::One(one),
        (None, b"list") => {
            let (count, word) = scalar();
            let count = count.ok_or_else(|| unknown(word))?;
            let (item, word) = scalar();
            Shape::List(count, item.ok_or_else(|| unknown(word))?)
        }
        (None, word) => return Err(unknown(word)),
    };
    let name = words.word().unwrap_or_default();
    let meaning = match (role, shape, name) {
        (Role::Vertex, Shape::One(_), b"x") => Meaning::Coordinate(0),
        (Role::Vertex, Shape::One(_), b"y") => Meaning::Coordinate(1),
        (Role::Vertex, Shape::One(_), b"z") => Meaning::Coordinate(2),
        (Role::Face | Role::Strip, Shape::List(..), b"vertex_indices" | b"vertex_index") => {
            Meaning::Corners
        }
        _ => Meaning::Other,
    };
    Ok(Property { shape, meaning })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Header, ReadError> {
        header(text.as_bytes(), &mut Remarks::default())
    }

    #[test]
    fn data_begin_behind_the_line_end_of_the_header() {
        let body = "format ascii 1.0\nelement vertex 3\nproperty float x\nend_header\n";
        let header = parsed(&format!("ply\n{body}\n")).unwrap();
        assert_eq!(
            (header.data, header.encoding),
            (4 + body.len(), Encoding::Ascii)
        );
        let body = body.replace('\n', "\r\n");
        assert_eq!(
            parsed(&format!("ply\r\n{body}\n")).unwrap().data,
            5 + body.len()
        );
    }

    #[test]
    fn faults_name_their_line() {
        let said = |text: &str| parsed(text).unwrap_err().to_string();
        assert!(said("ply\nformat ascii 1.0\nelement vertex x\n").starts_with("Line 3"));
        assert!(
            said("ply\nformat ascii 1.0\nelement vertex 1\nproperty real x\n").contains("\"real\"")
        );
        assert!(said("ply\nformat ascii 1.0\n").contains("end_header"));
        assert!(said("ply\nend_header\n").contains("format"));
    }
}

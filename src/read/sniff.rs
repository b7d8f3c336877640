//! Which format a file is in: by its size and its grammar, not by its name or its first word.

use super::error::ReadError;
use super::stl_binary;
use super::text::Text;

/// How to read the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Binary STL, sound or not.
    StlBinary,
    /// Text STL.
    StlAscii,
    /// OBJ.
    Obj,
    /// PLY of any encoding.
    Ply,
    /// A zip archive: 3MF if anything.
    Package,
}

impl Kind {
    /// Ending of the name that goes with it, and the format's name.
    fn names(self) -> (&'static str, &'static str) {
        match self {
            Kind::StlBinary => ("stl", "binary STL"),
            Kind::StlAscii => ("stl", "text STL"),
            Kind::Obj => ("obj", "OBJ"),
            Kind::Ply => ("ply", "PLY"),
            Kind::Package => ("3mf", "3MF"),
        }
    }
}

/// Bytes of a text looked at before its kind is decided.
const LOOK: usize = 64 * 1024;

/// The kind of a file. `text` is the same with byte-order mark and UTF-16 resolved.
///
/// # Errors
/// [`ReadError::NoBytes`], [`ReadError::NotAModel`].
pub(super) fn kind(bytes: &[u8], text: &[u8], ending: &str) -> Result<Kind, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::NoBytes);
    }
    if stl_binary::size_fits(bytes) {
        return Ok(Kind::StlBinary);
    }
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        return Ok(Kind::Package);
    }
    if is_ply(text) {
        return Ok(Kind::Ply);
    }
    let binary = stl_binary::shifted_header(bytes).is_some();
    if !binary && is_ascii_stl(text) {
        return Ok(Kind::StlAscii);
    }
    if !binary && is_obj(text, ending) {
        return Ok(Kind::Obj);
    }
    if let Some(looks_like) = foreign(text) {
        return Err(ReadError::NotAModel {
            looks_like: format!("The file is {looks_like}, not a mesh this program reads."),
        });
    }
    let textual = is_text(text);
    if ending == "obj" {
        return Ok(Kind::Obj);
    }
    if binary || (!textual && (ending == "stl" || bytes.len() >= 84)) {
        return Ok(Kind::StlBinary);
    }
    let looks_like = match (textual, ending) {
        (_, "ply") => "The name ends in .ply, but the file does not begin with the word ply.",
        (true, _) => "The file is a text, but none of STL, OBJ or PLY.",
        (false, _) => "The file is too short to be a model, and no text.",
    };
    Err(ReadError::NotAModel {
        looks_like: looks_like.into(),
    })
}

/// Says where the name and the content of a file disagree.
pub(super) fn misnamed(kind: Kind, ending: &str) -> Option<String> {
    let (own, format) = kind.names();
    let known = ["stl", "obj", "ply", "3mf"].contains(&ending);
    (known && ending != own)
        .then(|| format!("the name ends in .{ending}, but the content is {format}"))
}

fn is_ply(text: &[u8]) -> bool {
    let head: Vec<u8> = text.iter().take(4).map(u8::to_ascii_lowercase).collect();
    matches!(head[..], [b'p', b'l', b'y', b'\n' | b'\r' | b' ' | b'\t'])
}

/// No control characters but line ends and tabs in what is looked at.
fn is_text(text: &[u8]) -> bool {
    let control = |b: &u8| *b < b' ' && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0b | 0x0c);
    !text.iter().take(LOOK).any(control)
}

/// `solid` first and `facet` or `endsolid` after it, or `facet` and what belongs in it; nothing binary
/// before that.
fn is_ascii_stl(text: &[u8]) -> bool {
    let look = &text[..text.len().min(LOOK)];
    let mut words = Text::new(look);
    let is = |word: &[u8], keyword: &str| word.eq_ignore_ascii_case(keyword.as_bytes());
    match words.word() {
        Some(word) if is(word, "solid") => {}
        Some(word) if is(word, "facet") => {
            return words
                .word()
                .is_some_and(|w| is(w, "normal") || is(w, "outer"))
                && is_text(look);
        }
        _ => return false,
    }
    while let Some(word) = words.word() {
        if is(word, "facet") || is(word, "endsolid") {
            return is_text(&look[..words.offset()]);
        }
    }
    is_text(look)
}

/// A vertex or face statement among lines of text.
fn is_obj(text: &[u8], ending: &str) -> bool {
    let look = &text[..text.len().min(LOOK)];
    if !is_text(look) {
        return false;
    }
    let mut lines = Text::new(look);
    while !lines.rest().is_empty() {
        let mut words = Text::new(lines.rest_of_line());
        let first = words.word();
        let number = |word: Option<&[u8]>| {
            word.is_some_and(|w| w.first().is_some_and(|b| b"+-.0123456789nNiI".contains(b)))
        };
        match first {
            Some(b"v" | b"V" | b"f" | b"F") if number(words.word()) => return true,
            Some(b"usemtl" | b"mtllib") => return true,
            Some(b"o" | b"g" | b"s") if ending == "obj" => return true,
            _ => {}
        }
    }
    false
}

/// Other files that land in the wrong place. Open formats only.
fn foreign(text: &[u8]) -> Option<&'static str> {
    let head: Vec<u8> = text
        .trim_ascii_start()
        .iter()
        .take(64)
        .map(u8::to_ascii_lowercase)
        .collect();
    let starts = |with: &str| head.starts_with(with.as_bytes());
    if starts("iso-10303-21") {
        Some("a STEP file (an exact solid)")
    } else if starts("<!doctype html") || starts("<html") {
        Some("a web page")
    } else if starts("<?xml") || starts("<") {
        Some("an XML text")
    } else if starts("%pdf") {
        Some("a PDF")
    } else if head.starts_with(&[0x1f, 0x8b]) {
        Some("packed with gzip")
    } else if starts("gltf") || starts("{") {
        Some("a glTF or JSON file")
    } else if starts("off\n") || starts("off\r") || starts("coff") {
        Some("an OFF mesh")
    } else if head.starts_with(&[0x89, b'p', b'n', b'g']) || head.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("a picture")
    } else {
        None
    }
}

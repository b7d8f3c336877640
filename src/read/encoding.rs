//! Character sets: everything becomes bytes whose ASCII part can be read as such.

use std::borrow::Cow;

use crate::finding::{Code, Severity};

use super::remarks::Remarks;

/// The text without byte-order mark, UTF-16 turned into UTF-8; says so when it had to.
pub(super) fn plain<'a>(bytes: &'a [u8], remarks: &mut Remarks) -> Cow<'a, [u8]> {
    let (order, name) = match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => {
            remarks.odd("the text begins with a byte-order mark");
            return Cow::Borrowed(rest);
        }
        [0xff, 0xfe, ..] => (
            u16::from_le_bytes as fn([u8; 2]) -> u16,
            "UTF-16 little endian",
        ),
        [0xfe, 0xff, ..] => (
            u16::from_be_bytes as fn([u8; 2]) -> u16,
            "UTF-16 big endian",
        ),
        _ => match bare_utf16(bytes) {
            Some(true) => (
                u16::from_be_bytes as fn([u8; 2]) -> u16,
                "UTF-16 big endian",
            ),
            Some(false) => (
                u16::from_le_bytes as fn([u8; 2]) -> u16,
                "UTF-16 little endian",
            ),
            None => return Cow::Borrowed(bytes),
        },
    };
    let units = bytes.chunks_exact(2).map(|pair| order([pair[0], pair[1]]));
    let text: String = char::decode_utf16(units)
        .map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER))
        .filter(|c| *c != '\u{feff}')
        .collect();
    remarks.add(
        Code::TextEncoding,
        Severity::Note,
        format!("The text is in {name}; it was converted while reading."),
        "Nothing to do.",
    );
    Cow::Owned(text.into_bytes())
}

/// The same for a part that must be Unicode text; bytes that are none become replacement characters.
pub(super) fn xml(mut bytes: Vec<u8>, remarks: &mut Remarks) -> String {
    // UTF-8 with a byte-order mark is what the packaging rules allow: nothing to say.
    if bytes.starts_with(b"\xef\xbb\xbf") {
        bytes.drain(..3);
    }
    if let Cow::Owned(converted) = plain(&bytes, remarks) {
        bytes = converted;
    }
    String::from_utf8(bytes).unwrap_or_else(|error| {
        remarks.odd("the text holds invalid Unicode");
        String::from_utf8_lossy(error.as_bytes()).into_owned()
    })
}

/// Without a mark: every second byte of the beginning is zero (big endian: the first of each pair).
fn bare_utf16(bytes: &[u8]) -> Option<bool> {
    let pairs: Vec<&[u8]> = bytes.chunks_exact(2).take(16).collect();
    if pairs.len() < 4 {
        return None;
    }
    let text = |b: u8| matches!(b, b'\t' | b'\n' | b'\r' | b' '..=b'~');
    if pairs.iter().all(|p| p[0] == 0 && text(p[1])) {
        Some(true)
    } else if pairs.iter().all(|p| p[1] == 0 && text(p[0])) {
        Some(false)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn converted(units: impl Iterator<Item = [u8; 2]>) -> String {
        let bytes: Vec<u8> = units.flatten().collect();
        String::from_utf8(plain(&bytes, &mut Remarks::default()).into_owned()).unwrap()
    }

    #[test]
    fn utf16_is_converted_with_and_without_mark() {
        let text = "v 1 2 3\nv 4 5 6\n";
        for marked in [text.to_owned(), format!("\u{feff}{text}")] {
            assert_eq!(converted(marked.encode_utf16().map(u16::to_be_bytes)), text);
            assert_eq!(converted(marked.encode_utf16().map(u16::to_le_bytes)), text);
        }
    }

    #[test]
    fn plain_text_is_not_copied() {
        assert!(matches!(
            plain(b"solid x\n", &mut Remarks::default()),
            Cow::Borrowed(_)
        ));
    }
}

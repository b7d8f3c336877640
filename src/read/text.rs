//! A cursor over the words of a text.

use super::decimal::{self, Decimal, Unusable};
use super::error::ReadError;
use super::wording::quoted;

/// A text and how far it has been read. Line ends may be LF, CR LF or CR.
#[derive(Clone, Debug)]
pub(super) struct Text<'a> {
    bytes: &'a [u8],
    at: usize,
}

fn is_line_end(b: u8) -> bool {
    b == b'\n' || b == b'\r'
}

/// Blanks, tabs and control characters; line ends too.
fn is_blank(b: u8) -> bool {
    b <= b' '
}

impl<'a> Text<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Text { bytes, at: 0 }
    }

    /// Bytes read so far.
    pub fn offset(&self) -> usize {
        self.at
    }

    /// What is still to be read.
    #[inline]
    pub fn rest(&self) -> &'a [u8] {
        self.bytes.get(self.at..).unwrap_or_default()
    }

    /// Goes to the next word, over line ends.
    #[inline]
    pub fn skip_blanks(&mut self) {
        self.at += self.rest().iter().take_while(|b| is_blank(**b)).count();
    }

    /// The next word, over line ends.
    #[inline]
    pub fn word(&mut self) -> Option<&'a [u8]> {
        self.skip_blanks();
        let rest = self.rest();
        let length = rest.iter().position(|b| is_blank(*b)).unwrap_or(rest.len());
        self.at += length;
        (length > 0).then(|| &rest[..length])
    }

    /// The next word on this line. With `joined`, a backslash at the end of a line continues it.
    #[inline]
    pub fn word_on_line(&mut self, joined: Option<&mut bool>) -> Option<&'a [u8]> {
        let mut joined = joined;
        loop {
            let rest = self.rest();
            let blanks = rest
                .iter()
                .take_while(|b| is_blank(**b) && !is_line_end(**b))
                .count();
            self.at += blanks;
            let rest = &rest[blanks..];
            if let (Some(seen), Some(length)) = (&mut joined, continuation(rest)) {
                **seen = true;
                self.at += length;
                continue;
            }
            let stop = |b: &u8| is_blank(*b) || (*b == b'\\' && joined.is_some());
            let length = match rest.iter().position(stop) {
                // A backslash inside a word belongs to it.
                Some(end) if rest[end] == b'\\' && continuation(&rest[end..]).is_none() => {
                    rest.iter().position(|b| is_blank(*b)).unwrap_or(rest.len())
                }
                Some(end) => end,
                None => rest.len(),
            };
            self.at += length;
            return (length > 0).then(|| &rest[..length]);
        }
    }

    /// Takes the next word if it is this one, over line ends.
    #[inline]
    pub fn takes(&mut self, keyword: &[u8]) -> bool {
        self.skip_blanks();
        let rest = self.rest();
        let same =
            rest.starts_with(keyword) && rest.get(keyword.len()).is_none_or(|b| is_blank(*b));
        self.at += if same { keyword.len() } else { 0 };
        same
    }

    /// Looks at the next word without taking it.
    pub fn peek(&self) -> Option<&'a [u8]> {
        self.clone().word()
    }

    /// The rest of this line; its line end is taken too.
    pub fn rest_of_line(&mut self) -> &'a [u8] {
        let rest = self.rest();
        let length = rest
            .iter()
            .position(|b| is_line_end(*b))
            .unwrap_or(rest.len());
        self.at += length;
        if self.rest().starts_with(b"\r\n") {
            self.at += 1;
        }
        self.at = (self.at + 1).min(self.bytes.len());
        &rest[..length]
    }

    /// The rest of this line, left where it is.
    pub fn line_tail(&self) -> &'a [u8] {
        let rest = self.rest();
        &rest[..rest
            .iter()
            .position(|b| is_line_end(*b))
            .unwrap_or(rest.len())]
    }

    /// Skips to the next line that does not continue this one.
    pub fn skip_logical_line(&mut self, joined: &mut bool) {
        while self.rest_of_line().trim_ascii_end().ends_with(b"\\") && !self.rest().is_empty() {
            *joined = true;
        }
    }

    /// Moves to `offset` in the whole text.
    pub fn go_to(&mut self, offset: usize) {
        self.at = offset.min(self.bytes.len());
    }

    /// A coordinate: the next number, over line ends.
    #[inline]
    pub fn number(&mut self) -> Option<Result<Decimal, Unusable>> {
        self.skip_blanks();
        let rest = self.rest();
        if let Some((number, used)) = decimal::leading(rest)
            && rest.get(used).is_none_or(|b| is_blank(*b))
            && number.value.is_finite()
        {
            self.at += used;
            return Some(Ok(number));
        }
        self.word().map(decimal::word)
    }

    /// Number of the line at `offset`, from 1.
    pub fn line_at(&self, offset: usize) -> usize {
        line_of(self.bytes, offset)
    }
}

/// Length of a backslash with the line end after it, where `rest` begins with that.
fn continuation(rest: &[u8]) -> Option<usize> {
    let after = rest.strip_prefix(b"\\")?;
    let trimmed = after
        .iter()
        .take_while(|b| **b == b' ' || **b == b'\t')
        .count();
    let after = &after[trimmed..];
    let end = match after {
        [b'\r', b'\n', ..] => 2,
        [b'\r' | b'\n', ..] => 1,
        _ => return None,
    };
    Some(1 + trimmed + end)
}

/// Number of the line at `offset`, from 1.
pub(super) fn line_of(bytes: &[u8], offset: usize) -> usize {
    let before = &bytes[..offset.min(bytes.len())];
    let count = |end: u8| before.iter().filter(|b| **b == end).count();
    1 + match count(b'\n') {
        0 => count(b'\r'),
        n => n,
    }
}

/// The error for a word that should have been a coordinate.
pub(super) fn bad_number(bytes: &[u8], offset: usize, word: &[u8], why: Unusable) -> ReadError {
    let line = line_of(bytes, offset);
    let text = quoted(word);
    match why {
        Unusable::Comma => ReadError::DecimalComma { line, text },
        _ => ReadError::Malformed {
            problem: format!("Line {line}: \"{text}\" stands where a number should."),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<String> {
        let mut cursor = Text::new(text.as_bytes());
        let mut joined = false;
        let mut out = Vec::new();
        while let Some(word) = cursor.word_on_line(Some(&mut joined)) {
            out.push(String::from_utf8_lossy(word).into_owned());
        }
        out
    }

    #[test]
    fn a_backslash_joins_lines() {
        assert_eq!(words("f 1 2 \\\n 3 4\nf 5"), ["f", "1", "2", "3", "4"]);
        assert_eq!(words("f 1 2\\\r\n3"), ["f", "1", "2", "3"]);
        assert_eq!(words("usemtl a\\b c"), ["usemtl", "a\\b", "c"]);
    }

    #[test]
    fn lines_are_counted_whatever_ends_them() {
        assert_eq!(line_of(b"a\nb\nc", 4), 3);
        assert_eq!(line_of(b"a\r\nb\r\nc", 6), 3);
        assert_eq!(line_of(b"a\rb\rc", 4), 3);
    }

    #[test]
    fn the_rest_of_a_line_takes_its_end() {
        let mut text = Text::new(b"solid a b\r\nfacet");
        assert_eq!(text.word(), Some(&b"solid"[..]));
        assert_eq!(text.rest_of_line(), b" a b");
        assert_eq!(text.word(), Some(&b"facet"[..]));
        assert_eq!(text.word(), None);
    }
}

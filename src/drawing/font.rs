//! The letters: two faces shipped with the program, and how wide a line of them is.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use ttf_parser::{Face as Parsed, GlyphId};

/// Regular face: part of DejaVu Sans; its licence stands beside it.
pub const PLAIN: &[u8] = include_bytes!("font/DejaVuSans-subset.ttf");
/// Bold face: part of DejaVu Sans Bold.
pub const BOLD: &[u8] = include_bytes!("font/DejaVuSans-Bold-subset.ttf");

/// Highest ink above the base line, in heights of a capital letter (brackets; only accents of
/// capitals reach higher).
pub const ASCENT: f64 = 1.1;
/// Lowest ink below the base line, in heights of a capital letter.
pub const DESCENT: f64 = 0.33;
/// Height of a capital letter in ems of both faces.
pub const CAPITAL: f64 = 0.729;

/// A face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Face {
    Plain,
    Bold,
}

/// What is known of one letter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Letter {
    /// Its number in the face; 0 is the box for a letter that isn't there.
    pub glyph: u16,
    /// How far it moves on, em.
    pub advance: f64,
}

/// Letters of both faces, read once.
struct Letters {
    plain: BTreeMap<char, Letter>,
    bold: BTreeMap<char, Letter>,
}

/// The bytes of a face.
pub fn bytes(face: Face) -> &'static [u8] {
    match face {
        Face::Plain => PLAIN,
        Face::Bold => BOLD,
    }
}

/// The letter for `c`; the empty box when the face has none.
pub fn letter(c: char, face: Face) -> Letter {
    static LETTERS: OnceLock<Letters> = OnceLock::new();
    let letters = LETTERS.get_or_init(|| Letters {
        plain: read(PLAIN),
        bold: read(BOLD),
    });
    let list = match face {
        Face::Plain => &letters.plain,
        Face::Bold => &letters.bold,
    };
    list.get(&c).copied().unwrap_or(Letter {
        glyph: 0,
        advance: 0.6,
    })
}

/// Length of a line of capital height `height`, in the unit of `height`.
pub fn width(words: &str, face: Face, height: f64) -> f64 {
    words.chars().map(|c| letter(c, face).advance).sum::<f64>() * height / CAPITAL
}

/// `words` broken at blanks into lines no longer than `width` (a longer word stands alone).
pub fn wrap(words: &str, face: Face, height: f64, limit: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), face, height) <= limit => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn read(bytes: &[u8]) -> BTreeMap<char, Letter> {
    // The faces are part of the program; a test reads both.
    let Ok(face) = Parsed::parse(bytes, 0) else {
        return BTreeMap::new();
    };
    let em = f64::from(face.units_per_em());
    let mut letters = BTreeMap::new();
    for table in face.tables().cmap.iter().flat_map(|cmap| cmap.subtables) {
        if !table.is_unicode() {
            continue;
        }
        table.codepoints(|code| {
            let letter = char::from_u32(code).and_then(|c| {
                let GlyphId(glyph) = table.glyph_index(code)?;
                let advance = f64::from(face.glyph_hor_advance(GlyphId(glyph))?) / em;
                Some((c, Letter { glyph, advance }))
            });
            letters.extend(letter);
        });
    }
    letters
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_hold_the_signs_of_the_trade() {
        for face in [Face::Plain, Face::Bold] {
            for c in "⌀±°×½⅝⁄″′ ABCxyz0123456789→≤≥−éßØłж".chars() {
                assert_ne!(letter(c, face).glyph, 0, "{c} is missing in {face:?}");
            }
            assert_eq!(letter('\u{4e00}', face).glyph, 0);
        }
    }

    #[test]
    fn capitals_are_as_high_as_said() {
        for bytes in [PLAIN, BOLD] {
            let face = Parsed::parse(bytes, 0).expect("a face");
            let glyph = face.glyph_index('H').expect("an H");
            let top = face.glyph_bounding_box(glyph).expect("ink").y_max;
            let height = f64::from(top) / f64::from(face.units_per_em());
            assert!((height - CAPITAL).abs() < 0.001, "{height} em");
        }
    }

    #[test]
    fn ink_stays_inside_the_measured_box() {
        for bytes in [PLAIN, BOLD] {
            let face = Parsed::parse(bytes, 0).expect("a face");
            let em = f64::from(face.units_per_em());
            for c in "gy()[]{}⌀±°½|jQ0éH/".chars() {
                let glyph = face.glyph_index(c).expect("a letter");
                let ink = face.glyph_bounding_box(glyph).expect("ink");
                assert!(f64::from(ink.y_max) / em <= ASCENT * CAPITAL, "{c} above");
                assert!(f64::from(ink.y_min) / em >= -DESCENT * CAPITAL, "{c} below");
            }
        }
    }

    #[test]
    fn lines_break_at_blanks() {
        let lines = wrap("one two three four", Face::Plain, 2.5, 20.0);
        assert!(lines.len() > 1, "{lines:?}");
        assert_eq!(lines.join(" "), "one two three four");
        assert!(lines.iter().all(|l| width(l, Face::Plain, 2.5) <= 20.0));
    }
}

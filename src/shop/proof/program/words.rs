//! Lines of G-code taken apart into words, by the rules of RS274/NGC: capitals and small letters are
//! the same, blanks mean nothing, a comment stands in parentheses.
//!
//! Source: Kramer, Proctor, Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556 (2000),
//! section 3.3 (from memory). A comment after a semicolon is not in the report but common practice.

use crate::shop::Refused;

/// A letter with its number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Word {
    /// Capital letter.
    pub letter: char,
    /// Number.
    pub value: f64,
}

impl Word {
    /// Number of a G or M word in tenths: G90.1 is 901. `None` where it is no tenth or too large.
    pub fn tenths(&self) -> Option<u32> {
        let tenths = self.value * 10.0;
        let whole = tenths.round();
        ((tenths - whole).abs() < 1e-6 && (0.0..1e5).contains(&whole)).then_some(whole as u32)
    }
}

/// One line of a program.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Block {
    /// Starts with a slash: whether it runs hangs on a switch of the control.
    pub deletable: bool,
    /// Words in order, without the line number.
    pub words: Vec<Word>,
    /// What can't be told from the line alone: sums, parameters, loops, subprograms.
    pub beyond: Option<String>,
}

/// Most signs in a line; NISTIR 6556 allows 256.
const LONGEST: usize = 4096;

/// Takes one line apart; `number` is its line in the file.
pub fn block(text: &str, number: usize) -> Result<Block, Refused> {
    if text.len() > LONGEST {
        return Err(wrong(
            number,
            "is longer than any line of a program",
            "Give a text file with one block on a line.",
        ));
    }
    let bare = without_comments(text, number)?;
    let mut rest = bare.as_str();
    let mut block = Block::default();
    if let Some(after) = rest.strip_prefix('/') {
        block.deletable = true;
        rest = after;
    }
    // O-words, parameters and expressions belong to the language, but what they do hangs on the run.
    let beyond = rest.contains(['#', '[', '=']);
    if beyond || rest.starts_with('O') {
        block.beyond = Some(rest.chars().take(40).collect());
        return Ok(block);
    }
    while let Some(letter) = rest.chars().next() {
        if !letter.is_ascii_alphabetic() {
            return Err(wrong(
                number,
                &format!("has \"{}\" where a letter should stand", safe(letter)),
                "Give a program in G-code, as text.",
            ));
        }
        rest = rest.get(1..).unwrap_or_default();
        let end = rest
            .find(|c: char| !(c.is_ascii_digit() || matches!(c, '+' | '-' | '.')))
            .unwrap_or(rest.len());
        let (figures, after) = rest.split_at(end);
        let value = figures.parse::<f64>().ok().filter(|v| v.is_finite());
        let Some(value) = value else {
            return Err(wrong(
                number,
                &format!("has no number after the letter {letter}"),
                "Correct the line; a number has a decimal point and no comma.",
            ));
        };
        rest = after;
        if letter != 'N' {
            block.words.push(Word { letter, value });
        }
    }
    Ok(block)
}

/// A refusal that names the line.
pub fn wrong(line: usize, cause: &str, remedy: &str) -> Refused {
    Refused::new(format!("Line {line} {cause}."), remedy)
}

/// Capitals without blanks and comments.
fn without_comments(text: &str, number: usize) -> Result<String, Refused> {
    let mut out = String::new();
    let mut inside = false;
    for c in text.chars() {
        match c {
            '(' if !inside => inside = true,
            ')' if inside => inside = false,
            _ if inside => {}
            ';' => break,
            c if c.is_whitespace() => {}
            c => out.push(c.to_ascii_uppercase()),
        }
    }
    match inside {
        true => Err(wrong(
            number,
            "has a comment that is not closed",
            "Close it with a parenthesis.",
        )),
        false => Ok(out),
    }
}

fn safe(c: char) -> char {
    if c.is_control() { '?' } else { c }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_and_comments_mean_nothing() {
        // The line of the report itself: 12.34 and 7 with blanks inside the numbers.
        let read = block("n10 g0x +0. 12 34y 7 (to the start)", 1).expect("a line");
        let words: Vec<(char, f64)> = read.words.iter().map(|w| (w.letter, w.value)).collect();
        assert_eq!(words, [('G', 0.0), ('X', 0.1234), ('Y', 7.0)]);
        assert!(block("/G1 X.5 ; over", 1).expect("a line").deletable);
        assert_eq!(
            block("G90.1", 1).expect("a line").words[0].tenths(),
            Some(901)
        );
    }

    #[test]
    fn what_is_no_line_is_named_with_its_number() {
        for text in [
            "G1 X",
            "G1 X1.2.3",
            "G1 X--1",
            "12",
            "G1 X1,5",
            "G1 (x",
            "\u{e9}",
        ] {
            let why = block(text, 7).expect_err(text);
            assert!(why.cause.starts_with("Line 7 "), "{why}");
        }
        for text in ["#1=5", "G1 X[1+2]", "O100 while [#1 GT 0]", "o100 sub"] {
            assert!(block(text, 1).expect("a line").beyond.is_some(), "{text}");
        }
        let huge = format!("X{}", "9".repeat(400));
        assert!(block(&huge, 1).is_err());
    }
}

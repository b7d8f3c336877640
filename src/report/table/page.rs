//! Lines of text with an optional emphasis.

use tabled::grid::util::string::get_text_width;

/// How a line, or its first word, stands out on a terminal. Never the only sign of anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Emphasis {
    Plain,
    Bold,
    Red,
    Yellow,
    Blue,
}

pub(crate) struct Page {
    pub width: usize,
    lines: Vec<(String, Emphasis)>,
}

impl Page {
    pub fn new(width: usize) -> Page {
        Page {
            width,
            lines: Vec::new(),
        }
    }

    pub fn line(&mut self, text: impl Into<String>) {
        self.emphasised(text, Emphasis::Plain);
    }

    pub fn blank(&mut self) {
        self.line("");
    }

    /// A heading with a rule to the edge of the page.
    pub fn heading(&mut self, text: &str) {
        let rule = self.width.saturating_sub(get_text_width(text) + 1).max(2);
        self.emphasised(format!("{text} {:-<rule$}", ""), Emphasis::Bold);
    }

    pub fn emphasised(&mut self, text: impl Into<String>, emphasis: Emphasis) {
        self.lines.push((text.into(), emphasis));
    }

    /// Prose, wrapped at words, every line after the first set in by `hang` spaces.
    pub fn prose(&mut self, text: &str, hang: usize) {
        for (row, line) in wrapped(text, self.width.saturating_sub(hang))
            .into_iter()
            .enumerate()
        {
            let indent = if row == 0 { 0 } else { hang };
            self.line(format!("{:indent$}{line}", ""));
        }
    }

    pub fn into_text(self, colour: bool) -> String {
        let mut text = String::new();
        for (line, emphasis) in self.lines {
            let line = line.trim_end();
            match emphasis.code().filter(|_| colour) {
                Some(code) => text.push_str(&format!("\u{1b}[{code}m{line}\u{1b}[0m")),
                None => text.push_str(line),
            }
            text.push('\n');
        }
        text
    }
}

impl Emphasis {
    fn code(self) -> Option<&'static str> {
        match self {
            Emphasis::Plain => None,
            Emphasis::Bold => Some("1"),
            Emphasis::Red => Some("1;31"),
            Emphasis::Yellow => Some("1;33"),
            Emphasis::Blue => Some("1;34"),
        }
    }
}

/// `text` broken at words into lines of at most `width`; sizes and numbers stay in one piece, and what
/// is longer than a line by itself gets one that sticks out.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in keep_numbers_whole(text)
        .split([' ', '\n'])
        .filter(|word| !word.is_empty())
    {
        match lines.last_mut() {
            Some(line) if get_text_width(line) + 1 + get_text_width(word) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines.into_iter().map(|line| loosen(&line)).collect()
}

/// What a file calls something, safe to print on one line.
pub(crate) fn printable(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

const HARD_SPACE: char = '\u{a0}';

/// Spaces inside `50 x 50 x 3`, `R 1500`, `1 1/2` and `1 203` made hard.
fn keep_numbers_whole(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = "";
    for word in text.split(' ') {
        if !out.is_empty() {
            let after_number = before.ends_with(|c: char| c.is_ascii_digit());
            let number = word.starts_with(|c: char| c.is_ascii_digit());
            let glued = (after_number && (number || word == "x"))
                || (number && matches!(before, "x" | "R"));
            out.push(if glued { HARD_SPACE } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// Hard spaces made plain again.
fn loosen(text: &str) -> String {
    text.replace(HARD_SPACE, " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_not_broken() {
        let lines = wrapped("square tube 50 x 50 x 3, rolled R 1500 the easy way", 24);
        assert_eq!(
            lines,
            ["square tube 50 x 50 x 3,", "rolled R 1500 the easy", "way"]
        );
        assert_eq!(wrapped("tube 50 x 50 x 3", 10), ["tube", "50 x 50 x 3"]);
        assert_eq!(
            wrapped("facet 1 203 of 9 410", 12),
            ["facet 1 203", "of 9 410"]
        );
    }

    #[test]
    fn colour_only_when_asked() {
        let mut page = Page::new(80);
        page.emphasised("error", Emphasis::Red);
        assert_eq!(page.into_text(false), "error\n");
    }
}

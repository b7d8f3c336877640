//! A scene as a drawing exchange file for a cutting table: DXF R12 or DXF 2000, pairs of lines, a
//! group code and a value.
//!
//! Closed contours stay closed, arcs stay arcs, and items stand in the order of the scene, so inner
//! contours that come first in it are cut first. DEVELOPERS.md says why this is written here.

mod entities;
mod frame;
mod invariant;

pub use invariant::fault;

use super::scene::Scene;
use crate::measure::Unit;

/// Edition of the format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edition {
    /// R12: read by nearly every cutting table.
    R12,
    /// 2000: says its unit in a way all readers agree on.
    Y2000,
}

/// How a scene is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Form {
    /// Edition of the format.
    pub edition: Edition,
    /// Unit of the coordinates.
    pub unit: Unit,
}

/// The file's text: ASCII, so that no reader can take it for another character set.
pub fn dxf(scene: &Scene, form: Form) -> String {
    let mut pairs = Pairs::new(form);
    frame::before(&mut pairs, scene);
    for item in &scene.items {
        entities::entity(&mut pairs, item);
    }
    frame::after(&mut pairs);
    pairs.text
}

/// The file as it grows.
struct Pairs {
    text: String,
    form: Form,
    /// Next free handle (number of an object; DXF 2000 only).
    handle: u32,
}

impl Pairs {
    fn new(form: Form) -> Self {
        Pairs {
            text: String::new(),
            form,
            handle: 0x100,
        }
    }

    fn new_edition(&self) -> bool {
        self.form.edition == Edition::Y2000
    }

    /// A pair whose value is a word.
    fn word(&mut self, code: u16, value: &str) {
        self.text.push_str(&format!("{code:>3}\n{value}\n"));
    }

    /// A pair whose value is a whole number.
    fn whole(&mut self, code: u16, value: i64) {
        self.text.push_str(&format!("{code:>3}\n{value}\n"));
    }

    /// A pair whose value is a plain number.
    fn real(&mut self, code: u16, value: f64) {
        let mut text = super::number::number(value, 9);
        if !text.contains('.') {
            text.push_str(".0");
        }
        self.word(code, &text);
    }

    /// A pair whose value is a length, given in mm.
    fn length(&mut self, code: u16, mm: f64) {
        self.real(code, mm / self.form.unit.millimetres());
    }

    /// A place, with its x under `code` and z = 0.
    fn place(&mut self, code: u16, place: super::scene::Place) {
        self.length(code, place.x);
        self.length(code + 10, place.y);
        self.real(code + 20, 0.0);
    }

    /// A marker of DXF 2000 that says what kind of data follows.
    fn marker(&mut self, value: &str) {
        if self.new_edition() {
            self.word(100, value);
        }
    }

    /// The handle of the next object, and its owner.
    fn own(&mut self, owner: &str) {
        if self.new_edition() {
            let handle = format!("{:X}", self.handle);
            self.handle += 1;
            self.word(5, &handle);
            self.word(330, owner);
        }
    }
}

/// Text as ASCII: the signs of the trade as words, other letters by their number.
fn ascii(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '±' => out.push_str("+/-"),
            '°' => out.push_str(" deg"),
            '⌀' => out.push_str("dia "),
            '×' => out.push('x'),
            '−' | '–' | '—' => out.push('-'),
            // A caret or a percent sign can start a control code.
            '^' | '%' => out.push(' '),
            '\u{20}'..='\u{7e}' => out.push(c),
            c if c.is_control() => out.push(' '),
            c => out.push_str(&format!("\\U+{:04X}", u32::from(c))),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #[test]
    fn words_stay_ascii() {
        assert_eq!(super::ascii("⌀ 14 ±0.1 90°"), "dia  14 +/-0.1 90 deg");
        assert_eq!(super::ascii("Žlab\n%%c"), "\\U+017Dlab   c");
    }
}

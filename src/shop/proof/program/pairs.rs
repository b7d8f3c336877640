//! A DXF as pairs of group code and value, and as objects made of them.
//!
//! Source: the DXF reference (group codes), from memory.

use crate::shop::Refused;

/// An entity, a table entry or a header variable: what starts it, and its groups.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Object<'t> {
    /// Its kind: `LINE`, `LAYER`, `SECTION`; a header variable's name starts with $.
    pub kind: &'t str,
    /// Section it stands in.
    pub section: &'t str,
    /// Its groups.
    pub groups: Vec<(i32, &'t str)>,
}

impl<'t> Object<'t> {
    /// First value of a group.
    pub fn text(&self, code: i32) -> Option<&'t str> {
        self.groups
            .iter()
            .find(|(c, _)| *c == code)
            .map(|(_, v)| *v)
    }

    /// First value of a group as a number; `None` where it is none.
    pub fn number(&self, code: i32) -> Option<f64> {
        number(self.text(code)?)
    }

    /// First value of a group as bits; none set where it is missing.
    pub fn bits(&self, code: i32) -> i64 {
        self.text(code).and_then(|v| v.parse().ok()).unwrap_or(0)
    }
}

/// A finite number.
pub fn number(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|v| v.is_finite())
}

/// True when the first line is a group code, which no G-code starts with.
pub fn looks_like_dxf(text: &str) -> bool {
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    let code = lines.next().is_some_and(|line| matches!(line, "0" | "999"));
    code && lines.next().is_some()
}

/// Parts a file into objects.
pub fn objects(text: &str) -> Result<Vec<Object<'_>>, Refused> {
    let mut lines = text.lines().map(str::trim);
    let mut found: Vec<Object> = Vec::new();
    let mut section = "";
    let mut names_section = false;
    let mut number_of_line = 0;
    while let Some(code) = lines.next() {
        number_of_line += 2;
        let Some(value) = lines.next() else { break };
        let Ok(code) = code.parse::<i32>() else {
            return Err(Refused::new(
                format!(
                    "Line {} should be a group code and is not.",
                    number_of_line - 1
                ),
                "The DXF is damaged: export it again.",
            ));
        };
        match code {
            0 | 9 => {
                names_section = value == "SECTION";
                match value {
                    "EOF" => return Ok(found),
                    "ENDSEC" => section = "",
                    _ => {}
                }
                found.push(Object {
                    kind: value,
                    section,
                    groups: Vec::new(),
                });
            }
            2 if names_section => {
                section = value;
                names_section = false;
            }
            _ => {
                if let Some(object) = found.last_mut() {
                    object.groups.push((code, value));
                }
            }
        }
    }
    Err(Refused::new(
        "The DXF ends before its end mark (EOF).",
        "It was cut short: export or copy it again.",
    ))
}

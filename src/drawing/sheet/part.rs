//! The section of one part.

use super::{Asked, cautions, member, plate, views};
use crate::body::Body;
use crate::drawing::flow::{Block, Section};
use crate::drawing::table::Table;
use crate::drawing::words::{self, counted};
use crate::finding::Severity;
use crate::measure::{Quantity, Show};
use crate::report::{Report, ReportedPart, what};

/// Everything about one part.
pub fn section(report: &Report, part: &ReportedPart, bodies: &[Body], asked: &Asked) -> Section {
    let show = asked.show;
    let body = bodies.get(part.body as usize);
    let mut blocks = Vec::new();
    match (&part.member, &part.plate) {
        (Some(found), _) => {
            blocks.extend(
                body.into_iter()
                    .flat_map(|b| views::member(part, found, b, asked)),
            );
            blocks.extend(member::blocks(part, found, asked));
        }
        (None, Some(found)) => {
            blocks.extend(views::plate(part, found, body, asked));
            blocks.extend(plate::blocks(part, found, show));
        }
        (None, None) => {
            blocks.extend(body.into_iter().flat_map(|b| views::other(part, b, asked)));
            blocks.push(Block::Words(
                "The shape of this piece was not recognised: there are no numbers to make it by."
                    .to_owned(),
            ));
        }
    }
    let own: Vec<Block> = report
        .findings
        .iter()
        .filter(|f| f.part.as_deref() == Some(part.mark.as_str()))
        .map(|f| {
            let kind = match f.severity {
                Severity::Note => "Note",
                Severity::Warning => "Warning",
                Severity::Error => "Error",
            };
            Block::Words(format!("{kind}: {} {}", f.message, f.remedy))
        })
        .collect();
    if !own.is_empty() {
        blocks.push(Block::Heading("What was noticed".to_owned()));
        blocks.extend(own);
    }
    Section {
        mark: part.mark.clone(),
        heading: part.mark.clone(),
        under: format!("{}; {}", what(part, show), pieces(part)),
        blocks,
        cautions: cautions::part(part),
    }
}

/// `4 pieces`, `3 pieces and 1 of the opposite hand`.
pub fn pieces(part: &ReportedPart) -> String {
    let own = counted(part.quantity as usize, "piece");
    match part.opposite_hand {
        0 => own,
        n => format!("{own} as drawn and {n} of the opposite hand"),
    }
}

/// A table of names and numbers with their ±; those that aren't known say so.
pub struct Facts {
    show: Show,
    rows: Vec<Vec<String>>,
}

impl Facts {
    /// An empty one.
    pub fn new(show: Show) -> Facts {
        Facts {
            show,
            rows: Vec::new(),
        }
    }

    /// A row of words.
    pub fn say(&mut self, name: &str, value: impl Into<String>) {
        self.rows
            .push(vec![name.to_owned(), value.into(), String::new()]);
    }

    /// A length.
    pub fn length(&mut self, name: &str, q: Option<Quantity>) {
        let Some(q) = q else {
            return self.say(name, words::NOT_KNOWN);
        };
        self.rows.push(vec![
            name.to_owned(),
            words::tape_of(q, self.show),
            words::plus_minus(q, self.show),
        ]);
    }

    /// An angle.
    pub fn angle(&mut self, name: &str, q: Quantity) {
        self.rows.push(vec![
            name.to_owned(),
            words::angle(q),
            words::angle_plus_minus(q),
        ]);
    }

    /// The mass of a piece and of all of them, and the surface.
    pub fn weight(&mut self, part: &ReportedPart) {
        let unit = self.show.mass_symbol();
        if let Some(mass) = part.mass {
            let n = f64::from(part.quantity + part.opposite_hand);
            if let Some(w) = self.show.mass(mass) {
                self.rows.push(vec![
                    format!("weight of one, {unit}"),
                    w.value,
                    format!("±{}", w.plus_minus),
                ]);
            }
            if n > 1.0
                && let Some(w) = self.show.mass(mass.scaled(n))
            {
                self.rows.push(vec![
                    format!("weight of all, {unit}"),
                    w.value,
                    format!("±{}", w.plus_minus),
                ]);
            }
        }
        if let Some(w) = part.surface_area.and_then(|a| self.show.area(a)) {
            self.rows.push(vec![
                format!("surface of one, {}", self.show.area_symbol()),
                w.value,
                format!("±{}", w.plus_minus),
            ]);
        }
    }

    /// The table.
    pub fn table(self) -> Table {
        let unit = words::unit_name(self.show);
        Table {
            headings: vec![
                format!("lengths in {unit} "),
                "value".to_owned(),
                "± (95 in 100)".to_owned(),
            ],
            rows: self.rows,
        }
    }
}

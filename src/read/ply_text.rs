//! Rows of a text PLY: one line each.

use super::decimal::{self, Decimal, Unusable};
use super::error::ReadError;
use super::faces::integer;
use super::ply::{RowFault, Rows};
use super::ply_header::{Meaning, Property, Shape};
use super::precision::Tally;
use super::remarks::Remarks;
use super::text::{Text, bad_number};
use super::wording::{count, quoted};

/// The data of a text PLY and how far they have been read.
pub(super) struct TextRows<'a> {
    bytes: &'a [u8],
    text: Text<'a>,
    start: usize,
    tally: &'a mut Tally,
    /// Rows that held more than their element asks.
    longer: usize,
}

impl<'a> TextRows<'a> {
    pub fn new(bytes: &'a [u8], start: usize, tally: &'a mut Tally) -> Self {
        let mut text = Text::new(bytes);
        text.go_to(start);
        TextRows {
            bytes,
            text,
            start,
            tally,
            longer: 0,
        }
    }

    /// Reports what did not fit.
    pub fn say(&self, remarks: &mut Remarks) {
        if self.longer > 0 {
            remarks.odd(format!(
                "{} with more numbers than the header asks",
                count(self.longer, "line")
            ));
        }
    }

    /// Goes to the first line that is not blank.
    fn begin(&mut self) -> Result<(), RowFault> {
        self.text.skip_blanks();
        if self.text.rest().is_empty() {
            Err(RowFault::End)
        } else {
            Ok(())
        }
    }

    fn word(&mut self) -> Result<&'a [u8], RowFault> {
        if let Some(word) = self.text.word_on_line(None) {
            return Ok(word);
        }
        if self.text.rest().trim_ascii().is_empty() {
            return Err(RowFault::End);
        }
        let line = self.text.line_at(self.text.offset());
        let problem = format!("Line {line} has fewer numbers than the header asks.");
        Err(RowFault::Wrong(ReadError::Malformed { problem }))
    }

    /// `None` where the number is not finite.
    fn number(&mut self) -> Result<Option<Decimal>, RowFault> {
        let word = self.word()?;
        match decimal::word(word) {
            Ok(number) => Ok(Some(number)),
            Err(Unusable::NotFinite) => Ok(None),
            Err(why) => Err(RowFault::Wrong(bad_number(
                self.bytes,
                self.text.offset() - word.len(),
                word,
                why,
            ))),
        }
    }

    fn whole(&mut self) -> Result<i64, RowFault> {
        let word = self.word()?;
        if let Some(n) = integer(word) {
            return Ok(n);
        }
        match decimal::word(word) {
            Ok(number) if number.value.fract() == 0.0 && number.value.abs() < 9e15 => {
                Ok(number.value as i64)
            }
            _ => {
                let line = self.text.line_at(self.text.offset());
                let problem = format!(
                    "Line {line}: \"{}\" stands where a vertex number should.",
                    quoted(word)
                );
                Err(RowFault::Wrong(ReadError::Malformed { problem }))
            }
        }
    }

    fn pass(&mut self, shape: Shape) -> Result<(), RowFault> {
        let length = match shape {
            Shape::One(_) => 1,
            Shape::List(..) => self.whole()?,
        };
        for _ in 0..length {
            self.word()?;
        }
        Ok(())
    }

    fn end(&mut self) {
        let more = self.text.word_on_line(None).is_some();
        self.longer += usize::from(more);
        self.text.rest_of_line();
    }
}

impl Rows for TextRows<'_> {
    fn vertex(&mut self, properties: &[Property]) -> Result<[f64; 3], RowFault> {
        self.begin()?;
        let mut point = [0.0; 3];
        for property in properties {
            if let Meaning::Coordinate(k) = property.meaning {
                let number = self.number()?;
                number.iter().for_each(|number| self.tally.add(number));
                point[k] = number.map_or(f64::NAN, |number| number.value);
            } else {
                self.pass(property.shape)?;
            }
        }
        self.end();
        Ok(point)
    }

    fn corners(&mut self, properties: &[Property], out: &mut Vec<i64>) -> Result<(), RowFault> {
        self.begin()?;
        for property in properties {
            if property.meaning == Meaning::Corners {
                for _ in 0..self.whole()? {
                    let corner = self.whole()?;
                    out.push(corner);
                }
            } else {
                self.pass(property.shape)?;
            }
        }
        self.end();
        Ok(())
    }

    fn skip(&mut self, properties: &[Property]) -> Result<(), RowFault> {
        self.begin()?;
        properties.iter().try_for_each(|p| self.pass(p.shape))?;
        self.end();
        Ok(())
    }

    fn offset(&self) -> usize {
        self.text.offset() - self.start
    }

    fn left(&self) -> usize {
        self.text.rest().trim_ascii().len()
    }
}

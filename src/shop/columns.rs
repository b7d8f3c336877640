//! Small CSV files written by hand: named columns, lengths with or without a unit.

use super::Refused;
use crate::measure::{Unit, parse_length};

/// A file with its columns found by name. Names are compared without case; lines that start with #
/// and empty lines are left out; the columns may be parted by commas, semicolons or tabs.
#[derive(Clone, Debug, PartialEq)]
pub struct Columns {
    /// Names of the columns, in small letters.
    pub names: Vec<String>,
    /// Rows, each with the number of its line in the file.
    pub rows: Vec<Row>,
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Line in the file, from 1.
    pub line: u64,
    cells: Vec<String>,
}

/// Most bytes of a hand-written file; a longer one is something else.
const MOST: usize = 64 << 20;

impl Columns {
    /// Reads `text`. With `headless`, a first line of numbers only is data, and the columns bear the
    /// names of `headless` in their order.
    pub fn read(text: &[u8], headless: &[&str]) -> Result<Columns, Refused> {
        if text.len() > MOST {
            return Err(Refused::new(
                "The file is too long for readings.",
                "Give a table with one reading on a line.",
            ));
        }
        let text = String::from_utf8_lossy(text);
        let text = text.trim_start_matches('\u{feff}');
        let mut rows = raw_rows(text)?.into_iter().peekable();
        let Some(first) = rows.peek() else {
            return Err(Refused::new(
                "The file has no line with readings.",
                "Write a head line with the names of the columns, then one reading on a line.",
            ));
        };
        let numbers = first.cells.iter().all(|cell| starts_a_number(cell));
        let names = match numbers && !headless.is_empty() {
            true => headless.iter().map(|&name| name.to_owned()).collect(),
            false => rows
                .next()
                .map(|row| row.cells.iter().map(|c| c.to_lowercase()).collect())
                .unwrap_or_default(),
        };
        Ok(Columns {
            names,
            rows: rows.collect(),
        })
    }

    /// Place of the first column with one of these names.
    pub fn find(&self, names: &[&str]) -> Option<usize> {
        self.names
            .iter()
            .position(|name| names.contains(&name.as_str()))
    }

    /// Place of a column that has to be there.
    pub fn need(&self, name: &str) -> Result<usize, Refused> {
        self.find(&[name]).ok_or_else(|| {
            Refused::new(
                format!(
                    "The file has no column \"{name}\"; its columns are {}.",
                    self.names.join(", ")
                ),
                format!("Name a column \"{name}\" in the first line."),
            )
        })
    }
}

impl Row {
    /// Text of a cell; empty where there is none.
    pub fn text(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    /// A length in mm; a bare number is in `bare`.
    pub fn length(&self, column: usize, bare: Unit) -> Result<f64, Refused> {
        // Exponents come from instruments, and only without a unit.
        if let Some(number) = plain(self.text(column)) {
            return Ok(number * bare.millimetres());
        }
        parse_length(self.text(column), bare)
            .map_err(|why| Refused::new(format!("Line {}: {why}.", self.line), "Correct the file."))
    }

    /// A plain number.
    pub fn number(&self, column: usize) -> Result<f64, Refused> {
        plain(self.text(column)).ok_or_else(|| {
            Refused::new(
                format!(
                    "Line {}: \"{}\" is not a number.",
                    self.line,
                    self.text(column)
                ),
                "Correct the file; the decimal sign is a point.",
            )
        })
    }
}

fn plain(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|n| n.is_finite())
}

fn starts_a_number(cell: &str) -> bool {
    cell.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.'))
}

/// Rows of trimmed cells. The sign that parts them is the one that stands in the first line.
fn raw_rows(text: &str) -> Result<Vec<Row>, Refused> {
    let first = text
        .lines()
        .map(str::trim)
        .find(|line| !line.is_empty() && !line.starts_with('#'))
        .unwrap_or_default();
    let part = [b'\t', b';', b',']
        .into_iter()
        .find(|part| first.bytes().any(|byte| byte == *part))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .delimiter(part)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|why| {
            Refused::new(
                format!("The file can't be read as a table: {why}."),
                "Write it as CSV: a head line, then one reading on a line.",
            )
        })?;
        if record.iter().any(|cell| !cell.is_empty()) {
            rows.push(Row {
                line: line_of(text, record.position().map_or(0, |at| at.byte() as usize)),
                cells: record.iter().map(str::to_owned).collect(),
            });
        }
    }
    Ok(rows)
}

/// Number of the first line at or after `byte` that holds something.
fn line_of(text: &str, byte: usize) -> u64 {
    let before = text.get(..byte).unwrap_or_default();
    let passed = before.matches('\n').count();
    let skipped = text
        .get(byte..)
        .unwrap_or_default()
        .lines()
        .take_while(|line| line.trim().is_empty() || line.starts_with('#'))
        .count();
    (passed + skipped + 1) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_comments_and_units() {
        let file = Columns::read(
            b"\xef\xbb\xbf# by hand\nPass; Reading\n1; 2.5\n\n2; 1/4in\n",
            &[],
        )
        .expect("a table");
        assert_eq!(file.names, ["pass", "reading"]);
        let reading = file.need("reading").expect("a column");
        let mm: Vec<f64> = file
            .rows
            .iter()
            .map(|row| row.length(reading, Unit::Millimetre).expect("a length"))
            .collect();
        assert_eq!(mm, [2.5, 6.35]);
        assert_eq!(file.rows[1].line, 5);
    }

    #[test]
    fn without_a_head() {
        let file = Columns::read(b"0,0\n1e1,-2\n", &["x", "y"]).expect("a table");
        assert_eq!(file.names, ["x", "y"]);
        assert_eq!(file.rows[1].length(0, Unit::Inch), Ok(254.0));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        assert!(Columns::read(b"", &[]).is_err());
        let file = Columns::read(b"a;b\n1,5;2\n", &[]).expect("a table");
        let why = file.rows[0]
            .length(0, Unit::Millimetre)
            .expect_err("a comma");
        assert!(why.to_string().starts_with("Line 2: "), "{why}");
        assert!(file.need("c").is_err());
    }
}

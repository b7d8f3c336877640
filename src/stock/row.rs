//! Rows of the compiled-in tables.

use serde::de::DeserializeOwned;

/// Every row of a table that can be read as `Row`; lines that start with # are comments.
///
/// The tables are part of the program and a test reads them all, so a row that can't be read never
/// ships; leaving it out keeps the reader free of panics.
pub(super) fn rows<Row: DeserializeOwned>(table: &str) -> Vec<Row> {
    reader(table).deserialize().filter_map(Result::ok).collect()
}

fn reader(table: &str) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(table.as_bytes())
}

/// Number of rows that can't be read as `Row`.
#[cfg(test)]
pub(super) fn unreadable<Row: DeserializeOwned>(table: &str) -> usize {
    reader(table)
        .deserialize::<Row>()
        .filter(Result::is_err)
        .count()
}

//! A shop's own table of K-factors, as text.

use thiserror::Error;

use super::k_factor::ShopRow;
use crate::measure::{Unit, parse_length};

/// Why a table can't be used, with the remedy.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ShopTableError {
    /// A row that is not three numbers that make sense.
    #[error(
        "line {line} {what}. Write thickness, inside radius and K-factor in each line, as in 3, 2.5, 0.42"
    )]
    Row {
        /// Line of the file, from 1.
        line: usize,
        /// What is wrong with it.
        what: String,
    },
    /// Two factors for one bend.
    #[error(
        "lines {first} and {second} give two K-factors for one thickness and inside radius. Keep the right one"
    )]
    Twice {
        /// Lines of the file, from 1.
        first: usize,
        /// The other one.
        second: usize,
    },
    /// No row at all.
    #[error(
        "it has no rows. Write thickness, inside radius and K-factor in each line, as in 3, 2.5, 0.42"
    )]
    Empty,
}

/// Rows of a table: thickness, inside radius, K-factor, separated by commas or semicolons (then a
/// comma may be the decimal sign), ascending. A first line of words is taken as heads; where it says
/// mm or in, bare numbers are in that unit, else in `bare`. Lines that start with # are left out.
pub fn shop_table(text: &str, bare: Unit) -> Result<Vec<ShopRow>, ShopTableError> {
    let mut unit = bare;
    let mut rows: Vec<(usize, ShopRow)> = Vec::new();
    let mut begun = false;
    for (number, line) in (1..).zip(text.lines()) {
        let line = line.trim().trim_start_matches('\u{feff}');
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let first = !std::mem::replace(&mut begun, true);
        if first && !line.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
            unit = unit_in_heads(line).unwrap_or(bare);
            continue;
        }
        rows.push((
            number,
            row(line, unit).map_err(|what| ShopTableError::Row { line: number, what })?,
        ));
    }
    if rows.is_empty() {
        return Err(ShopTableError::Empty);
    }
    rows.sort_by(|a, b| {
        (a.1.thickness.total_cmp(&b.1.thickness))
            .then(a.1.inside_radius.total_cmp(&b.1.inside_radius))
    });
    let key = |r: &ShopRow| (r.thickness, r.inside_radius);
    let mut neighbours = rows.iter().zip(rows.iter().skip(1));
    if let Some((a, b)) = neighbours.find(|(a, b)| key(&a.1) == key(&b.1)) {
        return Err(ShopTableError::Twice {
            first: a.0.min(b.0),
            second: a.0.max(b.0),
        });
    }
    Ok(rows.into_iter().map(|r| r.1).collect())
}

fn row(line: &str, unit: Unit) -> Result<ShopRow, String> {
    let semicolons = line.contains(';');
    let cells: Vec<String> = line
        .split(if semicolons { ';' } else { ',' })
        .map(|cell| {
            let cell = cell.trim().trim_matches('"');
            match semicolons {
                true => cell.replace(',', "."),
                false => cell.to_owned(),
            }
        })
        .collect();
    let [thickness, radius, k] = cells.as_slice() else {
        return Err(format!("has {} numbers, not three", cells.len()));
    };
    let length = |text: &str| {
        parse_length(text, unit).map_err(|_| format!("says \"{text}\", which is no length"))
    };
    let row = ShopRow {
        thickness: length(thickness)?,
        inside_radius: length(radius)?,
        k_factor: k
            .parse()
            .map_err(|_| format!("says \"{k}\", which is no number"))?,
    };
    if row.thickness <= 0.0 || row.inside_radius < 0.0 {
        return Err("has a thickness of nothing or a radius below it".to_owned());
    }
    // Also false for what is not a number.
    if !(0.0..=1.0).contains(&row.k_factor) {
        return Err(format!(
            "has a K-factor of {k}; it lies between 0 and 1 (DIN 6935's own k is twice that)"
        ));
    }
    Ok(row)
}

fn unit_in_heads(line: &str) -> Option<Unit> {
    let mut words = line.split(|c: char| !c.is_ascii_alphabetic());
    words.find_map(|word| match word.to_ascii_lowercase().as_str() {
        "mm" => Some(Unit::Millimetre),
        "in" | "inch" | "inches" => Some(Unit::Inch),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(thickness: f64, inside_radius: f64, k_factor: f64) -> ShopRow {
        ShopRow {
            thickness,
            inside_radius,
            k_factor,
        }
    }

    #[test]
    fn tables_as_shops_write_them() {
        let metric = "thickness mm, inside radius mm, K\n# brake 2\n3, 3, 0.42\n2, 2, 0.40\n";
        let want = vec![row(2.0, 2.0, 0.40), row(3.0, 3.0, 0.42)];
        assert_eq!(shop_table(metric, Unit::Inch), Ok(want.clone()));
        assert_eq!(shop_table("2;2;0,40\n3;3;0,42", Unit::Millimetre), Ok(want));
        let inch = shop_table("1/8in,3/16in,0.4", Unit::Millimetre);
        let [only] = inch.expect("a table")[..] else {
            panic!("one row");
        };
        let off = (only.thickness - 3.175).abs() + (only.inside_radius - 4.7625).abs();
        assert!(off < 1e-9, "{only:?}");
    }

    #[test]
    fn tables_that_can_not_be_used_say_where() {
        let said = |text: &str| shop_table(text, Unit::Millimetre).map_err(|e| e.to_string());
        let refused = |text: &str, word: &str| {
            let error = said(text).expect_err(text);
            assert!(error.contains(word), "{error}");
        };
        refused("", "no rows");
        refused("t,r,k\n", "no rows");
        refused("3,3\n", "line 1 has 2 numbers");
        refused("3,3,0.4\n3,3,0.45\n", "lines 1 and 2");
        refused("3,3,0.84\n3,x,0.4\n", "\"x\"");
        refused("3,3,1.2\n", "between 0 and 1");
        refused("3,3,nan\n", "between 0 and 1");
        refused("0,3,0.4\n", "thickness of nothing");
    }
}

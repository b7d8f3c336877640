//! Numbers and names as they stand on paper.

use crate::measure::{Quantity, Show, Unit, Written};

use super::number::number;

/// Words for a number the mesh can't support.
pub const NOT_KNOWN: &str = "not known";

/// A length laid out with a tape, rounded as its ± asks, zeros at the end left off.
pub fn length(q: Quantity, show: Show) -> String {
    show.length(q).map_or_else(unknown, spoken)
}

/// The same for a length in mm of which no ± is kept.
pub fn plain_length(mm: f64, show: Show) -> String {
    length(Quantity::new(mm, 0.0), show)
}

/// The same with all its decimals, for columns of numbers.
pub fn tape(mm: f64, show: Show) -> String {
    show.plain_length(mm)
}

/// A measured length with the decimals its ± deserves, zeros at the end kept.
pub fn tape_of(q: Quantity, show: Show) -> String {
    show.length(q).map_or_else(unknown, |written| written.value)
}

/// A length as it stands on a dimension line; with its ± where a tape could show it, from 0.1 mm on.
pub fn dimension(q: Quantity, show: Show) -> String {
    match q.plus_minus > 0.1 {
        true => format!("{} {}", length(q, show), plus_minus(q, show)),
        false => length(q, show),
    }
}

/// The ± of an angle alone.
pub fn angle_plus_minus(q: Quantity) -> String {
    Show::Millimetre.angle(q).map_or_else(unknown, |written| {
        format!("±{}°", trimmed(&written.plus_minus))
    })
}

/// A bought or drilled size.
pub fn size(q: Quantity, show: Show) -> String {
    show.size(q).map_or_else(unknown, spoken)
}

/// A size in mm of which no ± is kept.
pub fn plain_size(mm: f64, show: Show) -> String {
    size(Quantity::new(mm, 0.0), show)
}

/// An angle in degrees, with its sign; at most two decimals.
pub fn angle(q: Quantity) -> String {
    match Show::Millimetre.angle(q) {
        Some(written) => format!("{}°", spoken(written)),
        None => unknown(),
    }
}

/// Name of the unit of lengths in a sentence.
pub fn unit_name(show: Show) -> &'static str {
    match show {
        Show::Millimetre => "mm",
        Show::Inch => "inches",
        Show::InchFraction(_) => "inches and fractions",
    }
}

/// The ± of a length as written: what rounding to a fraction loses is in it.
pub fn plus_minus(q: Quantity, show: Show) -> String {
    let lost = match show {
        Show::InchFraction(n) => Unit::Inch.millimetres() / f64::from(n.max(1)) / 2.0,
        _ => 0.0,
    };
    let q = Quantity::new(q.value, q.plus_minus + lost);
    show.length(q).map_or_else(unknown, |written| {
        format!("±{}", trimmed(&written.plus_minus))
    })
}

/// An opening by the sides of the rectangle around it: `cut-out 60 x 40, corners R 5`, or
/// `cut-out within 60 x 40` where it is no rectangle.
pub fn cutout(
    length: Option<Quantity>,
    width: Option<Quantity>,
    corner: Option<Quantity>,
    show: Show,
) -> String {
    let Some((l, w)) = length.zip(width) else {
        return "cut-out, size not known".to_owned();
    };
    let sides = format!("{} x {}", self::length(l, show), self::length(w, show));
    match corner {
        None => format!("cut-out within {sides}"),
        Some(r) if r.value <= r.plus_minus => format!("cut-out {sides}, sharp corners"),
        Some(r) => format!("cut-out {sides}, corners R {}", size(r, show)),
    }
}

/// How a slot or cut-out of a member lies: `, along the length`, `, across`, `, at 30° to the length`.
pub fn lies(direction: Option<f64>) -> String {
    match direction {
        None => String::new(),
        Some(d) if d.abs() < 0.05 => ", along the length".to_owned(),
        Some(d) if (d.abs() - 90.0).abs() < 0.05 => ", across".to_owned(),
        Some(d) => format!(", at {} to the length", angle(Quantity::new(d, 0.05))),
    }
}

/// `1 piece`, `4 pieces`.
pub fn counted(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}

/// A size for a file name: decimals and the symbol of the unit, `10mm`, `0.375in`.
pub fn for_file_name(mm: f64, unit: Unit) -> String {
    let places = if unit == Unit::Inch { 3 } else { 2 };
    format!(
        "{}{}",
        number(mm / unit.millimetres(), places),
        unit.symbol()
    )
}

fn unknown() -> String {
    NOT_KNOWN.to_owned()
}

fn spoken(written: Written) -> String {
    trimmed(&written.value)
}

fn trimmed(text: &str) -> String {
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_and_in_the_unit_asked_for() {
        let q = Quantity::new(1500.002, 0.031);
        assert_eq!(length(q, Show::Millimetre), "1500");
        assert_eq!(length(q, Show::InchFraction(16)), "59 1/16");
        assert_eq!(plus_minus(q, Show::Millimetre), "±0.04");
        assert_eq!(angle(Quantity::new(22.5, 0.01)), "22.5°");
        assert_eq!(for_file_name(9.525, Unit::Inch), "0.375in");
        assert_eq!(counted(2, "hole"), "2 holes");
    }
}

//! Whether a program fits on its sheet.

use super::piece::Place;
use crate::measure::{LengthTextError, Show, parse_length};
use crate::shop::check::Verdict;
use crate::shop::text::with_unit;

/// Length and width of a sheet as typed: `3000x1500`, `8ft x 4ft`; a bare number is in the unit of `show`.
pub fn parse(text: &str, show: Show) -> Result<[f64; 2], LengthTextError> {
    let refused = || LengthTextError::NotALength(text.to_owned());
    let mut sides = text.split(['x', 'X', '×']);
    let (Some(length), Some(width), None) = (sides.next(), sides.next(), sides.next()) else {
        return Err(refused());
    };
    let sides = [
        parse_length(length, show.bare_unit())?,
        parse_length(width, show.bare_unit())?,
    ];
    match sides.iter().all(|side| *side > 0.0) {
        true => Ok(sides),
        false => Err(refused()),
    }
}

/// The verdict on a sheet and a sentence about it. The extent holds the middle of the tool; `kerf` is its
/// width.
pub fn fits(extent: (Place, Place), kerf: f64, sheet: [f64; 2], show: Show) -> (Verdict, String) {
    let size = extent.1 - extent.0;
    let [x, y] = [size.x + kerf, size.y + kerf];
    let needs = format!(
        "The cuts span {} in x and {} in y, the sheet is {} by {}",
        with_unit(x, show),
        with_unit(y, show),
        with_unit(sheet[0], show),
        with_unit(sheet[1], show)
    );
    let holds = |length: f64, width: f64| x <= length && y <= width;
    match (holds(sheet[0], sheet[1]), holds(sheet[1], sheet[0])) {
        (true, _) => (
            Verdict::Yes,
            format!("{needs}: it fits. Where its zero lies on the sheet is for the dry run."),
        ),
        (false, true) => (
            Verdict::No,
            format!("{needs}: it fits only with the sheet turned by a quarter."),
        ),
        (false, false) => (Verdict::No, format!("{needs}: it does not fit.")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheets_as_typed() {
        let mm = Show::Millimetre;
        assert_eq!(parse("3000x1500", mm), Ok([3000.0, 1500.0]));
        for typed in [parse("8ft x 4ft", mm), parse("96x48", Show::Inch)] {
            let [x, y] = typed.expect("a sheet");
            assert!((x - 2438.4).abs() < 1e-9 && (y - 1219.2).abs() < 1e-9);
        }
        for text in ["3000", "3000x", "x", "1x2x3", "-1x2", "axb"] {
            assert!(parse(text, mm).is_err(), "{text}");
        }
    }

    #[test]
    fn a_sheet_that_must_be_turned_is_no() {
        let extent = (Place::new(0.0, 0.0), Place::new(200.0, 120.0));
        let fit = |sheet| fits(extent, 2.0, sheet, Show::Millimetre).0;
        assert_eq!(fit([202.0, 122.0]), Verdict::Yes);
        assert_eq!(fit([201.0, 500.0]), Verdict::No);
        assert_eq!(fit([130.0, 300.0]), Verdict::No);
    }
}

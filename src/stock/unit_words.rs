//! Why a unit was chosen, in words.

use crate::measure::Unit;

/// What is a listed size when everything is read in one unit: how many of how many.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Tally {
    pub(super) sections: (usize, usize),
    pub(super) plates: (usize, usize),
    pub(super) holes: (usize, usize),
    /// Largest size of everything, mm.
    pub(super) extent_mm: f64,
}

/// One or two sentences for the unit taken and the next best one.
pub(super) fn reason(taken: (Unit, &Tally), next: (Unit, &Tally), told: bool) -> String {
    let start = if told {
        ""
    } else {
        "The sizes hardly tell the unit. "
    };
    format!(
        "{start}In {} {}; in {} {}.",
        plural(taken.0),
        described(taken.1),
        plural(next.0),
        described(next.1)
    )
}

fn described(tally: &Tally) -> String {
    let counts = [
        ("section", "sections", tally.sections),
        ("plate thickness", "plate thicknesses", tally.plates),
        ("hole size", "hole sizes", tally.holes),
    ];
    let found: Vec<String> = counts
        .iter()
        .filter(|(_, _, (_, of))| *of > 0)
        .map(|(one, many, (n, of))| format!("{n} of {of} {}", if *of == 1 { one } else { many }))
        .collect();
    let whole = format!("everything together is {} across", size(tally.extent_mm));
    match found.split_last() {
        None => whole,
        Some((last, [])) => format!("{last} is a listed size and {whole}"),
        Some((last, rest)) => {
            format!(
                "{} and {last} are listed sizes and {whole}",
                rest.join(", ")
            )
        }
    }
}

/// Three figures, in millimetres or metres.
fn size(mm: f64) -> String {
    match mm {
        mm if mm >= 10_000.0 => format!("{:.0} m", mm / 1000.0),
        mm if mm >= 1000.0 => format!("{:.1} m", mm / 1000.0),
        mm if mm >= 10.0 => format!("{mm:.0} mm"),
        mm => format!("{mm:.2} mm"),
    }
}

fn plural(unit: Unit) -> &'static str {
    match unit {
        Unit::Millimetre => "millimetres",
        Unit::Centimetre => "centimetres",
        Unit::Metre => "metres",
        Unit::Inch => "inches",
        Unit::Foot => "feet",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_and_overall_size() {
        let taken = Tally {
            sections: (2, 2),
            plates: (0, 0),
            holes: (3, 4),
            extent_mm: 1234.0,
        };
        let next = Tally {
            sections: (0, 2),
            holes: (1, 4),
            extent_mm: 48.6,
            ..Tally::default()
        };
        assert_eq!(
            reason((Unit::Inch, &taken), (Unit::Millimetre, &next), true),
            "In inches 2 of 2 sections and 3 of 4 hole sizes are listed sizes and everything \
             together is 1.2 m across; in millimetres 0 of 2 sections and 1 of 4 hole sizes are \
             listed sizes and everything together is 49 mm across."
        );
        let bare = Tally {
            extent_mm: 5.0,
            ..Tally::default()
        };
        assert_eq!(
            reason((Unit::Millimetre, &bare), (Unit::Inch, &bare), false),
            "The sizes hardly tell the unit. In millimetres everything together is 5.00 mm \
             across; in inches everything together is 5.00 mm across."
        );
    }
}

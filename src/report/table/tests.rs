//! What the table says, at the two widths it is made for.

use super::{Look, table};
use crate::measure::Show;
use crate::report::sample::canopy;

fn shown(show: Show, width: usize, colour: bool) -> String {
    table(
        &canopy(),
        &Look {
            show,
            width,
            colour,
        },
    )
}

#[test]
fn narrow() {
    insta::assert_snapshot!(shown(Show::Millimetre, 80, false));
}

#[test]
fn wide() {
    insta::assert_snapshot!(shown(Show::Millimetre, 140, false));
}

#[test]
fn fractions_of_an_inch() {
    insta::assert_snapshot!(shown(Show::InchFraction(16), 80, false));
}

#[test]
fn no_line_sticks_out() {
    for width in [72, 80, 100, 109, 110, 140, 200] {
        for show in [Show::Millimetre, Show::Inch, Show::InchFraction(64)] {
            for line in shown(show, width, false).lines() {
                assert!(
                    line.chars().count() <= width,
                    "{width} columns are too few for: {line}"
                );
            }
        }
    }
}

#[test]
fn colour_adds_nothing_but_colour() {
    let coloured = shown(Show::Millimetre, 80, true);
    let mut plain = String::new();
    for (k, piece) in coloured.split('\u{1b}').enumerate() {
        plain.push_str(if k == 0 {
            piece
        } else {
            piece.split_once('m').map_or("", |cut| cut.1)
        });
    }
    assert_eq!(plain, shown(Show::Millimetre, 80, false));
    assert!(coloured.contains("\u{1b}[1;33m[1] WARNING"));
}

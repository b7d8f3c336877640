//! What was read, and how the numbers are meant.

use super::page::{Emphasis, Page, printable};
use crate::measure::Show;
use crate::read::Format;
use crate::report::{LengthUnit, Report, UnitBasis};

pub(crate) fn write(page: &mut Page, report: &Report, show: Show) {
    let source = &report.source;
    let format = format_words(source.format);
    page.emphasised(
        format!(
            "{}  ({format}, {} facets)",
            printable(&source.path),
            source.facets
        ),
        Emphasis::Bold,
    );
    page.prose(&unit_words(&report.length_unit), 0);
    page.prose(&reading_words(show), 0);
    page.blank();
}

fn format_words(format: Format) -> &'static str {
    match format {
        Format::StlBinary => "binary STL",
        Format::StlAscii => "ASCII STL",
        Format::Obj => "OBJ",
        Format::Ply => "PLY",
        Format::ThreeMf => "3MF",
    }
}

fn unit_words(unit: &LengthUnit) -> String {
    let basis = match unit.basis {
        UnitBasis::Stated => "stated",
        UnitBasis::Declared => "declared in the file",
        UnitBasis::Inferred => "INFERRED, check one known size",
        UnitBasis::Assumed => "ASSUMED, check one known size",
    };
    format!(
        "1 file unit = {} mm ({basis}). {}",
        unit.mm_per_file_unit, unit.reason
    )
}

fn reading_words(show: Show) -> String {
    let lengths = match show {
        Show::Millimetre => "Lengths in mm".to_owned(),
        Show::Inch => "Lengths in inches".to_owned(),
        Show::InchFraction(n) => format!("Lengths in inches to 1/{n}"),
    };
    format!("{lengths}, angles in degrees. ± is meant to hold the design value 95 times in 100.")
}

//! One part's block: a heading, then its numbers in small tables side by side.

use super::cell::{self, Cell, NOT_KNOWN};
use super::grid::{Grid, shelves};
use super::page::{Page, printable};
use super::{member, plate, schedule};
use crate::finding::{Code, Severity};
use crate::measure::{Quantity, Show};
use crate::report::{Report, ReportedPart, what};

/// What a block needs to know besides its part.
pub(super) struct Setting<'a> {
    pub show: Show,
    pub mark: &'a str,
    report: &'a Report,
}

impl Setting<'_> {
    /// The number, or that it is not known and which finding says why: one with one of `codes`, else
    /// the worst warning about this part.
    pub fn known(
        &self,
        q: Option<Quantity>,
        number: fn(Quantity, Show) -> Cell,
        codes: &[Code],
    ) -> Cell {
        match (q, self.reason(codes)) {
            (Some(q), _) => number(q, self.show),
            (None, Some(place)) => Cell::text(format!("{NOT_KNOWN}, see [{place}]")),
            (None, None) => Cell::text(NOT_KNOWN),
        }
    }

    fn reason(&self, codes: &[Code]) -> Option<usize> {
        let findings = || self.report.findings.iter();
        let own = |part: &Option<String>| part.as_deref() == Some(self.mark);
        findings()
            .position(|f| own(&f.part) && codes.contains(&f.code))
            .or_else(|| findings().position(|f| own(&f.part) && f.severity > Severity::Note))
            .map(|place| place + 1)
    }
}

pub(super) fn write_block(page: &mut Page, report: &Report, part: &ReportedPart, show: Show) {
    let setting = Setting {
        show,
        mark: &part.mark,
        report,
    };
    page.blank();
    page.heading(&format!("{}  {}", part.mark, what(part, show)));
    page.prose(&copies(part), 0);
    for unresolved in report.unresolved.iter().filter(|u| u.part == part.mark) {
        page.prose(&format!("Not described: {}", unresolved.reason), 0);
    }
    if part.member.is_none() && part.plate.is_none() && part.volume.is_none() {
        return;
    }
    page.blank();
    let mut grids = Vec::new();
    if let Some(m) = &part.member {
        grids.extend(member::grids(m, &setting));
        if let Some(s) = &part.hole_schedule {
            grids.extend(schedule::grids(s, false, &setting));
        }
    }
    if let Some(p) = &part.plate {
        let sizes = part.hole_schedule.as_ref();
        grids.extend(plate::grids(p, sizes, &setting));
    }

    grids.push(weight(part, &setting));
    let blocks: Vec<_> = grids
        .iter()
        .filter(|grid| !grid.rows.is_empty())
        .map(|grid| grid.set(page.width))
        .collect();
    for line in shelves(&blocks, page.width) {
        page.line(line);
    }
}

fn copies(part: &ReportedPart) -> String {
    let mut words = match (part.quantity, part.opposite_hand) {
        (1, 0) => "1 piece".to_owned(),
        (same, 0) => format!("{same} pieces, all alike"),
        (same, mirrored) => format!("{same} of this hand, {mirrored} of the opposite hand"),
    };
    if let Some(name) = &part.name {
        words.push_str(&format!("; \"{}\" in the file", printable(name)));
    }
    words.push_str(&format!("; measured on body {}", part.body));
    words
}

fn weight(part: &ReportedPart, setting: &Setting) -> Grid {
    let mut grid = Grid::list("One piece");
    grid.entry(
        "mass",
        setting.known(part.mass, cell::mass, &[Code::WallNotVisible]),
    );
    grid.entry(
        "surface, all faces",
        cell::maybe(part.surface_area, setting.show, cell::area),
    );
    if part.mass.is_some() {
        grid.entry(
            "at a density of",
            Cell::text(format!("{} kg/m³", part.density)),
        );
    }
    grid
}

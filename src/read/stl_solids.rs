//! The solids of a text STL, and what is said of them.

use crate::finding::{Code, Severity};

use super::normals::Normals;
use super::precision::Tally;
use super::remarks::Remarks;
use super::wording::count;
use super::{Format, Group, TriangleSoup};
use crate::geometry::ears::Scratch;

/// The solids of a text STL as they are read, and what is to be said of them.
#[derive(Default)]
pub(super) struct Solids {
    pub points: Vec<[f64; 3]>,
    pub facets: Vec<[u32; 3]>,
    pub groups: Vec<Group>,
    /// Blocks opened by `solid`.
    pub blocks: usize,
    /// Facets written, kept or not.
    pub written: usize,
    pub without_normal: usize,
    pub capitals: bool,
    pub polygons: usize,
    pub not_finite: usize,
    pub too_few_corners: Option<(usize, usize)>,
    pub unknown: Option<(usize, String, usize)>,
    pub tally: Tally,
    pub normals: Normals,
    pub scratch: Scratch,
}

impl Solids {
    /// Reports everything noticed.
    pub fn say(&self, remarks: &mut Remarks) {
        super::say_not_finite(self.not_finite, "facet", remarks);
        if let Some((line, times)) = self.too_few_corners {
            remarks.add(
                Code::IgnoredContent,
                Severity::Error,
                format!(
                    "{} with fewer than three corners left out, the first on line {line}.",
                    count(times, "facet")
                ),
                "Export it again.",
            );
        }
        if let Some((line, word, times)) = &self.unknown {
            remarks.add(
                Code::IgnoredContent,
                Severity::Warning,
                format!(
                    "{} not understood, the first on line {line}: \"{word}\".",
                    count(*times, "line")
                ),
                "Export it again if a part is missing.",
            );
        }
        if self.without_normal > 0 {
            remarks.odd(format!(
                "{} without a normal",
                count(self.without_normal, "facet")
            ));
        }
        if self.polygons > 0 {
            remarks.odd(format!(
                "{} with more than three corners",
                count(self.polygons, "facet")
            ));
        }
        self.normals.say(remarks);
        self.say_solids(remarks);
    }

    fn say_solids(&self, remarks: &mut Remarks) {
        let total = self.facets.len() as u32;
        let ends: Vec<u32> = self
            .groups
            .iter()
            .skip(1)
            .map(|g| g.first_facet)
            .chain([total])
            .collect();
        let sizes: Vec<u32> = self
            .groups
            .iter()
            .zip(&ends)
            .map(|(g, end)| end - g.first_facet)
            .collect();
        let called = |g: &Group| {
            g.name
                .as_ref()
                .map_or("without a name".into(), |n| format!("\"{n}\""))
        };
        let listed = |pick: &dyn Fn(u32) -> bool| {
            let all = self
                .groups
                .iter()
                .zip(&sizes)
                .filter(|(_, size)| pick(**size));
            let names: Vec<String> = all.map(|(g, _)| called(g)).collect();
            match names.len() {
                0..=6 => names.join(", "),
                n => format!("{} and {} more", names[..5].join(", "), n - 5),
            }
        };
        let empty = sizes.iter().filter(|n| **n == 0).count();
        if self.blocks > 1 {
            let mixed = |g: &Group| {
                g.name.as_ref().is_some_and(|n| {
                    n.chars().any(char::is_uppercase) && n.chars().any(char::is_lowercase)
                })
            };
            let kept = if self.groups.iter().any(mixed) {
                " with their mixed-case names"
            } else {
                ""
            };
            remarks.add(
                Code::SeveralSolids,
                Severity::Note,
                format!(
                    "{} solids in one file: {}; all were read{kept}.",
                    self.blocks,
                    listed(&|_| true)
                ),
                "Nothing to do.",
            );
        }
        if empty > 0 && total > 0 {
            remarks.add(
                Code::Empty,
                Severity::Note,
                format!(
                    "{} empty (no facets): {}.",
                    count(empty, "solid"),
                    listed(&|n| n == 0)
                ),
                "Check that no part is missing.",
            );
        }
    }

    /// What a text without usable facets holds.
    pub fn nothing(&self, remarks: &Remarks) -> String {
        let holds = match self.groups.as_slice() {
            [only] => match &only.name {
                Some(name) => format!("The solid \"{name}\" is empty: the STL has no facets"),
                None => "The solid is empty: the STL has no facets".into(),
            },
            _ => format!(
                "All {} are empty: the STL has no facets",
                count(self.blocks, "solid")
            ),
        };
        match remarks.worst() {
            Some(worst) => format!("{holds} that can be used. {worst}"),
            None => format!("{holds}."),
        }
    }

    /// The facets of all solids.
    pub fn into_soup(self) -> TriangleSoup {
        TriangleSoup {
            distinct: false,
            precision: self.tally.precision(),
            points: self.points,
            facets: self.facets,
            groups: self.groups,
            declared_mm_per_unit: None,
            format: Format::StlAscii,
        }
    }
}

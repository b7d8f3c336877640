//! What was done to a mesh, as findings in the shop's words.

use super::{Mesh, NONE};
use crate::finding::{Code, Finding, Severity};

/// Counts kept while a mesh is put right.
#[derive(Default)]
pub struct Tally {
    /// Facets that named no vertex or a coordinate that is no number.
    pub unusable: usize,
    /// Facets with a repeated corner, dropped.
    pub collapsed: usize,
    /// Facets without area, taken out.
    pub slivers: usize,
    /// Vertices joined to another that lay near.
    pub near_joined: usize,
    /// Reach of that join beyond rounding, mm.
    pub joined_gap: f64,
    /// Open edges closed by it.
    pub edges_closed: usize,
    /// Facets cut where a vertex of the neighbour stood on their edge.
    pub t_junctions: usize,
    /// Facets given again, dropped.
    pub repeats: usize,
    /// Facets given for both sides, the second dropped.
    pub backs: usize,
    /// Facet pairs kept as the common face of two bodies.
    pub common: usize,
    /// Edges with more than two facets.
    pub crowded: usize,
    /// Of their facet edges, those that stay open.
    pub crowded_left: usize,
    /// Facets turned over.
    pub flipped: usize,
    /// Edges at which a one-sided surface was cut.
    pub one_sided: usize,
}

/// Rounding coarser than this, mm, is a hundredth of what a tape shows.
const COARSE_ROUNDING_MM: f64 = 0.005;

impl Tally {
    /// The findings, in the order of the work.
    pub fn findings(&self, mesh: &Mesh) -> Vec<Finding> {
        let mut list = Vec::new();
        let mut say = |code, severity, message: String, remedy: &str| {
            list.push(Finding::new(code, severity, message, remedy));
        };
        if self.unusable > 0 {
            say(
                Code::NotFinite,
                Severity::Error,
                format!(
                    "{} with a corner that is no number were left out.",
                    facets(self.unusable)
                ),
                "Export the model again; what these facets belong to may be missing.",
            );
        }
        let flat = self.collapsed + self.slivers;
        if flat > 0 {
            say(
                Code::DegenerateFacets,
                Severity::Note,
                format!(
                    "{} without area were taken out; the surface is unchanged.",
                    facets(flat)
                ),
                "Nothing to do.",
            );
        }
        if self.near_joined > 0 && self.joined_gap > 0.0 {
            say(
                Code::OpenEdges,
                Severity::Warning,
                format!(
                    "Facets did not quite meet: {} edges were open by up to {}. They were joined, and ± is wider for it.",
                    self.edges_closed,
                    millimetres(self.joined_gap)
                ),
                "Export again with vertices merged, or with more decimals.",
            );
        }
        if self.t_junctions > 0 {
            say(
                Code::OpenEdges,
                Severity::Note,
                format!(
                    "At {} places a corner of one facet stood on the edge of another; the edge was cut there.",
                    self.t_junctions
                ),
                "Nothing to do.",
            );
        }
        if self.repeats > 0 {
            say(
                Code::DuplicateFacets,
                Severity::Note,
                format!(
                    "{} were in the file more than once; each is used once.",
                    facets(self.repeats)
                ),
                "Nothing to do; if parts were copied onto themselves, delete the copies.",
            );
        }
        if self.backs > 0 {
            say(
                Code::DuplicateFacets,
                Severity::Warning,
                format!(
                    "{} were in the file twice, once for each side of a sheet; one side is used.",
                    facets(self.backs)
                ),
                "Export solids, not two-sided surfaces.",
            );
        }
        self.edge_findings(mesh, &mut say);
        let size = mesh
            .vertices
            .iter()
            .fold(0.0_f64, |m, p| m.max(p.coords.amax()));
        let coarse = mesh.quantum >= COARSE_ROUNDING_MM && self.joined_gap == 0.0;
        if coarse && size > 20.0 * extent(mesh) {
            say(
                Code::FarFromOrigin,
                Severity::Warning,
                format!(
                    "The model lies {:.0} m from the origin, so its coordinates are rounded to about {}.",
                    size / 1000.0,
                    millimetres(2.0 * mesh.quantum)
                ),
                "Move the model to the origin and export it again for closer numbers.",
            );
        } else if coarse && size > 0.0 {
            say(
                Code::FarFromOrigin,
                Severity::Note,
                format!(
                    "Coordinates in this file are rounded to about {}.",
                    millimetres(2.0 * mesh.quantum)
                ),
                "Export with more decimals, or nearer the origin, for closer numbers.",
            );
        }
        list
    }

    /// Findings about edges and winding.
    fn edge_findings(&self, mesh: &Mesh, say: &mut impl FnMut(Code, Severity, String, &str)) {
        if self.crowded > 0 {
            let (severity, outcome) = if self.crowded_left > 0 {
                (
                    Severity::Warning,
                    format!(
                        "{} could not be sorted out and stay open.",
                        self.crowded_left
                    ),
                )
            } else {
                (
                    Severity::Note,
                    "They were told apart by direction, so bodies that only touch stay separate."
                        .to_string(),
                )
            };
            say(
                Code::NonManifoldEdges,
                severity,
                format!(
                    "{} edges are shared by more than two facets. {outcome}",
                    self.crowded
                ),
                "Check there for parts that touch along an edge or for leftover inner faces.",
            );
        }
        if self.flipped > 0 {
            say(
                Code::FlippedFacets,
                Severity::Note,
                format!(
                    "{} faced the wrong way against their neighbours and were turned over.",
                    facets(self.flipped)
                ),
                "Nothing to do.",
            );
        }
        if self.one_sided > 0 {
            say(
                Code::NonManifoldEdges,
                Severity::Warning,
                format!(
                    "A surface has no inside and outside (it closes on itself with a twist); it was cut at {} edges.",
                    self.one_sided
                ),
                "Export solids.",
            );
        }
        let open = mesh
            .neighbours
            .iter()
            .flatten()
            .filter(|&&n| n == NONE)
            .count();
        if open > 0 {
            say(
                Code::OpenEdges,
                Severity::Warning,
                format!("{open} edges have a facet on one side only: the surface has holes there."),
                "Holes stay as they are; volume and weight may be off. Repair the solid and export it again.",
            );
        }
    }
}

/// "1 facet", "12 facets".
fn facets(n: usize) -> String {
    if n == 1 {
        "1 facet".into()
    } else {
        format!("{n} facets")
    }
}

/// A small length with two significant digits.
fn millimetres(x: f64) -> String {
    let decimals = (1.0 - x.abs().max(1e-9).log10().floor()).clamp(0.0, 9.0) as usize;
    format!("{x:.decimals$} mm")
}

/// Longest side of the box around the mesh, mm.
fn extent(mesh: &Mesh) -> f64 {
    let Some(&first) = mesh.vertices.first() else {
        return 0.0;
    };
    let (low, high) = mesh
        .vertices
        .iter()
        .fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    (high - low).amax()
}

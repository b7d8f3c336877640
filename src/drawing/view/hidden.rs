//! Which parts of the edges nothing stands in front of.

use super::Edge;
use crate::geometry::bvh::TriangleTree;
use crate::geometry::{Pt3, Vec3};

/// A ray starts this far before its edge, in sizes of the model: the facets beside an edge must not
/// hide it, and those of an outline lie a little before it.
const BEFORE: f64 = 4e-4;
/// The same for outlines: the facets of a bend stand before one another by more.
const BEFORE_OUTLINE: f64 = 2e-3;
/// Points tried along one edge at most.
const MOST: f64 = 4000.0;
/// Halvings to find where an edge disappears.
const HALVINGS: usize = 7;

/// What hides an edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Behind {
    /// Any surface: an edge at the back is hidden by the metal it belongs to.
    Anything,
    /// A surface seen from its outer side: an outline lies a little inside its own facets, and
    /// leaving them hides nothing.
    Fronts,
}

/// The parts that are seen.
pub(super) fn seen(
    edges: &[Edge],
    tree: &TriangleTree,
    eye: &Vec3,
    (finest, size): (f64, f64),
    behind: Behind,
) -> Vec<Edge> {
    let open = |p: &Pt3| match behind {
        Behind::Anything => !tree.meets(&(p + eye * (BEFORE * size)), eye),
        Behind::Fronts => !tree.enters(&(p + eye * (BEFORE_OUTLINE * size)), eye),
    };
    let mut parts = Vec::new();
    for [a, b] in edges {
        let length = (b - a).norm();
        let at = |t: f64| a + (b - a) * t;
        let steps = (length / (4.0 * finest)).ceil().clamp(1.0, MOST) as usize;
        // The middle of each step speaks for it: ends lie on other edges and are unsure.
        let middles: Vec<bool> = (0..steps)
            .map(|k| open(&at((k as f64 + 0.5) / steps as f64)))
            .collect();
        let mut from: Option<f64> = None;
        for (k, &is_open) in middles.iter().enumerate() {
            let before = k > 0 && middles.get(k - 1) == Some(&true);
            if is_open == before {
                continue;
            }
            let border = if k == 0 {
                0.0
            } else {
                let (low, high) = (
                    (k as f64 - 0.5) / steps as f64,
                    (k as f64 + 0.5) / steps as f64,
                );
                border(low, high, before, &|t| open(&at(t)))
            };
            match (is_open, from.take()) {
                (true, _) => from = Some(border),
                (false, Some(start)) => parts.push([at(start), at(border)]),
                (false, None) => {}
            }
        }
        if let Some(start) = from {
            parts.push([at(start), *b]);
        }
    }
    parts
}

/// Where seen turns to hidden or back between `low` and `high`.
fn border(mut low: f64, mut high: f64, open_at_low: bool, open: &dyn Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        match open(middle) == open_at_low {
            true => low = middle,
            false => high = middle,
        }
    }
    (low + high) / 2.0
}

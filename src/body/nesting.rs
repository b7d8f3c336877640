//! Which shell lies in which, and which side of each is metal.

use nalgebra::Point3;

use super::shells::{Shells, Sums};
use crate::geometry::bvh::{BoxTree, TriangleTree};
use crate::weld::{Mesh, NONE};

/// What a shell is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// The shell whose body this one belongs to (itself, or the outer shell of a cavity).
    pub owner: u32,
    /// True when its winding must be turned over.
    pub turn: bool,
}

/// Decides for every shell whose body it belongs to.
///
/// A closed shell wound inwards that lies in a closed one wound outwards is its cavity. A shell
/// wound inwards that lies in no metal is a body turned inside out, together with what lies in
/// it. Nothing is tested when no shell is wound inwards; else every closed shell's place is found
/// through a tree of boxes, then rays: near-linear in shells, no pairwise step.
pub fn places(mesh: &Mesh, shells: &Shells, sums: &[Sums]) -> Vec<Place> {
    let mut places: Vec<Place> = (0..shells.len() as u32)
        .map(|i| Place {
            owner: i,
            turn: false,
        })
        .collect();
    let inward = |i: usize| sums[i].closed && sums[i].volume < 0.0;
    if !(0..shells.len()).any(inward) {
        return places;
    }
    let holder = holders(mesh, shells, sums);
    let mut order: Vec<usize> = (0..shells.len()).filter(|&i| sums[i].closed).collect();
    order.sort_by(|&i, &j| {
        sums[j]
            .volume
            .abs()
            .total_cmp(&sums[i].volume.abs())
            .then(i.cmp(&j))
    });
    // A holder is larger, so it is settled before what it holds.
    for i in order {
        let outer = match holder[i] {
            NONE => None,
            h => Some(h),
        };
        let in_metal = outer.filter(|&h| places[h as usize].owner == h);
        let negative = sums[i].volume < 0.0;
        places[i] = match in_metal {
            Some(h) if negative || places[h as usize].turn => Place {
                owner: h,
                turn: !negative,
            },
            _ => Place {
                owner: i as u32,
                turn: negative,
            },
        };
    }
    places
}

/// For each closed shell, the smallest closed shell around it, or [`NONE`].
fn holders(mesh: &Mesh, shells: &Shells, sums: &[Sums]) -> Vec<u32> {
    let closed: Vec<usize> = (0..shells.len()).filter(|&i| sums[i].closed).collect();
    let boxes = BoxTree::new(closed.iter().map(|&i| (sums[i].low, sums[i].high)));
    // (shell to ask, asker), so that each shell's triangles are put into a tree only once.
    let mut questions: Vec<(u32, u32)> = Vec::new();
    for &i in &closed {
        let point = sample(mesh, shells, i, 0);
        for c in boxes.holding(&point) {
            let h = closed[c as usize];
            if h != i && could_hold(&sums[h], &sums[i]) {
                questions.push((h as u32, i as u32));
            }
        }
    }
    questions.sort_unstable();
    let mut holder = vec![NONE; shells.len()];
    for asked in questions.chunk_by(|p, q| p.0 == q.0) {
        let h = asked[0].0;
        let facets: Vec<[u32; 3]> = shells
            .of(h as usize)
            .iter()
            .map(|&f| mesh.facets[f as usize])
            .collect();
        let tree = TriangleTree::new(&mesh.vertices, &facets);
        for &(_, i) in asked {
            let inside = (0..SAMPLES)
                .filter(|&k| tree.holds(&sample(mesh, shells, i as usize, k)))
                .count();
            let smaller =
                |g: u32| g == NONE || sums[h as usize].volume.abs() < sums[g as usize].volume.abs();
            if 2 * inside > SAMPLES && smaller(holder[i as usize]) {
                holder[i as usize] = h;
            }
        }
    }
    holder
}

/// Points of a shell that vote on whether it lies inside.
const SAMPLES: usize = 5;

/// The middle of one of the shell's facets, spread over its list.
fn sample(mesh: &Mesh, shells: &Shells, shell: usize, k: usize) -> Point3<f64> {
    let facets = shells.of(shell);
    let f = facets[k * (facets.len() - 1) / (SAMPLES - 1)];
    let [a, b, c] = mesh.facets[f as usize].map(|v| mesh.vertices[v as usize].coords);
    Point3::from((a + b + c) / 3.0)
}

/// Larger, with a box around the other's box.
fn could_hold(outer: &Sums, inner: &Sums) -> bool {
    let around = outer.low <= inner.low && inner.high <= outer.high;
    around && outer.volume.abs() > inner.volume.abs()
}

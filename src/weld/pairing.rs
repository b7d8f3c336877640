//! Facets paired across the edges that exactly two of them share.

use super::NONE;
use super::edges::{self, HalfEdge};

/// What the edges of a mesh look like.
#[derive(Default)]
pub struct Pairing {
    /// Facet across edge (corner k, corner k+1), or [`NONE`]; only edges of two are filled.
    pub neighbours: Vec<[u32; 3]>,
    /// Half-edges that are alone on their edge.
    pub open: Vec<HalfEdge>,
    /// Half-edges on edges of three or more, edge after edge.
    pub crowded: Vec<HalfEdge>,
    /// Where each crowded edge ends in `crowded`.
    pub crowded_ends: Vec<u32>,
    /// Edges of two whose half-edges run the same way: one of the facets is turned over.
    pub same_way: usize,
    /// True when two facets on one edge have the same three corners.
    pub coincident: bool,
}

/// Pairs the facets, whatever their winding; two facets with the same corners are not paired.
pub fn pair(facets: &[[u32; 3]], vertex_count: usize) -> Pairing {
    let mut p = Pairing {
        neighbours: vec![[NONE; 3]; facets.len()],
        ..Pairing::default()
    };
    edges::for_each(facets, vertex_count, |run| match *run {
        [h] => p.open.push(h),
        [g, h] => {
            if opposite_corner(facets, g) == opposite_corner(facets, h) {
                p.coincident = true;
                p.crowd(run);
                return;
            }
            link(&mut p.neighbours, g, h);
            if edges::ends(facets, g).0 == edges::ends(facets, h).0 {
                p.same_way += 1;
            }
        }
        _ => {
            p.coincident |= run.iter().enumerate().any(|(i, &g)| {
                run[..i.min(MANY)]
                    .iter()
                    .any(|&h| opposite_corner(facets, g) == opposite_corner(facets, h))
            });
            p.crowd(run);
        }
    });
    p
}

/// Edges of more facets than this are junk; comparing all of them pairwise would be quadratic.
const MANY: usize = 64;

impl Pairing {
    fn crowd(&mut self, run: &[HalfEdge]) {
        self.crowded.extend_from_slice(run);
        self.crowded_ends.push(self.crowded.len() as u32);
    }

    /// The half-edges of each crowded edge.
    pub fn crowded_runs(&self) -> impl Iterator<Item = &[HalfEdge]> {
        let mut from = 0;
        self.crowded_ends.iter().map(move |&to| {
            let run = &self.crowded[from..to as usize];
            from = to as usize;
            run
        })
    }
}

/// Makes the facets of two half-edges neighbours.
pub fn link(neighbours: &mut [[u32; 3]], g: HalfEdge, h: HalfEdge) {
    neighbours[(g / 3) as usize][(g % 3) as usize] = h / 3;
    neighbours[(h / 3) as usize][(h % 3) as usize] = g / 3;
}

/// The corner of h's facet that is not on h.
pub fn opposite_corner(facets: &[[u32; 3]], h: HalfEdge) -> u32 {
    facets[(h / 3) as usize][((h + 2 - (h / 3) * 3) % 3) as usize]
}

/// The same half-edge after its facet was turned over by [`turn_over`].
pub fn turned(h: HalfEdge) -> HalfEdge {
    (h / 3) * 3 + (2 - h % 3)
}

/// Turns a facet over: swaps its last two corners and keeps its neighbours with their edges.
pub fn turn_over(facet: &mut [u32; 3], neighbours: &mut [u32; 3]) {
    facet.swap(1, 2);
    neighbours.swap(0, 2);
}

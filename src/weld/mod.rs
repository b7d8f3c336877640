//! Triangles to one mesh with shared vertices, millimetres, sound winding.
//!
//! Equal points become one vertex first. Only where edges stay open are near vertices joined, so
//! bodies that touch or overlap never fuse. What is certain is repaired; what was done is told.

mod coincident;
mod edges;
mod fans;
mod mesh;
mod near;
mod orientation;
mod pairing;
mod resolution;
mod rim;
mod sheets;
mod sliver;
mod t_junction;
mod tally;
mod twin;
mod vertices;
mod work;

use crate::finding::Finding;
use crate::read::TriangleSoup;
pub(crate) use mesh::check_topology;
pub use mesh::{Mesh, NONE};
use pairing::Pairing;
use tally::Tally;
use work::Work;

/// Welds a soup into one mesh in millimetres (`mm_per_unit` × file units).
///
/// Takes the soup by value: points and facets are renumbered in place, so that the peak is the
/// soup itself and a third of it. The winding of each connected piece follows the majority of
/// its facets; which side of a closed shell is metal is settled by [`crate::body::separate`].
pub fn weld(mut soup: TriangleSoup, mm_per_unit: f64) -> (Mesh, Vec<Finding>) {
    let mut tally = Tally::default();
    let mut work = work::start(&mut soup, mm_per_unit, &mut tally);
    tally.collapsed += work.drop_collapsed();

    let mut pairing = work.pair();
    if !pairing.open.is_empty() {
        pairing = close_gaps(&mut work, pairing, &mut tally);
    }
    let mut no_vote = Vec::new();
    if pairing.crowded_ends.len() > 3 || pairing.coincident {
        (pairing, no_vote) = sort_out_doubles(&mut work, pairing, &mut tally);
    }
    let neighbours = orient(&mut work, pairing, &no_vote, &mut tally);
    let mut mesh = Mesh {
        vertices: work.vertices,
        facets: work.facets,
        neighbours,
        group: work.group,
        quantum: work.quantum,
    };
    tally.slivers = sliver::repair(&mut mesh);
    mesh::compact(&mut mesh);
    let findings = tally.findings(&mesh);
    (mesh, findings)
}

/// Joins near vertices on open edges, then splits edges that a vertex of the other side stands on.
fn close_gaps(work: &mut Work, pairing: Pairing, tally: &mut Tally) -> Pairing {
    let mut pairing = pairing;
    let open_before = pairing.open.len();
    if let Some(joined) = near::join(
        &mut work.vertices,
        &mut work.facets,
        &pairing.open,
        work.quantum,
    ) {
        tally.joined_gap = joined.gap;
        tally.near_joined = joined.count;
        work.quantum = work.quantum.max(joined.half_width);
        tally.collapsed += work.drop_collapsed();
        pairing = work.pair();
        tally.edges_closed = open_before.saturating_sub(pairing.open.len());
    }
    let reach = (4.0 * work.quantum).max(tally.joined_gap);
    let splits = t_junction::split(
        &work.vertices,
        &mut work.facets,
        &mut work.group,
        &pairing.open,
        reach,
    );
    if splits > 0 {
        tally.t_junctions = splits;
        pairing = work.pair();
    }
    pairing
}

/// Removes facets given more than once.
fn sort_out_doubles(work: &mut Work, pairing: Pairing, tally: &mut Tally) -> (Pairing, Vec<bool>) {
    let flat = 4.0 * work.quantum;
    let twins = twin::align(&work.vertices, &mut work.facets, &pairing, flat);
    if twins == 0 && !pairing.coincident {
        return (pairing, Vec::new());
    }
    let verdict = coincident::judge(&work.vertices, &work.facets, flat);
    tally.repeats += verdict.repeats;
    tally.backs += verdict.backs;
    tally.common += verdict.common;
    for &f in &verdict.turn {
        work.facets[f as usize].swap(1, 2);
    }
    tally.flipped += verdict.turn.len();
    let mut no_vote = Vec::new();
    if verdict.two_sided.iter().any(|t| *t) {
        no_vote = verdict
            .two_sided
            .iter()
            .zip(&verdict.drop)
            .filter(|(_, d)| !**d)
            .map(|(t, _)| *t)
            .collect();
    }
    work.retain(|i, _| !verdict.drop[i]);
    (work.pair(), no_vote)
}

/// One winding per piece, then the pairs around crowded edges. Returns the neighbours.
fn orient(
    work: &mut Work,
    mut pairing: Pairing,
    no_vote: &[bool],
    tally: &mut Tally,
) -> Vec<[u32; 3]> {
    tally.crowded = pairing.crowded_ends.len();
    if pairing.same_way == 0 && pairing.crowded_ends.is_empty() && no_vote.is_empty() {
        return pairing.neighbours;
    }
    let pieces = orientation::make_consistent(
        &work.vertices,
        &mut work.facets,
        &mut pairing.neighbours,
        no_vote,
    );
    let counts = |i: usize| no_vote.is_empty() || !no_vote[i];
    tally.flipped += pieces
        .turned
        .iter()
        .enumerate()
        .filter(|(i, t)| **t && counts(*i))
        .count();
    tally.one_sided = pieces.one_sided;
    if !pairing.crowded_ends.is_empty() {
        for h in &mut pairing.crowded {
            if pieces.turned[(*h / 3) as usize] {
                *h = pairing::turned(*h);
            }
        }
        tally.crowded_left = fans::pair_by_angle(
            &work.vertices,
            &work.facets,
            work.quantum,
            &mut pairing,
            &pieces,
        );
    }
    pairing.neighbours
}

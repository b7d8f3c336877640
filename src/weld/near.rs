//! Vertices of open edges that are meant to be one.

use nalgebra::Point3;

use super::edges::HalfEdge;
use super::rim::{Joined, Rim, diagonal};

/// Two roundings of one point are at most this many quanta apart: each coordinate by a step
/// (2.1 half-widths of 95 %), in three directions.
const ROUNDING_REACH: f64 = 4.0;
/// A join never reaches further than this share of the model's diagonal.
const LARGEST_SHARE: f64 = 5e-4;
/// Joining beyond rounding must close at least this share of the open edges.
const WORTH_IT: f64 = 0.25;

/// Joins vertices on open edges that lie nearer than a small multiple of the rounding or, where
/// that leaves most edges open, of the looseness seen; renumbers `facets`.
///
/// The reach is the smallest of a ladder (doubling) that leaves the fewest edges open; vertices
/// of one facet never join. `None` when nothing was joined.
pub fn join(
    vertices: &mut [Point3<f64>],
    facets: &mut [[u32; 3]],
    open: &[HalfEdge],
    quantum: f64,
) -> Option<Joined> {
    let rounding = ROUNDING_REACH * quantum;
    let rim = Rim::new(vertices, facets, open);
    let reach = if rim.points.len() > TRIAL_VERTICES {
        // The looseness of a slab through the middle is that of the file.
        let slab = rim.slab(open, TRIAL_VERTICES / 2);
        find_reach(&Rim::new(vertices, facets, &slab), rounding)
    } else {
        find_reach(&rim, rounding)
    }
    .unwrap_or(rounding);
    let clusters = rim.clusters(reach)?;
    let joined = rim.apply(
        clusters,
        vertices,
        facets,
        if reach > rounding { reach } else { 0.0 },
    );
    (joined.count > 0).then_some(joined)
}

/// Where more vertices than this lie on open edges the reach is sought on a part of them.
const TRIAL_VERTICES: usize = 40_000;
/// A larger reach must close at least this share of the edges the smaller one left open.
const BETTER: f64 = 0.25;

/// The smallest reach of the ladder that leaves the fewest edges open, if any closes some.
fn find_reach(rim: &Rim, rounding: f64) -> Option<f64> {
    let limit = (LARGEST_SHARE * diagonal(&rim.points)).max(rounding);
    let mut best: Option<(usize, f64)> = None;
    let mut at_rounding = rim.edges.len();
    let mut reach = rounding;
    while reach <= limit {
        let Some(mut clusters) = rim.clusters(reach) else {
            break;
        };
        let cost = rim.cost(&mut clusters);
        if reach == rounding {
            at_rounding = cost;
        }
        let before = best.map_or(rim.edges.len(), |b| b.0) as f64;
        let first = best.is_none() && cost < rim.edges.len();
        if first || cost as f64 <= before * (1.0 - BETTER) && before > 0.0 {
            best = Some((cost, reach));
        }
        if cost == 0 {
            break;
        }
        reach *= 2.0;
    }
    let (cost, reach) = best?;
    let worth = (at_rounding - cost) as f64 >= WORTH_IT * at_rounding as f64;
    Some(if reach > rounding && !worth {
        rounding
    } else {
        reach
    })
}

//! The end of a tube unrolled: where the cut runs on paper wrapped round it.

use super::lines::way_round;
use crate::drawing::walk::{self, Walk, Which};
use crate::member::{End, Section};

/// A point of the cut on the paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnPaper {
    /// How far round from the start of the wrap, mm.
    pub around: f64,
    /// Distance from the strip's straight edge towards the end of the tube, mm.
    pub up: f64,
}

/// A wrap for one end.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// The cut that limits the metal, from the start of the wrap once round.
    pub cut: Vec<OnPaper>,
    /// Once round, mm.
    pub around: f64,
    /// Lowest and highest point of the cut above the straight edge, mm.
    pub low: f64,
    /// Highest point, mm.
    pub high: f64,
    /// From the straight edge to the square section where the centreline ends, outwards, mm.
    pub to_end: f64,
}

/// The wrap for an end of a round or rectangular member, for paper `paper` thick; its straight edge
/// lies `margin` below the deepest point of the cut. Along a rolled end the distances are those of
/// each line's own arc.
pub fn strip(
    section: &Section,
    walk: &Walk,
    which: Which,
    end: &End,
    paper: f64,
    margin: f64,
) -> Option<Strip> {
    let way = way_round(section, paper)?;
    let reaches: Option<Vec<(f64, f64)>> = way
        .iter()
        .map(|p| Some((p.around, walk::reach(walk, which, p.spot, end)?)))
        .collect();
    let reaches = reaches?;
    let (low, high) = range(reaches.iter().map(|r| r.1))?;
    let shift = margin - low;
    Some(Strip {
        around: way.last()?.around,
        low: margin,
        high: high + shift,
        to_end: shift,
        cut: reaches
            .into_iter()
            .map(|(around, up)| OnPaper {
                around,
                up: up + shift,
            })
            .collect(),
    })
}

fn range(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |range, v| match range {
        None => Some((v, v)),
        Some((low, high)) => Some((f64::min(low, v), f64::max(high, v))),
    })
}

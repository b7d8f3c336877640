//! Laying pieces into bars, with a bound on how few bars could do.
//!
//! Lengths are whole tenths of a millimetre: sums are exact, and the bound holds without rounding.

mod bound;
mod columns;
mod pack;
mod run;
mod search;
#[cfg(test)]
mod tests;

pub use bound::{by_length, by_threshold};
pub use pack::first_fit_decreasing;
pub use search::{Found, pack_into};

/// A length in tenths of a millimetre.
pub type Tenths = u64;

/// One end of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct EndCut {
    /// Kind of cut; 0 is a square end.
    pub kind: u32,
    /// Kind of the end that one cut can part it from; 0 where there is none. A cut that can be turned
    /// any way is its own mate.
    pub mate: u32,
    /// Length that one cut for two such ends saves.
    pub saving: Tenths,
    /// Length of bar the saw turns to chips, along the bar.
    pub kerf: Tenths,
}

/// A piece to be cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// From the foremost to the hindmost point, along the bar.
    pub length: Tenths,
    /// Its ends.
    pub ends: [EndCut; 2],
}

/// A length bars are sold or stand in the rack in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Whole length.
    pub length: Tenths,
    /// How many there are; as many as one likes without.
    pub count: Option<u32>,
}

/// What there is to cut from, and how it is cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rack {
    /// Lengths.
    pub bars: Vec<Bar>,
    /// Cut off at each end of a bar, its cut counted.
    pub trim: Tenths,
    /// Width of a square cut.
    pub kerf: Tenths,
    /// Whether two neighbours with the same mitre share a cut.
    pub share: bool,
}

impl Rack {
    /// Length of a bar that pieces can come out of.
    pub fn usable(&self, bar: &Bar) -> Tenths {
        bar.length.saturating_sub(2 * self.trim)
    }
}

/// A piece in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Number of the piece.
    pub piece: usize,
    /// True when its end 1 comes first.
    pub turned: bool,
    /// Where its box begins, from the end of the bar.
    pub at: Tenths,
    /// True when the cut before it serves the piece before, too.
    pub shared: bool,
}

/// A bar with its pieces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Laid {
    /// Whole length of the bar.
    pub length: Tenths,
    /// Pieces in order.
    pub places: Vec<Place>,
    /// What is left in one piece behind the last cut, both trims counted.
    pub left: Tenths,
}

/// How the pieces come out of bars.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// The bars.
    pub bars: Vec<Laid>,
    /// Pieces no bar there is has room for.
    pub unplaced: Vec<usize>,
    /// No plan can do with fewer bars.
    pub least_bars: u32,
    /// No plan can do with less length of bar.
    pub least_length: Tenths,
}

impl Plan {
    /// Length of all bars.
    pub fn length(&self) -> Tenths {
        self.bars.iter().map(|bar| bar.length).sum()
    }

    /// True when no plan is better: all pieces placed in the least length of bar.
    pub fn is_best(&self) -> bool {
        self.unplaced.is_empty() && self.length() <= self.least_length
    }
}

/// Steps the exact search may take: a fraction of a second.
const STEPS: u64 = 2_000_000;

/// Lays the pieces into bars.
///
/// Candidates are first fit decreasing, best fit decreasing and bar by bar as full as possible, for each
/// length and for all of them, then an exact search by bin completion (Korf, "An improved algorithm for
/// optimal bin packing", IJCAI 2003) where one length is at hand. Bounds are L2 (Martello and Toth,
/// "Lower bounds and reduction procedures for the bin packing problem", Discrete Applied Mathematics 28,
/// 1990) and the linear programme over all patterns (Gilmore and Gomory, "A linear programming approach
/// to the cutting-stock problem", Operations Research 9, 1961), made safe against rounding as by Farley
/// ("A note on bounding a class of linear programming problems", Operations Research 38, 1990).
/// The number of the bars counts only where two plans buy the same length.
pub fn nest(pieces: &[Piece], rack: &Rack) -> Plan {
    let mitred = pieces.iter().flat_map(|p| &p.ends).any(|end| end.kind > 0);
    let longest = rack.bars.iter().map(|bar| rack.usable(bar)).max();
    // alone in a bar, a piece needs no cut of its own beyond its length
    let alone = longest.unwrap_or(0) + rack.kerf;
    let rough: Vec<Tenths> = pieces
        .iter()
        .map(|p| run::rough(p, rack).min(alone))
        .collect();
    let lean: Vec<Tenths> = match mitred {
        true => pieces.iter().map(|p| run::lean(p, rack)).collect(),
        false => rough.clone(),
    };
    let fits = |piece: &Piece| longest.is_some_and(|room| piece.length <= room);
    let (able, too_long): (Vec<usize>, Vec<usize>) =
        (0..pieces.len()).partition(|&i| fits(&pieces[i]));
    let sized = |sizes: &[Tenths]| able.iter().map(|&i| sizes[i]).collect::<Vec<_>>();

    let mut packed = pack::best(&sized(&rough), rack);
    let mut plan = finish(pieces, rack, &able, &packed);
    if mitred && rack.share {
        let shared = run::pack_shared(pieces, &able, rack);
        plan = better(plan, shared);
    }
    let bound = bound::Bound::new(&sized(&lean), rack);
    let mut least = bound.quick();
    if !plan.is_within(&least) {
        least = least.max(columns::bound(&bound));
    }
    if !mitred && !plan.is_within(&least) && rack.bars.len() == 1 && rack.bars[0].count.is_none() {
        let (found, proven) = search::fewest(&bound, least.bars, plan.bars.len() as u32, STEPS);
        least.bars = least.bars.max(proven);
        least.length = least.length.max(u64::from(proven) * rack.bars[0].length);
        if let Some(bins) = found {
            packed = pack::Packed {
                bars: bins.into_iter().map(|bin| (0, bin)).collect(),
                unplaced: Vec::new(),
            };
            plan = better(plan, finish(pieces, rack, &able, &packed));
        }
    }
    least.length = bound::reachable(least.length, rack);
    plan.unplaced.extend(too_long);
    plan.unplaced.sort_unstable();
    plan.least_bars = least.bars;
    plan.least_length = least.length;
    plan
}

impl Plan {
    fn is_within(&self, least: &bound::Least) -> bool {
        self.unplaced.is_empty() && self.length() <= least.length
    }
}

/// Fewer pieces without a bar, then less length, then fewer bars.
fn better(one: Plan, other: Plan) -> Plan {
    let rank = |p: &Plan| (p.unplaced.len(), p.length(), p.bars.len());
    if rank(&other) < rank(&one) {
        other
    } else {
        one
    }
}

fn finish(pieces: &[Piece], rack: &Rack, able: &[usize], packed: &pack::Packed) -> Plan {
    let bars = packed.bars.iter().map(|(bar, items)| {
        let mut set: Vec<usize> = items.iter().map(|&i| able[i]).collect();
        set.sort_by_key(|&i| (std::cmp::Reverse(pieces[i].length), i));
        run::laid(pieces, &set, &rack.bars[*bar], rack)
    });
    Plan {
        bars: bars.collect(),
        unplaced: packed.unplaced.iter().map(|&i| able[i]).collect(),
        least_bars: 0,
        least_length: 0,
    }
}

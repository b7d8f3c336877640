//! How few bars, and how little length of bar, could do.

use super::{Rack, Tenths};

/// What no plan can go below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Least {
    pub bars: u32,
    pub length: Tenths,
}

impl Least {
    pub fn max(self, other: Least) -> Least {
        Least {
            bars: self.bars.max(other.bars),
            length: self.length.max(other.length),
        }
    }
}

/// Items by size, largest first, and the lengths of bar: whole length and room.
#[derive(Clone, Debug)]
pub struct Bound {
    /// Different sizes, largest first.
    pub sizes: Vec<Tenths>,
    /// Items of each size.
    pub items: Vec<Vec<usize>>,
    /// Whole length and room of each bar.
    pub bars: Vec<(Tenths, Tenths)>,
}

impl Bound {
    pub fn new(sizes: &[Tenths], rack: &Rack) -> Bound {
        let mut order: Vec<usize> = (0..sizes.len()).collect();
        order.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
        let mut bound = Bound {
            sizes: Vec::new(),
            items: Vec::new(),
            bars: rack
                .bars
                .iter()
                .map(|b| (b.length, rack.usable(b) + rack.kerf))
                .collect(),
        };
        for i in order {
            if bound.sizes.last() != Some(&sizes[i]) {
                bound.sizes.push(sizes[i]);
                bound.items.push(Vec::new());
            }
            if let Some(last) = bound.items.last_mut() {
                last.push(i);
            }
        }
        bound
    }

    pub fn demand(&self, kind: usize) -> u64 {
        self.items[kind].len() as u64
    }

    /// All sizes, largest first, each as often as there are items.
    fn flat(&self) -> Vec<Tenths> {
        let repeated = self.sizes.iter().zip(&self.items);
        repeated
            .flat_map(|(&size, items)| std::iter::repeat_n(size, items.len()))
            .collect()
    }

    /// Bounds that take no time: bars by L2 with the roomiest bar, length by what the pieces take.
    pub fn quick(&self) -> Least {
        let flat = self.flat();
        let roomy = self.bars.iter().map(|bar| bar.1).max().unwrap_or(0);
        let bars = by_threshold(&flat, roomy);
        let shortest = self.bars.iter().map(|bar| bar.0).min().unwrap_or(0);
        let by_bars = match self.bars.as_slice() {
            [only] => u64::from(bars) * only.0,
            _ => u64::from(bars) * shortest,
        };
        // each tenth of room costs at least as much as in the bar with the least trim to its length
        let total: Tenths = flat.iter().sum();
        let by_room = self
            .bars
            .iter()
            .filter(|bar| bar.1 > 0)
            .map(|bar| (u128::from(total) * u128::from(bar.0)).div_ceil(u128::from(bar.1)) as u64)
            .min()
            .unwrap_or(0);
        Least {
            bars,
            length: by_bars.max(by_room),
        }
    }
}

/// Sums of bars that are tried.
const SUMS: u64 = 100_000;

/// The least length no less than `least` that bars of the rack add up to; `least` itself where there are
/// too many ways to try, or none.
pub fn reachable(least: Tenths, rack: &Rack) -> Tenths {
    let mut lengths: Vec<(Tenths, u64)> = rack
        .bars
        .iter()
        .filter(|bar| bar.length > 0)
        .map(|bar| {
            let most = least.div_ceil(bar.length);
            (
                bar.length,
                bar.count.map_or(most, |n| most.min(u64::from(n))),
            )
        })
        .collect();
    lengths.sort_unstable();
    let ways = lengths
        .iter()
        .skip(1)
        .try_fold(1u64, |ways, l| ways.checked_mul(l.1 + 1));
    if ways.is_none_or(|ways| ways > SUMS) {
        return least;
    }
    let mut sums = vec![0];
    for (length, most) in lengths.iter().skip(1) {
        sums = sums
            .iter()
            .flat_map(|s| (0..=*most).map(move |n| s + n * length))
            .collect();
    }
    let shortest = lengths.first().copied().unwrap_or((1, 0));
    let filled = sums.into_iter().filter_map(|sum| {
        let n = least.saturating_sub(sum).div_ceil(shortest.0);
        (n <= shortest.1).then_some(sum + n * shortest.0)
    });
    filled.min().unwrap_or(least)
}

/// Bars by length alone.
pub fn by_length(sizes: &[Tenths], room: Tenths) -> u32 {
    match room {
        0 => 0,
        _ => sizes.iter().sum::<Tenths>().div_ceil(room) as u32,
    }
}

/// L2: for every threshold, items that can share no bar and what the small ones need beside them
/// (Martello and Toth 1990). `sizes` largest first, none larger than `room`.
pub fn by_threshold(sizes: &[Tenths], room: Tenths) -> u32 {
    if room == 0 {
        return 0;
    }
    let n = sizes.len();
    let mut sums = vec![0; n + 1];
    for (i, s) in sizes.iter().enumerate() {
        sums[i + 1] = sums[i] + s;
    }
    // numbers of items larger than a limit
    let above = |limit: Tenths| sizes.partition_point(|&s| s > limit);
    let half = above(room / 2);
    let thresholds = sizes.iter().copied().filter(|&s| s <= room / 2).chain([0]);
    let mut best = 0;
    let mut last = None;
    for k in thresholds {
        if last.replace(k) == Some(k) {
            continue;
        }
        let alone = above(room - k).min(half);
        let small = sizes.partition_point(|&s| s >= k.max(1));
        let beside = (half - alone) as u64 * room - (sums[half] - sums[alone]);
        let rest = (sums[small.max(half)] - sums[half]).saturating_sub(beside);
        best = best.max(half as u64 + rest.div_ceil(room));
    }
    best as u32
}

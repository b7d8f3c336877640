//! Exact packing into bars of one length, by bin completion (Korf 2003): the largest item left goes
//! into the next bar with every set of others that leaves no room for one more.

use std::collections::BTreeSet;

use super::Tenths;
use super::bound::Bound;

/// Outcome of a search.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// Counts of each size for each bar.
    Packing(Vec<Vec<u32>>),
    /// There is none.
    Impossible,
    /// The steps ran out.
    Unknown,
}

/// Tries ever more bars from `least` up to one less than `most`. Gives back items by bar, and the
/// least number of bars that is now proven.
pub fn fewest(bound: &Bound, least: u32, most: u32, steps: u64) -> (Option<Vec<Vec<usize>>>, u32) {
    let counts: Vec<u32> = bound.items.iter().map(|items| items.len() as u32).collect();
    let room = bound.bars[0].1;
    let mut left = steps;
    let mut proven = least;
    for bars in least..most {
        match pack_into(&bound.sizes, &counts, room, bars, &mut left) {
            Found::Packing(bins) => {
                let mut items: Vec<std::vec::IntoIter<usize>> =
                    bound.items.iter().map(|i| i.clone().into_iter()).collect();
                let named = bins.iter().map(|bin| {
                    let kinds = bin.iter().enumerate();
                    kinds
                        .flat_map(|(kind, &n)| {
                            items[kind].by_ref().take(n as usize).collect::<Vec<_>>()
                        })
                        .collect()
                });
                return (Some(named.collect()), proven);
            }
            // more bars are easier: what is impossible here is proven
            Found::Impossible => proven = bars + 1,
            Found::Unknown if left == 0 => return (None, proven),
            Found::Unknown => {}
        }
    }
    (None, proven)
}

struct Search<'a> {
    sizes: &'a [Tenths],
    room: Tenths,
    bars: usize,
    dead: BTreeSet<Vec<u32>>,
    bins: Vec<Vec<u32>>,
}

/// Most counts remembered as leading nowhere.
const REMEMBERED: usize = 200_000;

/// Packs `counts` items of `sizes` (largest first) into `bars` bars of `room`, or finds that it can't be
/// done. Takes at most `steps` steps, which are counted down.
pub fn pack_into(
    sizes: &[Tenths],
    counts: &[u32],
    room: Tenths,
    bars: u32,
    steps: &mut u64,
) -> Found {
    let total: Tenths = sizes
        .iter()
        .zip(counts)
        .map(|(s, &n)| s * u64::from(n))
        .sum();
    let all = u64::from(bars) * room;
    if total > all || sizes.first().is_some_and(|&s| s > room) {
        return Found::Impossible;
    }
    let mut search = Search {
        sizes,
        room,
        bars: bars as usize,
        dead: BTreeSet::new(),
        bins: Vec::new(),
    };
    let mut left = counts.to_vec();
    match search.go(&mut left, all - total, steps) {
        Some(true) => Found::Packing(search.bins),
        Some(false) => Found::Impossible,
        None => Found::Unknown,
    }
}

impl Search<'_> {
    /// True when the rest fits, `None` when the steps ran out.
    fn go(&mut self, left: &mut Vec<u32>, slack: Tenths, steps: &mut u64) -> Option<bool> {
        let Some(first) = left.iter().position(|&n| n > 0) else {
            return Some(true);
        };
        if self.bins.len() == self.bars || self.dead.contains(left) {
            return Some(false);
        }
        let mut fills = Vec::new();
        let mut bin = vec![0; left.len()];
        bin[first] = 1;
        left[first] -= 1;
        let free = self.room - self.sizes[first];
        let complete = self.completions(left, first, free, slack, &mut bin, &mut fills, steps);
        left[first] += 1;
        complete?;
        fills.sort_by_key(|(waste, _)| *waste);
        for (waste, bin) in fills {
            for (l, b) in left.iter_mut().zip(&bin) {
                *l -= b;
            }
            self.bins.push(bin.clone());
            let done = self.go(left, slack - waste, steps);
            if done == Some(true) {
                return done;
            }
            self.bins.pop();
            for (l, b) in left.iter_mut().zip(&bin) {
                *l += b;
            }
            done?;
        }
        if self.dead.len() < REMEMBERED {
            self.dead.insert(left.clone());
        }
        Some(false)
    }

    /// Every way to go on filling a bar from size `kind` on that leaves room for nothing more and wastes
    /// no more than `slack`.
    #[allow(clippy::too_many_arguments)]
    fn completions(
        &self,
        left: &mut Vec<u32>,
        kind: usize,
        free: Tenths,
        slack: Tenths,
        bin: &mut Vec<u32>,
        fills: &mut Vec<(Tenths, Vec<u32>)>,
        steps: &mut u64,
    ) -> Option<()> {
        *steps = steps.checked_sub(1)?;
        let next = (kind..left.len()).find(|&k| left[k] > 0 && self.sizes[k] <= free);
        let Some(k) = next else {
            let room_for_more = (0..left.len()).any(|k| left[k] > 0 && self.sizes[k] <= free);
            if !room_for_more && free <= slack {
                fills.push((free, bin.clone()));
            }
            return Some(());
        };
        let most = u64::from(left[k]).min(free / self.sizes[k].max(1)) as u32;
        for n in (0..=most).rev() {
            left[k] -= n;
            bin[k] += n;
            let rest = free - u64::from(n) * self.sizes[k];
            let done = self.completions(left, k + 1, rest, slack, bin, fills, steps);
            left[k] += n;
            bin[k] -= n;
            done?;
        }
        Some(())
    }
}

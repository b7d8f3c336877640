//! Quick plans for plain sizes: decreasing orders, and bars filled as full as they go.

use std::cmp::Reverse;

use super::{Rack, Tenths};

/// Items by bar (number of its length), and those without.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    pub bars: Vec<(usize, Vec<usize>)>,
    pub unplaced: Vec<usize>,
}

/// The best of the quick plans. An item of size `s` takes `s` of a bar's room, which is its usable
/// length and one kerf.
pub fn best(sizes: &[Tenths], rack: &Rack) -> Packed {
    let room: Vec<Tenths> = rack
        .bars
        .iter()
        .map(|b| rack.usable(b) + rack.kerf)
        .collect();
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|&i| (Reverse(sizes[i]), i));
    let mut long_first: Vec<usize> = (0..room.len()).collect();
    long_first.sort_by_key(|&bar| Reverse(room[bar]));
    let mut candidates = Vec::new();
    for tight in [false, true] {
        for start in 0..long_first.len() {
            let mut lengths = long_first[start..].to_vec();
            lengths.extend(&long_first[..start]);
            candidates.push(fit(sizes, &order, &room, &lengths, rack, tight));
        }
    }
    candidates.push(fill(sizes, &order, &room, rack));
    let cost = |p: &Packed| {
        let length: Tenths = p.bars.iter().map(|(bar, _)| rack.bars[*bar].length).sum();
        (p.unplaced.len(), length, p.bars.len())
    };
    candidates
        .into_iter()
        .map(|packed| shrunk(packed, sizes, &room, rack))
        .min_by_key(cost)
        .unwrap_or(Packed {
            bars: Vec::new(),
            unplaced: order,
        })
}

/// How many bars first fit decreasing takes, every item fitting into an empty one.
pub fn first_fit_decreasing(sizes: &[Tenths], room: Tenths) -> usize {
    let mut order = sizes.to_vec();
    order.sort_unstable_by_key(|&s| Reverse(s));
    let mut left: Vec<Tenths> = Vec::new();
    for s in order {
        match left.iter_mut().find(|l| **l >= s) {
            Some(l) => *l -= s,
            None => left.push(room.saturating_sub(s)),
        }
    }
    left.len()
}

/// Each item into the first (or the tightest) bar with room, a new bar from the first length that has.
fn fit(
    sizes: &[Tenths],
    order: &[usize],
    room: &[Tenths],
    lengths: &[usize],
    rack: &Rack,
    tight: bool,
) -> Packed {
    let mut count: Vec<Option<u32>> = rack.bars.iter().map(|b| b.count).collect();
    let mut bars: Vec<(usize, Vec<usize>, Tenths)> = Vec::new();
    let mut unplaced = Vec::new();
    for &i in order {
        let open = bars.iter_mut().filter(|bar| bar.2 >= sizes[i]);
        let chosen = match tight {
            true => open.min_by_key(|bar| bar.2),
            false => { open }.next(),
        };
        if let Some(bar) = chosen {
            bar.1.push(i);
            bar.2 -= sizes[i];
            continue;
        }
        let new = lengths
            .iter()
            .copied()
            .find(|&bar| count[bar] != Some(0) && room[bar] >= sizes[i]);
        match new {
            Some(bar) => {
                count[bar] = count[bar].map(|n| n - 1);
                bars.push((bar, vec![i], room[bar] - sizes[i]));
            }
            None => unplaced.push(i),
        }
    }
    Packed {
        bars: bars
            .into_iter()
            .map(|(bar, items, _)| (bar, items))
            .collect(),
        unplaced,
    }
}

/// Steps to look for the fullest bar.
const STEPS: u32 = 20_000;

/// Bar by bar: the largest item left, and with it what fills a bar best, of the length that is left
/// the least part of.
fn fill(sizes: &[Tenths], order: &[usize], room: &[Tenths], rack: &Rack) -> Packed {
    let mut count: Vec<Option<u32>> = rack.bars.iter().map(|b| b.count).collect();
    let mut left = order.to_vec();
    let mut packed = Packed {
        bars: Vec::new(),
        unplaced: Vec::new(),
    };
    while let Some(&first) = left.first() {
        let rest = &left[1..];
        let able =
            (0..room.len()).filter(|&bar| count[bar] != Some(0) && room[bar] >= sizes[first]);
        let filled = able.map(|bar| {
            let mut steps = STEPS;
            let (mut best, mut chosen) = (Vec::new(), Vec::new());
            let mut least = room[bar] - sizes[first];
            let free = least;
            fullest(
                sizes,
                rest,
                free,
                &mut chosen,
                &mut best,
                &mut least,
                &mut steps,
            );
            (least * 1_000_000 / room[bar].max(1), bar, best)
        });
        let Some((_, bar, best)) = filled.min_by_key(|f| (f.0, f.1)) else {
            packed.unplaced.push(left.remove(0));
            continue;
        };
        count[bar] = count[bar].map(|n| n - 1);
        let mut items = vec![first];
        items.extend(best.iter().map(|&k| rest[k]));
        left.retain(|i| !items.contains(i));
        packed.bars.push((bar, items));
    }
    packed
}

/// Subset of `rest` (numbers in it) that leaves the least of `free`.
fn fullest(
    sizes: &[Tenths],
    rest: &[usize],
    free: Tenths,
    chosen: &mut Vec<usize>,
    best: &mut Vec<usize>,
    least: &mut Tenths,
    steps: &mut u32,
) {
    if free < *least {
        *least = free;
        best.clone_from(chosen);
    }
    let from = chosen.last().map_or(0, |k| k + 1);
    let mut skip = None;
    for k in from..rest.len() {
        let size = sizes[rest[k]];
        // after one of several alike was left out, so are the others
        if size > free || skip == Some(size) {
            continue;
        }
        if *least == 0 || *steps == 0 {
            return;
        }
        *steps -= 1;
        chosen.push(k);
        fullest(sizes, rest, free - size, chosen, best, least, steps);
        chosen.pop();
        skip = Some(size);
    }
}

/// Every bar of the shortest length that still holds its items.
fn shrunk(mut packed: Packed, sizes: &[Tenths], room: &[Tenths], rack: &Rack) -> Packed {
    let mut count: Vec<Option<u32>> = rack.bars.iter().map(|b| b.count).collect();
    for (bar, _) in &packed.bars {
        count[*bar] = count[*bar].map(|n| n.saturating_sub(1));
    }
    for (bar, items) in &mut packed.bars {
        let used: Tenths = items.iter().map(|&i| sizes[i]).sum();
        let shorter = (0..room.len())
            .filter(|&b| room[b] >= used && count[b] != Some(0))
            .min_by_key(|&b| rack.bars[b].length)
            .filter(|&b| rack.bars[b].length < rack.bars[*bar].length);
        if let Some(b) = shorter {
            count[*bar] = count[*bar].map(|n| n + 1);
            count[b] = count[b].map(|n| n - 1);
            *bar = b;
        }
    }
    packed
}

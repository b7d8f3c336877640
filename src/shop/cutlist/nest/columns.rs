//! The linear programme over all ways to fill a bar, solved from its dual side: a price for each size,
//! such that no way to fill a bar is worth more than the bar.

use microlp::{ComparisonOp, OptimizationDirection, Problem};

use super::Tenths;
use super::bound::{Bound, Least};

/// Rounds of the programme.
const ROUNDS: usize = 120;
/// Steps to find the most valuable filling of a bar.
const STEPS: u32 = 60_000;
/// What floating point may be off by, in bars.
const GUARD: f64 = 1e-6;

/// Bound from the linear programme.
///
/// Any prices give a bound once they are scaled so that no filling is worth more than its bar (Farley
/// 1990); the worth of the best filling is taken from above where it isn't found exactly.
pub fn bound(of: &Bound) -> Least {
    let mut least = Least { bars: 0, length: 0 };
    let longest = of.bars.iter().map(|bar| bar.0).max().unwrap_or(0);
    if of.sizes.is_empty() || longest == 0 {
        return least;
    }
    // bars counted alike, then by their length
    let length = prices(of, |bar| bar.0 as f64 / longest as f64) * longest as f64;
    least.length = (length - GUARD * longest as f64).ceil().max(0.0) as u64;
    match of.bars.as_slice() {
        [only] => {
            least.bars = (length / only.0 as f64 - GUARD).ceil().max(0.0) as u32;
            least.length = u64::from(least.bars) * only.0;
        }
        _ => least.bars = (prices(of, |_| 1.0) - GUARD).ceil().max(0.0) as u32,
    }
    least
}

fn prices(of: &Bound, cost: impl Fn(&(Tenths, Tenths)) -> f64) -> f64 {
    let n = of.sizes.len();
    // worth at most what a bar costs that holds as many as it can
    let mut patterns: Vec<(Vec<u32>, f64)> = Vec::new();
    for bar in &of.bars {
        for (k, &size) in of.sizes.iter().enumerate() {
            let most = (bar.1 / size.max(1)).min(of.demand(k)) as u32;
            if most > 0 {
                let mut pattern = vec![0; n];
                pattern[k] = most;
                patterns.push((pattern, cost(bar)));
            }
        }
    }
    let mut best: f64 = 0.0;
    for _ in 0..ROUNDS {
        let Some(worth) = solve(of, &patterns) else {
            break;
        };
        let mut over: f64 = 0.0;
        let mut added = false;
        for bar in &of.bars {
            let (most, pattern) = fullest(of, &worth, bar.1);
            over = over.max(most / cost(bar));
            let value: f64 = pattern
                .iter()
                .zip(&worth)
                .map(|(&n, w)| f64::from(n) * w)
                .sum();
            if value > cost(bar) * (1.0 + 1e-7) {
                patterns.push((pattern, cost(bar)));
                added = true;
            }
        }
        let total: f64 = (0..n).map(|k| worth[k] * of.demand(k) as f64).sum();
        if over > 0.0 {
            best = best.max(total / over);
        }
        if !added {
            break;
        }
    }
    best
}

/// Prices that are worth most together while no pattern is worth more than it costs.
fn solve(of: &Bound, patterns: &[(Vec<u32>, f64)]) -> Option<Vec<f64>> {
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let prices: Vec<_> = (0..of.sizes.len())
        .map(|k| problem.add_var(of.demand(k) as f64, (0.0, f64::INFINITY)))
        .collect();
    for (pattern, cost) in patterns {
        let row: Vec<_> = pattern
            .iter()
            .zip(&prices)
            .filter(|(n, _)| **n > 0)
            .map(|(&n, &price)| (price, f64::from(n)))
            .collect();
        problem.add_constraint(&row, ComparisonOp::Le, *cost);
    }
    let solution = problem.solve().ok()?.into_solution().ok()?;
    let worth: Vec<f64> = prices
        .iter()
        .map(|&p| solution.var_value(p).max(0.0))
        .collect();
    worth.iter().all(|w| w.is_finite()).then_some(worth)
}

/// The filling of a bar worth most: its worth (never too small) and how many of each size.
fn fullest(of: &Bound, worth: &[f64], room: Tenths) -> (f64, Vec<u32>) {
    let n = of.sizes.len();
    let mut order: Vec<usize> = (0..n)
        .filter(|&k| worth[k] > 0.0 && of.sizes[k] <= room)
        .collect();
    let density = |k: usize| worth[k] / of.sizes[k].max(1) as f64;
    order.sort_by(|&a, &b| density(b).total_cmp(&density(a)));
    let mut filling = Filling {
        of,
        worth,
        order: &order,
        chosen: vec![0; n],
        best: (0.0, vec![0; n]),
        steps: STEPS,
    };
    let root = filling.most(0, room);
    filling.go(0, room, 0.0);
    match filling.steps {
        0 => (root, filling.best.1),
        _ => (filling.best.0 * (1.0 + 1e-9), filling.best.1),
    }
}

struct Filling<'a> {
    of: &'a Bound,
    worth: &'a [f64],
    order: &'a [usize],
    chosen: Vec<u32>,
    best: (f64, Vec<u32>),
    steps: u32,
}

impl Filling<'_> {
    /// Worth of the rest if the last piece could be cut to fill the bar.
    fn most(&self, from: usize, mut room: Tenths) -> f64 {
        let mut value = 0.0;
        for &k in &self.order[from..] {
            let size = self.of.sizes[k].max(1);
            let n = (room / size).min(self.of.demand(k));
            value += n as f64 * self.worth[k];
            room -= n * size;
            if n < self.of.demand(k) {
                return value + self.worth[k] * room as f64 / size as f64;
            }
        }
        value
    }

    fn go(&mut self, at: usize, room: Tenths, value: f64) {
        if value > self.best.0 {
            self.best = (value, self.chosen.clone());
        }
        if at == self.order.len() || self.steps == 0 {
            return;
        }
        self.steps -= 1;
        if value + self.most(at, room) <= self.best.0 * (1.0 + 1e-12) {
            return;
        }
        let k = self.order[at];
        let most = (room / self.of.sizes[k].max(1)).min(self.of.demand(k));
        for n in (0..=most).rev() {
            self.chosen[k] = n as u32;
            self.go(
                at + 1,
                room - n * self.of.sizes[k],
                value + n as f64 * self.worth[k],
            );
        }
        self.chosen[k] = 0;
    }
}

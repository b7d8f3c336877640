//! A pass over many things of one kind, in strips side by side.

use std::sync::Mutex;

/// Things in a strip: fewer are done sooner than a thread is started.
const STRIP: usize = 1 << 16;

/// Sets every place of `out` to what `each` gives for it, whatever the number of threads. `each` may
/// keep what it knows from one place to the next in what `start` makes.
pub fn fill<T: Send, S>(
    out: &mut [T],
    start: impl Fn() -> S + Sync,
    each: impl Fn(&mut S, usize) -> T + Sync,
) {
    let mut nothing = vec![(); out.len()];
    fill_both(out, &mut nothing, start, |s, i| (each(s, i), ()));
}

/// The same for two lists of one length at once.
pub fn fill_both<T: Send, U: Send, S>(
    out: &mut [T],
    other: &mut [U],
    start: impl Fn() -> S + Sync,
    each: impl Fn(&mut S, usize) -> (T, U) + Sync,
) {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let strips = out.len().div_ceil(STRIP);
    let lists = out.chunks_mut(STRIP).zip(other.chunks_mut(STRIP));
    let left = Mutex::new(lists.enumerate());
    let labour = || {
        let mut known = start();
        loop {
            let next = left.lock().map_or(None, |mut l| l.next());
            let Some((k, (out, other))) = next else {
                break;
            };
            for (j, (a, b)) in out.iter_mut().zip(other).enumerate() {
                (*a, *b) = each(&mut known, k * STRIP + j);
            }
        }
    };
    if threads.min(strips) < 2 {
        return labour();
    }
    std::thread::scope(|scope| {
        for _ in 1..threads.min(strips) {
            // a machine that gives no thread leaves the work to this one
            let _ = std::thread::Builder::new().spawn_scoped(scope, labour);
        }
        labour();
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_is_filled_once() {
        for count in [0, 1, STRIP - 1, STRIP, 3 * STRIP + 5] {
            let (mut squares, mut seen) = (vec![0; count], vec![0u64; count]);
            let each = |n: &mut u64, i: usize| {
                *n += 1;
                (i as u64 * i as u64, *n)
            };
            fill_both(&mut squares, &mut seen, || 0, each);
            assert!(squares.iter().zip(0u64..).all(|(s, i)| *s == i * i));
            assert!(seen.iter().all(|n| *n > 0));
        }
    }
}

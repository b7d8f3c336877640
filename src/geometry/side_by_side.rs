//! Work on many things at once; the answers keep the order of the things.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

/// As much as the main thread of a program usually has.
const STACK_BYTES: usize = 8 << 20;

/// `work` done on each item by as many threads as the machine runs at once; `heard` is told how
/// many are done: 0, 1, 2 and so on, once for each item.
pub fn each<T: Sync, A: Send>(
    items: &[T],
    work: impl Fn(&T) -> A + Sync,
    mut heard: impl FnMut(usize),
) -> Vec<A> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    if threads.min(items.len()) < 2 {
        return items
            .iter()
            .enumerate()
            .map(|(i, item)| {
                heard(i);
                work(item)
            })
            .collect();
    }
    let next = AtomicUsize::new(0);
    let mut answers: Vec<Option<A>> = items.iter().map(|_| None).collect();
    std::thread::scope(|scope| {
        let (send, receive) = mpsc::channel();
        let (next, work) = (&next, &work);
        for _ in 0..threads.min(items.len()) {
            let send = send.clone();
            let labour = move || {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(i) else { break };
                    if send.send((i, work(item))).is_err() {
                        break;
                    }
                }
            };
            let own = std::thread::Builder::new().stack_size(STACK_BYTES);
            // a machine that gives no thread leaves the work to the others, or to the loop below
            let _ = own.spawn_scoped(scope, labour);
        }
        drop(send);
        heard(0);
        for (before, (i, answer)) in receive.into_iter().enumerate() {
            answers[i] = Some(answer);
            if before + 1 < items.len() {
                heard(before + 1);
            }
        }
    });
    answers
        .into_iter()
        .zip(items)
        .map(|(answer, item)| answer.unwrap_or_else(|| work(item)))
        .collect()
}

#[cfg(test)]
mod tests {
    #[test]
    fn answers_keep_the_order() {
        let items: Vec<u64> = (0..500).collect();
        let mut heard = 0;
        let squares = super::each(&items, |x| x * x, |_| heard += 1);
        assert_eq!(heard, 500);
        assert!(squares.iter().zip(0u64..).all(|(s, i)| *s == i * i));
    }
}

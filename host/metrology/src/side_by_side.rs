//! Long work shared out among the cores.
//!
//! In come items and what is made of each; out comes what was made, in their order, the same as if one thread had done it.

use std::num::NonZero;
use std::thread;

/// Work on fewer samples is done before other threads have begun.
const LONG_SAMPLES: usize = 100_000;

/// How many threads this computer works on with at a time.
pub fn cores() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

/// How many threads work on a record of so many samples.
pub(crate) fn threads(samples: usize) -> usize {
    if samples < LONG_SAMPLES { 1 } else { cores() }
}

/// What `make` makes of each item, in the order of the items, by so many threads.
pub fn each<T: Sync, R: Send>(
    items: &[T],
    threads: usize,
    make: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let share = items.len().div_ceil(threads.max(1)).max(1);
    let (own, others) = items.split_at(share.min(items.len()));
    let make = &make;
    thread::scope(|scope| {
        let others: Vec<_> = others
            .chunks(share)
            .map(|share| scope.spawn(move || share.iter().map(make).collect::<Vec<R>>()))
            .collect();
        let mut made: Vec<R> = own.iter().map(make).collect();
        for thread in others {
            match thread.join() {
                Ok(part) => made.extend(part),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        made
    })
}

/// What two functions make, at the same time where there is more than one thread.
pub(crate) fn both<A, B: Send>(
    threads: usize,
    one: impl FnOnce() -> A,
    other: impl FnOnce() -> B + Send,
) -> (A, B) {
    if threads < 2 {
        return (one(), other());
    }
    thread::scope(|scope| {
        let other = scope.spawn(other);
        let one = one();
        match other.join() {
            Ok(other) => (one, other),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// Fills parts of a long row, each from the place it begins at, by so many threads.
pub(crate) fn fill<T: Send>(
    row: &mut [T],
    threads: usize,
    fill_from: impl Fn(usize, &mut [T]) + Sync,
) {
    let share = row.len().div_ceil(threads.max(1)).max(1);
    let fill_from = &fill_from;
    thread::scope(|scope| {
        let mut parts = row.chunks_mut(share).enumerate();
        let own = parts.next();
        for (number, part) in parts {
            scope.spawn(move || fill_from(number * share, part));
        }
        if let Some((_, part)) = own {
            fill_from(0, part);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn however_many_threads_the_order_is_that_of_the_items() {
        for items in [0_usize, 1, 2, 7, 100] {
            let row: Vec<usize> = (0..items).collect();
            for threads in [0, 1, 2, 3, 8] {
                assert_eq!(each(&row, threads, |item| *item), row);
                assert_eq!(both(threads, || items, || threads), (items, threads));
                let mut filled = vec![0; items];
                fill(&mut filled, threads, |first, part| {
                    for (place, value) in (first..).zip(part) {
                        *value = place;
                    }
                });
                assert_eq!(filled, row);
            }
        }
    }
}

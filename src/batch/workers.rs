//! Work spread over the cores of the machine.
//!
//! Plain threads that take the next piece each: a pool that lends its threads out again (rayon, which Typst runs its own
//! loops on) would begin another packet within the layout of one, and hold both.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Makes pieces `0..count` side by side and returns them in their order. A panic in one is passed on.
pub(super) fn spread<T: Send>(count: usize, make: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut made = Vec::new();
        loop {
            match next.fetch_add(1, Ordering::Relaxed) {
                at if at < count => made.push((at, make(at))),
                _ => return made,
            }
        }
    };
    let mut made: Vec<(usize, T)> = thread::scope(|scope| {
        let workers: Vec<_> = (0..cores().min(count)).map(|_| scope.spawn(work)).collect();
        let join = |worker: thread::ScopedJoinHandle<_>| {
            worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        };
        workers.into_iter().flat_map(join).collect()
    });
    made.sort_by_key(|(at, _)| *at);
    made.into_iter().map(|(_, made)| made).collect()
}

/// How many packets are made side by side: one a core.
#[must_use]
pub(super) fn cores() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_come_back_in_their_order() {
        assert_eq!(spread(1000, |at| at * 2), (0..1000).map(|at| at * 2).collect::<Vec<_>>());
        assert!(spread(0, |at| at).is_empty());
    }

    #[test]
    #[should_panic(expected = "piece 7")]
    fn a_panic_is_passed_on() {
        spread(20, |at| assert_ne!(at, 7, "piece {at}"));
    }
}

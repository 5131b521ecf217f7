//! As many layouts at once as the machine has cores. More would not be quicker, only hold more memory, however many
//! page sets, packets or previews are asked for side by side.

use std::num::NonZero;
use std::sync::{Condvar, LazyLock, Mutex, PoisonError};
use std::thread;

/// The cores of this machine, one turn each.
static CORES: LazyLock<Turns> = LazyLock::new(|| Turns::new(thread::available_parallelism().map_or(1, NonZero::get)));

/// Waits until a core is free, and holds it until the turn is dropped.
///
/// Nobody asks for a second turn while it holds one.
pub(super) fn wait() -> Turn<'static> {
    CORES.wait()
}

struct Turns {
    free: Mutex<usize>,
    given_back: Condvar,
}

/// The right to lay out one page set.
pub(super) struct Turn<'turns>(&'turns Turns);

impl Turns {
    fn new(count: usize) -> Self {
        Self { free: Mutex::new(count), given_back: Condvar::new() }
    }

    fn wait(&self) -> Turn<'_> {
        let free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        let mut free = self.given_back.wait_while(free, |free| *free == 0).unwrap_or_else(PoisonError::into_inner);
        *free -= 1;
        Turn(self)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        *self.0.free.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.0.given_back.notify_one();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn no_more_at_once_than_there_are_turns_and_everybody_comes_to_it() {
        let (turns, now, done) = (Turns::new(2), AtomicUsize::new(0), AtomicUsize::new(0));
        let work = || {
            let _turn = turns.wait();
            assert!(now.fetch_add(1, Ordering::SeqCst) < 2);
            thread::yield_now();
            now.fetch_sub(1, Ordering::SeqCst);
            done.fetch_add(1, Ordering::SeqCst);
        };
        thread::scope(|scope| (0..40).for_each(|_| drop(scope.spawn(work))));
        assert_eq!(done.into_inner(), 40);
    }

    #[test]
    fn a_turn_lost_in_a_panic_comes_back() {
        let turns = Turns::new(1);
        let lost = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            let _turn = turns.wait();
            panic!("the layout failed");
        }));
        assert!(lost.is_err());
        drop(turns.wait());
    }
}

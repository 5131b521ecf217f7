//! A thread that owns something and does one thing after the other with it, for callers that must not wait.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Sender, channel};
use std::thread::{self, JoinHandle};

use tokio::sync::oneshot;

type Job<T> = Box<dyn FnOnce(&mut T) + Send>;

/// A thread of its own for a value. It ends when the last handle is dropped.
pub(super) struct Thread<T>(Sender<Job<T>>);

impl<T> Clone for Thread<T> {
    fn clone(&self) -> Self {
        Self(self.0.clone())
    }
}

/// The job panicked; the thread goes on with the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Failed;

impl<T: Send + 'static> Thread<T> {
    /// Starts it, with what tells when it has ended and the value is put away.
    pub(super) fn start(name: &str, mut value: T) -> std::io::Result<(Self, JoinHandle<()>)> {
        let (send, jobs) = channel::<Job<T>>();
        let ends = thread::Builder::new().name(name.to_owned()).spawn(move || {
            for job in jobs {
                // What a panic leaves half done lives in a transaction, which is taken back.
                let _ = catch_unwind(AssertUnwindSafe(|| job(&mut value)));
            }
        })?;
        Ok((Self(send), ends))
    }

    /// Does something there.
    pub(super) async fn ask<R: Send + 'static>(
        &self,
        job: impl FnOnce(&mut T) -> R + Send + 'static,
    ) -> Result<R, Failed> {
        let (answer, answered) = oneshot::channel();
        let job = Box::new(move |value: &mut T| {
            let _ = answer.send(job(value)); // nobody may wait any longer
        });
        self.0.send(job).map_err(|_| Failed)?;
        answered.await.map_err(|_| Failed)
    }

    /// Does something there that only its answer is for: it is left out if nobody waits for that when its turn comes. A
    /// browser that asks for something newer waits no longer.
    pub(super) async fn ask_while_wanted<R: Send + 'static>(
        &self,
        job: impl FnOnce(&mut T) -> R + Send + 'static,
    ) -> Result<R, Failed> {
        let (answer, answered) = oneshot::channel();
        let job = Box::new(move |value: &mut T| {
            if !answer.is_closed() {
                let _ = answer.send(job(value)); // as above
            }
        });
        self.0.send(job).map_err(|_| Failed)?;
        answered.await.map_err(|_| Failed)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn what_nobody_waits_for_any_longer_is_left_out() {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
        runtime.block_on(async {
            let (thread, _) = Thread::start("test", 0).unwrap();
            let (begin, begun) = channel::<()>();
            let busy = thread.clone();
            let busy = tokio::spawn(async move { busy.ask(move |_| begun.recv().unwrap()).await });
            tokio::task::yield_now().await;
            let soon = Duration::from_millis(1);
            assert!(tokio::time::timeout(soon, thread.ask_while_wanted(|value| *value += 1)).await.is_err());
            assert!(tokio::time::timeout(soon, thread.ask(|value| *value += 10)).await.is_err());
            begin.send(()).unwrap();
            busy.await.unwrap().unwrap();
            assert_eq!(thread.ask(|value| *value).await, Ok(10), "a save is done all the same");
        });
    }

    #[test]
    fn a_panic_fails_one_job_and_the_next_goes_on() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let (thread, _) = Thread::start("test", 1).unwrap();
            let failed: Result<(), Failed> = thread.ask(|_| panic!("on purpose")).await;
            assert_eq!(failed, Err(Failed));
            assert_eq!(thread.ask(|value| *value + 1).await, Ok(2));
        });
    }
}

//! Many cases in one go: each is made, handed over and forgotten, so that ten thousand take no more memory than ten. One
//! that cannot be made costs none of the others.

mod first;
pub mod folder;
mod group;
pub mod issue;
#[cfg(feature = "register")]
pub mod issuing;
pub mod report;
mod workers;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use chrono::NaiveDateTime;

use crate::diag::Remarks;
use crate::facts::Moment;
use crate::files::read::ReadError;
use crate::files::write::WriteError;
use crate::packet::{CaseError, Form, Output, Packet, RefusedPage, Withholding};
use crate::practice::Checked;
use crate::record::Record;
use first::Entry;
use group::Group;

/// Makes packets.
#[derive(Clone, Copy)]
pub struct Printer<'a> {
    /// What each page set is made for.
    pub forms: &'a [Form],
    /// When the pages of a record are issued, UTC.
    pub issued: &'a (dyn Fn(&Record, Moment) -> NaiveDateTime + Sync),
    /// Whether a time of issue that does not fit the record is meant.
    pub issued_anyway: bool,
}

/// How a batch goes on.
#[derive(Clone, Copy)]
pub struct Watch<'a> {
    /// Set to end it after the packets that are being made.
    pub stop: &'a AtomicBool,
    /// Called after each case.
    pub done: &'a (dyn Fn() + Sync),
}

/// Reads a case, at its place in the batch: its record and the moment wanted. It is asked for each twice.
pub type Read<'a> = dyn Fn(usize) -> Result<(Checked<Record>, Moment), Refusal> + Sync + 'a;

/// Where finished packets go.
pub trait Target: Sync {
    /// Leaves of what one packet can hold, and of the papers around it, that which it wants, before anything is made.
    fn choose(&self, outputs: &mut Vec<Output>);

    /// Takes packets that belong together, each with its place in the batch: all of them, or none.
    ///
    /// # Errors
    /// Why it takes none, and because of which.
    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault>;
}

/// What went wrong, and with which case of those that belong together; none: with all of them.
#[derive(Debug)]
pub struct Fault {
    /// Its place in the batch.
    pub at: Option<usize>,
    /// Why.
    pub why: Refusal,
}

/// Why a case is not made.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// The record cannot be read, or is wrong.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A stage of the case refuses.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// Another case of the batch would write the same files.
    #[error("two cases would both write {0}: give each its own code or revision")]
    Clash(String),
    /// It changed after it was first read.
    #[error("the record changed while the cases were printed: print it again")]
    Changed,
    /// The time of issue does not fit.
    #[error(transparent)]
    Untimely(#[from] issue::Untimely),
    /// Other pages stand where these would.
    #[error(transparent)]
    Taken(#[from] folder::Taken),
    /// The files cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The register refuses.
    #[cfg(feature = "register")]
    #[error(transparent)]
    Register(#[from] crate::register::RegisterError),
    /// It belongs together with another case, and something went wrong with both.
    #[error(transparent)]
    Both(#[from] Arc<Self>),
}

/// What became of a case.
#[derive(Debug)]
pub enum Outcome {
    /// It was made and handed over.
    Made(Made),
    /// It was not; the code if the record could be read.
    Refused(Option<String>, Refusal),
    /// The batch ended before its turn.
    Stopped,
}

/// What was made of a case.
#[derive(Debug, Clone)]
pub struct Made {
    /// Code of the case.
    pub code: String,
    /// Names of the files.
    pub files: Vec<String>,
    /// Why the patient's pages (before) or the drop plan (after) were withheld, if they were.
    pub withheld: Option<Withholding>,
    /// Names of the patient's files that were not made because they are withheld.
    pub not_made: Vec<String>,
    /// The page sets that are not printed as they should be, and what is printed instead.
    pub refused_pages: Vec<RefusedPage>,
    /// What a person should look at in the record, if there is anything.
    pub warnings: Option<Remarks>,
}

impl Printer<'_> {
    /// Makes all cases, patient by patient, side by side, and says what became of each, in their order. Bytes and outcomes
    /// are the same in whatever order and on however many cores.
    pub fn print(&self, count: usize, read: &Read, target: &dyn Target, watch: Watch) -> Vec<Outcome> {
        let mut outcomes: Vec<Option<Outcome>> = (0..count).map(|_| None).collect();
        let mut entries = first_reading(&mut outcomes, read, watch);
        refuse_clashes(&mut outcomes, &mut entries);
        let groups = first::groups(&entries);
        let made = workers::spread(groups.len(), |at| {
            Group { printer: self, entries: &entries, read, target, watch }.print(&groups[at])
        });
        for (at, outcome) in made.into_iter().flatten() {
            outcomes[at] = Some(outcome);
        }
        outcomes.into_iter().map(|outcome| outcome.unwrap_or(Outcome::Stopped)).collect()
    }
}

/// Reads every case once. What cannot be read is refused.
fn first_reading(outcomes: &mut [Option<Outcome>], read: &Read, watch: Watch) -> Vec<Option<Entry>> {
    let entries = workers::spread(outcomes.len(), |at| {
        (!watch.stopped()).then(|| read(at).map(|(record, moment)| Entry::of(&record, moment)))
    });
    let kept = entries.into_iter().zip(outcomes).map(|(entry, outcome)| match entry {
        Some(Ok(entry)) => Some(entry),
        Some(Err(refusal)) => {
            *outcome = Some(Outcome::Refused(None, refusal));
            (watch.done)();
            None
        }
        None => None,
    });
    kept.collect()
}

/// Refuses cases that would write over each other.
fn refuse_clashes(outcomes: &mut [Option<Outcome>], entries: &mut [Option<Entry>]) {
    for (at, clashes) in first::clashes(entries).into_iter().enumerate() {
        if let Some(entry) = entries[at].take_if(|_| clashes) {
            outcomes[at] = Some(Outcome::Refused(Some(entry.code), Refusal::Clash(entry.stem)));
        }
    }
}

impl Watch<'_> {
    /// Of a batch that nobody watches or stops.
    #[must_use]
    pub fn nobody() -> Watch<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Watch { stop: &NEVER, done: &|| {} }
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

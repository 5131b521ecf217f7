//! The pages of a day, issued one case after the other: how far that is.

use std::collections::{BTreeMap, VecDeque};

use chrono::NaiveDate;

use super::gate::Who;
use crate::register::{CaseId, IssueId};

/// What became of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Became {
    /// Its pages were issued, perhaps with those of the other eye.
    Issued(Vec<IssueId>),
    /// There was nothing left to issue: the other eye brought it along, or somebody else did.
    Nothing,
    /// It was not made, and why.
    Refused(String),
}

/// The pages of a day on their way.
#[derive(Debug)]
pub(super) struct Batch {
    pub(super) day: NaiveDate,
    pub(super) who: Who,
    pub(super) cookie: String,
    waits: VecDeque<CaseId>,
    now: Option<CaseId>,
    done: BTreeMap<CaseId, Became>,
    /// The issues in the order of the day.
    issues: Vec<IssueId>,
    count: usize,
}

impl Batch {
    pub(super) fn new(day: NaiveDate, who: Who, cookie: &str, cases: Vec<CaseId>) -> Self {
        Self {
            day,
            who,
            cookie: cookie.to_owned(),
            count: cases.len(),
            waits: cases.into(),
            now: None,
            done: BTreeMap::new(),
            issues: Vec::new(),
        }
    }

    /// The next case, which is then on its way.
    pub(super) fn next(&mut self) -> Option<CaseId> {
        self.now = self.waits.pop_front();
        self.now
    }

    /// Notes what became of the case that is on its way.
    pub(super) fn became(&mut self, what: Became) {
        if let Some(case) = self.now.take() {
            if let Became::Issued(issues) = &what {
                self.issues.extend(issues);
            }
            self.done.insert(case, what);
        }
    }

    /// Ends it after the case that is on its way.
    pub(super) fn stop(&mut self) {
        self.waits.clear();
        self.count = self.done.len() + usize::from(self.now.is_some());
    }

    pub(super) fn is_running(&self) -> bool {
        self.now.is_some() || !self.waits.is_empty()
    }

    pub(super) fn now(&self) -> Option<CaseId> {
        self.now
    }

    pub(super) fn of(&self, case: CaseId) -> Option<&Became> {
        self.done.get(&case)
    }

    /// How many cases are done, and of how many.
    pub(super) fn progress(&self) -> (usize, usize) {
        (self.done.len(), self.count)
    }

    pub(super) fn issues(&self) -> &[IssueId] {
        &self.issues
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::form::KnownBy;

    fn batch(cases: &[CaseId]) -> Batch {
        let who = Who { name: "Max".into(), role: KnownBy::Desk };
        Batch::new("2026-08-12".parse().unwrap(), who, "cookie", cases.to_vec())
    }

    #[test]
    fn cases_come_in_their_order_and_each_is_counted_once_it_is_done() {
        let mut batch = batch(&[3, 1, 2]);
        assert_eq!((batch.next(), batch.progress()), (Some(3), (0, 3)));
        batch.became(Became::Issued(vec![7, 8]));
        assert_eq!((batch.next(), batch.progress()), (Some(1), (1, 3)));
        batch.became(Became::Nothing);
        batch.next();
        assert!(batch.is_running());
        batch.became(Became::Issued(vec![9]));
        assert_eq!((batch.next(), batch.progress(), batch.is_running()), (None, (3, 3), false));
        assert_eq!((batch.issues(), batch.of(1)), (&[7, 8, 9][..], Some(&Became::Nothing)));
    }

    #[test]
    fn a_batch_that_is_stopped_ends_with_the_case_on_its_way() {
        let mut batch = batch(&[3, 1, 2]);
        batch.next();
        batch.stop();
        assert!(batch.is_running());
        batch.became(Became::Issued(vec![7]));
        assert_eq!((batch.is_running(), batch.progress(), batch.next()), (false, (1, 1), None));
    }
}

//! The first stage: what can be said of a record, complete or not. Facts and findings as far as the record goes, what is
//! missing for which page and who knows it, and the dated plan.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::Serialize;

use crate::document::Page;
use crate::facts::beside::Beside;
use crate::facts::{Facts, Moment, Source, drops};
use crate::findings::{Findings, Given, Planned, Undecided, undecided};
use crate::plan::{self, Plan, PlanError};
use crate::practice::{Checked, Draft, Practice};
use crate::record::course::FindingAnswer;
use crate::record::form::{self, Key, KnownBy};
use crate::record::{Record, locate};

/// What can be said of a record at a moment.
#[derive(Debug)]
pub struct Assessment<'a> {
    record: &'a Record,
    practice: &'a Practice,
    moment: Moment,
    /// The facts; one that hangs on what is missing is absent.
    pub facts: Facts,
    /// The findings that hold whatever is still missing.
    pub findings: Findings,
    /// The findings that may yet come, heaviest first.
    pub undecided: Vec<Undecided>,
    /// What is missing; nothing in a complete record whose moment has come.
    pub gaps: Vec<Gap>,
}

/// A required key that a record lacks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Gap {
    /// JSON pointer of the key.
    pub pointer: String,
    /// What it is for.
    pub help: String,
    /// The words it may say, if it says one of a closed list.
    pub words: Vec<String>,
    /// Who knows it.
    pub known_by: KnownBy,
    /// The pages that say it or hang on it.
    pub needed_for: Vec<Page>,
}

impl<'a> Assessment<'a> {
    /// Assesses a complete record.
    #[must_use]
    pub fn of(record: &'a Checked<Record>, moment: Moment) -> Self {
        Self::new(record, record.with(), record.known_beside(), &[], moment)
    }

    /// Assesses a record as far as it goes.
    #[must_use]
    pub fn of_draft(draft: &'a Draft, moment: Moment) -> Self {
        let lacking: Vec<&str> = draft.lacking().collect();
        Self::new(draft.record(), draft.practice(), draft.known_beside(), &lacking, moment)
    }

    fn new(record: &'a Record, practice: &'a Practice, beside: &Beside, lacking: &[&str], moment: Moment) -> Self {
        let lacking = at(moment, record, lacking);
        let source = Source { beside, ..practice.source(record, moment) };
        let unknown = lacking.iter().copied().filter(|pointer| !may_be_unknown(pointer));
        let unknown: Vec<&str> = unknown.chain(end_unknown(record, &lacking)).collect();
        let facts = Facts::derive_without(&source, &unknown);
        let (home, clinic, in_use) = (drops::courses(&source), drops::in_clinic(&source), drops::in_use(&source));
        let drugs = Planned { home: &home, clinic: &clinic, in_use: &in_use, stock: &practice.formulary };
        let (labels, answers) = (practice.profile.practice.labels, whole_answers(record, &lacking));
        let given = Given { answers: &answers, today: beside.today };
        let findings = Findings::evaluate(&practice.rules, &facts, drugs, labels, moment, given);
        let undecided = undecided(&practice.rules, &facts, moment);
        let gaps = lacking.iter().filter_map(|pointer| gap(pointer, moment)).collect();
        Self { record, practice, moment, facts, findings, undecided, gaps }
    }

    /// The practice.
    #[must_use]
    pub fn practice(&self) -> &'a Practice {
        self.practice
    }

    /// Before or after.
    #[must_use]
    pub fn moment(&self) -> Moment {
        self.moment
    }

    /// Whether nothing is missing.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.gaps.is_empty()
    }

    /// The record. Whoever looks at it must leave alone what the gaps name.
    pub(crate) fn record(&self) -> &'a Record {
        self.record
    }

    /// The second stage: the dated plan.
    ///
    /// # Errors
    /// What the plan lacks or cannot keep, with its place in the record.
    pub fn plan(&self) -> Result<Plan, PlanError> {
        self.needs_of_the_plan()?;
        plan::of(&self.source(), &self.facts, &self.findings)
    }

    /// The dated plan without its drops: visits and recheck only.
    ///
    /// # Errors
    /// A gap that it hangs on.
    pub fn plan_without_drops(&self) -> Result<Plan, PlanError> {
        self.needs_of_the_plan()?;
        Ok(plan::without_drops(&self.source(), &self.facts, &self.findings))
    }

    fn needs_of_the_plan(&self) -> Result<(), PlanError> {
        let hangs = |gap: &&Gap| plan::HANGS_ON.iter().any(|key| locate::holds(key, &gap.pointer));
        match self.gaps.iter().find(hangs) {
            Some(gap) => Err(PlanError::Lacking { pointer: gap.pointer.clone() }),
            None => Ok(()),
        }
    }

    fn source(&self) -> Source<'a> {
        self.practice.source(self.record, self.moment)
    }
}

/// What is missing at a moment: before the treatment nothing of it is, after it all of it may be.
fn at<'l>(moment: Moment, record: &Record, lacking: &[&'l str]) -> Vec<&'l str> {
    const TREATMENT: &str = "/treatment";
    let counts = |pointer: &&&str| moment == Moment::After || !locate::holds(TREATMENT, pointer);
    let untreated = moment == Moment::After && record.treatment.is_none();
    lacking.iter().filter(counts).copied().chain(untreated.then_some(TREATMENT)).collect()
}

/// The key of the last pulse, where there was none and it is not known either when the patient left.
fn end_unknown(record: &Record, lacking: &[&str]) -> Option<&'static str> {
    let stopped = record.treatment.as_ref().is_some_and(|done| done.last_pulse.is_none());
    (stopped && lacking.contains(&"/treatment/leaves")).then_some("/treatment/last_pulse")
}

/// The answers that are whole: one without its reason is none.
fn whole_answers(record: &Record, lacking: &[&str]) -> Vec<FindingAnswer> {
    let whole = |at: usize| !lacking.iter().any(|pointer| locate::holds(&format!("/answers/{at}"), pointer));
    let answers = record.answers.iter().enumerate().filter(|(at, _)| whole(*at));
    answers.map(|(_, answer)| answer.clone()).collect()
}

/// The keys of a record by their pointers.
static KEYS: LazyLock<BTreeMap<String, Key>> = LazyLock::new(|| {
    let keys = form::describe::<Record>().keys.into_iter();
    keys.map(|key| (key.pointer.clone(), key)).collect()
});

/// What the form says of a key; an entry of a list is any entry.
fn key(pointer: &str) -> Option<&'static Key> {
    let token = |token: &str| if token.parse::<usize>().is_ok() { "*" } else { token }.to_owned();
    let any = pointer.split('/').map(token).collect::<Vec<_>>().join("/");
    KEYS.get(&any)
}

fn may_be_unknown(pointer: &str) -> bool {
    key(pointer).is_some_and(|key| key.may_be_unknown)
}

/// Who knows a key of the record.
#[must_use]
pub fn known_by(pointer: &str) -> KnownBy {
    key(pointer).and_then(|key| key.known_by).unwrap_or(KnownBy::Surgeon)
}

fn gap(pointer: &str, moment: Moment) -> Option<Gap> {
    let key = key(pointer)?;
    Some(Gap {
        pointer: pointer.to_owned(),
        help: key.help.clone(),
        words: key.words.iter().map(|word| word.word.clone()).collect(),
        known_by: known_by(pointer),
        needed_for: needed_for(pointer, moment),
    })
}

/// The pages of a moment that say a key or hang on it. Every page names patient, eye, date and case; the treatment as done
/// is for the pages after it.
fn needed_for(pointer: &str, moment: Moment) -> Vec<Page> {
    let patient = match moment {
        Moment::Before => Page::Consent,
        Moment::After => Page::Aftercare,
    };
    let all = BTreeSet::from([patient, Page::Surgeon, Page::Desk]);
    let pages = match pointer.split('/').nth(1) {
        Some("complaint") => BTreeSet::from([patient, Page::Surgeon]),
        Some("answers" | "tailoring") => BTreeSet::from([patient, Page::Surgeon]),
        _ => all,
    };
    pages.into_iter().collect()
}

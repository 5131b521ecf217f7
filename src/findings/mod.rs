//! Step 3: what follows from the facts for the surgeon. Rules are data (`templates/findings.toml`,
//! `templates/drug-rules.toml`); this step only applies them.

mod answer;
mod drug;
mod drugs;
mod rule;
mod rules;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::facts::drops::{Course, InUse};
use crate::facts::{Facts, Moment};
use crate::record::course::FindingAnswer;
use crate::record::formulary::{Drug, Formulary};
use crate::record::profile::Labels;

pub use answer::{Changed, Given, RestsOn, Unsettled};
pub use drug::{DrugRule, shown};
pub use rule::{BeforeLeaving, Rule};
pub use rules::{Rules, Words};

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Do not go on. Withholds the patient's pages until answered.
    #[default]
    Stop,
    /// A clinician must answer first. Withholds the patient's pages until answered.
    Ask,
    /// Go on with care.
    Caution,
    /// Good to know.
    Note,
}

impl Level {
    /// The heaviest first.
    pub const ALL: [Self; 4] = [Self::Stop, Self::Ask, Self::Caution, Self::Note];

    /// The word used in files and on pages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Ask => "ask",
            Self::Caution => "caution",
            Self::Note => "note",
        }
    }

    /// Whether it withholds a page until a clinician has answered.
    #[must_use]
    pub fn withholds(self) -> bool {
        matches!(self, Self::Stop | Self::Ask)
    }
}

/// One conclusion.
#[derive(Debug, Clone, Default)]
pub struct Finding {
    /// Stable id; an answer in the record names it.
    pub id: String,
    /// Level.
    pub level: Level,
    /// Short title.
    pub title: String,
    /// Whether its title is text of the record that the program does not know: no message quotes it.
    pub typed: bool,
    /// Text for the surgeon, with placeholders over the facts.
    pub says: String,
    /// What to do next, with placeholders over the facts.
    pub next_step: String,
    /// What it rests on.
    pub basis: String,
    /// The planned drug it speaks of, if it is about the drops.
    pub drug: Option<String>,
    /// Whether the drop plan hangs on it.
    pub drops: bool,
    /// What has to come before the patient leaves after the laser.
    pub before_leaving: Option<BeforeLeaving>,
    /// Whether no answer settles it: only other values do.
    pub unanswerable: bool,
    /// A visit that it makes definite, days after the treatment.
    pub visit_days: Option<u32>,
    /// What an answer to it must not be older than.
    pub rests_on: Option<RestsOn>,
    /// The facts it follows from.
    pub facts: Vec<String>,
    /// The values it follows from and prints, by the name of the fact.
    pub values: BTreeMap<String, serde_json::Value>,
    /// Facts that were not recorded and on which it hangs.
    pub unrecorded: Vec<String>,
    /// Drugs that could take the place of the one withheld: no rule objects to them, for what was recorded.
    pub alternatives: Vec<String>,
    /// The clinician's answer in the record, whether it settles the finding or not.
    pub answer: Option<FindingAnswer>,
    /// Why that answer does not settle it, if it does not.
    pub unsettled: Option<Unsettled>,
}

impl Finding {
    /// The answer that settles it: made for these values, not too old, and of a finding that an answer can settle.
    #[must_use]
    pub fn settled_by(&self) -> Option<&FindingAnswer> {
        self.answer.as_ref().filter(|_| self.unsettled.is_none() && !self.unanswerable)
    }

    /// Whether it is a stop that a clinician has released.
    #[must_use]
    pub fn released(&self) -> bool {
        self.level == Level::Stop && self.settled_by().is_some()
    }

    /// Whether it still withholds pages.
    #[must_use]
    pub fn open(&self) -> bool {
        self.level.withholds() && self.settled_by().is_none()
    }
}

/// The drugs of a case.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// Courses of drops the patient takes home.
    pub home: &'a [Course<'a>],
    /// Drops used in the clinic.
    pub clinic: &'a [&'a Drug],
    /// What the patient already uses.
    pub in_use: &'a InUse,
    /// All drugs, to name one in place of another.
    pub stock: &'a Formulary,
}

/// All findings of a case, heaviest first.
#[derive(Debug, Clone, Default)]
pub struct Findings(pub Vec<Finding>);

impl Findings {
    /// Applies all rules and attaches the answers of the record.
    #[must_use]
    pub fn evaluate(
        rules: &Rules,
        facts: &Facts,
        drugs: Planned,
        labels: Labels,
        moment: Moment,
        given: Given,
    ) -> Self {
        let general = rules.general.iter().filter_map(|rule| rule.apply(facts, moment));
        let mut all: Vec<Finding> = general.chain(drugs::all(rules, facts, drugs, labels)).collect();
        for finding in &mut all {
            finding.answered(given, facts);
        }
        // Stable: within a level the order of the files stays.
        all.sort_by_key(|finding| finding.level);
        Self(all)
    }

    /// Findings that still keep the patient from leaving after the laser.
    pub fn before_leaving(&self) -> impl Iterator<Item = &Finding> {
        self.0.iter().filter(|finding| finding.open() && finding.before_leaving.is_some())
    }

    /// Findings that still withhold the patient's pages at this moment.
    pub fn withholding(&self, moment: Moment) -> impl Iterator<Item = &Finding> {
        self.0.iter().filter(move |finding| finding.open() && (moment == Moment::Before || finding.drops))
    }
}

/// A finding that may yet come: it hangs on a fact that is absent, because the record lacks a required key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undecided {
    /// Id of the finding.
    pub id: String,
    /// The level it would have.
    pub level: Level,
    /// The facts that are absent.
    pub facts: Vec<String>,
}

/// The findings of the eye and the plan that cannot be decided yet, heaviest first. Rules of the drops ask of themselves.
#[must_use]
pub fn undecided(rules: &Rules, facts: &Facts, moment: Moment) -> Vec<Undecided> {
    let mut open: Vec<Undecided> = rules.general.iter().filter_map(|rule| rule.undecided(facts, moment)).collect();
    open.sort_by_key(|finding| finding.level);
    open
}

/// Ids that answers of the record name although no such finding is raised.
#[must_use]
pub fn idle_answers<'a>(findings: &Findings, answers: &'a [FindingAnswer]) -> Vec<&'a str> {
    let raised = |id: &str| findings.0.iter().any(|finding| finding.id == id);
    answers.iter().map(|answer| answer.finding.as_str()).filter(|id| !raised(id)).collect()
}

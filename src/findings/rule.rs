//! General rules: `templates/findings.toml`.

use std::collections::BTreeSet;

use serde::Deserialize;

use super::{Finding, Level, RestsOn, Undecided};
use crate::facts::condition::{Condition, Truth};
use crate::facts::{Facts, Moment};

/// One row of `templates/findings.toml`, its condition checked.
#[derive(Debug, Clone)]
pub struct Rule {
    /// The row.
    pub row: Row,
    /// Its condition.
    pub when: Condition,
    /// Names that its texts print.
    pub(super) printed: BTreeSet<String>,
}

/// A row as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id.
    pub id: String,
    /// Level.
    pub level: Level,
    /// Condition over the facts.
    pub when: String,
    /// Short title.
    pub title: String,
    /// Text for the surgeon.
    pub says: String,
    /// What to do next.
    #[serde(rename = "do")]
    pub next_step: String,
    /// What it rests on: a source, or "common practice, no source".
    pub basis: String,
    /// When it counts.
    #[serde(default)]
    pub moment: When,
    /// The usual drops may be wrong for this eye.
    #[serde(default)]
    pub drop_plan: bool,
    /// What has to come before the patient leaves after the laser.
    #[serde(default)]
    pub before_leaving: Option<BeforeLeaving>,
    /// Whether an answer settles it; else only other values do.
    #[serde(default = "yes")]
    pub answerable: bool,
    /// What an answer must not be older than.
    #[serde(default)]
    pub rests_on: Option<RestsOn>,
    /// A visit that it makes definite, days after the treatment.
    #[serde(default)]
    pub visit_days: Option<u32>,
}

fn yes() -> bool {
    true
}

/// What has to come before a patient leaves after the laser.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BeforeLeaving {
    /// The surgeon has seen the patient: the patient's page says so, and the desk fetches the surgeon.
    Seen,
    /// The surgeon has answered: the desk fetches the surgeon.
    Answered,
}

/// When a rule counts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Before the treatment only.
    Before,
    /// Before and after.
    #[default]
    Both,
}

impl Rule {
    /// A row with its condition; none if a text is no template.
    pub(super) fn new(row: Row, when: Condition) -> Option<Self> {
        let texts = [&row.title, &row.says, &row.next_step];
        let environment = minijinja::Environment::new();
        let names = texts.map(|text| Some(environment.template_from_str(text).ok()?.undeclared_variables(false)));
        let printed = names.into_iter().collect::<Option<Vec<_>>>()?.into_iter().flatten().collect();
        Some(Self { row, when, printed })
    }

    /// The finding, if the rule counts at this moment and its condition holds.
    #[must_use]
    pub fn apply(&self, facts: &Facts, moment: Moment) -> Option<Finding> {
        let finding = || Finding {
            id: self.row.id.clone(),
            level: self.row.level,
            title: self.row.title.clone(),
            says: self.row.says.clone(),
            next_step: self.row.next_step.clone(),
            basis: self.row.basis.clone(),
            facts: self.when.names().into_iter().map(str::to_owned).collect(),
            drops: self.row.drop_plan,
            before_leaving: self.row.before_leaving.filter(|_| moment == Moment::After),
            unanswerable: !self.row.answerable,
            rests_on: self.row.rests_on,
            visit_days: self.row.visit_days,
            ..Finding::default()
        };
        let mut found = (self.counts(moment) && self.when.holds(facts)).then(finding)?;
        found.saw(self.when.names().into_iter().chain(self.printed.iter().map(String::as_str)), facts);
        Some(found)
    }

    /// The finding that may yet come, if the rule counts at this moment and hangs on a fact that is absent.
    pub(super) fn undecided(&self, facts: &Facts, moment: Moment) -> Option<Undecided> {
        let absent = || self.when.names().into_iter().filter(|name| facts.word(name).is_none()).map(str::to_owned);
        (self.counts(moment) && self.when.settled(facts) == Truth::Open).then(|| Undecided {
            id: self.row.id.clone(),
            level: self.row.level,
            facts: absent().collect(),
        })
    }

    fn counts(&self, moment: Moment) -> bool {
        self.row.moment == When::Both || moment == Moment::Before
    }
}

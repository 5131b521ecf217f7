//! Rules of the drops: `templates/drug-rules.toml`.
//!
//! A fact that was not recorded never clears a drug: the rule then asks if it could stop, and is a caution otherwise.

use serde::Deserialize;

use super::{Finding, Level, Rules};
use crate::facts::Facts;
use crate::facts::condition::{Condition, Truth};
use crate::record::formulary::{Drug, Mark, Preservative, RuleCover, Selector};
use crate::record::profile::Labels;

/// One row of `templates/drug-rules.toml`, its condition checked.
#[derive(Debug, Clone)]
pub struct DrugRule {
    /// The row.
    pub row: Row,
    when: Condition,
}

/// A row as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id such as `R01`.
    pub id: String,
    /// `group:beta_blocker` or `drug:brinzolamide`.
    pub drugs: Vec<Selector>,
    /// Only products with this preservative.
    #[serde(default)]
    pub preservative: Option<Preservative>,
    /// Condition over the facts; left out together with `always = true`.
    #[serde(default)]
    pub when: Option<String>,
    /// Fires whatever the facts.
    #[serde(default)]
    pub always: bool,
    /// Only for drops the patient takes home.
    #[serde(default)]
    pub take_home: bool,
    /// Level by the labels of the United States; none if they say nothing.
    #[serde(default)]
    pub level_us: Option<Level>,
    /// Level by the labels of the European Union and the United Kingdom; none if they say nothing.
    #[serde(default)]
    pub level_eu_uk: Option<Level>,
    /// Why, in one line.
    pub reason: String,
    /// Source.
    pub cite: String,
    /// How sure we are of it.
    pub mark: Mark,
}

impl DrugRule {
    /// Checks the condition of a row.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn check(row: Row) -> Result<Self, String> {
        let when = match (&row.when, row.always) {
            (Some(text), false) => Condition::parse(text)?,
            (None, true) => Condition::always(),
            _ => return Err("write either `when` or `always = true`".into()),
        };
        if row.level_us.is_none() && row.level_eu_uk.is_none() {
            return Err("write `level_us`, `level_eu_uk` or both".into());
        }
        Ok(Self { row, when })
    }

    /// The level by the labels that count; `Stricter` takes the heavier of both.
    #[must_use]
    pub fn level(&self, labels: Labels) -> Option<Level> {
        match labels {
            Labels::Us => self.row.level_us,
            Labels::EuUk => self.row.level_eu_uk,
            Labels::Stricter => self.row.level_us.into_iter().chain(self.row.level_eu_uk).min(),
        }
    }

    fn covers(&self, drug: &Drug) -> bool {
        self.row.drugs.iter().any(|selector| selector.covers(drug))
            && self.row.preservative.is_none_or(|wanted| drug.may_hold(wanted))
    }

    fn apply(&self, drug: &Drug, facts: &Facts, labels: Labels) -> Option<Finding> {
        let level = self.level(labels)?;
        let truth = if self.covers(drug) { self.when.truth(facts) } else { Truth::False };
        match truth {
            Truth::False => None,
            Truth::True => Some(self.finding(drug, level, Vec::new())),
            Truth::Open => {
                let names = self.when.names().into_iter();
                let unrecorded = names.filter(|name| facts.choice(name) == "unknown").map(str::to_owned);
                let milder = if level == Level::Stop { Level::Ask } else { Level::Caution };
                let mut finding = self.finding(drug, milder, unrecorded.collect());
                // An id of its own: an answer to "not recorded" must not answer what is recorded later.
                finding.id.push_str("-unrecorded");
                Some(finding)
            }
        }
    }

    fn finding(&self, drug: &Drug, level: Level, unrecorded: Vec<String>) -> Finding {
        Finding {
            id: format!("{}-{}", self.row.id, drug.key),
            level,
            title: format!("{} ({})", drug.name, self.row.id),
            says: self.row.reason.clone(),
            next_step: String::new(),
            basis: format!("{}{}", self.row.cite, memory(self.row.mark)),
            drug: Some(drug.key.clone()),
            drops: true,
            unrecorded,
            answer: None,
        }
    }
}

/// What is said of a drug the rules do not cover.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unreviewed {
    /// Text for the surgeon.
    pub says: String,
    /// What it rests on.
    pub basis: String,
}

fn memory(mark: Mark) -> &'static str {
    if mark == Mark::Memory { " (from memory)" } else { "" }
}

/// All findings about a drug used in the clinic: nothing is to be withheld at home, and that it is used there is no
/// reason to ask.
pub(super) fn in_clinic(drug: &Drug, rules: &Rules, facts: &Facts, labels: Labels) -> Vec<Finding> {
    let rules = rules.drugs.iter().filter(|rule| !rule.row.take_home);
    let found = rules.filter_map(|rule| rule.apply(drug, facts, labels));
    found.map(|finding| Finding { drops: false, ..finding }).collect()
}

/// All findings about one planned drug.
pub(super) fn about(drug: &Drug, rules: &Rules, facts: &Facts, labels: Labels) -> Vec<Finding> {
    let mut found: Vec<Finding> = rules.drugs.iter().filter_map(|rule| rule.apply(drug, facts, labels)).collect();
    if drug.rules == RuleCover::None {
        found.push(unreviewed(drug, &rules.unreviewed));
    }
    found
}

/// A drug for which the program has no complete rules is never passed silently.
fn unreviewed(drug: &Drug, words: &Unreviewed) -> Finding {
    Finding {
        id: format!("no-rules-{}", drug.key),
        level: Level::Ask,
        title: drug.name.clone(),
        says: words.says.clone(),
        next_step: String::new(),
        basis: words.basis.clone(),
        drug: Some(drug.key.clone()),
        drops: true,
        unrecorded: Vec::new(),
        answer: None,
    }
}

//! Rules of the drops: `templates/drug-rules.toml`.
//!
//! A fact that was not recorded never clears a drug: the rule then asks if it could stop, and is a caution otherwise.

use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::{Finding, Level};
use crate::assets::{Kind, Problem};
use crate::facts::Facts;
use crate::facts::condition::{Condition, Truth};
use crate::facts::drops::{Course, InUse, Used};
use crate::record::formulary::{Drug, Excipient, Frequency, Group, Mark, Preservative, Selector};
use crate::record::hash::hexadecimal;
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
    /// Only products that hold, or may hold, this excipient.
    #[serde(default)]
    pub holds: Option<Excipient>,
    /// Only together with another drug of one of these groups, planned or in use.
    #[serde(default)]
    pub with: Vec<Group>,
    /// Condition over the facts.
    #[serde(default)]
    pub when: Option<String>,
    /// Fires whatever the facts.
    #[serde(default)]
    pub always: bool,
    /// Only for drops the patient takes home.
    #[serde(default)]
    pub take_home: bool,
    /// Also for such drops that the patient already uses.
    #[serde(default)]
    pub in_use: bool,
    /// Only for a course of at least this many days.
    #[serde(default)]
    pub days_from: Option<u32>,
    /// Only for a course with more doses a day than the label gives.
    #[serde(default)]
    pub above_label: bool,
    /// Level by the labels of the United States; none if they say nothing.
    #[serde(default)]
    pub level_us: Option<Level>,
    /// Level by the labels of the European Union and the United Kingdom; none if they say nothing.
    #[serde(default)]
    pub level_eu_uk: Option<Level>,
    /// The practice's own choice where it is stricter than the labels; it never makes a rule milder.
    #[serde(default)]
    pub level_choice: Option<Level>,
    /// Why, in one line.
    pub reason: String,
    /// Source.
    pub cite: String,
    /// How sure we are of it.
    pub mark: Mark,
}

/// What a rule looks at beside the facts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Around<'a> {
    pub(super) others: &'a [&'a Drug],
    pub(super) in_use: &'a InUse,
}

impl DrugRule {
    /// Checks the condition of a row.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn check(row: Row) -> Result<Self, Problem> {
        let told = |kind: Kind, what: &str| Problem::new(kind, format!("rule {}: {what}", row.id)).of(&row.id);
        let of_plan = !row.with.is_empty() || row.above_label || row.days_from.is_some();
        let when = match (&row.when, row.always) {
            (Some(text), false) => Condition::parse(text).map_err(|error| told(error.kind(), &error.to_string()))?,
            (None, true) => Condition::always(),
            (None, false) if of_plan => Condition::always(),
            _ => {
                let what = "write either `when` or `always = true`, or what the plan has to hold";
                return Err(told(Kind::Missing, what));
            }
        };
        if row.level_us.is_none() && row.level_eu_uk.is_none() {
            return Err(told(Kind::Missing, "write `level_us`, `level_eu_uk` or both"));
        }
        Ok(Self { row, when })
    }

    /// The level by the labels that count, or the practice's own where that is stricter.
    ///
    /// `Stricter` takes the heavier of both labels.
    #[must_use]
    pub fn level(&self, labels: Labels) -> Option<Level> {
        let by_label = match labels {
            Labels::Us => self.row.level_us,
            Labels::EuUk => self.row.level_eu_uk,
            Labels::Stricter => self.row.level_us.into_iter().chain(self.row.level_eu_uk).min(),
        };
        by_label.into_iter().chain(self.row.level_choice).min()
    }

    fn covers(&self, drug: &Drug) -> bool {
        self.row.drugs.iter().any(|selector| selector.covers(drug))
            && self.row.preservative.is_none_or(|wanted| drug.may_hold(wanted))
            && self.row.holds.is_none_or(|wanted| drug.may_contain(wanted))
    }

    /// What the rule says of one course, `labels` being those that count.
    pub(super) fn apply(&self, course: &Course, facts: &Facts, around: Around, labels: Labels) -> Option<Finding> {
        let level = self.level(labels)?;
        let above = course.drug.frequency(labels).filter(|label| course.per_day > label.per_day);
        let planned = self.row.days_from.is_none_or(|days| course.days >= days)
            && (!self.row.above_label || above.is_some())
            && self.covers(course.drug);
        if !planned {
            return None;
        }
        let (truth, unrecorded) = self.truth(facts, around);
        let mut finding = self.finding(&course.drug.name, &course.drug.key, level);
        finding.saw(self.when.names().into_iter(), facts);
        let planned =
            [("per_day", self.row.above_label, course.per_day), ("days", self.row.days_from.is_some(), course.days)];
        let planned = planned.into_iter().filter(|(_, counts, _)| *counts);
        finding.values.extend(planned.map(|(name, _, number)| (name.to_owned(), number.into())));
        finding.drug = Some(course.drug.key.clone());
        if let Some(label) = above.filter(|_| self.row.above_label) {
            finding.compare(course.per_day, label);
        }
        self.judged(finding, truth, unrecorded)
    }

    /// What the rule says of drops the patient already uses.
    pub(super) fn apply_in_use(&self, used: &Used, facts: &Facts, labels: Labels) -> Option<Finding> {
        let level = self.level(labels).filter(|_| self.row.in_use)?;
        let meant = |selector: &Selector| match selector {
            Selector::Group(group) => used.groups.contains(group),
            Selector::Drug(key) => used.keys.contains(key),
        };
        if !self.row.drugs.iter().any(meant) {
            return None;
        }
        let entry = shown(&used.entry);
        let mut finding = self.finding(&entry, &format!("in-use-{}", in_id(&entry, used.unread)), level);
        finding.saw(self.when.names().into_iter(), facts);
        // Nothing of the plan hangs on what the patient used before.
        let finding = Finding { drops: false, typed: used.unread, ..finding };
        self.judged(finding, self.when.truth(facts), self.unrecorded(facts))
    }

    /// Whether condition and company hold, and what was not recorded of either.
    fn truth(&self, facts: &Facts, around: Around) -> (Truth, Vec<String>) {
        let (when, mut unrecorded) = (self.when.truth(facts), self.unrecorded(facts));
        let in_group = |groups: &[Group]| groups.iter().any(|group| self.row.with.contains(group));
        let company = self.row.with.is_empty()
            || around.others.iter().any(|drug| in_group(&drug.groups))
            || around.in_use.drops.iter().any(|used| in_group(&used.groups));
        if company || when == Truth::False {
            return (when, unrecorded);
        }
        // Tablets stand in the list of medicines, everything else among the drops.
        let list =
            if self.row.with.contains(&Group::OralCarbonicAnhydraseInhibitor) { "medicines" } else { "eye_drops" };
        if around.in_use.unrecorded.contains(&list) {
            unrecorded.push(list.to_owned());
            return (Truth::Open, unrecorded);
        }
        (Truth::False, unrecorded)
    }

    fn unrecorded(&self, facts: &Facts) -> Vec<String> {
        let names = self.when.names().into_iter();
        names.filter(|name| facts.word(name).is_none_or(|word| word == "unknown")).map(str::to_owned).collect()
    }

    /// The finding at the level it has: what hangs on something not recorded asks where it could stop.
    fn judged(&self, finding: Finding, truth: Truth, unrecorded: Vec<String>) -> Option<Finding> {
        match truth {
            Truth::False => None,
            Truth::True => Some(finding),
            Truth::Open => {
                let level = if finding.level == Level::Stop { Level::Ask } else { Level::Caution };
                // An id of its own: an answer to "not recorded" must not answer what is recorded later.
                let id = format!("{}-unrecorded", finding.id);
                Some(Finding { id, level, unrecorded, ..finding })
            }
        }
    }

    fn finding(&self, name: &str, key: &str, level: Level) -> Finding {
        Finding {
            id: format!("{}-{key}", self.row.id),
            level,
            title: name.to_owned(),
            says: self.row.reason.clone(),
            basis: cited(&self.row.cite, self.row.mark),
            facts: self.when.names().into_iter().map(str::to_owned).collect(),
            drops: true,
            ..Finding::default()
        }
    }
}

impl Finding {
    /// Fills a row on the frequency: how often it is planned, how often the label gives it, and which label that is.
    fn compare(&mut self, per_day: u32, label: &Frequency) {
        self.says = self.says.replace("[planned]", &per_day.to_string()).replace("[label]", &label.per_day.to_string());
        self.basis = cited(&label.cite, label.mark);
    }
}

fn cited(cite: &str, mark: Mark) -> String {
    let said = cite.contains("from memory");
    if mark == Mark::Memory && !said { format!("{cite} (from memory)") } else { cite.to_owned() }
}

/// An entry of the record as it may stand in a text: titles are templates, so signs that mean something there go.
#[must_use]
pub fn shown(entry: &str) -> String {
    let kept = entry.chars().map(|c| if c.is_alphanumeric() || " -.%/,".contains(c) { c } else { ' ' });
    kept.collect::<String>().trim().to_owned()
}

/// An entry as part of an id, which is told where text of the record is not: in its own words where each of them is known,
/// else in eight hexadecimal digits that stand for it.
pub(super) fn in_id(entry: &str, unread: bool) -> String {
    if unread {
        return hexadecimal(&Sha256::digest(entry)[..4]);
    }
    let lower = entry.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    words.join("-")
}

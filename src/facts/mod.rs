//! Step 2: every number derived once, with its unit.
//!
//! The facts are the vocabulary: conditions in `templates/` and the texts in `locales/` see the facts and nothing
//! else. One list, [`definitions`], printed by `vitreoleaf facts`.

pub mod beside;
pub(crate) mod clearance;
mod complaint;
pub mod condition;
mod day;
mod detachment;
pub mod drops;
pub(crate) mod energy;
mod events;
mod eye;
mod first_eye;
mod health;
pub mod hours;
pub mod interval;
pub mod optics;
mod own;
mod patient;
mod practice;
pub mod pressure;
mod procedure;
pub mod recheck;

use std::collections::BTreeMap;
use std::sync::LazyLock;

use beside::Beside;
use chrono::{NaiveDate, NaiveDateTime};
use schemars::JsonSchema;
use serde::Serialize;

use crate::record::Record;
use crate::record::course::Treatment;
use crate::record::formulary::Formulary;
use crate::record::locate;
use crate::record::profile::Profile;
use crate::record::sides::Sides;

/// Before or after the treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Moment {
    /// The consent packet.
    Before,
    /// The aftercare packet; needs the treatment as done.
    After,
}

impl Moment {
    /// The moment asked for; else after if the record holds the treatment.
    #[must_use]
    pub fn chosen(asked: Option<Self>, treated: bool) -> Self {
        asked.unwrap_or(if treated { Self::After } else { Self::Before })
    }

    /// The word used in file names and facts.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::After => "after",
        }
    }
}

/// What facts are derived from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// The case record.
    pub record: &'a Record,
    /// The practice profile.
    pub profile: &'a Profile,
    /// The formulary.
    pub formulary: &'a Formulary,
    /// Words by which people name an eye.
    pub sides: &'a Sides,
    /// Below this age, years, the place of the practice asks for a representative.
    pub representative_below: u32,
    /// What is known beside the record.
    pub beside: &'a Beside,
    /// Before or after.
    pub moment: Moment,
}

impl<'a> Source<'a> {
    /// The treatment as done; none before it, even when the record already holds it.
    #[must_use]
    pub fn treatment(&self) -> Option<&'a Treatment> {
        match self.moment {
            Moment::Before => None,
            Moment::After => self.record.treatment.as_ref(),
        }
    }

    /// End of the last pulse: as done, or as planned; where it was stopped before the first, when the patient left.
    #[must_use]
    pub fn last_pulse(&self) -> NaiveDateTime {
        let start = self.record.plan.start.0;
        let planned =
            || hours::later(self.profile.practice.time_zone.0, start, self.profile.thresholds.session_minutes);
        self.treatment().map_or_else(planned, |done| done.ended().0)
    }

    /// From when on a dose in the clinic counts as one after the laser: its last pulse, and where there was none the planned
    /// start.
    #[must_use]
    pub fn doses_count_from(&self) -> NaiveDateTime {
        match self.treatment() {
            Some(done) => done.last_pulse.map_or(self.record.plan.start.0, |at| at.0),
            None => self.last_pulse(),
        }
    }

    /// Date of the treatment, as done or as planned. Ages are counted to it.
    #[must_use]
    pub fn treatment_date(&self) -> NaiveDate {
        self.treatment().map_or(self.record.plan.start.0, |done| done.ended().0).date()
    }
}

/// The value of a fact.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// One of the enumerated words of its definition.
    Choice(String),
    /// A number in the unit of its definition.
    Number(f64),
    /// A length of time in minutes, printed in words.
    Minutes(u32),
    /// Text from the record or the profile.
    Text(String),
    /// A name of the practice, and the same in further languages by tag.
    Named(String, BTreeMap<String, String>),
    /// The key of a word in the locale.
    Word(&'static str),
    /// Keys of words in the locale, printed as a list.
    Words(Vec<&'static str>),
    /// Numbers in the unit of the definition, printed as a list.
    Numbers(Vec<f64>),
    /// Items, printed as a list.
    List(Vec<String>),
    /// A date.
    Date(NaiveDate),
    /// The clock time of a local date and time.
    Time(NaiveDateTime),
    /// Not recorded, or does not apply. A text that uses it is refused.
    Absent,
}

/// The type and unit of a fact.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// An enumerated word. Only these may stand in conditions.
    Choice(&'static [&'static str]),
    /// A number: unit and digits after the decimal point.
    Number(&'static str, u8),
    /// A length of time in words.
    Minutes,
    /// Text.
    Text,
    /// A list.
    List,
    /// A date.
    Date,
    /// A clock time.
    Time,
}

/// One fact: name, type, meaning, and how it is derived.
#[derive(Debug, Clone, Copy)]
pub struct Definition {
    /// Name in conditions and texts.
    pub name: &'static str,
    /// Type and unit.
    pub kind: Kind,
    /// What it means.
    pub meaning: &'static str,
    from: [&'static [&'static str]; 2],
    private: bool,
    derive: fn(&Source) -> Value,
}

impl Definition {
    /// Says from which keys of the record a fact is derived.
    const fn from(self, keys: &'static [&'static str]) -> Self {
        Self { from: [keys, self.from[1]], ..self }
    }

    /// Says from which further ones.
    const fn and(self, keys: &'static [&'static str]) -> Self {
        Self { from: [self.from[0], keys], ..self }
    }

    /// Says that its value tells who somebody is, or is text of the record.
    const fn private(self) -> Self {
        Self { private: true, ..self }
    }

    /// The keys of the record it is derived from, as JSON pointers; a table stands for all its keys. None: it is of the
    /// practice.
    pub fn keys(&self) -> impl Iterator<Item = &'static str> {
        self.from.into_iter().flatten().copied()
    }

    /// Whether it is derived from a key, from one within it or from the table around it.
    #[must_use]
    pub fn hangs_on(&self, pointer: &str) -> bool {
        self.keys().any(|key| locate::holds(key, pointer) || locate::holds(pointer, key))
    }
}

/// Yes, no, or not recorded.
pub(crate) const ANSWER: Kind = Kind::Choice(&["yes", "no", "unknown"]);
/// Yes or no, always known.
pub(crate) const YES_NO: Kind = Kind::Choice(&["yes", "no"]);
/// Never, in the past, now, or not recorded.
pub(crate) const ACTIVITY: Kind = Kind::Choice(&["none", "past", "active", "unknown"]);

/// A row of the vocabulary.
const fn fact(name: &'static str, kind: Kind, meaning: &'static str, derive: fn(&Source) -> Value) -> Definition {
    Definition { name, kind, meaning, from: [&[], &[]], private: false, derive }
}

/// When the treatment is planned.
const WHEN: &str = "/plan/start";
/// When it was done.
const DONE: &str = "/treatment/last_pulse";
/// The regimen.
const REGIMEN: &str = "/plan/regimen";

/// A fact that is a word of the record as it stands there, under the name it has there.
macro_rules! recorded {
    ($table:ident . $name:ident, $kind:expr, $meaning:literal) => {
        crate::facts::fact(stringify!($name), $kind, $meaning, |s| crate::facts::word(&s.record.$table.$name))
            .from(&[concat!("/", stringify!($table), "/", stringify!($name))])
    };
}
use recorded;

/// Every fact there is, in reading order.
pub fn definitions() -> impl Iterator<Item = &'static Definition> {
    [
        patient::FACTS,
        practice::FACTS,
        own::FACTS,
        eye::FACTS,
        complaint::FACTS,
        detachment::FACTS,
        clearance::FACTS,
        energy::FACTS,
        events::FACTS,
        procedure::FACTS,
        pressure::FACTS,
        health::FACTS,
        day::FACTS,
        beside::FACTS,
        drops::FACTS,
        first_eye::FACTS,
    ]
    .into_iter()
    .flatten()
}

/// The fact of a name.
#[must_use]
pub fn definition(name: &str) -> Option<&'static Definition> {
    static BY_NAME: LazyLock<BTreeMap<&str, &Definition>> =
        LazyLock::new(|| definitions().map(|fact| (fact.name, fact)).collect());
    BY_NAME.get(name).copied()
}

/// Whether the value of a fact tells who somebody is, or is text of the record.
#[must_use]
pub fn is_private(name: &str) -> bool {
    definition(name).is_some_and(|fact| fact.private)
}

/// The facts of one case at one moment.
#[derive(Debug, Clone)]
pub struct Facts {
    values: BTreeMap<&'static str, Value>,
}

/// What stands in the place of a private value.
pub const MASK: &str = "(not shown)";

impl Facts {
    /// Derives every fact once.
    #[must_use]
    pub fn derive(source: &Source) -> Self {
        Self::derive_without(source, &[])
    }

    /// Derives every fact of a record in which these required keys are missing, as JSON pointers: a fact that hangs on one
    /// of them is absent, whatever stands in its place.
    #[must_use]
    pub fn derive_without(source: &Source, missing: &[&str]) -> Self {
        let value = |fact: &Definition| match missing.iter().any(|pointer| fact.hangs_on(pointer)) {
            true => Value::Absent,
            false => (fact.derive)(source),
        };
        Self { values: definitions().map(|fact| (fact.name, value(fact))).collect() }
    }

    /// Facts set by hand, for what-if questions and tests; names that are no facts are left out.
    #[must_use]
    pub fn given(values: &BTreeMap<String, Value>) -> Self {
        let known = values.iter().filter_map(|(name, value)| Some((definition(name)?.name, value.clone())));
        Self { values: known.collect() }
    }

    /// The word of an enumerated fact of a complete record.
    ///
    /// # Panics
    /// If there is no enumerated fact of that name, names are checked when conditions load; or if it is absent, because
    /// the record lacks a required key.
    #[must_use]
    pub fn choice(&self, name: &str) -> &str {
        self.word(name).unwrap_or_else(|| panic!("the enumerated fact {name} is absent"))
    }

    /// The word of an enumerated fact; none while the record lacks a required key that it hangs on.
    ///
    /// # Panics
    /// If there is no enumerated fact of that name; names are checked when conditions load.
    #[must_use]
    pub fn word(&self, name: &str) -> Option<&str> {
        match self.values.get(name) {
            Some(Value::Choice(word)) => Some(word),
            Some(Value::Absent) => None,
            _ => panic!("no enumerated fact is called {name}"),
        }
    }

    /// The number of a fact, if it is known.
    #[must_use]
    pub fn number(&self, name: &str) -> Option<f64> {
        match self.values.get(name)? {
            Value::Number(number) => Some(*number),
            _ => None,
        }
    }

    /// The value of a fact, if there is one of that name.
    #[must_use]
    pub fn value(&self, name: &str) -> Option<&Value> {
        self.values.get(name)
    }

    /// The same without what tells who somebody is and without text of the record, for messages.
    #[must_use]
    pub fn masked(&self) -> Self {
        let shown = |name: &str, value: &Value| match value {
            value if !is_private(name) => value.clone(),
            Value::List(_) => Value::List(vec![MASK.into()]),
            _ => Value::Text(MASK.into()),
        };
        Self { values: self.values.iter().map(|(name, value)| (*name, shown(name, value))).collect() }
    }

    /// All values by name.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, &Value)> {
        self.values.iter().map(|(name, value)| (*name, value))
    }
}

/// The snake_case word of an enumeration of the record.
fn word(value: &impl Serialize) -> Value {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => Value::Choice(word),
        _ => unreachable!("enumerations of the record serialise as words"),
    }
}

/// A fixed word.
fn choice(word: &str) -> Value {
    Value::Choice(word.to_owned())
}

/// Yes or no.
fn yes_no(yes: bool) -> Value {
    choice(if yes { "yes" } else { "no" })
}

/// A number, or absent.
fn number(value: Option<f64>) -> Value {
    value.map_or(Value::Absent, Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fact_has_one_name_and_a_meaning() {
        let mut seen = std::collections::BTreeSet::new();
        for fact in definitions() {
            assert!(seen.insert(fact.name), "{} stands twice", fact.name);
            assert!(fact.meaning.ends_with('.'), "{} has no sentence", fact.name);
        }
    }
}

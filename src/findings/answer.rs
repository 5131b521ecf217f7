//! When an answer settles a finding: it names the values it answered, and is not older than what it rests on.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Number, Value as Json, json};
use sha2::{Digest, Sha256};

use super::Finding;
use crate::facts::{Facts, Value, is_private};
use crate::record::course::FindingAnswer;
use crate::record::hash::hexadecimal;

/// What an answer rests on and must not be older than.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RestsOn {
    /// The last examination of the retina.
    Examination,
    /// The treatment as done.
    Treatment,
}

impl RestsOn {
    /// The fact that holds its date.
    fn fact(self) -> &'static str {
        match self {
            Self::Examination => "examined_on",
            Self::Treatment => "treated_on",
        }
    }
}

/// Why an answer in the record does not settle its finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unsettled {
    /// It has no fingerprint, or one of other values than the rule looks at now.
    Unbound,
    /// Values that changed since.
    Changed(Vec<Changed>),
    /// It is dated on a day that has not come.
    Ahead(NaiveDate),
    /// It is older than what it rests on, which happened on this date.
    Older(NaiveDate),
}

/// A value that is no longer the one that was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// Name of the fact.
    pub name: String,
    /// As it was; none where the answer does not say so.
    pub before: Option<String>,
    /// As it is now.
    pub now: String,
}

/// The answers of a record, and the day on which they are looked at, if anybody looks at a clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct Given<'a> {
    /// The answers.
    pub answers: &'a [FindingAnswer],
    /// The day, where the practice is.
    pub today: Option<NaiveDate>,
}

impl Finding {
    /// Takes down the values that the condition saw and the texts print.
    pub(super) fn saw<'n>(&mut self, names: impl Iterator<Item = &'n str>, facts: &Facts) {
        let known = names.filter_map(|name| Some((name.to_owned(), json(facts.value(name)?))));
        self.values.extend(known.collect::<BTreeMap<_, _>>());
    }

    /// The values in a few signs, for an answer to name: four hexadecimal digits for each, in the order of their names, so
    /// that it can be told which of them changed.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let digits = self.values.iter().map(|(name, value)| digits(name, value));
        let all = digits.collect::<Vec<_>>().join("-");
        if all.is_empty() { "none".into() } else { all }
    }

    /// The values in words, each with its name, for an answer to carry; without those that tell who somebody is unless
    /// they are wanted.
    #[must_use]
    pub fn values_in_words(&self, private: bool) -> Vec<String> {
        let shown = self.values.iter().filter(|(name, _)| private || !is_private(name));
        shown.map(|(name, value)| format!("{name} = {}", in_words(value))).collect()
    }

    /// Attaches the answer of the record, if there is one, as what settles it or as what does not.
    pub(super) fn answered(&mut self, given: Given, facts: &Facts) {
        let Some(answer) = given.answers.iter().find(|answer| answer.finding == self.id) else { return };
        self.unsettled = self.objection(answer, given.today, facts);
        self.answer = Some(answer.clone());
    }

    fn objection(&self, answer: &FindingAnswer, today: Option<NaiveDate>, facts: &Facts) -> Option<Unsettled> {
        let fingerprint = self.fingerprint();
        if answer.fingerprint.as_ref() != Some(&fingerprint) {
            return Some(self.changed(answer));
        }
        if today.is_some_and(|today| today < answer.on.0) {
            return Some(Unsettled::Ahead(answer.on.0));
        }
        match self.rests_on.and_then(|rests_on| facts.value(rests_on.fact())) {
            Some(Value::Date(date)) if answer.on.0 < *date => Some(Unsettled::Older(*date)),
            _ => None,
        }
    }

    fn changed(&self, answer: &FindingAnswer) -> Unsettled {
        let answered: Vec<&str> = answer.fingerprint.as_deref().unwrap_or_default().split('-').collect();
        if answered.len() != self.values.len() {
            return Unsettled::Unbound;
        }
        let now = self.values.iter().zip(answered);
        let changed = now.filter(|((name, value), answered)| digits(name, value) != *answered);
        let changed = changed.map(|((name, value), answered)| Changed {
            name: name.clone(),
            before: before(answer, name, answered),
            now: written(value),
        });
        Unsettled::Changed(changed.collect())
    }
}

/// The value of a name that an answer was given for, if the answer carries it in words that have these digits.
fn before(answer: &FindingAnswer, name: &str, answered: &str) -> Option<String> {
    let words = answer.values.iter().find_map(|value| value.strip_prefix(name)?.strip_prefix(" = "))?;
    let value = serde_json::from_str(words).unwrap_or_else(|_| json!(words));
    (digits(name, &value) == answered).then(|| written(&value))
}

/// A value as [`before`] reads it.
fn in_words(value: &Json) -> String {
    match value {
        Json::String(text) => text.clone(),
        Json::Number(number) => plainly(number),
        other => other.to_string(),
    }
}

/// A number without a point where there is nothing behind it.
fn plainly(number: &Number) -> String {
    number.as_f64().map_or_else(|| number.to_string(), |number| number.to_string())
}

/// The first 16 bits of a SHA-256 over the canonical JSON (RFC 8785) of a value with its name.
fn digits(name: &str, value: &Json) -> String {
    // Values of facts always have such a form.
    let bytes = serde_json_canonicalizer::to_vec(&json!([name, value])).unwrap_or_default();
    hexadecimal(&Sha256::digest(bytes)[..2])
}

fn json(value: &Value) -> Json {
    match value {
        Value::Choice(word) | Value::Text(word) | Value::Named(word, _) => json!(word),
        Value::Number(number) => json!(number),
        Value::Minutes(minutes) => json!(minutes),
        Value::Word(key) => json!(key),
        Value::Words(keys) => json!(keys),
        Value::Numbers(numbers) => json!(numbers),
        Value::List(items) => json!(items),
        Value::Date(date) => json!(date.to_string()),
        Value::Time(time) => json!(time.to_string()),
        Value::Absent => Json::Null,
    }
}

/// A value for a person.
fn written(value: &Json) -> String {
    match value {
        Json::String(text) => text.replace('_', " "),
        Json::Null => "not recorded".into(),
        Json::Number(number) => plainly(number),
        Json::Array(items) => items.iter().map(written).collect::<Vec<_>>().join(", "),
        other => other.to_string(),
    }
}

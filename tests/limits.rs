//! Every limit of facts and checks, at the limit and just beside it: tables that a clinician can read, in `limits/`.

use std::sync::LazyLock;

use serde::Deserialize;
use serde_json::{Map, Value};
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::diag::{Report, SourceFile};
use vitreoleaf::facts::{self, Facts, Moment, Source};
use vitreoleaf::practice::{Checked, Files};
use vitreoleaf::record::profile::Profile;
use vitreoleaf::record::{Record, load};

use crate::packets::{practice, record};

/// A file of `limits/`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    #[serde(default)]
    thresholds: Map<String, Value>,
    limit: Vec<Limit>,
}

/// One rule, and what it makes of values on both sides of its limits.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Limit {
    what: String,
    /// Where the rule comes from, unless it follows from the words or from the practice's own limits.
    #[serde(default)]
    source: Option<String>,
    /// JSON pointers; each value is tried at each.
    keys: Vec<String>,
    #[serde(default)]
    with: Map<String, Value>,
    #[serde(default)]
    without: Vec<String>,
    /// Told at the moment after the treatment.
    #[serde(default)]
    after: bool,
    #[serde(default)]
    fact: Option<String>,
    /// Refusals that some values bring along.
    #[serde(default)]
    may: Vec<String>,
    gives: Vec<(Value, Value)>,
}

impl Limit {
    /// Tries each value at each key and gives what came out otherwise than written.
    fn wrong(&self, base: &Value, outcome: impl Fn(Value) -> Value) -> Vec<String> {
        assert!(self.source.as_ref().is_none_or(|source| !source.is_empty()), "{}", self.what);
        let tried = self.keys.iter().flat_map(|key| self.gives.iter().map(move |given| (key, given)));
        let wrong = tried.filter_map(|(key, (value, wanted))| {
            let mut changed = base.clone();
            self.with.iter().for_each(|(key, value)| put(&mut changed, key, value.clone()));
            self.without.iter().for_each(|key| put(&mut changed, key, Value::Null));
            put(&mut changed, key, value.clone());
            let came = outcome(changed);
            (!same(&came, wanted)).then(|| format!("{}: {key} = {value} gives {came}, not {wanted}", self.what))
        });
        wrong.collect()
    }
}

/// Equal; numbers to the digits they are written with.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Array(ones), Value::Array(others)) => {
            ones.len() == others.len() && ones.iter().zip(others).all(|(one, other)| same(one, other))
        }
        _ => match (one.as_f64(), other.as_f64()) {
            (Some(one), Some(other)) => (one - other).abs() < 0.0005,
            _ => one == other,
        },
    }
}

/// Puts a value at a place whose table is there.
fn put(root: &mut Value, pointer: &str, value: Value) {
    let (table, key) = pointer.rsplit_once('/').expect("a pointer");
    let table = root.pointer_mut(table).unwrap_or_else(|| panic!("{pointer} stands in no table"));
    table[key] = value;
}

fn hold(table: &Table, base: &Value, outcome: impl Fn(&Limit, Value) -> Value) {
    let wrong: Vec<String> =
        table.limit.iter().flat_map(|limit| limit.wrong(base, |changed| outcome(limit, changed))).collect();
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

fn plain() -> Value {
    serde_json::to_value(record("ring-implant", |text| text)).expect("a record becomes a value")
}

fn table(text: &str) -> Table {
    toml::from_str(text).expect("a table of limits")
}

#[test]
fn facts_change_at_their_limits() {
    let table = table(include_str!("limits/facts.toml"));
    let practice = practice(|text| text, Default::default());
    let mut profile = serde_json::to_value(&practice.profile).expect("a profile becomes a value");
    profile["thresholds"].as_object_mut().expect("thresholds").extend(table.thresholds.clone());
    let profile: Profile = serde_json::from_value(profile).expect("a profile");
    hold(&table, &plain(), |limit, record| {
        let record: Record = serde_json::from_value(record).expect("a record");
        let moment = if limit.after { Moment::After } else { Moment::Before };
        let source = Source { profile: &profile, ..practice.source(&record, moment) };
        let facts = Facts::derive(&source);
        let wanted = limit.fact.as_deref().expect("the name of a fact");
        let (_, value) = facts.iter().find(|(name, _)| *name == wanted).expect(wanted);
        match value {
            facts::Value::Choice(word) => word.as_str().into(),
            facts::Value::Number(number) => (*number).into(),
            facts::Value::Numbers(numbers) => numbers.as_slice().into(),
            facts::Value::Time(time) => time.to_string().into(),
            facts::Value::Absent => "absent".into(),
            other => panic!("{wanted} is {other:?}"),
        }
    });
}

/// What is said of a file: the first refusal or warning that the row does not expect beside it, else that it fits.
fn said(limit: &Limit, report: &Report) -> Value {
    let codes = report.sorted().into_iter().map(|wrong| wrong.code);
    codes.into_iter().find(|code| !limit.may.iter().any(|may| may == code)).unwrap_or("fits").into()
}

fn file(value: &Value) -> SourceFile {
    SourceFile { name: "file.json".into(), text: value.to_string() }
}

#[test]
fn records_are_refused_beyond_their_limits() {
    let practice = practice(|text| text, Default::default());
    hold(&table(include_str!("limits/records.toml")), &plain(), |limit, record| {
        match Checked::<Record>::read(&file(&record), practice.clone()) {
            Ok(checked) => said(limit, &checked.warnings().report),
            Err(refused) => said(limit, &refused.report),
        }
    });
}

#[test]
fn profiles_are_refused_beyond_their_limits() {
    static FILES: LazyLock<Files> = LazyLock::new(|| Files::of(Assets::default()).expect("the formulary"));
    let text = samples().remove("practice/profile.toml").expect("the demo has a practice");
    let profile = load::load::<Profile>(&SourceFile { name: "profile.toml".into(), text }).expect("a profile").value;
    let base = serde_json::to_value(profile).expect("a profile becomes a value");
    hold(&table(include_str!("limits/profiles.toml")), &base, |limit, profile| {
        match Checked::<Profile>::read(&file(&profile), FILES.clone()) {
            Ok(checked) => said(limit, &checked.warnings().report),
            Err(refused) => said(limit, &refused.report),
        }
    });
}

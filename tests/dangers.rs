//! What may become dangerous, in cases that a clinician can read: `dangers/<paragraph>.toml`.
//!
//! Each case starts from an invented record of the demo, changes a few keys, and says what has to come of it:
//!
//! ```toml
//! [[case]]
//! about = "At the limit the surgeon is fetched"          # one sentence; says what this case shows
//! record = "ring-implant"                               # folder of the demo's record
//! moment = "after"                                      # before or after; left out: after where the record holds the treatment
//! set = { "eye.pressure_mmhg" = 30 }                    # keys of the record, dotted; an entry of a list by its number from 0
//! unset = ["treatment.recheck"]                         # keys taken out
//! practice = { "thresholds.clearance_stop_mm" = 2.5 }   # keys of the practice
//! practice_unset = ["out_of_hours"]                      # keys of the practice taken out
//! answered = ["pressure-high"]                          # findings that a clinician of the practice has answered
//! beside = [{ record = "both-eyes-left", set = { "patient.name" = "..." } }] # other records at hand; also unset
//! today = "2026-08-06"                                  # the day it is looked at
//! then = { "eye.pressure_mmhg" = 31 }                   # keys changed after that
//! finds = { pressure-high = "stop" }                    # findings that are there, each with its level
//! finds_not = ["pressure-low"]                          # findings that are not
//! withheld = true                                       # whether the consent or the drop plan is withheld
//! says = { desk = ["Fetch the surgeon"] }               # what stands on a page, or in packet (its JSON)
//! says_not = { consent = ["settle"] }                   # what does not; a page that is not made is a failure in both
//! refused = ["before the examination"]                  # the record is refused in these words; nothing else is looked at
//! ```
//!
//! Pages are read as plain text, in one line: `consent`, `aftercare`, `surgeon`, `desk`, and `consent-clinic` and so on
//! where the patient reads another language than the practice. Case counts.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::PathBuf;

use chrono::NaiveDate;
use serde::Deserialize;
use toml::{Table, Value};
use vitreoleaf::assets::samples;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::facts::Moment;
use vitreoleaf::facts::beside::{Beside, Other};
use vitreoleaf::findings::Level;
use vitreoleaf::packet::{Case, Form};
use vitreoleaf::practice::{Checked, Practice};
use vitreoleaf::record::Record;

use crate::packets::{answered_in, practice};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    case: Vec<Danger>,
}

type Sentences = BTreeMap<String, Vec<String>>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Danger {
    about: String,
    record: String,
    moment: Option<String>,
    #[serde(default)]
    set: Table,
    #[serde(default)]
    unset: Vec<String>,
    #[serde(default)]
    practice: Table,
    #[serde(default)]
    practice_unset: Vec<String>,
    #[serde(default)]
    answered: Vec<String>,
    #[serde(default)]
    beside: Vec<Neighbour>,
    today: Option<NaiveDate>,
    #[serde(default)]
    then: Table,
    #[serde(default)]
    finds: BTreeMap<String, Level>,
    #[serde(default)]
    finds_not: Vec<String>,
    withheld: Option<bool>,
    #[serde(default)]
    says: Sentences,
    #[serde(default)]
    says_not: Sentences,
    #[serde(default)]
    refused: Vec<String>,
}

/// Another record at hand.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Neighbour {
    record: String,
    #[serde(default)]
    set: Table,
    #[serde(default)]
    unset: Vec<String>,
}

impl Neighbour {
    fn read(&self, practice: &Practice) -> Other {
        let record = changed(&samples()[&format!("{}/case.toml", self.record)], &self.set, &self.unset);
        let file = SourceFile { name: "case.toml".into(), text: toml::to_string(&record).expect("a record") };
        Other::of(&Checked::<Record>::read(&file, practice.clone()).unwrap_or_else(|refused| panic!("{refused}")))
    }
}

/// What came of a case: its findings by id, whether pages are withheld, and each page as text in one line.
struct Outcome {
    findings: BTreeMap<String, Level>,
    withheld: bool,
    pages: BTreeMap<String, String>,
}

impl Danger {
    /// The record as it would be written.
    fn record(&self) -> SourceFile {
        let record = changed(&samples()[&format!("{}/case.toml", self.record)], &self.set, &self.unset);
        SourceFile { name: "case.toml".into(), text: toml::to_string(&record).expect("a record") }
    }

    fn moment(&self, record: &Record) -> Moment {
        match self.moment.as_deref() {
            Some("before") => Moment::Before,
            Some("after") => Moment::After,
            None => Moment::chosen(None, record.treatment.is_some()),
            Some(other) => panic!("{other} is no moment"),
        }
    }

    /// What comes of it, or the words in which it is refused.
    fn outcome(&self, practice: &Practice) -> Result<Outcome, String> {
        let read = Checked::<Record>::read(&self.record(), practice.clone())
            .map_err(|refused| in_one_line(&refused.to_string()))?;
        let moment = self.moment(&read);
        let ids: Vec<&str> = self.answered.iter().map(String::as_str).collect();
        let others = self.beside.iter().map(|other| other.read(practice));
        let beside = Beside { today: self.today, ..Beside::default() }.and(others);
        let answered = answered_in(&read.beside(beside.clone()), moment, &ids);
        let answered = changed(&toml::to_string(&answered).expect("a record"), &self.then, &[]);
        let file = SourceFile { name: "case.toml".into(), text: toml::to_string(&answered).expect("a record") };
        let record =
            Checked::<Record>::read(&file, practice.clone()).map_err(|refused| in_one_line(&refused.to_string()))?;
        let record = record.beside(beside);
        let case = Case::new(&record, moment).map_err(|error| error.to_string())?;
        let packet = case.packet_as(&[Form::Text], demo::issued(&record, moment)).map_err(|error| error.to_string())?;
        let stem = format!("{}-r{}-{}-", record.case.code, record.case.revision, moment.word());
        let page = |name: &str| name.trim_start_matches(&stem).split('.').next().unwrap_or_default().to_owned();
        let pages =
            packet.files.iter().map(|file| (page(&file.name), in_one_line(&String::from_utf8_lossy(&file.bytes))));
        Ok(Outcome {
            findings: packet.findings.0.iter().map(|finding| (finding.id.clone(), finding.level)).collect(),
            withheld: packet.withheld.is_some(),
            pages: pages.collect(),
        })
    }

    /// Everything that did not come as written.
    fn wrong(&self, outcome: Result<Outcome, String>) -> Vec<String> {
        match outcome {
            Err(why) if self.refused.is_empty() => vec![format!("refused: {why}")],
            Err(why) => {
                let unsaid = self.refused.iter().filter(|words| !why.contains(*words));
                unsaid.map(|words| format!("the refusal does not say {words:?}, but: {why}")).collect()
            }
            Ok(_) if !self.refused.is_empty() => vec!["not refused".into()],
            Ok(outcome) => [self.misfound(&outcome), self.missaid(&outcome)].concat(),
        }
    }

    fn misfound(&self, outcome: &Outcome) -> Vec<String> {
        let mut wrong = Vec::new();
        for (id, level) in &self.finds {
            match outcome.findings.get(id) {
                Some(found) if found == level => {}
                found => wrong.push(format!("{id}: expected {level:?}, found {found:?}")),
            }
        }
        let raised = self.finds_not.iter().filter(|id| outcome.findings.contains_key(*id));
        wrong.extend(raised.map(|id| format!("{id} is found")));
        if self.withheld.is_some_and(|withheld| withheld != outcome.withheld) {
            wrong.push(format!("withheld: {}", outcome.withheld));
        }
        wrong
    }

    fn missaid(&self, outcome: &Outcome) -> Vec<String> {
        let wrong = |sentences: &Sentences, wanted: bool| -> Vec<String> {
            let each = sentences.iter().flat_map(|(page, said)| said.iter().map(move |words| (page, words)));
            let wrong = each.filter_map(|(page, words)| match outcome.pages.get(page) {
                None => Some(format!("{page} is not made")),
                Some(text) if text.contains(words.as_str()) == wanted => None,
                Some(text) => {
                    Some(format!("{page}: {words:?} is {}said in:\n{text}", if wanted { "not " } else { "" }))
                }
            });
            wrong.collect()
        };
        [wrong(&self.says, true), wrong(&self.says_not, false)].concat()
    }
}

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A text in TOML with some dotted keys set and others taken out.
fn changed(text: &str, set: &Table, unset: &[String]) -> Value {
    let mut whole = Value::Table(text.parse().expect("a sample"));
    for (key, value) in set {
        let (around, last) = split(key);
        match within(&mut whole, around) {
            Value::Table(table) => _ = table.insert(last.to_owned(), value.clone()),
            Value::Array(list) => list[place(last)] = value.clone(),
            other => panic!("{key} lies in {other}"),
        }
    }
    unset.iter().for_each(|key| remove(&mut whole, key));
    whole
}

fn remove(whole: &mut Value, key: &str) {
    let (around, last) = split(key);
    let removed = within(whole, around).as_table_mut().and_then(|table| table.remove(last));
    assert!(removed.is_some(), "{key} is not there to be taken out");
}

fn split(key: &str) -> (&str, &str) {
    key.rsplit_once('.').unwrap_or(("", key))
}

/// The table or list at a dotted key. A table that is not there yet is made.
fn within<'a>(whole: &'a mut Value, key: &str) -> &'a mut Value {
    key.split('.').filter(|part| !part.is_empty()).fold(whole, |at, part| match at {
        Value::Table(table) => table.entry(part).or_insert_with(|| Value::Table(Table::new())),
        Value::Array(list) => &mut list[place(part)],
        other => panic!("{part} lies in {other}"),
    })
}

fn place(part: &str) -> usize {
    part.parse().expect("the number of an entry")
}

/// The demo's practice with some keys changed, its confirmation renewed. Each is made once.
#[derive(Default)]
struct Practices(HashMap<String, Practice>);

impl Practices {
    fn of(&mut self, danger: &Danger) -> Practice {
        let (set, unset) = (&danger.practice, &danger.practice_unset);
        let profile = |text: String| toml::to_string(&changed(&text, set, unset)).expect("a profile");
        let made = || practice(profile, BTreeMap::new());
        self.0.entry(format!("{set} {unset:?}")).or_insert_with(made).clone()
    }
}

fn files() -> Vec<(String, Cases)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/dangers");
    let paths = fs::read_dir(folder).expect("tests/dangers").map(|entry| entry.expect("an entry").path());
    let mut files: Vec<_> = paths
        .map(|path| {
            let name = path.file_stem().and_then(|stem| stem.to_str()).expect("a readable name").to_owned();
            let text = fs::read_to_string(&path).expect("a readable file");
            let cases = toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
            (name, cases)
        })
        .collect();
    files.sort_by(|(first, _), (second, _)| first.cmp(second));
    files
}

#[test]
fn dangers_come_out_as_written() {
    let mut practices = Practices::default();
    let mut wrong = Vec::new();
    for (name, Cases { case }) in files() {
        for danger in case {
            let practice = practices.of(&danger);
            let here = danger.wrong(danger.outcome(&practice));
            wrong.extend(here.into_iter().map(|what| format!("{name}, {}: {what}", danger.about)));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// A case that asks for nothing cannot fail.
#[test]
fn every_danger_asks_for_something() {
    for (name, Cases { case }) in files() {
        for danger in case {
            let sentences =
                [&danger.says, &danger.says_not].into_iter().flat_map(|said| said.values().flatten()).count();
            let findings = danger.finds.len() + danger.finds_not.len() + danger.refused.len();
            let asks = sentences + findings > 0 || danger.withheld.is_some();
            assert!(asks, "{name}, {}", danger.about);
        }
    }
}

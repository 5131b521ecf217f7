//! Outcomes as a table (CSV, RFC 4180, UTF-8): one line an outcome. An outcome with several events has a line for each, with
//! the same case, visit and date and the same rest, or the rest left empty.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use csv::{ByteRecord, ReaderBuilder, Writer};
use serde::Serialize;
use serde::de::value::{Error as NoWord, StrDeserializer};
use serde::de::{Deserialize, IntoDeserializer};

use super::error::Wrong;
use super::outcome::{Event, Outcome, Questionnaire};
use crate::record::acuity::Acuity;
use crate::record::date::Date;
use crate::record::known::{Answer, Known};

/// The columns, with their units. On reading they may stand in any order; only `case`, `visit` and `date` must be there.
/// Words are those of the record: an empty field was not recorded.
pub const HEADER: [&str; 18] = [
    "case",
    "visit",
    "date",
    "pressure_mmhg",
    "acuity",
    "bother_before_0_to_10",
    "bother_after_0_to_10",
    "questionnaire",
    "questionnaire_version",
    "questionnaire_score",
    "change",
    "further_laser",
    "surgery",
    "lost",
    "event_kind",
    "event_date",
    "event_severity",
    "event_done",
];

/// The first columns say which outcome it is.
const KEYS: usize = 3;

/// Longest field, bytes.
const FIELD: usize = 1000;

const CHANGES: &str = "gone, much_better, little_better, same, worse, unknown";
const ANSWERS: &str = "yes, no, unknown";
const YES_OR_NO: &str = "yes, no";
const SEVERITIES: &str = "mild, moderate, severe, unknown";
const KINDS: &str = "tear, detachment, capsule_or_lens, implant_marked, lasting_pressure, vitreous_bleeding, retina, \
                     cataract, inflammation, other";

/// Why a file is no table of outcomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotTable {
    /// The first line holds something else.
    #[error(
        "column {0} of the first line is none of an outcome: the first line holds names of columns, with commas between them, \
         as `vitreoleaf outcomes export` writes them"
    )]
    Column(usize),
    /// A column stands there twice.
    #[error("column {0} of the first line stands there twice: take one out")]
    Twice(usize),
    /// A column that every outcome needs.
    #[error("the column {0} is missing: every line needs it")]
    Missing(&'static str),
    /// Not even a first line.
    #[error("the file is empty: its first line holds the names of the columns")]
    Empty,
}

/// A line that was not taken, with the way out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WrongLine {
    /// Line of the file, from 1.
    pub line: u64,
    /// Which column, if one is to blame.
    pub column: Option<&'static str>,
    /// What is wrong.
    pub why: String,
}

/// An outcome with the lines it stands in.
#[derive(Debug, Clone, PartialEq)]
pub struct Lines {
    /// Code of its case.
    pub case: String,
    /// Its lines, from 1.
    pub lines: Vec<u64>,
    /// The outcome; nothing is checked against the case yet.
    pub outcome: Outcome,
}

/// What a table holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Read {
    /// What can be read, in the order of the file.
    pub outcomes: Vec<Lines>,
    /// What cannot.
    pub wrong: Vec<WrongLine>,
}

/// Why one line is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
enum WrongField {
    #[error(transparent)]
    Value(#[from] Wrong),
    #[error("it is empty: every line needs it")]
    Empty,
    #[error("it is longer than {FIELD} bytes")]
    TooLong,
    #[error("it is no text in UTF-8")]
    NotText,
    #[error("the line has more or fewer fields than the first line")]
    Count,
    #[error("another line of this visit says something else: let both say the same, or leave it empty here")]
    Differs,
    #[error("another line of this visit is wrong; nothing of the visit was taken")]
    Beside,
}

/// Fields of one line by column.
type Fields<'a> = BTreeMap<&'static str, &'a str>;

/// Reads a table. A line that is wrong is named, with the others of the same visit; the rest is kept.
///
/// # Errors
/// A first line that is not that of a table of outcomes.
pub fn read(bytes: &[u8]) -> Result<Read, NotTable> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes);
    let mut records = reader.byte_records().map_while(Result::ok);
    let columns = columns(&records.next().ok_or(NotTable::Empty)?)?;
    let mut found = Found::default();
    for record in records {
        let line = record.position().map_or(0, csv::Position::line);
        let taken = fields(&record, &columns).and_then(|fields| found.take(line, &fields));
        if let Err((column, why)) = taken {
            found.wrong(line, column, why);
            found.spoil(&record, &columns);
        }
    }
    Ok(found.read())
}

fn columns(first: &ByteRecord) -> Result<Vec<&'static str>, NotTable> {
    let mut columns = Vec::new();
    for (at, field) in first.iter().enumerate() {
        let known = HEADER.iter().find(|name| name.as_bytes() == field.trim_ascii());
        let name = *known.ok_or(NotTable::Column(at + 1))?;
        if columns.contains(&name) {
            return Err(NotTable::Twice(at + 1));
        }
        columns.push(name);
    }
    match HEADER[..KEYS].iter().find(|key| !columns.contains(key)) {
        Some(missing) => Err(NotTable::Missing(missing)),
        None => Ok(columns),
    }
}

/// What is wrong with which column.
type Fault = (Option<&'static str>, WrongField);

fn fields<'a>(record: &'a ByteRecord, columns: &[&'static str]) -> Result<Fields<'a>, Fault> {
    if record.len() != columns.len() {
        return Err((None, WrongField::Count));
    }
    let mut fields = Fields::new();
    for (name, field) in columns.iter().zip(record) {
        if field.len() > FIELD {
            return Err((Some(name), WrongField::TooLong));
        }
        let text = std::str::from_utf8(field).map_err(|_| (Some(*name), WrongField::NotText))?.trim();
        if text.is_empty() && HEADER[..KEYS].contains(name) {
            return Err((Some(name), WrongField::Empty));
        }
        if !text.is_empty() {
            fields.insert(name, text);
        }
    }
    Ok(fields)
}

/// Which outcome a line is of.
type Key = (String, String, String);

/// What has been read so far.
#[derive(Default)]
struct Found {
    order: Vec<Key>,
    outcomes: BTreeMap<Key, Lines>,
    spoilt: Vec<Key>,
    wrong: Vec<WrongLine>,
}

impl Found {
    fn take(&mut self, line: u64, fields: &Fields) -> Result<(), Fault> {
        let field = |name: &str| fields.get(name).copied().unwrap_or_default().to_owned();
        let key = (field("case"), field("visit"), field("date"));
        let outcome = outcome(fields)?;
        let Some(first) = self.outcomes.get_mut(&key) else {
            self.order.push(key.clone());
            self.outcomes.insert(key, Lines { case: field("case"), lines: vec![line], outcome });
            return Ok(());
        };
        first.lines.push(line);
        let says_more = fields.keys().any(|name| !HEADER[..KEYS].contains(name) && !name.starts_with("event_"));
        let same = Outcome { events: first.outcome.events.clone(), ..outcome.clone() } == first.outcome;
        if says_more && !same {
            return Err((None, WrongField::Differs));
        }
        first.outcome.events.extend(outcome.events);
        Ok(())
    }

    fn wrong(&mut self, line: u64, column: Option<&'static str>, why: WrongField) {
        self.wrong.push(WrongLine { line, column, why: why.to_string() });
    }

    /// What stands beside a wrong line is not taken either.
    fn spoil(&mut self, record: &ByteRecord, columns: &[&'static str]) {
        let field = |name: &str| {
            let at = columns.iter().position(|column| *column == name)?;
            Some(String::from_utf8_lossy(record.get(at)?).trim().to_owned())
        };
        if let (Some(case), Some(visit), Some(date)) = (field("case"), field("visit"), field("date")) {
            self.spoilt.push((case, visit, date));
        }
    }

    fn read(mut self) -> Read {
        for key in std::mem::take(&mut self.spoilt) {
            let beside = self.outcomes.remove(&key).map(|found| found.lines).unwrap_or_default();
            for line in beside {
                if self.wrong.iter().all(|wrong| wrong.line != line) {
                    self.wrong(line, None, WrongField::Beside);
                }
            }
        }
        self.wrong.sort_by_key(|wrong| wrong.line);
        let outcomes = self.order.iter().filter_map(|key| self.outcomes.remove(key)).collect();
        Read { outcomes, wrong: self.wrong }
    }
}

fn outcome(fields: &Fields) -> Result<Outcome, Fault> {
    let field = |name: &'static str| fields.get(name).copied();
    let on: NaiveDate = date(fields, "date")?.ok_or((Some("date"), WrongField::Empty))?;
    let mut outcome = Outcome::at(field("visit").unwrap_or_default(), on);
    outcome.pressure_mmhg = number(fields, "pressure_mmhg")?;
    outcome.acuity = match field("acuity") {
        None | Some("unknown") => Known::Unknown,
        Some(text) => Known::Value(acuity(text).ok_or((Some("acuity"), Wrong::NoAcuity.into()))?),
    };
    outcome.bother_before = bother(fields, "bother_before_0_to_10")?;
    outcome.bother_after = bother(fields, "bother_after_0_to_10")?;
    outcome.questionnaire = questionnaire(fields)?;
    outcome.change = word(fields, "change", CHANGES)?.unwrap_or_default();
    outcome.further_laser = word(fields, "further_laser", ANSWERS)?.unwrap_or_default();
    outcome.surgery = word(fields, "surgery", ANSWERS)?.unwrap_or_default();
    outcome.lost = match field("lost") {
        None | Some("no") => false,
        Some("yes") => true,
        Some(_) => return Err((Some("lost"), Wrong::NoSuchWord(YES_OR_NO).into())),
    };
    outcome.events = event(fields, on)?.into_iter().collect();
    Ok(outcome)
}

/// An acuity whose form the record would take too.
fn acuity(text: &str) -> Option<Acuity> {
    text.parse::<Acuity>().ok().filter(Acuity::is_written_as_the_record_wants)
}

fn event(fields: &Fields, visit: NaiveDate) -> Result<Option<Event>, Fault> {
    let Some(kind) = word(fields, "event_kind", KINDS)? else {
        let beside = ["event_date", "event_severity", "event_done"].into_iter().find(|name| fields.contains_key(name));
        return if beside.is_some() { Err((Some("event_kind"), WrongField::Empty)) } else { Ok(None) };
    };
    let on = Date(date(fields, "event_date")?.unwrap_or(visit));
    let severity = word(fields, "event_severity", SEVERITIES)?.unwrap_or_default();
    Ok(Some(Event { kind, on, severity, done: fields.get("event_done").map(|done| (*done).to_owned()) }))
}

fn questionnaire(fields: &Fields) -> Result<Option<Questionnaire>, Fault> {
    let names = ["questionnaire", "questionnaire_version", "questionnaire_score"];
    if !names.iter().any(|name| fields.contains_key(name)) {
        return Ok(None);
    }
    let text = |name| fields.get(name).map(|text| (*text).to_owned()).ok_or((Some(name), WrongField::Empty));
    let score = number(fields, names[2])?.value().ok_or((Some(names[2]), WrongField::Empty))?;
    Ok(Some(Questionnaire { name: text(names[0])?, version: text(names[1])?, score }))
}

fn date(fields: &Fields, name: &'static str) -> Result<Option<NaiveDate>, Fault> {
    let read = |text: &&str| text.parse::<Date>().map(|date| date.0).map_err(|_| (Some(name), Wrong::NoDate.into()));
    fields.get(name).map(read).transpose()
}

fn number(fields: &Fields, name: &'static str) -> Result<Known<f64>, Fault> {
    match fields.get(name).copied() {
        None | Some("unknown") => Ok(Known::Unknown),
        Some(text) => match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Known::Value(number)),
            _ => Err((Some(name), Wrong::NoNumber.into())),
        },
    }
}

/// Whole steps of the line; a table program may write `8.0`.
fn bother(fields: &Fields, name: &'static str) -> Result<Known<u8>, Fault> {
    let range = Wrong::Range { lowest: 0, highest: 10 };
    match number(fields, name)?.value() {
        None => Ok(Known::Unknown),
        Some(step) if step.fract() == 0.0 && (0.0..=10.0).contains(&step) => Ok(Known::Value(step as u8)),
        Some(_) => Err((Some(name), range.into())),
    }
}

fn word<'de, T: Deserialize<'de>>(
    fields: &Fields<'de>,
    name: &'static str,
    all: &'static str,
) -> Result<Option<T>, Fault> {
    let read = |text: &'de str| {
        let word: StrDeserializer<NoWord> = text.into_deserializer();
        T::deserialize(word).map_err(|_| (Some(name), Wrong::NoSuchWord(all).into()))
    };
    fields.get(name).copied().map(read).transpose()
}

/// Writes outcomes as a table that [`read`] reads back.
///
/// ```
/// use vitreoleaf::results::{Outcome, read, write};
///
/// let seen: Outcome = serde_json::from_str(r#"{ "visit": "week", "on": "2026-08-14", "pressure_mmhg": 17.5 }"#).unwrap();
/// let table = write([("EX-01", &seen)]);
/// assert!(table.starts_with("case,visit,date,") && table.contains("EX-01,week,2026-08-14,17.5,"));
/// assert_eq!(read(table.as_bytes()).unwrap().outcomes[0].outcome, seen);
/// ```
#[must_use]
pub fn write<'a>(outcomes: impl IntoIterator<Item = (&'a str, &'a Outcome)>) -> String {
    let mut table = Writer::from_writer(Vec::new());
    // Writing into memory does not fail.
    let _ = table.write_record(HEADER);
    for (case, outcome) in outcomes {
        let own = own_fields(case, outcome);
        if outcome.events.is_empty() {
            let _ = table.write_record(own.iter().map(String::as_str).chain([""; 4]));
        }
        for event in &outcome.events {
            let event = [
                said(&event.kind),
                event.on.to_string(),
                said(&event.severity),
                event.done.clone().unwrap_or_default(),
            ];
            let _ = table.write_record(own.iter().chain(&event));
        }
    }
    table.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

fn own_fields(case: &str, outcome: &Outcome) -> [String; 14] {
    let questionnaire = outcome.questionnaire.as_ref();
    let number = |known: Option<f64>| known.map_or_else(String::new, |number| number.to_string());
    [
        case.to_owned(),
        outcome.visit.clone(),
        outcome.on.to_string(),
        number(outcome.pressure_mmhg.value()),
        outcome.acuity.as_ref().map_or_else(String::new, ToString::to_string),
        number(outcome.bother_before.value().map(f64::from)),
        number(outcome.bother_after.value().map(f64::from)),
        questionnaire.map_or_else(String::new, |questionnaire| questionnaire.name.clone()),
        questionnaire.map_or_else(String::new, |questionnaire| questionnaire.version.clone()),
        number(questionnaire.map(|questionnaire| questionnaire.score)),
        said(&outcome.change),
        answered(outcome.further_laser),
        answered(outcome.surgery),
        if outcome.lost { "yes".into() } else { String::new() },
    ]
}

/// The word of the record; what was not recorded is left empty.
fn said(word: &impl Serialize) -> String {
    let written = serde_json::to_value(word).ok();
    written.as_ref().and_then(|word| word.as_str()).filter(|word| *word != "unknown").unwrap_or_default().to_owned()
}

fn answered(answer: Answer) -> String {
    said(&answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::results::{Change, EventKind};

    const FIRST: &str = "case,visit,date,pressure_mmhg,change,event_kind,event_date\n";

    fn wrong(lines: &str) -> Vec<(u64, Option<&'static str>)> {
        let read = read(format!("{FIRST}{lines}").as_bytes()).unwrap();
        read.wrong.iter().map(|wrong| (wrong.line, wrong.column)).collect()
    }

    #[test]
    fn a_wrong_line_is_named_and_the_rest_kept() {
        let lines = "A-1,week,2026-08-14,17,same,,\nA-2,week,2026-13-01,17,,,\nA-3,week,2026-08-14,17 mmHg,,,\n\
                     A-4,week,2026-08-14,17,better,,\nA-5,week,2026-08-14\nA-6,week,2026-08-14,,gone,,\n,week,2026-08-14,17,,,\n";
        let all = read(format!("{FIRST}{lines}").as_bytes()).unwrap();
        let cases: Vec<&str> = all.outcomes.iter().map(|one| one.case.as_str()).collect();
        assert_eq!(cases, ["A-1", "A-6"]);
        assert_eq!(all.outcomes[1].outcome.change, Change::Gone);
        assert_eq!(
            wrong(lines),
            [(3, Some("date")), (4, Some("pressure_mmhg")), (5, Some("change")), (6, None), (8, Some("case"))]
        );
    }

    #[test]
    fn events_of_one_visit_stand_in_a_line_each() {
        let lines = "A-1,late,2027-02-08,17,,tear,2027-01-02\nA-1,late,2027-02-08,,,detachment,2027-02-01\n";
        let read = read(format!("{FIRST}{lines}").as_bytes()).unwrap();
        let kinds: Vec<EventKind> = read.outcomes[0].outcome.events.iter().map(|event| event.kind).collect();
        assert_eq!(kinds, [EventKind::Tear, EventKind::Detachment]);
        assert_eq!(read.outcomes[0].lines, [2, 3]);
        let table = write([("A-1", &read.outcomes[0].outcome)]);
        assert_eq!(super::read(table.as_bytes()).unwrap().outcomes[0].outcome, read.outcomes[0].outcome);
    }

    #[test]
    fn two_lines_of_a_visit_that_differ_are_both_left_out() {
        let lines = "A-1,week,2026-08-14,17,,,\nA-1,week,2026-08-14,18,,,\nA-2,week,2026-08-14,18,,,\n";
        assert_eq!(wrong(lines), [(2, None), (3, None)]);
        let lines = "A-1,late,2027-02-08,17,,tear,\nA-1,late,2027-02-08,,,tears,\n";
        assert_eq!(wrong(lines), [(2, None), (3, Some("event_kind"))]);
    }

    #[test]
    fn the_table_of_another_program_is_refused() {
        for (text, why) in [
            ("", NotTable::Empty),
            ("case;visit;date\nA;week;2026-08-14\n", NotTable::Column(1)),
            ("case,visit,date,iop\n", NotTable::Column(4)),
            ("case,visit,date,date\n", NotTable::Twice(4)),
            ("visit,date\n", NotTable::Missing("case")),
        ] {
            assert_eq!(read(text.as_bytes()), Err(why), "{text}");
        }
        assert!(read(b"\xEF\xBB\xBFcase,visit,date\n").is_ok(), "a mark of byte order is no column");
    }

    #[test]
    fn a_field_of_ten_megabytes_costs_one_line() {
        let long = "x".repeat(10 << 20);
        let lines = format!("{long},week,2026-08-14,17,,,\nA-2,week,2026-08-14,17,,,\n");
        let read = read(format!("{FIRST}{lines}").as_bytes()).unwrap();
        assert_eq!((read.outcomes.len(), read.wrong[0].line, read.wrong[0].column), (1, 2, Some("case")));
        assert!(read.wrong[0].why.len() < 100, "the field is not quoted");
    }
}

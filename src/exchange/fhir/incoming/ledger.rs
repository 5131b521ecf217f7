//! What was found, entry by entry, and how it becomes one answer: what agrees is taken, what disagrees is asked.

use std::collections::BTreeMap;

use serde_json::{Map, Value};

use super::brought::{Asked, Candidate, Incoming, NotTaken, Origin, Taken, Why};
use crate::packet::version::Version;
use crate::record::date::Date;

/// What was found so far.
#[derive(Debug, Default)]
pub(super) struct Ledger {
    claims: BTreeMap<String, Vec<(Value, Origin)>>,
    asked: BTreeMap<(Option<String>, Why), Vec<Candidate>>,
    lists: BTreeMap<String, List>,
    not_taken: Vec<NotTaken>,
}

/// Entries of one list.
#[derive(Debug, Default)]
struct List {
    entries: Vec<(String, Origin)>,
    /// Sources that say there are none.
    none: Vec<Origin>,
    /// Something belongs to it perhaps: then it is not known.
    open: bool,
}

const ALLERGIES: &str = "/health/allergies";
const ALLERGIES_ASKED: &str = "/health/allergies_asked";

/// Characters of a whole day at the head of a time.
const DAY: usize = "2026-08-07".len();

/// Longest entry of a list of the record, characters.
const LONGEST: usize = 80;

impl Ledger {
    /// A source gives a value.
    pub(super) fn claim(&mut self, key: &str, value: impl Into<Value>, origin: Origin) {
        self.claims.entry(key.to_owned()).or_default().push((value.into(), origin));
    }

    /// A person must say; what the source gives is named.
    pub(super) fn ask(&mut self, key: Option<&str>, why: Why, value: Option<Value>, origin: Origin) {
        self.asked.entry((key.map(str::to_owned), why)).or_default().push(Candidate { value, origin });
    }

    /// Something does not count.
    pub(super) fn leave(&mut self, why: Why, origin: Origin) {
        self.not_taken.push(NotTaken { why, origin });
    }

    /// A source names an entry of a list.
    pub(super) fn entry(&mut self, key: &str, text: &str, origin: Origin) {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if text.chars().count() > LONGEST {
            return self.open(key, Why::DoesNotFit, Some(text), origin);
        }
        self.lists.entry(key.to_owned()).or_default().entries.push((text, origin));
    }

    /// A source says that a list has no entry.
    pub(super) fn none(&mut self, key: &str, origin: Origin) {
        self.lists.entry(key.to_owned()).or_default().none.push(origin);
    }

    /// Something belongs to a list perhaps.
    pub(super) fn open(&mut self, key: &str, why: Why, text: Option<String>, origin: Origin) {
        self.lists.entry(key.to_owned()).or_default().open = true;
        self.ask(Some(key), why, text.map(Value::from), origin);
    }

    /// One answer of all that was found. `fits` says of a draft which of its keys the record does not take.
    pub(super) fn close(mut self, fits: impl Fn(&Value) -> Vec<String>) -> Incoming {
        let mut taken = Vec::new();
        for (key, list) in std::mem::take(&mut self.lists) {
            taken.extend(self.whole(key, list));
        }
        for (key, claims) in std::mem::take(&mut self.claims) {
            taken.extend(self.agreed(key, claims));
        }
        taken.extend(asked_about(&taken));
        let record = self.fitting(&mut taken, fits);
        let asked = self.asked.into_iter();
        let asked = asked.map(|((key, why), candidates)| Asked { key, why, candidates }).collect();
        self.not_taken.sort_by(|one, other| (one.why, &one.origin).cmp(&(other.why, &other.origin)));
        Incoming { version: Version, record, taken, asked, not_taken: self.not_taken }
    }

    /// A list is written when every entry could be placed; whether there are others, only a person can say.
    fn whole(&mut self, key: String, List { entries, none, open }: List) -> Option<Taken> {
        let why = if open { Why::ListOpen } else { Why::Disagree };
        if !entries.is_empty() && (open || !none.is_empty()) {
            entries.into_iter().for_each(|(text, origin)| self.ask(Some(&key), why, Some(text.into()), origin));
            none.into_iter().for_each(|origin| self.ask(Some(&key), why, Some(Value::Array(Vec::new())), origin));
            return None;
        }
        if open {
            return None;
        }
        if !entries.is_empty() {
            self.asked.entry((Some(key.clone()), Why::Whole)).or_default();
        }
        let mut texts: Vec<Value> = Vec::new();
        for text in entries.iter().map(|(text, _)| Value::from(text.as_str())) {
            if !texts.contains(&text) {
                texts.push(text);
            }
        }
        let origins = entries.into_iter().map(|(_, origin)| origin).chain(none).collect();
        Some(Taken { key, value: texts.into(), origins })
    }

    /// What several claims to one key come to: one value, the newest one, or a question.
    fn agreed(&mut self, key: String, claims: Vec<(Value, Origin)>) -> Option<Taken> {
        let claims = if is_measured(&key) { self.newest(claims) } else { claims };
        let (value, _) = claims.first()?.clone();
        if claims.iter().all(|(other, _)| *other == value) {
            return Some(Taken { key, value, origins: claims.into_iter().map(|(_, origin)| origin).collect() });
        }
        for (value, origin) in claims {
            self.ask(Some(&key), Why::Disagree, Some(value), origin);
        }
        None
    }

    /// Of what is measured again and again the last day counts, if every day is known.
    fn newest(&mut self, claims: Vec<(Value, Origin)>) -> Vec<(Value, Origin)> {
        let day = |(_, origin): &(Value, Origin)| origin.on.as_ref()?.get(..DAY)?.parse::<Date>().ok();
        let Some(days) = claims.iter().map(day).collect::<Option<Vec<Date>>>() else { return claims };
        let last = days.into_iter().max();
        let (newest, older) = claims.into_iter().partition(|claim| day(claim) == last);
        let older: Vec<(Value, Origin)> = older;
        older.into_iter().for_each(|(_, origin)| self.leave(Why::Older, origin));
        newest
    }

    /// The record, without what it would refuse.
    fn fitting(&mut self, taken: &mut Vec<Taken>, fits: impl Fn(&Value) -> Vec<String>) -> Value {
        loop {
            let record = record(taken);
            let refused = fits(&record);
            let is_refused = |taken: &Taken| refused.iter().any(|at| lies_within(at, &taken.key));
            if refused.is_empty() {
                return record;
            }
            let before = taken.len();
            let (out, stay): (Vec<Taken>, Vec<Taken>) = std::mem::take(taken).into_iter().partition(is_refused);
            *taken = stay;
            // Nobody can tell which of them is refused: then none of them stands.
            let out = if taken.len() == before { std::mem::take(taken) } else { out };
            // That somebody asked, without the list, would read as "none known".
            if out.iter().any(|one| one.key == ALLERGIES) {
                taken.retain(|one| one.key != ALLERGIES_ASKED);
            }
            for Taken { key, value, origins } in out {
                for origin in origins {
                    self.ask(Some(&key), Why::DoesNotFit, Some(value.clone()), origin);
                }
            }
        }
    }
}

/// A list of allergies is the answer of somebody who was asked.
fn asked_about(taken: &[Taken]) -> Option<Taken> {
    let allergies = taken.iter().find(|one| one.key == ALLERGIES)?;
    Some(Taken { key: ALLERGIES_ASKED.to_owned(), value: "yes".into(), origins: allergies.origins.clone() })
}

/// What changes from one visit to the next.
fn is_measured(key: &str) -> bool {
    ["/eye/pressure_mmhg", "/eye/acuity", "/eye/axial_length_mm", "/eye/last_lens_surgery", "/health/pregnancy"]
        .contains(&key)
}

fn lies_within(pointer: &str, key: &str) -> bool {
    pointer.strip_prefix(key).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

fn record(taken: &[Taken]) -> Value {
    let mut record = Value::Object(Map::new());
    for Taken { key, value, .. } in taken {
        put(&mut record, key, value.clone());
    }
    record
}

fn put(record: &mut Value, pointer: &str, value: Value) {
    let mut at = record;
    for key in pointer.split('/').skip(1) {
        let Value::Object(table) = at else { return };
        at = table.entry(key).or_insert_with(|| Value::Object(Map::new()));
    }
    *at = value;
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn from(resource: &str, on: Option<&str>) -> Origin {
        Origin { resource: resource.into(), on: on.map(str::to_owned), ..Origin::default() }
    }

    fn closed(claims: &[(&str, Value, Origin)]) -> Incoming {
        let mut ledger = Ledger::default();
        claims.iter().for_each(|(key, value, origin)| ledger.claim(key, value.clone(), origin.clone()));
        ledger.close(|_| Vec::new())
    }

    #[test]
    fn what_agrees_is_taken_once_with_both_origins() {
        let key = "/history/glaucoma";
        let found = closed(&[(key, json!("yes"), from("a", None)), (key, json!("yes"), from("b", None))]);
        assert_eq!(found.record, json!({ "history": { "glaucoma": "yes" } }));
        assert_eq!(found.taken[0].origins.len(), 2);
    }

    #[test]
    fn what_disagrees_is_left_out_and_both_are_named() {
        let key = "/health/diabetes";
        let found = closed(&[(key, json!("insulin"), from("a", None)), (key, json!("diet"), from("b", None))]);
        assert_eq!((found.record, found.taken.len()), (json!({}), 0));
        assert_eq!((found.asked[0].why, found.asked[0].candidates.len()), (Why::Disagree, 2));
    }

    #[test]
    fn of_measures_the_last_day_counts_and_two_of_that_day_must_agree() {
        let key = "/eye/pressure_mmhg";
        let measure = |value: i32, on| (key, json!(value), from("a", on));
        let newest = closed(&[measure(15, Some("2026-07-01")), measure(18, Some("2026-07-27T09:00:00Z"))]);
        assert_eq!(newest.record, json!({ "eye": { "pressure_mmhg": 18 } }));
        assert_eq!(newest.not_taken[0].why, Why::Older);
        let same_day = closed(&[measure(15, Some("2026-07-27")), measure(18, Some("2026-07-27"))]);
        assert_eq!((same_day.record, same_day.asked[0].why), (json!({}), Why::Disagree));
        let no_day = closed(&[measure(15, None), measure(18, Some("2026-07-27"))]);
        assert_eq!(no_day.asked[0].why, Why::Disagree);
        let a_year = closed(&[measure(15, Some("2025")), measure(18, Some("2026-07-27"))]);
        assert_eq!(a_year.asked[0].why, Why::Disagree);
    }

    #[test]
    fn what_the_record_refuses_is_asked_and_all_else_stays() {
        let mut ledger = Ledger::default();
        ledger.claim("/eye/pressure_mmhg", 300, from("a", None));
        ledger.claim("/history/glaucoma", "yes", from("b", None));
        let fits = |record: &Value| {
            let high = record.pointer("/eye/pressure_mmhg").is_some();
            if high { vec!["/eye/pressure_mmhg".to_owned()] } else { Vec::new() }
        };
        let found = ledger.close(fits);
        assert_eq!(found.record, json!({ "history": { "glaucoma": "yes" } }));
        assert_eq!(found.asked[0].why, Why::DoesNotFit);
    }
}

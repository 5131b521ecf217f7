//! What a page sends back, merged into the case: only what was changed on that page, field by field.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use super::raw::{self, ELSEWHERE, Entered, NONE, Raw, SHOWN, UNKNOWN};
use super::{Form, Section, Step, completes, is_within, quiet_word};
use crate::record::date::LocalTime;
use crate::record::form::{Format, Kind};
use crate::record::typed::Around;
use crate::register::CaseFile;

/// The fields that came, by name.
pub(in crate::desk) type Fields = BTreeMap<String, String>;

/// Most entries a page may send for one list; the record allows fewer in each.
const MOST: usize = 100;

/// What the page that sends fields knew.
#[derive(Debug, Clone, Copy)]
pub(in crate::desk) struct Seen<'a> {
    /// The case as it showed it, if that is still known.
    pub(in crate::desk) base: Option<&'a CaseFile>,
    /// What it sent before, perhaps without having got an answer: its own words are nobody else's.
    pub(in crate::desk) sent: Option<&'a Fields>,
}

/// The case with what came; `now` is the case as it is: what somebody else changed since the page was shown is kept, and what
/// was typed against it stands beside it.
pub(in crate::desk) fn apply(
    form: &Form,
    step: Step,
    fields: &Fields,
    Seen { base, sent }: Seen,
    now: &CaseFile,
    around: Around,
) -> CaseFile {
    let mut file = now.clone();
    for pointer in pointers(form, step, fields) {
        let posted = posted(fields, &pointer);
        let is = raw::of(form, now, &pointer, around.names);
        let was = base.map(|base| raw::of(form, base, &pointer, around.names));
        let told = base.is_some_and(|base| base.typed.contains_key(&format!("{ELSEWHERE}{pointer}")));
        let own = sent.map(|sent| self::posted(sent, &pointer));
        if was.as_ref() == Some(&posted) && !told && own.as_ref().is_none_or(|own| *own == posted) {
            continue;
        }
        file.typed.remove(&format!("{ELSEWHERE}{pointer}"));
        let around = on_its_day(around, &file, &pointer);
        if says_the_same(form, &pointer, &posted, &is, around) {
            continue;
        }
        let empty = Raw::default();
        let is_own = own.is_some_and(|own| says_the_same(form, &pointer, &own, &is, around));
        if is_own || was.as_ref().unwrap_or(&empty) == &is {
            enter(form, &mut file, &pointer, &posted, around);
        } else if was.is_some() || posted != empty {
            file.typed.insert(format!("{ELSEWHERE}{pointer}"), posted.text);
        }
    }
    tidy(form, step, &mut file);
    file
}

/// Whether two texts are one value: `7:00` typed and `7:00 AM` shown back.
fn says_the_same(form: &Form, pointer: &str, one: &Raw, other: &Raw, around: Around) -> bool {
    let value = |raw: &Raw| form.key(pointer).map(|key| raw::read(key, raw, around));
    one == other
        || matches!((value(one), value(other)), (Some(Entered::Value(one)), Some(Entered::Value(other))) if one == other)
}

/// Answers a section as a whole: what says nothing yet says no.
pub(in crate::desk) fn answer_whole(form: &Form, section: &Section, file: &mut CaseFile) {
    let open: Vec<&str> = form.not_asked(section, &file.record).filter(|key| !file.typed.contains_key(*key)).collect();
    let quiet: Vec<(String, Value)> = open
        .into_iter()
        .filter_map(|pointer| Some((pointer.to_owned(), json!(quiet_word(form.key(pointer)?)?))))
        .collect();
    for (pointer, word) in quiet {
        put(&mut file.record, &pointer, word);
    }
}

/// Takes a key out, with what was typed for it.
pub(in crate::desk) fn take_out(file: &mut CaseFile, pointer: &str) {
    remove(&mut file.record, pointer);
    file.typed.retain(|name, _| !is_within(name.trim_start_matches([UNKNOWN, NONE, ELSEWHERE]), pointer));
}

/// Chooses one of the ways in which something typed can be read, or the name that was meant.
pub(in crate::desk) fn choose(form: &Form, file: &mut CaseFile, pointer: &str, value: &str) {
    if form.key(pointer).is_some() && (file.typed.contains_key(pointer) || completes(pointer)) {
        file.typed.remove(pointer);
        put(&mut file.record, pointer, json!(value));
    }
}

/// The keys of a step that came, in the order of the record.
fn pointers(form: &Form, step: Step, fields: &Fields) -> Vec<String> {
    let sections: Vec<&Section> = form.sections_of(step).collect();
    let of_step =
        |pointer: &&str| sections.iter().any(|section| section.keys.iter().any(|key| is_within(pointer, key)));
    let plain = |name: &'_ str| name.trim_start_matches([UNKNOWN, NONE, SHOWN]).to_owned();
    let names: BTreeSet<String> = fields.keys().map(|name| plain(name)).collect();
    let names = names.into_iter().filter(|name| of_step(&name.as_str()) && form.key(name).is_some());
    names.filter(|name| entries(name).all(|at| at < MOST)).collect()
}

/// The places in lists that a pointer names.
fn entries(pointer: &str) -> impl Iterator<Item = usize> + '_ {
    pointer.split('/').filter_map(|token| token.parse().ok())
}

fn posted(fields: &Fields, pointer: &str) -> Raw {
    let ticked = |before: char| fields.contains_key(&format!("{before}{pointer}"));
    let text = fields.get(pointer).cloned().unwrap_or_default();
    Raw { text, unknown: ticked(UNKNOWN), none: ticked(NONE) }
}

/// A time of the treatment is on the day of the session.
fn on_its_day<'n>(around: Around<'n>, file: &CaseFile, pointer: &str) -> Around<'n> {
    let day = file.text("/plan/start").and_then(|start| start.parse::<LocalTime>().ok()).map(|start| start.0.date());
    Around { day: day.filter(|_| is_within(pointer, "/treatment")), ..around }
}

fn enter(form: &Form, file: &mut CaseFile, pointer: &str, posted: &Raw, around: Around) {
    let Some(key) = form.key(pointer) else { return };
    for before in ["", "~", "="] {
        file.typed.remove(&format!("{before}{pointer}"));
    }
    let holds_entries = file.record.pointer(pointer).is_some_and(|value| match value {
        Value::Array(entries) => !entries.is_empty(),
        Value::Object(table) => !table.is_empty(),
        _ => false,
    });
    let is_table = matches!(key.kind, Kind::List | Kind::Table);
    match raw::read(key, posted, around) {
        // The entries of a list stand for themselves.
        Entered::Nothing if is_table => {
            if !holds_entries {
                remove(&mut file.record, pointer);
            }
        }
        Entered::Value(_) if is_table && holds_entries => keep_typed(file, pointer, posted),
        Entered::Nothing => remove(&mut file.record, pointer),
        Entered::Value(value) => put(&mut file.record, pointer, value),
        Entered::Wrong(_) => {
            if !is_table {
                remove(&mut file.record, pointer);
            }
            keep_typed(file, pointer, posted);
        }
    }
}

fn keep_typed(file: &mut CaseFile, pointer: &str, posted: &Raw) {
    file.typed.insert(pointer.to_owned(), posted.text.clone());
    for (before, ticked) in [(UNKNOWN, posted.unknown), (NONE, posted.none)] {
        if ticked {
            file.typed.insert(format!("{before}{pointer}"), "on".into());
        }
    }
}

/// Writes a time into a field that takes one.
pub(in crate::desk) fn set_time(form: &Form, file: &mut CaseFile, pointer: &str, at: LocalTime) {
    if form.key(pointer).is_some_and(|key| key.format == Some(Format::LocalTime)) {
        take_out(file, pointer);
        put(&mut file.record, pointer, json!(at));
    }
}

/// Adds an entry to a list.
pub(in crate::desk) fn append(record: &mut Value, list: &str, entry: Value) {
    let at = record.pointer(list).and_then(Value::as_array).map_or(0, Vec::len);
    put(record, &format!("{list}/{at}"), entry);
}

/// Writes a value, with the tables and entries on the way to it.
pub(in crate::desk) fn put(record: &mut Value, pointer: &str, value: Value) {
    let mut place = record;
    for token in pointer.split('/').skip(1) {
        place = match token.parse::<usize>() {
            Ok(at) => {
                if !place.is_array() {
                    *place = json!([]);
                }
                let entries = place.as_array_mut().expect("it was made one");
                while entries.len() <= at {
                    entries.push(Value::Null);
                }
                &mut entries[at]
            }
            Err(_) => {
                if !place.is_object() {
                    *place = Value::Object(Map::new());
                }
                place.as_object_mut().expect("it was made one").entry(token).or_insert(Value::Null)
            }
        };
    }
    *place = value;
}

/// Takes a value out, and the tables that are empty without it.
fn remove(record: &mut Value, pointer: &str) {
    let Some((parent, key)) = pointer.rsplit_once('/') else { return };
    match record.pointer_mut(parent) {
        Some(Value::Object(table)) => {
            table.remove(key);
            if table.is_empty() && !parent.is_empty() {
                remove(record, parent);
            }
        }
        // An entry keeps its place until all are moved together.
        Some(Value::Array(entries)) => {
            if let Some(entry) = key.parse::<usize>().ok().and_then(|at| entries.get_mut(at)) {
                *entry = Value::Null;
            }
        }
        _ => {}
    }
}

/// Moves the entries of the lists of a step together; what was typed moves with its entry. A list that lost its last entry
/// was not asked.
fn tidy(form: &Form, step: Step, file: &mut CaseFile) {
    let keys = form.sections_of(step).flat_map(|section| &section.keys);
    let lists: Vec<&String> = keys.filter(|key| form.key(key).is_some_and(|key| key.kind == Kind::List)).collect();
    for list in lists {
        let Some(Value::Array(entries)) = file.record.pointer_mut(list) else { continue };
        let had = entries.len();
        let typed_in = |at: usize| {
            let entry = format!("{list}/{at}");
            file.typed.keys().any(|name| is_within(name.trim_start_matches([UNKNOWN, ELSEWHERE]), &entry))
        };
        let stays: Vec<usize> = (0..had).filter(|at| !entries[*at].is_null() || typed_in(*at)).collect();
        let kept = stays.iter().map(|at| if entries[*at].is_null() { json!({}) } else { entries[*at].clone() });
        *entries = kept.collect();
        let is_empty = entries.is_empty();
        move_typed(file, list, &stays);
        if is_empty && had > 0 {
            remove(&mut file.record, list);
        }
    }
}

fn move_typed(file: &mut CaseFile, list: &str, stays: &[usize]) {
    let moved = |name: &str| -> Option<String> {
        let (before, rest) = name.split_once(&format!("{list}/"))?;
        let (at, rest) = rest.split_once('/').map_or((rest, String::new()), |(at, rest)| (at, format!("/{rest}")));
        let to = stays.iter().position(|stay| Some(*stay) == at.parse().ok())?;
        Some(format!("{before}{list}/{to}{rest}"))
    };
    let typed = std::mem::take(&mut file.typed).into_iter();
    file.typed = typed.map(|(name, text)| (moved(&name).unwrap_or(name), text)).collect();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::Assets;
    use crate::record::typed::Names;
    use std::sync::LazyLock;

    fn form() -> Form {
        Form::load(&Assets::default()).unwrap()
    }

    fn around() -> Around<'static> {
        static NAMES: LazyLock<Names> = LazyLock::new(|| {
            let mut names = Names::default();
            names.add([("february", "february"), ("august", "august")]);
            names
        });
        Around { today: "2026-08-04".parse().unwrap(), day: None, names: &NAMES }
    }

    fn fields(all: &[(&str, &str)]) -> Fields {
        all.iter().map(|(name, text)| ((*name).into(), (*text).into())).collect()
    }

    fn shown(base: &CaseFile) -> Seen<'_> {
        Seen { base: Some(base), sent: None }
    }

    fn saved(step: Step, now: &CaseFile, all: &[(&str, &str)]) -> CaseFile {
        apply(&form(), step, &fields(all), shown(now), now, around())
    }

    #[test]
    fn what_was_typed_stands_and_what_is_wrong_is_kept_as_typed() {
        let empty = CaseFile::default();
        let case = saved(Step::Desk, &empty, &[("/patient/name", "Rosa"), ("/patient/birth_date", "feb 31 1971")]);
        assert_eq!(case.record, json!({ "patient": { "name": "Rosa" } }));
        assert_eq!(case.typed["/patient/birth_date"], "feb 31 1971");
        let mended = saved(Step::Desk, &case, &[("/patient/name", "Rosa"), ("/patient/birth_date", "feb 3 1971")]);
        assert_eq!(mended.record["patient"]["birth_date"], json!("1971-02-03"));
        assert!(mended.typed.is_empty());
    }

    #[test]
    fn a_page_changes_its_own_step_and_keys_there_are() {
        let posted =
            [("/eye/lens", "implant"), ("/answers/0/by", "Mallory"), ("/no/such", "x"), ("/treatment/leaves", "9")];
        assert_eq!(saved(Step::Desk, &CaseFile::default(), &posted), CaseFile::default());
        let far = [("/health/medicines/99999999", "x")];
        assert_eq!(saved(Step::Nurse, &CaseFile::default(), &far), CaseFile::default());
    }

    #[test]
    fn two_tabs_keep_what_each_changed() {
        let form = form();
        let base = saved(Step::Desk, &CaseFile::default(), &[("/patient/name", "Rosa"), ("/plan/place", "Room 1")]);
        let now = saved(Step::Desk, &base, &[("/patient/name", "Rosa Beispiel")]);
        let other = fields(&[("/patient/name", "Rosa"), ("/plan/place", "Room 2")]);
        let both = apply(&form, Step::Desk, &other, shown(&base), &now, around());
        assert_eq!(both.record["patient"]["name"], json!("Rosa Beispiel"));
        assert_eq!(both.record["plan"]["place"], json!("Room 2"));
        let against = fields(&[("/patient/name", "Rose"), ("/plan/place", "Room 1")]);
        let kept = apply(&form, Step::Desk, &against, shown(&base), &now, around());
        assert_eq!(
            (&kept.record["patient"]["name"], kept.typed["!/patient/name"].as_str()),
            (&json!("Rosa Beispiel"), "Rose")
        );
        let again = apply(&form, Step::Desk, &fields(&[("/patient/name", "Rose")]), shown(&kept), &kept, around());
        assert_eq!((&again.record["patient"]["name"], again.typed.len()), (&json!("Rose"), 0));
    }

    /// A save that is under way when somebody leaves: the page sends once more before it has its answer.
    #[test]
    fn a_page_does_not_contradict_itself() {
        let base = saved(Step::Desk, &CaseFile::default(), &[("/patient/name", "Rosa"), ("/plan/place", "Room 1")]);
        let first = fields(&[("/patient/name", "Rosa B"), ("/plan/place", "Room 1")]);
        let now = apply(&form(), Step::Desk, &first, shown(&base), &base, around());
        let seen = Seen { base: Some(&base), sent: Some(&first) };
        for last in ["Rosa Beispiel", "Rosa"] {
            let last = fields(&[("/patient/name", last), ("/plan/place", "Room 1")]);
            let kept = apply(&form(), Step::Desk, &last, seen, &now, around());
            assert_eq!((&kept.record["patient"]["name"], kept.typed.len()), (&json!(last["/patient/name"]), 0));
        }
        let others = saved(Step::Desk, &now, &[("/patient/name", "Ines"), ("/plan/place", "Room 1")]);
        let last = fields(&[("/patient/name", "Rosa Beispiel"), ("/plan/place", "Room 1")]);
        let kept = apply(&form(), Step::Desk, &last, seen, &others, around());
        assert_eq!((&kept.record["patient"]["name"], kept.typed.len()), (&json!("Ines"), 1), "another's words stand");
    }

    /// A tab that was left open over night, of which nobody knows any longer what it showed.
    #[test]
    fn a_tab_of_yesterday_overwrites_nothing() {
        let now = saved(Step::Desk, &CaseFile::default(), &[("/patient/name", "Rosa"), ("/plan/place", "Room 2")]);
        let tab = [("/patient/name", "Rose"), ("/plan/place", ""), ("/patient/record_number", "000-900")];
        let kept = apply(&form(), Step::Desk, &fields(&tab), Seen { base: None, sent: None }, &now, around());
        assert_eq!(kept.record["patient"], json!({ "name": "Rosa", "record_number": "000-900" }));
        assert_eq!((&kept.record["plan"]["place"], kept.typed["!/patient/name"].as_str()), (&json!("Room 2"), "Rose"));
        assert_eq!(kept.typed.len(), 1);
    }

    #[test]
    fn the_entries_of_a_list_close_up_with_what_was_typed_in_them() {
        let row = |at: usize, key: &str| format!("/plan/visits/{at}/{key}");
        let names = [row(0, "visit"), row(0, "at"), row(1, "visit"), row(1, "at")];
        let values = |texts: [&'static str; 4]| names.iter().map(String::as_str).zip(texts).collect::<Vec<_>>();
        let case = saved(Step::Desk, &CaseFile::default(), &values(["week", "14 aug 9:20", "month", "feb 31"]));
        assert_eq!(case.record["plan"]["visits"][1], json!({ "visit": "month" }));
        let case = saved(Step::Desk, &case, &values(["", "", "month", "feb 31"]));
        assert_eq!(case.record["plan"]["visits"], json!([{ "visit": "month" }]));
        assert_eq!(case.typed[&row(0, "at")], "feb 31");
        let case = saved(Step::Desk, &case, &values(["", "", "", ""]));
        assert_eq!((&case.record, case.typed.len()), (&json!({}), 0));
    }

    #[test]
    fn none_is_an_answer_and_the_last_entry_taken_out_is_not() {
        let none =
            saved(Step::Nurse, &CaseFile::default(), &[("=/health/medicines", "on"), ("/health/medicines/0", "")]);
        assert_eq!(none.record["health"]["medicines"], json!([]));
        let some = saved(Step::Nurse, &none, &[(":/health/medicines", ""), ("/health/medicines/0", "lisinopril")]);
        assert_eq!(some.record["health"]["medicines"], json!(["lisinopril"]));
        let gone = saved(Step::Nurse, &some, &[(":/health/medicines", ""), ("/health/medicines/0", "")]);
        assert_eq!(gone.record, json!({}));
        let both = saved(Step::Nurse, &some, &[("=/health/medicines", "on"), ("/health/medicines/0", "lisinopril")]);
        assert_eq!(both.record["health"]["medicines"], json!(["lisinopril"]));
        assert!(both.typed.contains_key("=/health/medicines"));
        let unknown = saved(Step::Nurse, &CaseFile::default(), &[("~/health/medicines", "on")]);
        assert_eq!(unknown.record["health"]["medicines"], json!("unknown"));
    }

    #[test]
    fn a_time_of_the_treatment_is_on_its_day() {
        let case = CaseFile::of(json!({ "plan": { "start": "2026-08-07T10:00" } }));
        let case =
            saved(Step::Treatment, &case, &[("/treatment/last_pulse", "1040"), ("/treatment/rows/0/pulses", "24")]);
        assert_eq!(case.record["treatment"], json!({ "last_pulse": "2026-08-07T10:40", "rows": [{ "pulses": 24 }] }));
    }

    #[test]
    fn a_section_answered_as_a_whole_leaves_what_stands() {
        let form = form();
        let mut case = CaseFile::of(json!({ "health": { "asthma": "yes", "copd": "unknown" } }));
        answer_whole(&form, form.section_of("/health/asthma").unwrap(), &mut case);
        let health = &case.record["health"];
        assert_eq!((&health["asthma"], &health["copd"]), (&json!("yes"), &json!("unknown")));
        assert_eq!((&health["heart_block"], &health["pacemaker"]), (&json!("none"), &json!("no")));
        assert!(health.get("diabetes").is_none());
    }
}

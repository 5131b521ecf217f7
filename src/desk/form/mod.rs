//! The form of a case: its sections from `templates/desk/form.toml`, everything else from the record's own description.

mod found;
pub(super) mod raw;
pub(super) mod save;
pub(super) mod view;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::error::DeskError;
use crate::assets::{Assets, LoadError, layers};
use crate::record::Record;
use crate::record::form::{self, Key, Kind, KnownBy};

const FILE: &str = "templates/desk/form.toml";

/// Who opens a section first, or when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Step {
    /// The front desk.
    Desk,
    /// The nurse.
    Nurse,
    /// The surgeon.
    Surgeon,
    /// After the laser.
    Treatment,
}

impl Step {
    pub(super) const ALL: [Self; 4] = [Self::Desk, Self::Nurse, Self::Surgeon, Self::Treatment];

    /// As addresses and files name it.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Desk => "desk",
            Self::Nurse => "nurse",
            Self::Surgeon => "surgeon",
            Self::Treatment => "treatment",
        }
    }

    pub(super) fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|step| step.word() == word)
    }
}

/// One section.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Section {
    pub(super) step: Step,
    pub(super) id: String,
    /// Whether it may be answered as a whole.
    #[serde(default)]
    pub(super) none: bool,
    pub(super) keys: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    section: Vec<Section>,
}

/// The form of a case.
#[derive(Debug)]
pub(super) struct Form {
    pub(super) sections: Vec<Section>,
    keys: BTreeMap<String, Key>,
    /// In the order in which they are written.
    order: Vec<String>,
}

impl Form {
    /// Reads the sections; each names keys that there are.
    pub(super) fn load(assets: &Assets) -> Result<Self, DeskError> {
        let text = assets.get(FILE).ok_or_else(|| LoadError::no_file(FILE, "the program brings it"))?;
        let File { section: sections } = layers::table(&text).map_err(DeskError::in_file(FILE))?;
        let described = form::describe::<Record>().keys;
        let order = described.iter().map(|key| key.pointer.clone()).collect();
        let keys: BTreeMap<String, Key> = described.into_iter().map(|key| (key.pointer.clone(), key)).collect();
        match sections.iter().flat_map(|section| &section.keys).find(|pointer| !keys.contains_key(*pointer)) {
            Some(lost) => Err(DeskError::Text(format!("{FILE}: the record has no key {lost}"))),
            None => Ok(Self { sections, keys, order }),
        }
    }

    /// What the record says of a key; an entry of a list is any entry.
    pub(super) fn key(&self, pointer: &str) -> Option<&Key> {
        self.keys.get(&any_entry(pointer))
    }

    /// The keys directly below one, in their order.
    pub(super) fn below<'a>(&'a self, pointer: &'a str) -> impl Iterator<Item = &'a Key> {
        self.order.iter().filter_map(|key| self.keys.get(key)).filter(move |key| key.parent() == pointer)
    }

    /// The section in which a key, or what it stands in, is filled in.
    pub(super) fn section_of(&self, pointer: &str) -> Option<&Section> {
        let holds = |section: &&Section| section.keys.iter().any(|key| is_within(pointer, key));
        self.sections.iter().find(holds).or_else(|| {
            // Of a table that is spread over a section, its keys tell.
            self.sections.iter().find(|section| section.keys.iter().any(|key| is_within(key, pointer)))
        })
    }

    /// The field of a key; of a table that is spread over a section its first field.
    pub(super) fn field_of<'a>(&'a self, pointer: &'a str) -> Option<&'a str> {
        let mut keys = self.sections.iter().flat_map(|section| &section.keys).map(String::as_str);
        if self.place(pointer).is_some() { Some(pointer) } else { keys.find(|key| is_within(key, pointer)) }
    }

    /// Where a key, or what it stands in, is asked for: counted through all sections.
    pub(super) fn place(&self, pointer: &str) -> Option<usize> {
        self.sections.iter().flat_map(|section| &section.keys).position(|key| is_within(pointer, key))
    }

    pub(super) fn sections_of(&self, step: Step) -> impl Iterator<Item = &Section> {
        self.sections.iter().filter(move |section| section.step == step)
    }

    /// Whether a key has a meaning in this record: it and the tables it lies in.
    pub(super) fn applies(&self, pointer: &str, record: &Value) -> bool {
        let ends = pointer.match_indices('/').skip(1).map(|(at, _)| at).chain([pointer.len()]);
        ends.filter_map(|end| self.key(&pointer[..end]))
            .all(|key| key.applies.iter().all(|condition| condition.holds(record)))
    }

    /// The keys of a section that somebody is asked about and that say nothing yet, in a record.
    pub(super) fn not_asked<'a>(&'a self, section: &'a Section, record: &'a Value) -> impl Iterator<Item = &'a str> {
        let asked = |key: &Key| key.may_be_unknown && key.kind != Kind::Table;
        let keys = section.keys.iter().map(String::as_str);
        keys.filter(move |pointer| {
            self.key(pointer).is_some_and(asked) && record.pointer(pointer).is_none() && self.applies(pointer, record)
        })
    }
}

/// Whether somebody may fill in a step: the desk its own, the nurse also what was asked, measured and given, the surgeon all.
pub(super) fn may_fill(role: KnownBy, step: Step) -> bool {
    match role {
        KnownBy::Surgeon => true,
        KnownBy::Nurse => step != Step::Surgeon,
        KnownBy::Desk => step == Step::Desk,
    }
}

impl Form {
    /// Whether somebody may fill in a key of a step: of the treatment, the nurse what was measured and given.
    pub(super) fn may_fill(&self, role: KnownBy, step: Step, pointer: &str) -> bool {
        let nurse_knows = || self.key(pointer).and_then(|key| key.known_by) == Some(KnownBy::Nurse);
        may_fill(role, step) && (step != Step::Treatment || role == KnownBy::Surgeon || nurse_knows())
    }
}

/// Lists of what is taken already, by name.
const IN_USE: [&str; 2] = ["/health/medicines", "/health/eye_drops"];

/// Whether what is typed here is completed from the names that are known.
fn completes(pointer: &str) -> bool {
    IN_USE.iter().any(|list| pointer != *list && is_within(pointer, list))
}

/// Whether a key is another one or lies in it.
pub(super) fn is_within(pointer: &str, table: &str) -> bool {
    pointer.strip_prefix(table).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// The word that means no among those of a key.
pub(super) fn quiet_word(key: &Key) -> Option<&str> {
    key.words.iter().map(|word| word.word.as_str()).find(|word| matches!(*word, "no" | "none"))
}

fn any_entry(pointer: &str) -> String {
    let token = |token: &str| if token.parse::<usize>().is_ok() { "*" } else { token }.to_owned();
    pointer.split('/').map(token).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::samples;
    use crate::demo;
    use crate::desk::words::Words;

    /// What a person signs is not filled in.
    const SIGNED: [&str; 3] = ["/answers", "/tailoring", "/surgeon_words"];

    #[test]
    fn every_key_is_filled_in_once() {
        let form = Form::load(&Assets::default()).unwrap();
        for key in form.keys.values() {
            let inside = |pointer: &&String| is_within(&key.pointer, pointer);
            let times = form.sections.iter().flat_map(|section| &section.keys).filter(inside).count();
            let signed = SIGNED.iter().any(|signed| is_within(&key.pointer, signed));
            let holds_others = form
                .sections
                .iter()
                .flat_map(|section| &section.keys)
                .any(|below| is_within(below, &key.pointer) && *below != key.pointer);
            let expected = usize::from(!signed && !holds_others);
            assert_eq!(times, expected, "{}", key.pointer);
        }
    }

    #[test]
    fn what_is_answered_as_a_whole_can_say_no() {
        let form = Form::load(&Assets::default()).unwrap();
        for section in form.sections.iter().filter(|section| section.none) {
            for pointer in &section.keys {
                assert!(quiet_word(form.key(pointer).unwrap()).is_some(), "{pointer}");
            }
        }
    }

    /// The keys of the form and all they hold.
    fn keys(form: &Form) -> Vec<&Key> {
        let mut keys: Vec<&Key> =
            form.sections.iter().flat_map(|section| &section.keys).filter_map(|key| form.key(key)).collect();
        let mut at = 0;
        while let Some(key) = keys.get(at) {
            keys.extend(form.below(&key.pointer));
            at += 1;
        }
        keys
    }

    #[test]
    fn every_section_field_and_choice_has_its_words() {
        let (practice, form) = (demo::practice(&samples()).unwrap(), Form::load(&Assets::default()).unwrap());
        let words = Words::load(&practice).unwrap();
        for section in &form.sections {
            words.word(&format!("section.{}", section.id)).unwrap();
        }
        for key in keys(&form) {
            let column = format!("column.{}", key.name());
            let label = words.label(&key.pointer).or_else(|_| words.word(&column));
            assert!(key.name() == "*" || label.is_ok(), "{} has no label", key.pointer);
            for word in &key.words {
                words.choice(&key.pointer, &word.word).unwrap_or_else(|error| panic!("{}: {error}", key.pointer));
            }
        }
    }

    #[test]
    fn a_key_applies_with_the_tables_around_it() {
        let form = Form::load(&Assets::default()).unwrap();
        let record = |lens: &str| serde_json::json!({ "eye": { "lens": lens, "capsule": { "state": "open" } } });
        assert!(form.applies("/eye/capsule/opening_mm", &record("implant")));
        assert!(!form.applies("/eye/capsule/opening_mm", &record("natural")));
        assert!(!form.applies("/eye/implant/adds_d/0", &record("natural")));
        assert!(form.applies("/patient/name", &record("natural")));
    }
}

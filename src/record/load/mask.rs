//! A file as anybody may see it: who the patient is, and every free text, is masked.
//!
//! Shown are keys and the values of keys whose form is closed: words of a list, numbers, times, names of what the practice
//! has. All else is masked, also comments and what could not be read.

use std::collections::BTreeMap;
use std::sync::Arc;

use schemars::JsonSchema;
use serde_json::Value;

use crate::diag::{SourceFile, Span};
use crate::record::form::schema::PerType;
use crate::record::form::{self, Key, Kind};
use crate::record::locate::{self, Line};
use crate::record::nearest;

/// The file with the same places and lengths, and without anything private. A file that holds no patient stays as it is.
///
/// ```
/// use vitreoleaf::record::{Record, load};
///
/// let file = load::source("case.toml", b"[patient]\nname = 'Ada Example'   # a cousin\nprint = 'large'\n").unwrap();
/// let shown = load::masked::<Record>(&file).text;
/// assert_eq!(shown, "[patient]\nname = '*** *******'   # * ******\nprint = 'large'\n");
/// ```
#[must_use]
pub fn masked<T: JsonSchema>(file: &SourceFile) -> SourceFile {
    let form = Shown::of::<T>();
    if !form.holds_a_patient {
        return file.clone();
    }
    let (tree, _) = locate::read(file);
    let mut shown: Vec<Span> = Vec::new();
    for (pointer, key, value) in tree.spans.all() {
        shown.extend(key.filter(|_| form.is_like_a_key(pointer)).cloned());
        let is_shown = tree.value.pointer(pointer).is_some_and(|value| form.shows(pointer, value));
        shown.extend(is_shown.then(|| value.clone()));
    }
    shown.extend(tree.unread_lines().iter().filter_map(|line| form.readable(line, &file.text)));
    SourceFile { name: file.name.clone(), text: mask(&file.text, shown) }
}

/// Which keys of a form may be shown with their value.
struct Shown {
    holds_a_patient: bool,
    keys: BTreeMap<String, Key>,
}

impl Shown {
    fn of<T: JsonSchema>() -> Arc<Self> {
        static SHOWN: PerType<Shown> = PerType::new();
        SHOWN.of::<T>(Self::build::<T>)
    }

    fn build<T: JsonSchema>() -> Self {
        let keys = form::describe::<T>().keys;
        let holds_a_patient = keys.iter().any(|key| key.private);
        Self { holds_a_patient, keys: keys.into_iter().map(|key| (key.pointer.clone(), key)).collect() }
    }

    fn key(&self, pointer: &str) -> Option<&Key> {
        let any = |token: &str| if token.parse::<usize>().is_ok() { "*".to_owned() } else { token.to_owned() };
        let pattern = pointer.split('/').map(any).collect::<Vec<_>>().join("/");
        self.keys.get(&pattern)
    }

    /// Whether the key at a pointer is one of the form, or like one.
    fn is_like_a_key(&self, pointer: &str) -> bool {
        self.key(pointer).is_some() || self.is_near_a_key(pointer)
    }

    fn is_near_a_key(&self, pointer: &str) -> bool {
        let (table, key) = pointer.rsplit_once('/').unwrap_or_default();
        let within = |known: &&String| known.rsplit_once('/').is_some_and(|(parent, _)| parent == table);
        let here: Vec<&str> = self.keys.keys().filter(within).map(|known| locate::last(known)).collect();
        let anywhere: Vec<&str> = self.keys.keys().map(|known| locate::last(known)).collect();
        nearest::is_like_a_key(key, &here, &anywhere)
    }

    fn shows(&self, pointer: &str, value: &Value) -> bool {
        let Some(key) = self.key(pointer).filter(|key| !key.private) else { return false };
        match value {
            Value::Object(_) | Value::Array(_) => false,
            Value::String(text) => has_its_form(key, text),
            _ => true,
        }
    }

    /// The part of a line that could not be read which may be shown: the head of a table, a key of the form, and what follows
    /// a key that holds one value.
    fn readable(&self, line: &Line, text: &str) -> Option<Span> {
        let written = &text[line.span.clone()];
        let until = |mark: char| line.span.start + written.find(mark).unwrap_or(written.len());
        if line.is_header {
            return Some(line.span.start..until(']'));
        }
        let (pointer, place) = line.key.as_ref()?;
        let key = self.key(pointer)?;
        let holds_one = !key.private && !matches!(key.kind, Kind::Table | Kind::OneKey | Kind::List);
        let value = text[place.end..until('#').max(place.end)].trim_matches([' ', '\t', '=', ':', '"', '\'']);
        Some(place.start..if holds_one && has_its_form(key, value) { until('#') } else { place.end })
    }
}

/// Whether a text could be meant for a key of a closed form: one of its words or near to one, something with the digits of a
/// number or a date, a name that the practice gave. What else stands there may be a patient's name.
fn has_its_form(key: &Key, text: &str) -> bool {
    if key.kind == Kind::Word {
        let words: Vec<&str> = key.words.iter().map(|word| word.word.as_str()).collect();
        return words.contains(&text) || nearest::meant(text, &words).is_some();
    }
    key.names.is_some() && is_an_id(text) || text == "unknown" || text.contains(char::is_numeric)
}

/// Whether a text is written as the files of a practice name something.
fn is_an_id(text: &str) -> bool {
    text.chars().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || ['-', '_'].contains(&letter))
}

/// Every letter and digit outside some places replaced, so that all places and columns stay.
fn mask(text: &str, mut shown: Vec<Span>) -> String {
    shown.sort_by_key(|span| span.start);
    let mut next = shown.into_iter().peekable();
    let mut open = 0;
    text.char_indices()
        .map(|(at, character)| {
            while let Some(span) = next.next_if(|span| span.start <= at) {
                open = open.max(span.end);
            }
            let is_mark = character.is_ascii_punctuation() || character.is_whitespace();
            if at < open || is_mark { character.to_string() } else { masking(character).into() }
        })
        .collect()
}

/// As many bytes as the character has, and as many characters but for the rarest.
fn masking(character: char) -> &'static str {
    match character.len_utf8() {
        1 => "*",
        2 => "·",
        3 => "•",
        _ => "****",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Record, profile::Profile};

    fn shown(text: &str) -> String {
        masked::<Record>(&SourceFile { name: "a".into(), text: text.into() }).text
    }

    #[test]
    fn what_cannot_be_read_is_shown_as_far_as_its_key_allows() {
        let text = "[patient]\nname = Ada É\n[eye]\nside = right # Ada\nAda wrote this\n[eye] Ada\nlens: Ada\n";
        let expected = "[patient]\nname = *** ·\n[eye]\nside = right # ***\n*** ***** ****\n[eye] ***\nlens: ***\n";
        assert_eq!(shown(text), expected);
        assert_eq!(shown("{\"eye\": {\"side\": \"Ada\""), "{\"***\": {\"****\": \"***\"");
    }

    #[test]
    fn what_has_not_the_form_of_its_key_is_masked() {
        let text = "[eye]\nside = 'Ada Example'\nlens = 'implnt'\npressure_mmhg = 'Ada'\naxial_length_mm = '24 mm'\n";
        let expected =
            "[eye]\nside = '*** *******'\nlens = 'implnt'\npressure_mmhg = '***'\naxial_length_mm = '24 mm'\n";
        assert_eq!(shown(text), expected);
        assert_eq!(
            shown("[plan]\nsurgeon = 'Dr. Novak'\nregimen = 'usual'\nstart = 2026-08-07 10:00 AM\n"),
            "[plan]\nsurgeon = '**. *****'\nregimen = 'usual'\nstart = 2026-08-07 10:00 AM\n"
        );
    }

    #[test]
    fn a_key_of_no_form_shows_no_value() {
        assert_eq!(
            shown("[patient]\nAda_Example = 'Ada'\nnam = 'Ada'\ncase = {b = 'Ada'}\n"),
            "[patient]\n***_******* = '***'\nnam = '***'\ncase = {* = '***'}\n"
        );
    }

    #[test]
    fn a_profile_stays_as_it_is() {
        let file = SourceFile { name: "a".into(), text: "[practice]\nname = 'Ada'\n".into() };
        assert_eq!(masked::<Profile>(&file), file);
    }
}

//! Words for nothing: `none` in a list of drugs would be a drug of that name.

use crate::record::locate;

/// Words that people write where there is nothing to write, folded to small letters.
const WORDS: [&str; 26] = [
    "-",
    "--",
    "none",
    "no",
    "nil",
    "nothing",
    "n/a",
    "na",
    "n.a.",
    "not applicable",
    "none known",
    "nil known",
    "nka",
    "nkda",
    "null",
    "empty",
    "kein",
    "keine",
    "keins",
    "nein",
    "nichts",
    "ninguno",
    "ninguna",
    "nada",
    "aucun",
    "aucune",
];

/// Words for what nobody knows.
const UNKNOWN: [&str; 6] = ["unknown", "not known", "?", "unclear", "unbekannt", "desconocido"];

/// Whether a text says that nobody knows.
pub(super) fn is_unknown(text: &str) -> bool {
    UNKNOWN.contains(&text.trim().to_lowercase().as_str())
}

/// How a list is written that nobody knows, as advice.
pub(super) fn left_out(list: &str) -> String {
    format!("leave `{}` out, which means unknown", locate::last(list))
}

/// Whether a text says that there is nothing.
pub(super) fn is_nothing(text: &str) -> bool {
    WORDS.contains(&text.trim().to_lowercase().as_str())
}

/// How an empty list is written, as advice.
pub(super) fn empty(list: &str) -> String {
    format!("write `{} = []`, which means none", locate::last(list))
}

/// What to write instead, in an entry of a list or alone.
pub(super) fn advice(pointer: &str, text: &str) -> String {
    match locate::list_of(pointer) {
        Some(list) if is_unknown(text) => left_out(list),
        Some(list) => empty(list),
        None => "write the text, or leave the key out if it may be".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_nothing_are_known_and_drugs_are_not() {
        assert!(["None", " n/a", "keine", "-"].into_iter().all(is_nothing));
        assert!(!["", "timolol", "no allergies to drugs but hay fever", "0"].into_iter().any(is_nothing));
        assert_eq!(advice("/health/eye_drops/0", "none"), "write `eye_drops = []`, which means none");
    }
}

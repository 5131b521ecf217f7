//! Which eye something is said of, and what becomes of it when one eye is treated.

use serde_json::Value;

use super::brought::{Origin, Why};
use super::ledger::Ledger;
use super::tables::{Eyes, Tables};
use crate::exchange::fhir::element::{Coding, codings, list, text};
use crate::record::eye::Side;

/// Languages whose words for an eye are looked for.
const LANGUAGES: [&str; 5] = ["en", "de", "fr", "es", "ar"];

/// Which eye an element of a resource names, at any of these paths; nothing if none is named, or two contradict each other.
/// Of a code that no table has, the words that are shown for it are read.
pub(super) fn named(body: &Value, paths: &[&str], tables: &Tables) -> Option<Eyes> {
    let of_code = |coding: Coding| {
        let shown = coding.display.clone();
        tables.eye(coding).or_else(|| of_words(&shown?, tables))
    };
    let coded = paths.iter().flat_map(|path| codings(body, path)).filter_map(of_code);
    let written = paths.iter().flat_map(|path| list(body, path)).filter_map(|concept| in_words(concept, tables));
    together(coded.chain(written))
}

/// Two names are one if they agree; a right and a left one leave it open.
pub(super) fn together(named: impl IntoIterator<Item = Eyes>) -> Option<Eyes> {
    let mut named = named.into_iter();
    let first = named.next()?;
    named.all(|other| other == first).then_some(first)
}

fn in_words(concept: &Value, tables: &Tables) -> Option<Eyes> {
    of_words(text(concept, "text").or_else(|| concept.as_str())?, tables)
}

fn of_words(written: &str, tables: &Tables) -> Option<Eyes> {
    let names = |side| tables.sides.names(side, written, LANGUAGES);
    match (names(Side::Right), names(Side::Left)) {
        (true, false) => Some(Eyes::Right),
        (false, true) => Some(Eyes::Left),
        _ => None,
    }
}

/// Whether a key of the record is about the treated eye alone.
pub(super) fn is_of_the_eye(key: &str) -> bool {
    let of_eye = ["/eye/", "/history/", "/floater/", "/detachment/", "/examination/", "/earlier_sessions"];
    of_eye.iter().any(|table| key.starts_with(table)) || key == "/health/eye_drops"
}

/// A value of a key, taken if its eye is the treated one.
pub(super) fn claim(
    ledger: &mut Ledger,
    treated: Option<Side>,
    key: &str,
    value: Value,
    eyes: Option<Eyes>,
    origin: Origin,
) {
    match counts(treated, key, eyes) {
        Ok(()) => ledger.claim(key, value, origin),
        Err(Why::OtherEye) => ledger.leave(Why::OtherEye, origin),
        Err(why) => ledger.ask(Some(key), why, Some(value), origin),
    }
}

/// Whether what is said of these eyes counts for the treated one.
pub(super) fn counts(treated: Option<Side>, key: &str, eyes: Option<Eyes>) -> Result<(), Why> {
    if !is_of_the_eye(key) {
        return Ok(());
    }
    match (eyes, treated) {
        (None, _) => Err(Why::WhichEye),
        (Some(Eyes::Both), _) | (Some(Eyes::Right), Some(Side::Right)) | (Some(Eyes::Left), Some(Side::Left)) => Ok(()),
        (Some(_), None) => Err(Why::EyeNotChosen),
        (Some(_), Some(_)) => Err(Why::OtherEye),
    }
}

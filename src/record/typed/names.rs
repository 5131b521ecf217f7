//! Names of days and months, as people type them.

use chrono::Weekday;

/// Names of the months in the languages of the desk, whole or from three letters on; what begins several is none.
pub(super) fn month(word: &str) -> Option<u32> {
    const MONTHS: [&[&str]; 12] = [
        &["january", "januar", "jänner", "janvier", "enero", "يناير"],
        &["february", "februar", "février", "febrero", "فبراير"],
        &["march", "märz", "mars", "marzo", "مارس"],
        &["april", "avril", "abril", "أبريل"],
        &["may", "mai", "mayo", "مايو"],
        &["june", "juni", "juin", "junio", "يونيو"],
        &["july", "juli", "juillet", "julio", "يوليو"],
        &["august", "août", "agosto", "أغسطس"],
        &["september", "sept", "septembre", "septiembre", "سبتمبر"],
        &["october", "oktober", "octobre", "octubre", "أكتوبر"],
        &["november", "novembre", "noviembre", "نوفمبر"],
        &["december", "dezember", "décembre", "diciembre", "ديسمبر"],
    ];
    let begins = |names: &&[&str]| word.chars().count() > 2 && names.iter().any(|name| name.starts_with(word));
    let mut found = (1..).zip(MONTHS).filter(|(_, names)| begins(&&names[..]));
    let whole = (1..).zip(MONTHS).find(|(_, names)| names.contains(&word));
    let only = found.next().filter(|_| found.next().is_none());
    whole.or(only).map(|(month, _)| month)
}

/// How far a day that is named after today is from it, days.
pub(super) fn from_today(word: &str) -> Option<i64> {
    const DAYS: [(i64, &[&str]); 3] = [
        (0, &["today", "heute", "hoy", "اليوم"]),
        (1, &["tomorrow", "morgen", "demain", "mañana", "غدا"]),
        (-1, &["yesterday", "gestern", "hier", "ayer", "أمس"]),
    ];
    DAYS.into_iter().find(|(_, names)| names.contains(&word)).map(|(days, _)| days)
}

/// English names, whole or from three letters on.
pub(super) fn weekday(word: &str) -> Option<Weekday> {
    const DAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
    let at = DAYS.iter().position(|day| word.len() > 2 && day.starts_with(word))?;
    u8::try_from(at).ok()?.try_into().ok()
}

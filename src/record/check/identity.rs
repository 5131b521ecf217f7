//! A code that tells who the patient is: it names files and stands on every page.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::Refusals;
use crate::record::Record;
use crate::record::person::Patient;

/// A shorter part of a name, or a shorter record number, stands in many codes by chance.
const SHORTEST: usize = 3;

/// A part this long stands in no code by chance; a shorter one stands within a word, as `lee` in `SLEEP-1`.
const TELLING: usize = 4;

/// Ways to write a birth date as digits.
const DATES: [&str; 6] = ["%Y%m%d", "%d%m%Y", "%m%d%Y", "%y%m%d", "%d%m%y", "%m%d%y"];

/// A code with a part of the name, the birth date or the record number in it.
pub(super) fn check(record: &Record, found: &mut Refusals<'_>) {
    let tells = |parts: Vec<String>| parts.iter().any(|part| holds(&record.case.code, part));
    let patient = &record.patient;
    let what = [
        ("/patient/name", "a part of the patient's name", names(patient)),
        (
            "/patient/birth_date",
            "the patient's date of birth",
            DATES.map(|form| patient.birth_date.0.format(form).to_string()).to_vec(),
        ),
        ("/patient/record_number", "the patient's record number", vec![folded(&patient.record_number)]),
    ];
    let known = what.into_iter().filter(|(pointer, ..)| !found.spans.lacks(pointer));
    if let Some((_, what, _)) = known.into_iter().find(|(_, _, parts)| tells(parts.clone())) {
        let help = "write a code that says nothing about the patient, for example a running number";
        found.refuse("telling-code", format!("`code` holds {what}"), &[("/case/code", "")], help);
    }
}

/// Whether a code holds a part that tells who the patient is: anywhere if it is long, else where a word begins or ends.
fn holds(code: &str, part: &str) -> bool {
    match part.chars().count() {
        ..SHORTEST => false,
        SHORTEST..TELLING => holds_at_border(code, part),
        _ => folded(code).contains(part),
    }
}

fn holds_at_border(code: &str, part: &str) -> bool {
    let letters = |text: &str| text.to_lowercase().chars().collect::<Vec<_>>();
    let (code, part) = (letters(code), letters(part));
    let kind = |letter: char| (letter.is_alphabetic(), letter.is_numeric());
    let is_border = |at: usize| at == 0 || at == code.len() || kind(code[at - 1]) != kind(code[at]);
    let mut places = code.windows(part.len()).enumerate();
    places.any(|(at, letters)| letters == part && (is_border(at) || is_border(at + part.len())))
}

/// Every part of the patient's names, with German letters also as they are spelt out.
fn names(patient: &Patient) -> Vec<String> {
    let names = [Some(&patient.name), patient.latin_name.as_ref()].into_iter().flatten();
    let parts =
        names.flat_map(|name| name.split(|letter: char| !letter.is_alphanumeric() && !is_combining_mark(letter)));
    parts.flat_map(|part| [folded(part), folded(&spelt_out(part))]).collect()
}

fn spelt_out(name: &str) -> String {
    let letter = |letter: char| match letter {
        'ä' | 'Ä' => "ae".to_owned(),
        'ö' | 'Ö' => "oe".to_owned(),
        'ü' | 'Ü' => "ue".to_owned(),
        'ß' => "ss".to_owned(),
        other => other.to_string(),
    };
    name.nfc().map(letter).collect()
}

/// Letters and digits alone, small and without accents.
fn folded(text: &str) -> String {
    text.nfkd().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::holds;

    #[test]
    fn a_short_part_tells_only_where_a_word_begins_or_ends() {
        for code in ["LEE-1", "1-lee", "LEE1", "X-7LEE", "LEES-1", "ANNALEE"] {
            assert!(holds(code, "lee"), "{code}");
        }
        for code in ["SLEEP-1", "FLEET", "L-EE"] {
            assert!(!holds(code, "lee"), "{code}");
        }
        assert!(holds("X-A12", "a12") && holds("SLEEP-1", "leep") && holds("19-55-03", "1955"));
        assert!(!holds("LI-1", "li"), "two letters stand in many codes by chance");
    }
}

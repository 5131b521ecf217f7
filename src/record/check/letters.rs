//! Letters that look like others, or cannot be seen, in what tells patients apart.

use unicode_security::MixedScript;

use super::Refusals;
use crate::record::Record;

/// Names and the record number. It is a warning: a name may be written so.
pub(super) fn check(record: &Record, found: &mut Refusals<'_>) {
    let patient = &record.patient;
    let representative = patient.representative.as_ref().map(|representative| &representative.name);
    for (pointer, text) in [
        ("/patient/name", Some(&patient.name)),
        ("/patient/latin_name", patient.latin_name.as_ref()),
        ("/patient/record_number", Some(&patient.record_number)),
        ("/patient/representative/name", representative),
    ] {
        text.into_iter().for_each(|text| look(pointer, text, found));
    }
}

fn look(pointer: &str, text: &str, found: &mut Refusals<'_>) {
    if text.chars().any(is_unseen) {
        let help = "delete it and type it again, unless its language is written so";
        found.warn("unseen-character", "this holds a character that cannot be seen", pointer, help);
    }
    if !text.split_whitespace().all(MixedScript::is_single_script) {
        let help = "type it again on one keyboard: a letter of another script looks the same and is not found";
        found.warn("mixed-scripts", "a word here mixes letters of several scripts", pointer, help);
    }
}

/// Characters that leave no mark on paper (Unicode: default ignorable code points, without those refused elsewhere).
fn is_unseen(character: char) -> bool {
    matches!(character,
        '\u{AD}' | '\u{34F}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{180B}'..='\u{180F}'
        | '\u{200B}'..='\u{200D}' | '\u{2060}'..='\u{2065}' | '\u{206A}'..='\u{206F}' | '\u{3164}'
        | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}' | '\u{E0000}'..='\u{E0FFF}')
}

//! Names that no count may hold against a text: of people, places and drugs, taken from record, profile and
//! formulary, and that of the version of the texts.

use crate::packet::Case;

/// The names that pages of a case can print, the longest first.
#[must_use]
pub fn of(case: &Case) -> Vec<String> {
    let (record, practice) = (case.record(), case.practice());
    let profile = &practice.profile;
    let mut names = vec![record.patient.name.clone(), record.plan.place.clone(), profile.practice.name.clone()];
    names.extend(profile.practice.name_in.values().cloned());
    names.push(profile.practice.address.join(", "));
    names.extend(profile.practice.address_in.values().map(|lines| lines.join(", ")));
    names.extend(profile.confirmation.iter().map(|confirmed| confirmed.version().to_owned()));
    names.extend(record.patient.representative.iter().map(|representative| representative.name.clone()));
    names.extend(profile.surgeons.iter().map(|surgeon| surgeon.name.clone()));
    names.extend(profile.out_of_hours.iter().flat_map(|place| [place.name.clone(), place.address.join(", ")]));
    names.extend(profile.out_of_hours.iter().flat_map(|place| place.name_in.values().cloned()));
    names.extend(profile.out_of_hours.iter().flat_map(|place| &place.address_in).map(|(_, lines)| lines.join(", ")));
    for drug in practice.formulary.drugs() {
        names.extend([format!("{} {}", drug.name, drug.strength), drug.name.clone()]);
        names.extend(drug.bottle_name.clone());
    }
    names.retain(|name| !name.trim().is_empty());
    names.sort_by_key(|name| std::cmp::Reverse(name.chars().count()));
    names.dedup();
    names
}

/// A text with a dot in place of each of these names where it stands as a whole word, so that a sentence still begins and
/// ends where it did. A possessive goes with its name.
#[must_use]
pub fn left_out(text: &str, names: &[String]) -> String {
    names.iter().fold(text.to_owned(), |text, name| without(&text, name))
}

fn without(text: &str, name: &str) -> String {
    let part_of_word = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let mut left = String::with_capacity(text.len());
    let mut done = 0;
    for (at, _) in text.match_indices(name) {
        let after = &text[at + name.len()..];
        if !part_of_word(text[..at].chars().next_back()) && !part_of_word(after.chars().next()) {
            left.push_str(&text[done..at]);
            left.push('•');
            let possessive = ["'s", "’s"].iter().find(|end| after.starts_with(**end)).map_or(0, |end| end.len());
            done = at + name.len() + possessive;
        }
    }
    left + &text[done..]
}

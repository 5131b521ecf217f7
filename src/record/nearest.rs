//! The right word nearest to a wrong one.

use std::collections::BTreeSet;

use strsim::damerau_levenshtein;

use super::measure::without_unit;

/// Letters that tell words apart: `mon` is Monday, `m` could be many.
const SHORTEST_BEGINNING: usize = 3;

/// What the trade calls keys.
const KEYS: [(&str, &[&str]); 13] = [
    ("pressure_mmhg", &["iop", "tension", "tonometry"]),
    ("axial_length_mm", &["al", "axl"]),
    ("acuity", &["va", "visus", "vision", "bcva"]),
    ("side", &["laterality"]),
    ("implant", &["iol"]),
    ("birth_date", &["dob", "born", "birthday"]),
    ("record_number", &["mrn", "id", "chart", "patient_id"]),
    ("allergies", &["allergy"]),
    ("medicines", &["meds", "medication", "medications", "drugs"]),
    ("eye_drops", &["drops"]),
    ("surgeon", &["doctor", "physician"]),
    ("start", &["date", "when", "appointment"]),
    ("reason", &["complaint", "symptom"]),
];

/// The key somebody most likely meant: another name of it, the same but for its unit, or a few letters away.
pub(super) fn key<'a>(wrong: &str, keys: &[&'a str]) -> Option<&'a str> {
    let wrong = plain(wrong);
    let called =
        |key: &&&str| KEYS.iter().any(|(right, others)| right == *key && others.contains(&without_unit(&wrong)));
    let same_but_unit = |key: &&&str| without_unit(key) == without_unit(&wrong);
    let found = keys.iter().find(same_but_unit).or_else(|| keys.iter().find(called));
    found.copied().or_else(|| word(&wrong, keys))
}

/// Whether a wrong key may be shown: it is a key of another table, or like one. What is like none may be a patient's name that
/// was written into the wrong place.
pub(super) fn is_like_a_key(wrong: &str, here: &[&str], anywhere: &[&str]) -> bool {
    anywhere.contains(&wrong)
        || key(wrong, here).is_some()
        || by_words(wrong, here).or(by_words(wrong, anywhere)).is_some()
}

/// The key made of the same words in another order, or of most of them: `distance_to_lens_mm` means `lens_distance_mm`.
pub(super) fn by_words<'a>(wrong: &str, keys: &[&'a str]) -> Option<&'a str> {
    let wrong = plain(wrong);
    let mut near = keys.iter().filter(|key| share_words(&wrong, key));
    near.next().copied().filter(|_| near.next().is_none())
}

/// At least two words, or one and the unit, and no more words that differ than are the same.
fn share_words(one: &str, other: &str) -> bool {
    let (first, second) = (words(one), words(other));
    let shared = first.intersection(&second).count();
    let same_unit = unit(one).is_some() && unit(one) == unit(other);
    let differing = first.len() + second.len() - 2 * shared;
    shared + usize::from(same_unit) >= 2 && shared > 0 && differing <= shared
}

/// The words of a key without its unit and without those that only join.
fn words(key: &str) -> BTreeSet<&str> {
    let joins = |word: &&str| ["", "a", "an", "the", "of", "to", "from", "in", "at", "on", "for", "and"].contains(word);
    without_unit(key).split('_').filter(|word| !joins(word)).collect()
}

fn unit(key: &str) -> Option<&str> {
    key.strip_prefix(without_unit(key)).filter(|unit| !unit.is_empty())
}

/// Words of the trade, and short ones, for words of closed lists.
const SYNONYMS: [(&str, &[&str]); 10] = [
    ("right", &["r", "re", "od"]),
    ("left", &["l", "le", "os"]),
    ("natural", &["phakic"]),
    ("implant", &["pseudophakic", "iol"]),
    ("none", &["aphakic", "no", "never", "absent", "negative", "nil", "n", "0"]),
    ("yes", &["y", "true", "1", "positive", "present", "ja", "si"]),
    ("no", &["n", "false", "0", "none", "never", "absent", "negative", "nil", "nein"]),
    ("unknown", &["", "?", "-", "n/a", "na", "n.a.", "tbd", "unclear", "unsure"]),
    ("slit_lamp", &["slitlamp", "slit"]),
    ("ultrasound", &["b-scan", "bscan", "b_scan", "us"]),
];

/// The word of a closed list that another word means, or the one nearest to it.
pub(super) fn meant<'a>(wrong: &str, words: &[&'a str]) -> Option<&'a str> {
    let written = wrong.trim().to_lowercase();
    let means =
        |word: &&&str| SYNONYMS.iter().any(|(right, others)| right == *word && others.contains(&written.as_str()));
    words.iter().find(means).copied().or_else(|| word(wrong, words))
}

/// The word a few letters away, if there is one, or the only one that begins like it.
pub(super) fn word<'a>(wrong: &str, words: &[&'a str]) -> Option<&'a str> {
    let wrong = plain(wrong);
    let mut longer = words.iter().filter(|word| wrong.len() >= SHORTEST_BEGINNING && word.starts_with(&wrong));
    if let (Some(only), None) = (longer.next(), longer.next()) {
        return Some(only);
    }
    let distance = |word: &&str| damerau_levenshtein(&wrong, word);
    let nearest = words.iter().min_by_key(|word| distance(word))?;
    let close = distance(nearest) <= (nearest.len() / 3).max(1);
    close.then_some(*nearest)
}

/// Letters as keys have them: `Axial-Length MM` is `axial_length_mm`. A long text cannot be near any key: it is cut.
fn plain(written: &str) -> String {
    written.chars().take(80).collect::<String>().trim().to_lowercase().replace(['-', ' '], "_")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_found_by_letters_or_by_its_stem() {
        let keys = ["axial_length_mm", "pressure_mmhg", "side"];
        assert_eq!(key("axial_length_cm", &keys), Some("axial_length_mm"));
        assert_eq!(key("Axial-Length", &keys), Some("axial_length_mm"));
        assert_eq!(key("presure_mmhg", &keys), Some("pressure_mmhg"));
        assert_eq!(key("colour", &keys), None);
        assert_eq!(key("IOP", &keys), Some("pressure_mmhg"));
        assert_eq!(key("iop_mmhg", &keys), Some("pressure_mmhg"));
    }

    #[test]
    fn a_key_is_found_by_its_words() {
        let keys = ["kind", "since", "lens_distance_mm", "retina_distance_mm", "measured"];
        assert_eq!(by_words("distance_to_lens_mm", &keys), Some("lens_distance_mm"));
        assert_eq!(by_words("Distance from retina", &keys), Some("retina_distance_mm"));
        assert_eq!(by_words("distance_mm", &keys), None, "it may be either");
        assert_eq!(by_words("eye_pressure_mmhg", &["side", "pressure_mmhg"]), Some("pressure_mmhg"));
        assert_eq!(by_words("retinal_surgery", &["retinal_tear", "retinal_detachment"]), None);
    }

    #[test]
    fn a_word_of_the_trade_is_known() {
        assert_eq!(meant("OD", &["right", "left"]), Some("right"));
        assert_eq!(meant("n/a", &["yes", "no", "unknown"]), Some("unknown"));
        assert_eq!(meant("None", &["yes", "no", "unknown"]), Some("no"));
        assert_eq!(meant("Implants", &["natural", "implant", "none"]), Some("implant"));
    }

    #[test]
    fn a_word_must_be_near() {
        assert_eq!(word("Implants", &["natural", "implant", "none"]), Some("implant"));
        assert_eq!(word("mon", &["monday", "tuesday"]), Some("monday"));
        assert_eq!(word("mon", &["monday", "month"]), None);
        assert_eq!(word("both", &["right", "left"]), None);
        assert_eq!(word(&"x".repeat(100_000), &["right", "left"]), None);
    }
}

//! The right word nearest to a wrong one.

use strsim::damerau_levenshtein;

use crate::record::measure::without_unit;

/// Letters that tell words apart: `mon` is Monday, `m` could be many.
const SHORTEST_BEGINNING: usize = 3;

/// The key somebody most likely meant: the same but for its unit, or a few letters away.
pub(super) fn key<'a>(wrong: &str, keys: &[&'a str]) -> Option<&'a str> {
    let wrong = plain(wrong);
    let same_but_unit = keys.iter().find(|key| without_unit(key) == without_unit(&wrong));
    same_but_unit.copied().or_else(|| word(&wrong, keys))
}

/// The word a few letters away, if there is one, or the only one that begins like it.
pub(in crate::record) fn word<'a>(wrong: &str, words: &[&'a str]) -> Option<&'a str> {
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

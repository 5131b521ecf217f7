//! English syllables: the CMU Pronouncing Dictionary, and groups of vowels for a word that it lacks.
//!
//! Spelling alone is a poor guide in English (evening, creature, period), and points of hyphenation count too few. No crate
//! carries the dictionary ready for use offline, so a table derived from it is built in; its licence stands at its head.

use std::collections::HashMap;
use std::sync::LazyLock;

static DICTIONARY: LazyLock<HashMap<&str, u32>> = LazyLock::new(|| {
    let mut words = HashMap::new();
    let mut count = 0;
    for line in include_str!("cmudict.txt").lines().filter(|line| !line.starts_with('#')) {
        match line.strip_prefix("= ") {
            Some(number) => count = number.parse().expect("the table is tested"),
            None => words.extend(line.split(' ').map(|word| (word, count))),
        }
    }
    words
});

/// Syllables of a lower-case word that the dictionary knows, also by its stem before `'s`.
#[must_use]
pub fn listed(word: &str) -> Option<u32> {
    DICTIONARY.get(word).copied().or_else(|| {
        let stem = word.strip_suffix("'s")?;
        let hissing = ["s", "z", "x", "ce", "se", "ze", "ge", "sh", "ch"].iter().any(|end| stem.ends_with(end));
        Some(DICTIONARY.get(stem)? + u32::from(hissing))
    })
}

/// Syllables of a lower-case word by its spelling: groups of vowels, without a silent e at the end and without the e of a
/// past form or plural that is not spoken. At least one.
#[must_use]
pub fn by_rule(word: &str) -> u32 {
    let vowel = |c: char| matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y');
    let letters: Vec<char> = word.chars().filter(|c| c.is_alphabetic()).collect();
    let mut groups = 0;
    for (at, letter) in letters.iter().enumerate() {
        if vowel(*letter) && (at == 0 || !vowel(letters[at - 1])) {
            groups += 1;
        }
    }
    let ends = |end: &str| word.ends_with(end);
    let consonant_le = ends("le") && letters.len() > 2 && !vowel(letters[letters.len() - 3]);
    let silent_e = ends("e") && !consonant_le && !ends("ee");
    let silent_ed = ends("ed") && !ends("ted") && !ends("ded") && !ends("eed");
    let silent_es = ends("es") && !["ses", "zes", "xes", "ces", "ges", "shes", "ches"].iter().any(|end| ends(end));
    let silent = (silent_e || silent_ed || silent_es) && groups > 1;
    (groups - u32::from(silent)).max(1)
}

//! German syllables by spelling: one for each vowel, double vowel or diphthong.

/// What is one syllable although it is two letters.
const PAIRS: &[&str] = &["ai", "ei", "au", "äu", "eu", "ie", "aa", "ee", "oo", "ay", "ey", "oi", "ou"];

/// Syllables of a lower-case word, at least one. The u after q is no vowel; a y before a vowel is a consonant. Words from
/// Latin where ie is two syllables (Patient, Linie) belong into the list of the language.
#[must_use]
pub fn syllables(word: &str) -> u32 {
    let letters: Vec<char> = word.chars().collect();
    let vowel = |at: usize| match letters.get(at) {
        Some('a' | 'e' | 'i' | 'o' | 'ä' | 'ö' | 'ü' | 'é' | 'è' | 'à') => true,
        Some('u') => at == 0 || letters[at - 1] != 'q',
        Some('y') => !letters.get(at + 1).is_some_and(|next| matches!(next, 'a' | 'e' | 'i' | 'o' | 'u')),
        _ => false,
    };
    let (mut at, mut count) = (0, 0);
    while at < letters.len() {
        if vowel(at) {
            count += 1;
            let pair: String = letters[at..].iter().take(2).collect();
            at += if PAIRS.contains(&pair.as_str()) { 2 } else { 1 };
        } else {
            at += 1;
        }
    }
    count.max(1)
}

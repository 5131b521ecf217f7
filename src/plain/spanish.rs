//! Spanish syllables by spelling, after the orthography of the Academies (Ortografia 2010): strong vowels part, a weak one
//! joins its neighbour unless it carries an accent.

/// Syllables of a lower-case word, at least one.
#[must_use]
pub fn syllables(word: &str) -> u32 {
    let letters = sounded(word);
    let mut count = 0;
    let mut before: Option<char> = None;
    for letter in letters {
        if let Some(vowel) = vowel(letter) {
            count += u32::from(!before.is_some_and(|before| joined(before, vowel)));
            before = Some(vowel);
        } else if letter != 'h' {
            // An h between two vowels does not part them: prohi-bir, but a-ho-ra.
            before = None;
        }
    }
    count.max(1)
}

/// The letters that sound: not the u of que, qui, gue, gui; y as a vowel where it stands at the end or alone.
fn sounded(word: &str) -> Vec<char> {
    let letters: Vec<char> = word.chars().collect();
    let mut sounded = Vec::with_capacity(letters.len());
    for (at, letter) in letters.iter().enumerate() {
        let after = letters.get(at + 1);
        let silent = *letter == 'u'
            && at > 0
            && matches!(letters[at - 1], 'q' | 'g')
            && after.is_some_and(|next| matches!(next, 'e' | 'i' | 'é' | 'í'));
        if !silent {
            sounded.push(if *letter == 'y' && after.is_none() { 'i' } else { *letter });
        }
    }
    sounded
}

fn vowel(letter: char) -> Option<char> {
    matches!(letter, 'a' | 'e' | 'i' | 'o' | 'u' | 'á' | 'é' | 'í' | 'ó' | 'ú' | 'ü').then_some(letter)
}

/// Whether two vowels in a row are one syllable.
fn joined(first: char, second: char) -> bool {
    let strong = |c| matches!(c, 'a' | 'e' | 'o' | 'á' | 'é' | 'ó');
    let stressed_weak = |c| matches!(c, 'í' | 'ú');
    match (strong(first), strong(second)) {
        (true, true) => false,
        (true, false) => !stressed_weak(second),
        (false, true) => !stressed_weak(first),
        (false, false) => first != second,
    }
}

//! Where a sentence and a word begin and end.
//!
//! - A sentence ends at a full stop, question mark or exclamation mark that is followed by the end of the text or by
//!   white space and anything but a lower-case letter. Colon and semicolon end none: the stricter reading.
//! - The end of a paragraph, list item or table cell ends a sentence, also without a full stop. Each is a text of its own.
//! - A full stop ends no sentence after an abbreviation of the language's list, nor, where the language writes ordinals
//!   with it, after a number of one or two digits.
//! - A word stands between white space, slashes and dashes, holds a letter or a digit, and loses the punctuation at its ends.
//!   A hyphen or an apostrophe inside parts no word. A numeral is one word (rules of `McLaughlin`, J Reading 1969;12:639).

/// What the language says of full stops.
#[derive(Debug, Clone, Default)]
pub struct Stops {
    /// Words with a full stop that end no sentence, for example `Dr.`
    pub abbreviations: Vec<String>,
    /// Whether an ordinal number is written with a full stop (German "7. August").
    pub ordinals: bool,
}

/// The sentences of a text, trimmed, none empty.
#[must_use]
pub fn sentences<'t>(text: &'t str, stops: &Stops) -> Vec<&'t str> {
    let mut found = Vec::new();
    let mut start = 0;
    for (at, mark) in text.char_indices().filter(|(_, c)| matches!(c, '.' | '!' | '?' | '…' | '؟' | '。')) {
        let end = at + mark.len_utf8();
        let after = text[end..].trim_start_matches(['"', '\'', '”', '’', '»', '“', ')', ']']);
        let closers = text.len() - end - after.len();
        if ends_here(after) && !(mark == '.' && is_held(&text[start..end], stops)) {
            found.push(&text[start..end + closers]);
            start = end + closers;
        }
    }
    found.push(&text[start..]);
    let found = found.into_iter().map(str::trim);
    found.filter(|sentence| !words(sentence).is_empty()).collect()
}

/// Whether what follows a mark begins a new sentence.
fn ends_here(after: &str) -> bool {
    let next = after.trim_start();
    next.is_empty() || (next.len() < after.len() && !next.starts_with(char::is_lowercase))
}

/// Whether the full stop at the end belongs to its word.
fn is_held(text: &str, stops: &Stops) -> bool {
    let word = text.rsplit(char::is_whitespace).next().unwrap_or_default().trim_start_matches(['(', '"', '“', '„']);
    let number = word.trim_end_matches('.');
    let ordinal = stops.ordinals && number.len() <= 2 && !number.is_empty();
    stops.abbreviations.iter().any(|known| known == word) || (ordinal && number.bytes().all(|b| b.is_ascii_digit()))
}

/// The words of a sentence.
#[must_use]
pub fn words(sentence: &str) -> Vec<&str> {
    let parts = sentence.split(|c: char| c.is_whitespace() || matches!(c, '/' | '–' | '—'));
    let trimmed = parts.map(|part| part.trim_matches(|c: char| !c.is_alphanumeric()));
    trimmed.filter(|word| !word.is_empty()).collect()
}

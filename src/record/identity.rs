//! Whether two records are of one patient. People write one record number in many ways; what only looks the same is asked
//! about, never taken for the same.

use chrono::NaiveDate;
use icu::normalizer::ComposingNormalizerBorrowed;

use super::person::Patient;

/// Who a record is of, in a form that can be compared.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Identity {
    written: String,
    number: String,
    name: String,
    folded_name: String,
    birth_date: NaiveDate,
}

/// What two records say about each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Same {
    /// One patient: number, name and date of birth agree as they are written.
    Patient,
    /// Two patients.
    Not,
    /// A clinician must say which: they agree in part, and this differs.
    Unclear(Differs),
}

/// What differs between two records that may be of one patient.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Differs {
    /// One record number, and another name or date of birth.
    Person,
    /// One name and date of birth, and another record number.
    Number,
    /// The record number is written in two ways.
    Writing,
}

impl Identity {
    /// Who a patient is.
    #[must_use]
    pub fn of(patient: &Patient) -> Self {
        Self::new(&patient.record_number, &patient.name, patient.birth_date.0)
    }

    /// Who somebody with this record number, name and date of birth is.
    #[must_use]
    pub fn new(record_number: &str, name: &str, birth_date: NaiveDate) -> Self {
        Self {
            written: record_number.trim().to_owned(),
            number: folded_number(record_number),
            name: name.to_owned(),
            folded_name: folded(name),
            birth_date,
        }
    }

    /// The record number as it is written.
    #[must_use]
    pub fn written_number(&self) -> &str {
        &self.written
    }

    /// Name and date of birth as they are written.
    #[must_use]
    pub fn as_written(&self) -> (&str, NaiveDate) {
        (&self.name, self.birth_date)
    }

    /// The record number in the form that is compared ([`folded_number`]).
    #[must_use]
    pub fn number(&self) -> &str {
        &self.number
    }

    /// Name and date of birth in the form that is compared.
    #[must_use]
    pub fn person(&self) -> (&str, NaiveDate) {
        (&self.folded_name, self.birth_date)
    }

    /// Whether another record is of the same patient.
    #[must_use]
    pub fn same(&self, other: &Self) -> Same {
        let as_written = self.as_written() == other.as_written();
        match (self.number == other.number, self.written == other.written) {
            (true, true) if as_written => Same::Patient,
            (true, false) if self.person() == other.person() => Same::Unclear(Differs::Writing),
            (true, _) => Same::Unclear(Differs::Person),
            (false, _) if self.person() == other.person() => Same::Unclear(Differs::Number),
            (false, _) => Same::Not,
        }
    }
}

/// A record number without what a hand or a keyboard varies: forms of one character (NFKC), separators and what takes no
/// room, upper and lower case, and the letters taken for 0 and 1.
///
/// ```
/// use vitreoleaf::record::identity::folded_number;
///
/// assert_eq!(folded_number("AB 10-0"), folded_number("ab\u{200B}l0O"));
/// assert_ne!(folded_number("AB-100"), folded_number("AB-110"));
/// ```
#[must_use]
pub fn folded_number(text: &str) -> String {
    folded(text).chars().map(like_a_digit).collect()
}

/// Text without case, separators, marks and forms of characters. What is taken out may bring others together, so it is
/// done until nothing changes.
fn folded(text: &str) -> String {
    let normalizer = ComposingNormalizerBorrowed::new_nfkc();
    let mut text = text.to_owned();
    loop {
        let lower = normalizer.normalize(&text).to_lowercase();
        let next: String = lower.chars().filter(|character| character.is_alphanumeric()).collect();
        if next == text {
            return text;
        }
        text = next;
    }
}

/// The digit that a letter, Latin, Greek or Cyrillic, is taken for.
fn like_a_digit(letter: char) -> char {
    match letter {
        'o' | 'ο' | 'о' => '0',
        'i' | 'l' | 'ı' | 'ι' | 'і' => '1',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn identity(number: &str, name: &str, year: i32) -> Identity {
        Identity::new(number, name, NaiveDate::from_ymd_opt(year, 6, 14).unwrap())
    }

    #[test]
    fn a_number_is_recognised_however_it_is_written() {
        for number in
            ["000-110", "000 110", "000110", "OOO-11O", "000\u{200B}-110", "０００－１１０", "ооо-llo", "000–II0"]
        {
            assert_eq!(folded_number(number), "000110", "{number}");
        }
        assert_ne!(folded_number("000-111"), folded_number("000-110"));
    }

    #[test]
    fn only_what_agrees_as_written_is_one_patient() {
        let jorge = identity("000-110", "Jorge Ejemplo", 1951);
        for (number, name, year, expected) in [
            ("000-110", "Jorge Ejemplo", 1951, Same::Patient),
            (" 000-110 ", "Jorge Ejemplo", 1951, Same::Patient),
            ("000110", "Jorge Ejemplo", 1951, Same::Unclear(Differs::Writing)),
            ("OOO-110", "JORGE  EJEMPLO", 1951, Same::Unclear(Differs::Writing)),
            ("000-110", "Jorge Exemplo", 1951, Same::Unclear(Differs::Person)),
            ("000-110", "Jorge Ejemplo", 1952, Same::Unclear(Differs::Person)),
            ("000 110", "Ana Ejemplo", 1980, Same::Unclear(Differs::Person)),
            ("000-111", "Jorge Ejemplo", 1951, Same::Unclear(Differs::Number)),
            ("000-111", "Jorge Ejemplo", 1952, Same::Not),
        ] {
            let other = identity(number, name, year);
            assert_eq!(jorge.same(&other), expected, "{number} {name} {year}");
            assert_eq!(other.same(&jorge), expected, "the other way round");
        }
    }

    proptest! {
        #[test]
        fn folding_what_is_folded_changes_nothing(text in any::<String>()) {
            let once = folded_number(&text);
            prop_assert_eq!(folded_number(&once), once);
        }

        #[test]
        fn separators_case_and_what_takes_no_room_do_not_count(
            text in "[A-Za-z0-9]{1,20}",
            between in prop::sample::select(vec![' ', '-', '/', '.', '\u{200B}', '\u{2060}', '\u{FEFF}', '\u{A0}', '–']),
        ) {
            let spread: String = text.chars().flat_map(|letter| [letter, between]).collect();
            prop_assert_eq!(folded_number(&spread), folded_number(&text));
            prop_assert_eq!(folded_number(&text.to_uppercase()), folded_number(&text.to_lowercase()));
        }

        #[test]
        fn other_digits_fold_otherwise(one in "[0-9]{6}", other in "[0-9]{6}") {
            prop_assert_eq!(folded_number(&one) == folded_number(&other), one == other);
        }
    }
}

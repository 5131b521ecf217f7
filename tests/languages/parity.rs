//! Two pages that say the same in two languages: the same statements in the same order, each with the same numbers, dates
//! and times once they are read back from the way each language writes them. What is written the same in every language
//! (strengths as on the bottle, phone numbers, the surgeon's own words, citations) is left out of the reading and compared
//! as it stands.

use std::cell::RefCell;
use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate, NaiveTime};
use vitreoleaf::assets::samples;
use vitreoleaf::document::{Document, reading};
use vitreoleaf::practice::Practice;

use crate::packets::record;

/// One reader for each language that a practice prints in.
pub(crate) struct Readers(BTreeMap<String, Reader>);

impl Readers {
    pub(crate) fn of(practice: &Practice) -> Self {
        let tags = practice.profile.practice.languages.iter();
        Self(tags.map(|tag| (tag.clone(), Reader::new(practice, tag))).collect())
    }

    /// What each passage of a page holds, whatever the language: its id and its numbers, sorted.
    pub(crate) fn held(&self, document: &Document) -> Vec<(String, Vec<String>)> {
        let reader = &self.0[&document.language];
        reading::read(document).into_iter().map(|passage| (passage.id, reader.numbers(&passage.text))).collect()
    }
}

struct Reader {
    /// What every language writes the same (strengths, phones, citations) and times that are words, longest first,
    /// each with what it stands for.
    fixed: Vec<(String, String)>,
    /// Dates and times as the language writes them, longest first, each with what it means.
    written: Vec<(String, String)>,
    grouping: Option<char>,
    decimal: char,
    /// Passages read before: most eyes are told most of the same.
    known: RefCell<BTreeMap<String, Vec<String>>>,
}

impl Reader {
    fn new(practice: &Practice, tag: &str) -> Self {
        let library = practice.library(tag).unwrap();
        let locale = &library.locale;
        let strengths = practice.formulary.drugs().map(|drug| drug.strength.clone());
        let cited = library.evidence.values().filter_map(|entry| entry.reference().ok());
        let phones = practice.profile.phones.iter().map(|phone| phone.number.clone());
        let fixed =
            strengths.chain(phones).chain(told()).chain(cited.map(|text| text.trim_end_matches('.').to_owned()));
        let fixed = fixed.enumerate().map(|(at, text)| (text, format!("9999{at}")));
        let mut written = Vec::new();
        let first = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
        for day in first.iter_days().take_while(|day| day.year() < 2028) {
            written.push((locale.full_date(day), day.to_string()));
            written.push((locale.date(day), day.to_string()));
            written.push((locale.day(day), day.format("%m-%d").to_string()));
        }
        for minute in 0..24 * 60 {
            let time = NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0).unwrap();
            written.push((locale.time(time).unwrap(), time.format("%H-%M").to_string()));
        }
        // Noon and midnight are words. The part of the day may hold the word of noon and is none of the times.
        let (written, mut words): (Vec<_>, Vec<_>) = written.into_iter().partition(|(text, _)| has_digit(text));
        if !has_digit(locale.word("time.noon").unwrap()) {
            words.push((locale.word("period.noon").unwrap().to_owned(), String::new()));
        }
        let separator = |text: &str| spaced(text).chars().find(|c| !c.is_numeric());
        Self {
            fixed: longest_first(fixed.chain(words).collect()),
            written: longest_first(written),
            grouping: separator(&locale.number(1_234_567.0, 0)),
            decimal: separator(&locale.number(0.5, 1)).unwrap(),
            known: RefCell::default(),
        }
    }

    fn numbers(&self, text: &str) -> Vec<String> {
        self.known.borrow_mut().entry(text.to_owned()).or_insert_with(|| self.read(text)).clone()
    }

    fn read(&self, text: &str) -> Vec<String> {
        let mut text = spaced(text).replace(['\u{2066}', '\u{2067}', '\u{2068}', '\u{2069}'], "");
        // Most passages hold no digit, so no date and no other time.
        let written = if has_digit(&text) { &self.written[..] } else { &[] };
        for (written, means) in self.fixed.iter().chain(written) {
            if text.contains(written.as_str()) {
                text = text.replace(written.as_str(), &format!(" {means} "));
            }
        }
        let letters: Vec<char> = text.chars().collect();
        let mut numbers = vec![String::new()];
        for (at, letter) in letters.iter().enumerate() {
            let between = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
            let inside = at > 0 && between(letters.get(at - 1)) && between(letters.get(at + 1));
            match *letter {
                digit if digit.is_ascii_digit() => numbers.last_mut().unwrap().push(digit),
                mark if inside && Some(mark) == self.grouping => {}
                mark if inside && mark == self.decimal => numbers.last_mut().unwrap().push('.'),
                '-' if inside => numbers.last_mut().unwrap().push('-'),
                _ => numbers.push(String::new()),
            }
        }
        numbers.retain(|number| !number.is_empty());
        numbers.sort();
        numbers
    }
}

/// The surgeon's own words about events in the demo's cases, dates among them.
fn told() -> Vec<String> {
    let cases = samples().into_keys().filter_map(|path| path.strip_suffix("/case.toml").map(str::to_owned));
    let treatments = cases.filter_map(|name| record(&name, |text| text).treatment);
    treatments.flat_map(|treatment| treatment.events).map(|event| event.words).collect()
}

fn longest_first(mut texts: Vec<(String, String)>) -> Vec<(String, String)> {
    texts.iter_mut().for_each(|(text, _)| *text = spaced(text));
    texts.sort_by_key(|(text, _)| std::cmp::Reverse(text.len()));
    texts
}

fn has_digit(text: &str) -> bool {
    text.chars().any(char::is_numeric)
}

/// A page may hold a plain space where CLDR has a narrow one.
fn spaced(text: &str) -> String {
    text.chars().map(|letter| if letter.is_whitespace() { ' ' } else { letter }).collect()
}

//! The words of the desk, from `locales/<tag>/desk.toml`, with the dates and numbers of the language.

use std::sync::Arc;

use chrono::{NaiveDate, NaiveDateTime};

use super::error::DeskError;
use crate::assets::Assets;
use crate::content::folders::SOURCE;
use crate::content::labels;
use crate::content::locale::Locale;
use crate::content::words;
use crate::practice::Practice;
use crate::record::date::{Clock, Date, LocalTime, PartialDate};
use crate::record::form::Format;
use crate::record::typed::Names;
use crate::register::CaseFile;

/// The words of one language.
#[derive(Debug, Clone)]
pub(super) struct Words {
    texts: Arc<words::Words>,
    pub(super) locale: Arc<Locale>,
    /// What days, months and times of day are called where somebody types one.
    pub(super) names: Arc<Names>,
}

/// Before the keys of what a typed date or time understands.
const TYPED: &str = "typed.";

impl Words {
    /// The words in the language of the staff; the source language stands in for a word that it lacks.
    pub(super) fn load(practice: &Practice) -> Result<Self, DeskError> {
        let texts = labels::load(&practice.assets, practice.staff_language())?;
        let locale = Arc::clone(&practice.library(practice.staff_language())?.locale);
        let names = Arc::new(names(&practice.assets, practice.staff_language())?);
        Ok(Self { texts: Arc::new(texts), locale, names })
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.texts.contains_key(key)
    }

    /// A text with its values filled in, each set apart from a text of the other direction.
    pub(super) fn say(&self, key: &str, values: &[(&str, &str)]) -> Result<String, DeskError> {
        let missing = || DeskError::Word { language: self.locale.tag.clone(), key: key.to_owned() };
        let text = self.texts.get(key).ok_or_else(missing)?;
        let apart: Vec<(&str, String)> =
            values.iter().map(|(name, value)| (*name, self.locale.set_apart(value))).collect();
        let apart: Vec<(&str, &str)> = apart.iter().map(|(name, value)| (*name, value.as_str())).collect();
        Ok(filled(text, &apart))
    }

    pub(super) fn word(&self, key: &str) -> Result<String, DeskError> {
        self.say(key, &[])
    }

    /// A text that counts something; a language without that plural form has the form `other`.
    pub(super) fn count(&self, key: &str, count: usize) -> Result<String, DeskError> {
        let form = format!("{key}.{}", self.locale.plural(count as f64));
        let form = if self.has(&form) { form } else { format!("{key}.other") };
        self.say(&form, &[("count", &self.locale.number(count as f64, 0))])
    }

    /// What a key is called, if it has a name of its own.
    pub(super) fn name(&self, pointer: &str) -> Option<&str> {
        labels::name(&self.texts, pointer)
    }

    /// What stands beside the field of a key. Entries of a list carry no label of their own.
    pub(super) fn label(&self, pointer: &str) -> Result<String, DeskError> {
        self.word(&format!("label{}", pointer.replace('/', ".")))
    }

    /// A word of the record as it is shown under a key.
    pub(super) fn choice(&self, pointer: &str, word: &str) -> Result<String, DeskError> {
        let own = format!("word_at{}.{word}", pointer.replace('/', "."));
        self.word(&if self.has(&own) { own } else { format!("word.{word}") })
    }

    /// The side of the eye of a case, if it is one: what else was written there is told at its field.
    pub(super) fn side(&self, file: &CaseFile) -> Option<String> {
        file.text("/eye/side").and_then(|side| self.choice("/eye/side", side).ok())
    }

    /// "Friday, August 7, 2026, at 10:00 AM".
    pub(super) fn moment(&self, at: NaiveDateTime) -> Result<String, DeskError> {
        let (date, time) = (self.locale.full_date(at.date()), self.locale.time(at.time())?);
        Ok(filled(self.locale.word("time.at")?, &[("date", &date), ("time", &time)]))
    }

    /// A date or time in words, so that whoever typed it sees what was understood.
    pub(super) fn read_back(&self, format: Format, value: &str) -> Result<Option<String>, DeskError> {
        Ok(match format {
            Format::Date => value.parse().ok().map(|Date(day)| self.locale.full_date(day)),
            Format::LocalTime => value.parse().ok().map(|LocalTime(at)| self.moment(at)).transpose()?,
            Format::Clock => value.parse().ok().map(|Clock(time)| self.locale.time(time)).transpose()?,
            Format::PartialDate => self.read_partial(value)?,
            Format::Zone => None,
        })
    }

    fn read_partial(&self, value: &str) -> Result<Option<String>, DeskError> {
        let counts = |last: Option<NaiveDate>| match last {
            Some(last) => self.say("field.counts_as", &[("date", &self.locale.date(last))]),
            None => Ok(String::new()),
        };
        let (date, said) = match value.parse::<PartialDate>() {
            Ok(PartialDate::Day(day)) => return Ok(Some(self.locale.full_date(day))),
            Ok(date @ PartialDate::Month(first)) => (date, self.locale.month(first)),
            Ok(date @ PartialDate::Year(_)) => (date, value.to_owned()),
            Ok(PartialDate::Unknown) | Err(_) => return Ok(None),
        };
        let some = self.say("field.some_time", &[("date", &said)])?;
        Ok(Some(format!("{some} {}", counts(date.latest())?)))
    }
}

/// The names of dates and times in the source language and in that of the staff: people type both.
fn names(assets: &Assets, tag: &str) -> Result<Names, DeskError> {
    let mut names = Names::default();
    for tag in [SOURCE, tag] {
        let texts = labels::load(assets, tag)?;
        names.add(texts.iter().filter_map(|(key, text)| Some((key.strip_prefix(TYPED)?, text.as_str()))));
    }
    Ok(names)
}

fn filled(text: &str, values: &[(&str, &str)]) -> String {
    values.iter().fold(text.to_owned(), |text, (name, value)| text.replace(&format!("{{{{ {name} }}}}"), value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::samples;
    use crate::demo;
    use crate::record::typed::{Around, Misread, Reading, read, shown};
    use chrono::NaiveTime;

    fn words() -> Words {
        Words::load(&demo::practice(&samples()).unwrap()).unwrap()
    }

    #[test]
    fn values_are_filled_in_and_counted() {
        let words = words();
        assert_eq!(words.say("case.saved", &[("time", "9:00 AM")]).unwrap(), "Saved 9:00 AM");
        assert_eq!(words.count("day.cases", 1).unwrap(), "1 case");
        assert_eq!(words.count("day.cases", 2).unwrap(), "2 cases");
        assert!(matches!(words.word("no.such"), Err(DeskError::Word { .. })));
    }

    /// A draft may lack words; one it has must be a word of the source, with the same values in it.
    #[test]
    fn every_language_says_what_the_source_says() {
        let assets = crate::assets::Assets::default();
        let read = |path: &str| words::read(&assets.get(path).unwrap()).unwrap();
        let values = |text: &str| {
            let parts = text.split("{{ ").skip(1).map(|rest| rest.split(" }}").next().unwrap().to_owned());
            parts.collect::<std::collections::BTreeSet<_>>()
        };
        let source = read("locales/en-US/desk.toml");
        let drafts = assets.under("locales/").into_iter().filter(|path| path.ends_with("/desk.toml"));
        for path in drafts {
            for (key, text) in read(&path) {
                // A language may have more forms of a plural than the source.
                let stem = key.rsplit_once('.').map_or(key.as_str(), |(stem, _)| stem);
                let of_source = source.get(&key).or_else(|| source.get(&format!("{stem}.other")));
                let of_source = of_source.unwrap_or_else(|| panic!("{path}: {key} is no word of the source"));
                let count = |mut values: std::collections::BTreeSet<String>| {
                    values.remove("count");
                    values
                };
                assert_eq!(count(values(&text)), count(values(of_source)), "{path}: {key}");
            }
        }
    }

    fn in_language(tag: &str) -> Words {
        let first = |(path, text): (&String, &String)| {
            (path.clone(), text.replace("languages = [\"en-US\"]", &format!("languages = [\"{tag}\", \"en-US\"]")))
        };
        Words::load(&demo::practice(&samples().iter().map(first).collect()).unwrap()).unwrap()
    }

    fn typed(words: &Words, format: Format, text: &str) -> Reading {
        let around = Around { today: "2026-08-12".parse().unwrap(), day: None, names: &words.names };
        read(format, text, around)
    }

    /// Whoever types what the desk says back is understood, in each language with words of its own.
    #[test]
    fn what_is_said_back_reads_as_itself_in_every_language() {
        for tag in ["en-US", "de", "fr", "es-US", "ar"] {
            let words = in_language(tag);
            let days = (1..=28).map(|day| NaiveDate::from_ymd_opt(2026, day % 12 + 1, day).unwrap());
            for (at, day) in days.enumerate() {
                let date = Date(day).to_string();
                let said = words.read_back(Format::Date, &date).unwrap().unwrap();
                assert_eq!(typed(&words, Format::Date, &said), Reading::One(date), "{tag}: {said}");
                let time = NaiveTime::from_hms_opt(7 + u32::try_from(at).unwrap() % 6, 30, 0).unwrap();
                let moment = LocalTime(day.and_time(time)).to_string();
                let said = words.read_back(Format::LocalTime, &moment).unwrap().unwrap();
                assert_eq!(typed(&words, Format::LocalTime, &said), Reading::One(moment), "{tag}: {said}");
            }
        }
    }

    /// What somebody types, and how it is read if it is.
    type Typed = (&'static str, Option<&'static str>);

    /// Each language beside US English; a beginning that would be a month and a weekday is neither.
    #[test]
    fn dates_are_typed_in_the_language_of_the_desk() {
        let desks: [(&str, Format, &[Typed]); 8] = [
            (
                "de",
                Format::Date,
                &[
                    ("3. Mai 1955", Some("1955-05-03")),
                    ("3 mär 1955", Some("1955-03-03")),
                    ("Do., 13. Aug. 2026", Some("2026-08-13")),
                    ("morgen", Some("2026-08-13")),
                    ("tomorrow", Some("2026-08-13")),
                ],
            ),
            ("de", Format::Clock, &[("10 Uhr abends", Some("22:00")), ("abends 10", None)]),
            (
                "fr",
                Format::Date,
                &[
                    ("1er août 1955", Some("1955-08-01")),
                    ("3 juin 1955", Some("1955-06-03")),
                    ("3 jui 1955", None),
                    ("3 mar 1955", None),
                    ("3 mars 1955", Some("1955-03-03")),
                    ("jeudi 13 août", Some("2026-08-13")),
                    ("aujourd'hui", Some("2026-08-12")),
                ],
            ),
            ("fr", Format::Clock, &[("10 h du soir", Some("22:00")), ("7 h 30", Some("07:30"))]),
            (
                "es-US",
                Format::Date,
                &[
                    ("3 de dic de 1955", Some("1955-12-03")),
                    ("jue 13 ago", Some("2026-08-13")),
                    ("mar 11 ago", None),
                    ("mañana", Some("2026-08-13")),
                ],
            ),
            ("es-US", Format::Clock, &[("10 p. m.", Some("22:00")), ("10 de la noche", Some("22:00"))]),
            (
                "ar",
                Format::Date,
                &[
                    ("3 أغسطس 1955", Some("1955-08-03")),
                    ("الخميس 13 أغسطس", Some("2026-08-13")),
                    ("غدا", Some("2026-08-13")),
                ],
            ),
            ("en-US", Format::Date, &[("3 août 1955", None), ("mar 3 1955", Some("1955-03-03"))]),
        ];
        for (tag, format, rows) in desks {
            let words = in_language(tag);
            for (text, expected) in rows {
                let unreadable = Reading::None(Misread::Unreadable);
                let expected = expected.map_or(unreadable, |one| Reading::One(one.to_owned()));
                assert_eq!(typed(&words, format, text), expected, "{tag}: {text}");
            }
        }
    }

    /// What stands in a field of a time is read as that time again.
    #[test]
    fn a_time_that_is_shown_reads_as_itself_in_every_language() {
        for tag in ["en-US", "de", "fr", "es-US", "ar"] {
            let words = in_language(tag);
            for minute in (0..1440).step_by(30) {
                let time = Clock(NaiveTime::from_hms_opt(minute / 60, minute % 60, 0).unwrap()).to_string();
                let shown = shown(Format::Clock, &time, &words.names);
                assert_eq!(typed(&words, Format::Clock, &shown), Reading::One(time), "{tag}: {shown}");
            }
        }
    }

    /// After an Arabic letter the digits of a record number would change places around its hyphen.
    #[test]
    fn a_number_in_an_arabic_sentence_is_set_apart() {
        let said = in_language("ar").say("case.record", &[("number", "000-104")]).unwrap();
        assert!(said.contains("\u{2066}000-104\u{2069}"), "{said}");
    }

    #[test]
    fn what_was_understood_is_said_with_its_weekday() {
        let words = words();
        let said = |format, value| words.read_back(format, value).unwrap().unwrap().replace('\u{a0}', " ");
        assert_eq!(said(Format::Date, "1955-03-02"), "Wednesday, March 2, 1955");
        assert_eq!(said(Format::LocalTime, "2026-08-07T10:00"), "Friday, August 7, 2026, at 10:00 AM");
        let month = "Some time in August 2025. Counts as August 31, 2025.";
        assert_eq!(said(Format::PartialDate, "2025-08"), month);
        assert_eq!(said(Format::PartialDate, "2021"), "Some time in 2021. Counts as December 31, 2021.");
        assert_eq!(said(Format::Clock, "22:30"), "10:30 PM");
    }
}

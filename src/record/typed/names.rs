//! Names of days, months and times of day, as people type them in the languages of a desk.

use std::collections::BTreeMap;

use chrono::{NaiveTime, Weekday};

/// What a name means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Meaning {
    /// From 1.
    Month(u32),
    Weekday(Weekday),
    /// So many days from today.
    Day(i64),
    Half(Half),
    Time(NaiveTime),
    /// It only says that a time of day stands before it, or between its hour and minute.
    Clock,
    /// It says nothing: "at", or "th" behind a day.
    Nothing,
}

/// Half of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Half {
    Morning,
    Afternoon,
}

impl Meaning {
    /// What the names under a key mean.
    fn of(key: &str) -> Option<Self> {
        Some(match key {
            "today" => Self::Day(0),
            "tomorrow" => Self::Day(1),
            "yesterday" => Self::Day(-1),
            "morning" => Self::Half(Half::Morning),
            "afternoon" => Self::Half(Half::Afternoon),
            "midnight" => Self::Time(NaiveTime::MIN),
            "noon" => Self::Time(NaiveTime::from_hms_opt(12, 0, 0)?),
            "clock" => Self::Clock,
            "between" => Self::Nothing,
            _ => match (key.parse::<chrono::Month>(), key.parse::<Weekday>()) {
                (Ok(month), _) => Self::Month(month.number_from_month()),
                (_, Ok(weekday)) => Self::Weekday(weekday),
                _ => return None,
            },
        })
    }

    /// Whether a beginning of its names is typed for it.
    fn is_shortened(self) -> bool {
        matches!(self, Self::Month(_) | Self::Weekday(_))
    }
}

/// Letters of a month or weekday that are enough, if they begin no other.
const ENOUGH: usize = 3;

/// The names of dates and times that somebody may type.
#[derive(Debug, Clone, Default)]
pub struct Names {
    /// By the name in small letters.
    meanings: BTreeMap<String, Meaning>,
    /// Names of more than letters ("p. m."), each with its letters alone.
    written: Vec<(String, String)>,
    /// The words for both halves of the day, as they are shown.
    halves: [String; 2],
}

impl Names {
    /// Adds the names of a language, by key: `january` and so on, `monday` and so on, `today`, `tomorrow`, `yesterday`, `noon`,
    /// `midnight`, `morning` and `afternoon` (what stands behind a time by the 12-hour clock), `clock` (what says
    /// that a time stands before it), `between` (what says nothing). Several names of one key stand with commas between them, the one that is shown first. The
    /// language that is added last is the one that is shown.
    pub fn add<'t>(&mut self, texts: impl IntoIterator<Item = (&'t str, &'t str)>) {
        for (key, text) in texts {
            let Some(meaning) = Meaning::of(key) else { continue };
            let names: Vec<String> = text.split(',').map(|name| name.trim().to_lowercase()).collect();
            if let Meaning::Half(half) = meaning {
                self.halves[half as usize].clone_from(&names[0]);
            }
            for name in names {
                let plain: String = name.chars().filter(|c| c.is_alphabetic()).collect();
                if plain != name {
                    self.written.push((name, plain.clone()));
                }
                self.meanings.insert(plain, meaning);
            }
        }
    }

    /// A text in which each name of more than letters is one of letters alone.
    pub(super) fn plain(&self, text: &str) -> String {
        self.written.iter().fold(text.to_owned(), |text, (name, plain)| text.replace(name.as_str(), plain))
    }

    /// The word for a half of the day.
    pub(super) fn half(&self, half: Half) -> &str {
        &self.halves[half as usize]
    }

    /// What a word means: a whole name, or the beginning of names that mean the same.
    pub(super) fn meaning(&self, word: &str) -> Option<Meaning> {
        self.meanings.get(word).copied().or_else(|| self.begun(word))
    }

    fn begun(&self, word: &str) -> Option<Meaning> {
        if word.chars().count() < ENOUGH {
            return None;
        }
        let names = self.meanings.range(word.to_owned()..).take_while(|(name, _)| name.starts_with(word));
        let mut meanings = names.map(|(_, meaning)| *meaning).filter(|meaning| meaning.is_shortened());
        let first = meanings.next()?;
        meanings.all(|other| other == first).then_some(first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Names {
        let mut names = Names::default();
        names.add([("march", "march"), ("may", "may"), ("tuesday", "Tuesday, tues"), ("afternoon", "pm, p.m., p. m.")]);
        names
    }

    #[test]
    fn a_name_may_be_begun_as_long_as_it_is_the_only_one() {
        let mut names = names();
        assert_eq!(names.meaning("mar"), Some(Meaning::Month(3)));
        assert_eq!(names.meaning("ma"), None);
        assert_eq!(names.meaning("tue"), Some(Meaning::Weekday(Weekday::Tue)));
        names.add([("tuesday", "mardi")]);
        assert_eq!(names.meaning("mar"), None, "March or Tuesday");
        assert_eq!(names.meaning("mard"), Some(Meaning::Weekday(Weekday::Tue)));
        assert_eq!(names.meaning("march"), Some(Meaning::Month(3)));
    }

    #[test]
    fn what_is_shown_is_a_word_of_the_language_added_last() {
        let mut names = names();
        assert_eq!(names.half(Half::Afternoon), "pm");
        for written in ["10:30 p.m.", "10:30 p. m.", "10:30 pm"] {
            assert_eq!(names.plain(written), "10:30 pm");
        }
        names.add([("afternoon", "م"), ("no_such_key", "x")]);
        assert_eq!((names.half(Half::Afternoon), names.meaning("pm")), ("م", Some(Meaning::Half(Half::Afternoon))));
    }
}

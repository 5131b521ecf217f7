//! One language: its words from `locales/<tag>/words.toml`, its dates, numbers and plurals from CLDR through ICU4X.
//!
//! A variant takes what it does not change from the folder of the same language that it was made from. No fallback to
//! another language, ever.

use chrono::{Datelike, NaiveDate, NaiveTime, Timelike};
use icu::calendar::{Date, Gregorian};
use icu::datetime::fieldsets::{E, MD, T, YM, YMD, YMDE};
use icu::datetime::{FixedCalendarDateTimeFormatter, NoCalendarFormatter};
use icu::decimal::DecimalFormatter;
use icu::decimal::input::Decimal;
use icu::list::ListFormatter;
use icu::list::options::ListFormatterOptions;
use icu::locale::{Direction, Locale as Tag, LocaleDirectionality};
use icu::plurals::{PluralCategory, PluralRules};
use icu::time::Time;

use super::error::ComposeError;
use super::folders::Folders;
use super::lineage::{self, lineage};
use super::words::Words;
use crate::assets::{Assets, Kind, LoadError, Problem};

type DateFormat<F> = FixedCalendarDateTimeFormatter<Gregorian, F>;

/// A language ready for use.
#[derive(Debug)]
pub struct Locale {
    /// BCP 47 tag.
    pub tag: String,
    /// Whether it is written from right to left.
    pub right_to_left: bool,
    words: Words,
    full_date: DateFormat<YMDE>,
    date: DateFormat<YMD>,
    day: DateFormat<MD>,
    month: DateFormat<YM>,
    short_weekday: DateFormat<E>,
    weekday: DateFormat<E>,
    time: NoCalendarFormatter<T>,
    decimal: DecimalFormatter,
    list: ListFormatter,
    plurals: PluralRules,
}

impl Locale {
    /// Loads a language.
    ///
    /// # Errors
    /// When there is no such folder, the words cannot be read, or CLDR does not know the language.
    pub fn load(assets: &Assets, tag: &str) -> Result<Self, LoadError> {
        Self::of(&Folders::new(assets), tag)
    }

    /// Loads a language from these folders.
    ///
    /// # Errors
    /// As [`Locale::load`].
    pub fn of(folders: &Folders, tag: &str) -> Result<Self, LoadError> {
        let lineage = lineage(folders, tag)?;
        let words = folders.words(&lineage)?;
        let file = |name: &str| format!("locales/{tag}/{name}.toml");
        if folders.assets.under(&format!("locales/{tag}/")).is_empty() || words.is_empty() {
            return Err(LoadError::no_file(&file("words"), &format!("there are no words for the language {tag}")));
        }
        let formats = lineage::formats(folders, &lineage)?;
        let wrong = |what: String| Problem::new(Kind::UnknownName, what).in_file(&file("translation"));
        let locale: Tag = formats.parse().map_err(|_| wrong(format!("{formats} is not a language tag like en-US")))?;
        Self::formatters(tag, &locale, words).map_err(|error| wrong(format!("dates and numbers of {tag}: {error}")))
    }

    fn formatters(tag: &str, locale: &Tag, words: Words) -> Result<Self, Box<dyn std::error::Error>> {
        Ok(Self {
            tag: tag.to_owned(),
            right_to_left: LocaleDirectionality::new_common().get(&locale.id) == Some(Direction::RightToLeft),
            words,
            full_date: DateFormat::try_new(locale.into(), YMDE::long())?,
            date: DateFormat::try_new(locale.into(), YMD::long())?,
            day: DateFormat::try_new(locale.into(), MD::long())?,
            month: DateFormat::try_new(locale.into(), YM::long())?,
            short_weekday: DateFormat::try_new(locale.into(), E::medium())?,
            weekday: DateFormat::try_new(locale.into(), E::long())?,
            time: NoCalendarFormatter::try_new(locale.into(), T::hm())?,
            decimal: DecimalFormatter::try_new(locale.into(), Default::default())?,
            list: ListFormatter::try_new_and(locale.into(), ListFormatterOptions::default())?,
            plurals: PluralRules::try_new_cardinal(locale.into())?,
        })
    }

    /// A word or sentence of the language by key.
    ///
    /// # Errors
    /// When the language has none: another language never stands in.
    pub fn word(&self, key: &str) -> Result<&str, ComposeError> {
        let missing = || ComposeError::MissingText { language: self.tag.clone(), key: key.to_owned() };
        self.words.get(key).map(String::as_str).ok_or_else(missing)
    }

    /// Whether the language has a text for this key.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.words.contains_key(key)
    }

    /// "Friday, August 7, 2026".
    #[must_use]
    pub fn full_date(&self, date: NaiveDate) -> String {
        unbroken(&self.full_date.format(&gregorian(date)).to_string())
    }

    /// "August 7, 2026".
    #[must_use]
    pub fn date(&self, date: NaiveDate) -> String {
        unbroken(&self.date.format(&gregorian(date)).to_string())
    }

    /// "August 7".
    #[must_use]
    pub fn day(&self, date: NaiveDate) -> String {
        unbroken(&self.day.format(&gregorian(date)).to_string())
    }

    /// "August 2026".
    #[must_use]
    pub fn month(&self, date: NaiveDate) -> String {
        self.month.format(&gregorian(date)).to_string()
    }

    /// "Fri 7", for the narrow rows of a long calendar, which stand under their month.
    #[must_use]
    pub fn weekday_and_day(&self, date: NaiveDate) -> String {
        let weekday = self.short_weekday.format(&gregorian(date));
        format!("{weekday}\u{a0}{}", self.number(f64::from(date.day()), 0))
    }

    /// "Friday".
    #[must_use]
    pub fn weekday(&self, date: NaiveDate) -> String {
        self.weekday.format(&gregorian(date)).to_string()
    }

    /// "8:00 AM"; twelve o'clock is named noon or midnight, since "12:00" is misread.
    ///
    /// # Errors
    /// When the language lacks these two words.
    pub fn time(&self, time: NaiveTime) -> Result<String, ComposeError> {
        match (time.hour(), time.minute()) {
            (12, 0) => self.word("time.noon").map(str::to_owned),
            (0, 0) => self.word("time.midnight").map(str::to_owned),
            (hour, minute) => {
                let time = Time::try_new(hour as u8, minute as u8, 0, 0).expect("chrono and ICU4X share the day");
                Ok(unbroken(&self.time.format(&time).to_string()))
            }
        }
    }

    /// A number with at most so many digits after the point and no trailing zero.
    #[must_use]
    pub fn number(&self, value: f64, decimals: u8) -> String {
        let mut decimal: Decimal =
            format!("{value:.*}", usize::from(decimals)).parse().expect("facts and evidence are finite");
        decimal.trim_end();
        self.decimal.format(&decimal).to_string()
    }

    /// "a, b and c".
    #[must_use]
    pub fn list<'a>(&self, items: impl IntoIterator<Item = &'a str>) -> String {
        let items: Vec<String> = items.into_iter().map(|item| self.set_apart(item)).collect();
        self.list.format(items.iter()).to_string()
    }

    /// A text whose direction may not be that of the text around it, set apart so that neither reorders the other: a phone
    /// number in an Arabic sentence reads backwards otherwise (Unicode Standard Annex 9, rules W2 and X5a to X5c).
    #[must_use]
    pub fn set_apart(&self, text: &str) -> String {
        // The blocks of Hebrew, Arabic and their like.
        let leftward = |c: char| {
            let c = u32::from(c);
            matches!(c, 0x590..=0x8FF | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFF | 0x1_0800..=0x1_0FFF)
        };
        // A text that sets parts apart was put together in this language. By its first letter alone it would not tell its
        // direction: that rule passes over the parts (P2).
        let composed = text.contains(['\u{2066}', '\u{2067}', '\u{2068}']);
        match (self.right_to_left, text.chars().any(leftward)) {
            (false, false) => text.to_owned(),
            (true, false) => format!("\u{2066}{text}\u{2069}"),
            (true, true) if composed => format!("\u{2067}{text}\u{2069}"),
            (_, true) => format!("\u{2068}{text}\u{2069}"),
        }
    }

    /// A count with its unit in words: key `unit.month` and 6 give "6 months".
    ///
    /// # Errors
    /// When the language lacks the plural form it needs.
    pub fn count(&self, unit: &str, amount: f64) -> Result<String, ComposeError> {
        let written = self.number(amount, 1);
        let pattern = self.word(&format!("unit.{unit}.{}", self.plural(amount)))?;
        Ok(unbroken(&pattern.replace("{n}", &written)))
    }

    /// The plural form that an amount asks for, by its name in CLDR: `one`, `other` and so on.
    #[must_use]
    pub fn plural(&self, amount: f64) -> &'static str {
        // The plural follows what is printed: 1.04 prints "1".
        let mut decimal: Decimal = format!("{amount:.1}").parse().expect("facts and evidence are finite");
        decimal.trim_end();
        match self.plurals.category_for(&decimal) {
            PluralCategory::Zero => "zero",
            PluralCategory::One => "one",
            PluralCategory::Two => "two",
            PluralCategory::Few => "few",
            PluralCategory::Many => "many",
            PluralCategory::Other => "other",
        }
    }

    /// A length of time: whole hours as hours, everything else in minutes below two hours, else in hours and minutes.
    ///
    /// # Errors
    /// As [`Locale::count`].
    pub fn duration(&self, minutes: u32) -> Result<String, ComposeError> {
        let (hours, rest) = (f64::from(minutes / 60), f64::from(minutes % 60));
        match (minutes / 60, minutes % 60) {
            (0 | 1, 1..) => self.count("minute", f64::from(minutes)),
            (_, 0) => self.count("hour", hours),
            _ => {
                let parts = [self.count("hour", hours)?, self.count("minute", rest)?];
                Ok(self.list(parts.iter().map(String::as_str)))
            }
        }
    }
}

/// A number and the word it counts, or the day and its month, stay on one line: "7 August", "August 7", "8:00 AM".
fn unbroken(text: &str) -> String {
    let words: Vec<&str> = text.split(char::is_whitespace).collect();
    let spaces = text.chars().filter(|c| c.is_whitespace());
    let spelled = |word: Option<&&str>| word.is_some_and(|word| word.starts_with(char::is_alphabetic));
    let ends_with_number = |word: &str| word.trim_end_matches('.').ends_with(char::is_numeric);
    let day = |word: &str| word.chars().filter(|c| c.is_numeric()).count() < 3 && word.starts_with(char::is_numeric);
    let mut joined = words[0].to_owned();
    for (at, space) in spaces.enumerate() {
        let (word, next) = (words[at], words[at + 1]);
        let counted = ends_with_number(word) && spelled(Some(&next));
        let dated = spelled(Some(&word)) && !word.ends_with(',') && day(next) && !spelled(words.get(at + 2));
        joined.push(if counted || dated { '\u{a0}' } else { space });
        joined.push_str(next);
    }
    joined
}

fn gregorian(date: NaiveDate) -> Date<Gregorian> {
    Date::try_new_gregorian(date.year(), date.month() as u8, date.day() as u8)
        .expect("chrono and ICU4X share the Gregorian calendar")
}

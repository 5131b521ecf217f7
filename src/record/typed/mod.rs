//! Dates and times as people type them: `7 aug 10`, `14.8. 9:20`, `3/2/1955`, `tomorrow 935`, `sat 3/10`, `10.30 pm`. What can
//! be read in two ways is asked about; nothing is chosen for anybody.

mod names;

use chrono::{Datelike, NaiveDate, NaiveTime, TimeDelta, Timelike, Weekday};

use super::date::{Clock, Date, LocalTime, PartialDate};
use super::form::Format;
use names::{Half, Meaning};

pub use names::Names;

/// What the day and the language of typing lend to what is typed.
#[derive(Debug, Clone, Copy)]
pub struct Around<'a> {
    /// The day it is typed on: a day without a year is the one nearest to it.
    pub today: NaiveDate,
    /// The day that is meant where only a time is typed, if there is one.
    pub day: Option<NaiveDate>,
    /// What days, months and times of day are called.
    pub names: &'a Names,
}

impl Around<'_> {
    fn month(&self, word: &str) -> Option<u32> {
        match self.names.meaning(word) {
            Some(Meaning::Month(month)) => Some(month),
            _ => None,
        }
    }
}

/// How something typed can be read, each way as a record writes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// In one way.
    One(String),
    /// In several ways.
    Several(Vec<String>),
    /// In no way.
    None(Misread),
}

/// Why something cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Misread {
    /// There is no such day, for example 31 February.
    NoSuchDay,
    /// There is no such time of day.
    NoSuchTime,
    /// A day without a time where both are wanted.
    TimeLacks,
    /// A time without a day where both are wanted.
    DayLacks,
    /// It is no date or time.
    Unreadable,
}

/// Reads what was typed for a key of this format.
///
/// ```
/// use vitreoleaf::record::form::Format;
/// use vitreoleaf::record::typed::{Around, Names, Reading, read};
///
/// let mut names = Names::default();
/// names.add([("august", "august")]);
/// let around = Around { today: "2026-08-04".parse().unwrap(), day: None, names: &names };
/// assert_eq!(read(Format::LocalTime, "7 aug 10", around), Reading::One("2026-08-07T10:00".into()));
/// let both = ["1955-03-02", "1955-02-03"].map(String::from).to_vec();
/// assert_eq!(read(Format::Date, "3/2/1955", around), Reading::Several(both));
/// ```
#[must_use]
pub fn read(format: Format, text: &str, around: Around) -> Reading {
    let parts = parts(text, around.names);
    match format {
        Format::Date => {
            reading(days(&parts, around, true).map(|(days, rest)| ended(days, rest)), |day| Date(day).to_string())
        }
        Format::PartialDate => match partial(&parts, around) {
            Some(date) => Reading::One(date.to_string()),
            None => read(Format::Date, text, around),
        },
        Format::Clock => reading(times(&parts, Hours::OfTheDay, around.names), |time| Clock(time).to_string()),
        Format::LocalTime => local(&parts, around),
        Format::Zone => Reading::One(text.trim().to_owned()),
    }
}

fn reading<T>(read: Result<Vec<T>, Misread>, write: impl Fn(T) -> String) -> Reading {
    let mut ways: Vec<String> = match read {
        Ok(ways) => ways.into_iter().map(write).collect(),
        Err(why) => return Reading::None(why),
    };
    match ways.len() {
        0 => Reading::None(Misread::Unreadable),
        1 => Reading::One(ways.remove(0)),
        _ => Reading::Several(ways),
    }
}

/// A run of digits, or of letters, with what stands before it.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    /// A number, how many digits it has, and whether a point, slash or hyphen joins it to the number before it.
    Number(u32, usize, bool),
    /// A word in small letters, and `:` as a word of its own.
    Word(String),
}

fn parts(text: &str, names: &Names) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut joined = false;
    let text = names.plain(&text.trim().to_lowercase());
    let mut rest = text.as_str();
    while let Some(first) = rest.chars().next() {
        let like = |c: char| {
            if first.is_ascii_digit() { c.is_ascii_digit() } else { first.is_alphabetic() && c.is_alphabetic() }
        };
        let end = rest.find(|c| !like(c)).unwrap_or(rest.len()).max(first.len_utf8());
        let (token, after) = rest.split_at(end);
        match first {
            '0'..='9' => parts.push(Part::Number(token.parse().unwrap_or(u32::MAX), token.len(), joined)),
            ':' => parts.push(Part::Word(":".into())),
            // Between day and time of a record's own notation.
            't' if token == "t" && parts.len() == 3 => {}
            _ if names.meaning(token) == Some(Meaning::Nothing) => {}
            _ if first.is_alphabetic() => parts.push(Part::Word(token.to_owned())),
            _ => {}
        }
        joined = matches!(first, '.' | '/' | '-') && after.starts_with(|c: char| c.is_ascii_digit());
        rest = after;
    }
    parts
}

/// Years that a date without a time of day can be of; four other digits after a day are a time.
const YEARS: std::ops::Range<u32> = 1900..2200;

/// The days that the first parts can mean, and the parts that are left: one that is named after today, a weekday, or a date.
fn days<'p>(parts: &'p [Part], around: Around, alone: bool) -> Result<(Vec<NaiveDate>, &'p [Part]), Misread> {
    let Some((Part::Word(word), rest)) = parts.split_first() else { return dates(parts, around, alone) };
    match around.names.meaning(word) {
        Some(Meaning::Day(days)) => Ok((vec![around.today + TimeDelta::days(days)], rest)),
        Some(Meaning::Weekday(weekday)) => on(weekday, rest, around, alone),
        _ => dates(parts, around, alone),
    }
}

/// The date that follows a weekday, if it is one; the weekday alone is the next one, or one in the week after or before.
fn on<'p>(
    weekday: Weekday,
    rest: &'p [Part],
    around: Around,
    alone: bool,
) -> Result<(Vec<NaiveDate>, &'p [Part]), Misread> {
    let dated = dates(rest, around, alone).map(|(days, rest)| {
        let agree: Vec<NaiveDate> = days.into_iter().filter(|day| day.weekday() == weekday).collect();
        (agree, rest)
    });
    match dated {
        Ok((agree, rest)) if !agree.is_empty() => Ok((agree, rest)),
        Ok(_) if alone => Err(Misread::NoSuchDay),
        Err(why @ Misread::NoSuchDay) => Err(why),
        _ => {
            let next = around.today + TimeDelta::days(weekday.days_since(around.today.weekday()).into());
            let week = TimeDelta::days(7);
            Ok((vec![next, next + week, next - week], rest))
        }
    }
}

/// The dates that the first parts can mean, and the parts that are left. A year of two digits counts only where no time may
/// follow.
fn dates<'p>(parts: &'p [Part], around: Around, alone: bool) -> Result<(Vec<NaiveDate>, &'p [Part]), Misread> {
    use Part::{Number, Word};
    let year_at = |rest: &[Part]| match rest.first() {
        Some(Number(year, 4, _)) if alone || YEARS.contains(year) => Some(vec![*year]),
        Some(Number(year, 2, joined)) if *joined || alone => Some(centuries(*year, around)),
        _ => None,
    };
    let (pairs, rest): (Vec<(u32, u32)>, &[Part]) = match parts {
        [Number(year, 4, _), Number(month, ..), Number(day, ..), rest @ ..] => {
            return Ok((vec![date(*year, *month, *day)?], rest));
        }
        [Number(day, 1..=2, _), Word(word), rest @ ..] | [Word(word), Number(day, 1..=2, _), rest @ ..] => {
            (vec![(*day, around.month(word).ok_or(Misread::Unreadable)?)], rest)
        }
        [Number(one, 1..=2, _), Number(other, 1..=2, true), rest @ ..] => match (*one <= 12, *other <= 12) {
            (true, true) if one != other => (vec![(*other, *one), (*one, *other)], rest),
            (true, false) => (vec![(*other, *one)], rest),
            _ => (vec![(*one, *other)], rest),
        },
        _ => return Err(Misread::Unreadable),
    };
    let mut found = Vec::new();
    let (years, rest) = match year_at(rest) {
        Some(years) => (Some(years), &rest[1..]),
        None => (None, rest),
    };
    for (day, month) in pairs {
        match &years {
            Some(years) => found.extend(years.iter().filter_map(|year| date(*year, month, day).ok())),
            None => found.extend(nearest(month, day, around.today)),
        }
    }
    if found.is_empty() { Err(Misread::NoSuchDay) } else { Ok((found, rest)) }
}

fn ended(days: Vec<NaiveDate>, rest: &[Part]) -> Vec<NaiveDate> {
    if rest.is_empty() { days } else { Vec::new() }
}

fn date(year: u32, month: u32, day: u32) -> Result<NaiveDate, Misread> {
    let year = i32::try_from(year).map_err(|_| Misread::NoSuchDay)?;
    NaiveDate::from_ymd_opt(year, month, day).ok_or(Misread::NoSuchDay)
}

/// The years that two digits can mean: none more than ten years ahead.
fn centuries(year: u32, around: Around) -> Vec<u32> {
    let latest = u32::try_from(around.today.year() + 10).unwrap_or(u32::MAX);
    [1900 + year, 2000 + year].into_iter().filter(|year| *year <= latest).collect()
}

/// A day and month in the year that brings it nearest to another day.
fn nearest(month: u32, day: u32, to: NaiveDate) -> Option<NaiveDate> {
    let years = [-1, 0, 1].map(|more| NaiveDate::from_ymd_opt(to.year() + more, month, day));
    years.into_iter().flatten().min_by_key(|date| (*date - to).num_days().abs())
}

/// A year, or a month of a year.
fn partial(parts: &[Part], around: Around) -> Option<PartialDate> {
    use Part::{Number, Word};
    let first = |year: u32, month| NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, 1);
    match parts {
        [Number(year, 4, _)] => first(*year, 1).map(PartialDate::Year),
        [Number(year, 4, _), Number(month, 1..=2, true)] | [Number(month, 1..=2, _), Number(year, 4, true)] => {
            first(*year, *month).map(PartialDate::Month)
        }
        [Word(word), Number(year, 4, _)] | [Number(year, 4, _), Word(word)] => {
            first(*year, around.month(word)?).map(PartialDate::Month)
        }
        _ => None,
    }
}

/// Which hours without "am" or "pm" are asked about. Common practice, no source.
#[derive(Clone, Copy)]
enum Hours {
    /// Somebody gets up or goes to sleep: 5 to 7 are in the morning, the others are asked about.
    OfTheDay,
    /// A practice is open: 7 to 12 are as they are, 1 to 6 are asked about.
    OfAPractice,
}

impl Hours {
    fn asks(self, hour: u32) -> bool {
        match self {
            Self::OfTheDay => matches!(hour, 1..=4 | 8..=12),
            Self::OfAPractice => matches!(hour, 1..=6),
        }
    }
}

/// The times of day that parts can mean. An hour above 12, one with a leading zero and one of five digits with its minute
/// ("08:05") are those of the 24-hour clock.
fn times(parts: &[Part], hours: Hours, names: &Names) -> Result<Vec<NaiveTime>, Misread> {
    use Part::{Number, Word};
    let meaning = |part: Option<&Part>| match part {
        Some(Word(word)) => names.meaning(word),
        _ => None,
    };
    let (half, parts) = match (meaning(parts.last()), parts) {
        (Some(Meaning::Time(time)), [_]) => return Ok(vec![time]),
        (Some(Meaning::Half(half)), [before @ .., _]) => (Some(half), before),
        _ => (None, parts),
    };
    let parts = match (meaning(parts.last()), parts) {
        (Some(Meaning::Clock), [before @ .., _]) => before,
        _ => parts,
    };
    let (hour, minute, padded) = match parts {
        [Number(hour, digits @ 1..=2, _)] => (*hour, 0, *digits == 2 && *hour < 10),
        [Number(hour, digits @ 1..=2, _), Number(minute, 2, true)] => (*hour, *minute, *digits == 2 && *hour < 10),
        [Number(hour, digits @ 1..=2, _), Word(between), Number(minute, 2, _)] if is_colon(between, names) => {
            (*hour, *minute, *digits == 2 && *hour < 10)
        }
        [Number(whole, digits @ 3..=4, _)] => (whole / 100, whole % 100, *digits == 4 && *whole < 1000),
        _ => return Err(Misread::Unreadable),
    };
    match half {
        Some(_) if !(1..=12).contains(&hour) => Err(Misread::NoSuchTime),
        Some(Half::Morning) => Ok(vec![time(hour % 12, minute)?]),
        Some(Half::Afternoon) => Ok(vec![time(hour % 12 + 12, minute)?]),
        None if hours.asks(hour) && !padded => Ok(vec![time(hour % 12, minute)?, time(hour % 12 + 12, minute)?]),
        None => Ok(vec![time(hour, minute)?]),
    }
}

/// What stands between hour and minute: "10:30", "10 h 30".
fn is_colon(word: &str, names: &Names) -> bool {
    word == ":" || names.meaning(word) == Some(Meaning::Clock)
}

fn time(hour: u32, minute: u32) -> Result<NaiveTime, Misread> {
    NaiveTime::from_hms_opt(hour, minute, 0).ok_or(Misread::NoSuchTime)
}

/// A day with a time; a time alone is on the day that is meant.
fn local(parts: &[Part], around: Around) -> Reading {
    let alone = times(parts, Hours::OfAPractice, around.names);
    let (days, times) = match (days(parts, around, false), around.day) {
        (Ok((_, [])), _) if alone.is_err() => return Reading::None(Misread::TimeLacks),
        (Ok((days, rest)), _) if !rest.is_empty() => (days, times(rest, Hours::OfAPractice, around.names)),
        (_, Some(day)) if alone.is_ok() => (vec![day], alone),
        (_, None) if alone.is_ok() => return Reading::None(Misread::DayLacks),
        (Err(why), _) => return Reading::None(why),
        _ => return Reading::None(Misread::TimeLacks),
    };
    let both = times.map(|times| {
        days.iter().flat_map(|day| times.iter().map(|time| LocalTime(day.and_time(*time)))).collect::<Vec<_>>()
    });
    reading(both, |at| at.to_string())
}

/// What stands in the field of a value that was read: it reads as the same value again.
///
/// ```
/// use vitreoleaf::record::form::Format;
/// use vitreoleaf::record::typed::{Names, shown};
///
/// let mut names = Names::default();
/// names.add([("afternoon", "pm")]);
/// assert_eq!(shown(Format::LocalTime, "2026-08-07T10:00:00", &names), "2026-08-07 10:00");
/// assert_eq!(shown(Format::Clock, "22:30", &names), "10:30 pm");
/// ```
#[must_use]
pub fn shown(format: Format, value: &str, names: &Names) -> String {
    match format {
        Format::LocalTime => value.parse().map(|LocalTime(at)| at.format("%Y-%m-%d %H:%M").to_string()),
        Format::Clock => value.parse().map(|Clock(time)| by_halves(time, names)),
        Format::Date | Format::PartialDate | Format::Zone => Ok(value.to_owned()),
    }
    .unwrap_or_else(|_| value.to_owned())
}

fn by_halves(time: NaiveTime, names: &Names) -> String {
    let half = if time.hour() < 12 { Half::Morning } else { Half::Afternoon };
    format!("{} {}", time.format("%-I:%M"), names.half(half))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::{Days, Months};
    use proptest::prelude::*;
    use std::sync::LazyLock;

    const NAMES: [(&str, &str); 28] = [
        ("january", "january"),
        ("february", "february"),
        ("march", "march"),
        ("april", "april"),
        ("may", "may"),
        ("june", "june"),
        ("july", "july"),
        ("august", "august"),
        ("september", "september, sept"),
        ("october", "october"),
        ("november", "november"),
        ("december", "december"),
        ("monday", "monday"),
        ("tuesday", "tuesday"),
        ("wednesday", "wednesday"),
        ("thursday", "thursday"),
        ("friday", "friday"),
        ("saturday", "saturday"),
        ("sunday", "sunday"),
        ("today", "today"),
        ("tomorrow", "tomorrow"),
        ("yesterday", "yesterday"),
        ("morning", "am, a, a.m."),
        ("afternoon", "pm, p, p.m."),
        ("noon", "noon"),
        ("midnight", "midnight"),
        ("clock", "h"),
        ("between", "at, th"),
    ];

    static ENGLISH: LazyLock<Names> = LazyLock::new(|| {
        let mut names = Names::default();
        names.add(NAMES);
        names
    });

    fn around() -> Around<'static> {
        let day = |text: &str| text.parse().unwrap();
        Around { today: day("2026-08-12"), day: Some(day("2026-08-13")), names: &ENGLISH }
    }

    fn all(format: Format, text: &str) -> Vec<String> {
        match read(format, text, around()) {
            Reading::One(one) => vec![one],
            Reading::Several(several) => several,
            Reading::None(why) => vec![format!("{why:?}")],
        }
    }

    #[test]
    fn days_are_read_as_people_type_them() {
        for (typed, ways) in [
            ("1955-03-02", &["1955-03-02"][..]),
            ("3/2/1955", &["1955-03-02", "1955-02-03"]),
            ("3.2.55", &["1955-03-02", "1955-02-03"]),
            ("13/2/1955", &["1955-02-13"]),
            ("2/13/1955", &["1955-02-13"]),
            ("2/2/1955", &["1955-02-02"]),
            ("2 march 1955", &["1955-03-02"]),
            ("Mar 2, 1955", &["1955-03-02"]),
            ("14-Sept-1960", &["1960-09-14"]),
            ("aug 3", &["2026-08-03"]),
            ("3 jan", &["2027-01-03"]),
            ("20 may 26", &["1926-05-20", "2026-05-20"]),
            ("20 may 37", &["1937-05-20"]),
            ("20 may 36", &["1936-05-20", "2036-05-20"]),
            ("feb 31 1971", &["NoSuchDay"]),
            ("31/2/1971", &["NoSuchDay"]),
            ("2026-02-30", &["NoSuchDay"]),
            ("", &["Unreadable"]),
            ("ma 2 1955", &["Unreadable"]),
            ("3 ju 1955", &["Unreadable"]),
            ("today", &["2026-08-12"]),
            ("tomorrow", &["2026-08-13"]),
            ("Yesterday", &["2026-08-11"]),
            ("thu", &["2026-08-13", "2026-08-20", "2026-08-06"]),
            ("Wednesday", &["2026-08-12", "2026-08-19", "2026-08-05"]),
            ("Sat 3/10", &["2026-10-03"]),
            ("Thursday, Aug 13, 2026", &["2026-08-13"]),
            ("Friday, Aug 13, 2026", &["NoSuchDay"]),
            ("thirsty", &["Unreadable"]),
            ("tomorrow 3", &["Unreadable"]),
            ("1955", &["Unreadable"]),
            ("2 march 1955 10", &["Unreadable"]),
        ] {
            assert_eq!(all(Format::Date, typed), ways, "{typed}");
        }
    }

    #[test]
    fn a_month_or_a_year_may_be_all_that_is_known() {
        for (typed, way) in [
            ("2021", "2021"),
            ("mar 2024", "2024-03"),
            ("2024-03", "2024-03"),
            ("3/2024", "2024-03"),
            ("aug 3 2026", "2026-08-03"),
            ("13/2024", "Unreadable"),
        ] {
            assert_eq!(all(Format::PartialDate, typed), [way], "{typed}");
        }
    }

    #[test]
    fn times_of_day_are_asked_about_where_both_halves_are_lived() {
        for (typed, ways) in [
            ("7", &["07:00"][..]),
            ("07:30", &["07:30"]),
            ("7.30", &["07:30"]),
            ("10.30 pm", &["22:30"]),
            ("10:30 p.m.", &["22:30"]),
            ("6 a.m.", &["06:00"]),
            ("10:30", &["10:30", "22:30"]),
            ("22:30", &["22:30"]),
            ("2230", &["22:30"]),
            ("12", &["00:00", "12:00"]),
            ("12 am", &["00:00"]),
            ("noon", &["12:00"]),
            ("0:15", &["00:15"]),
            ("12:15 am", &["00:15"]),
            ("08:00", &["08:00"]),
            ("24:00", &["NoSuchTime"]),
            ("7:60", &["NoSuchTime"]),
            ("13 pm", &["NoSuchTime"]),
            ("7:5", &["Unreadable"]),
            ("7 h 30", &["07:30"]),
            ("10h30", &["10:30", "22:30"]),
            ("late", &["Unreadable"]),
        ] {
            assert_eq!(all(Format::Clock, typed), ways, "{typed}");
        }
    }

    #[test]
    fn a_time_without_a_day_is_on_the_day_that_is_meant() {
        for (typed, ways) in [
            ("7 aug 10", &["2026-08-07T10:00"][..]),
            ("14.8. 9:20", &["2026-08-14T09:20"]),
            ("Aug 14, 2026, 9:20 am", &["2026-08-14T09:20"]),
            ("Aug 14th at 9:20 am", &["2026-08-14T09:20"]),
            ("2026-08-07T10:00", &["2026-08-07T10:00"]),
            ("2026-08-07 10:00", &["2026-08-07T10:00"]),
            ("7 aug 3 pm", &["2026-08-07T15:00"]),
            ("14 aug 3", &["2026-08-14T03:00", "2026-08-14T15:00"]),
            ("935", &["2026-08-13T09:35"]),
            ("10:15", &["2026-08-13T10:15"]),
            ("3/8 9:20", &["2026-03-08T09:20", "2026-08-03T09:20"]),
            ("tomorrow 9:30", &["2026-08-13T09:30"]),
            ("tomorrow", &["TimeLacks"]),
            ("thu 9.30", &["2026-08-13T09:30", "2026-08-20T09:30", "2026-08-06T09:30"]),
            ("Thu 13 aug 9:30", &["2026-08-13T09:30"]),
            ("8 dec 0930", &["2026-12-08T09:30"]),
            ("8 dec 1430", &["2026-12-08T14:30"]),
            ("8 dec 2026 0930", &["2026-12-08T09:30"]),
            ("7 aug", &["TimeLacks"]),
            ("7 aug 25:00", &["NoSuchTime"]),
            ("feb 31 9:00", &["NoSuchDay"]),
            ("soon", &["Unreadable"]),
        ] {
            assert_eq!(all(Format::LocalTime, typed), ways, "{typed}");
        }
        let nowhere = Around { day: None, ..around() };
        assert_eq!(read(Format::LocalTime, "935", nowhere), Reading::None(Misread::DayLacks));
    }

    proptest! {
        /// What is shown of a value reads as that value, on any day.
        #[test]
        fn what_is_shown_reads_as_itself(day in 0_u64..40_000, minute in 0_u32..1440, months in 0_u32..600, today in 0_u64..40_000) {
            let first = NaiveDate::from_ymd_opt(1920, 1, 1).unwrap();
            let around = Around { today: first + Days::new(today), day: None, names: &ENGLISH };
            let (day, time) = (first + Days::new(day), NaiveTime::from_hms_opt(minute / 60, minute % 60, 0).unwrap());
            let month = first + Months::new(months);
            for (format, value) in [
                (Format::Date, Date(day).to_string()),
                (Format::Clock, Clock(time).to_string()),
                (Format::LocalTime, LocalTime(day.and_time(time)).to_string()),
                (Format::PartialDate, PartialDate::Day(day).to_string()),
                (Format::PartialDate, PartialDate::Month(month).to_string()),
                (Format::PartialDate, PartialDate::Year(month).to_string()),
            ] {
                prop_assert_eq!(read(format, &shown(format, &value, &ENGLISH), around), Reading::One(value));
            }
        }

        #[test]
        fn whatever_is_typed_is_read_without_harm(text in any::<String>()) {
            for format in [Format::Date, Format::PartialDate, Format::LocalTime, Format::Clock] {
                let _ = read(format, &text, around());
            }
        }
    }
}

//! Dates and times as a clinic writes them. One way to read each, one way to write it.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike, Months, NaiveDate, NaiveDateTime, NaiveTime};
use schemars::JsonSchema;
use serde_with::{DeserializeFromStr, SerializeDisplay};

/// A calendar date, `2026-08-07`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, SerializeDisplay, DeserializeFromStr)]
pub struct Date(pub NaiveDate);

/// A local date and time of the practice, `2026-08-07T10:30`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, SerializeDisplay, DeserializeFromStr)]
pub struct LocalTime(pub NaiveDateTime);

/// A time of day, `07:30`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, SerializeDisplay, DeserializeFromStr)]
pub struct Clock(pub NaiveTime);

/// A date known to the day, the month, the year, or not at all.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, SerializeDisplay, DeserializeFromStr)]
pub enum PartialDate {
    /// `2026-03-14`
    Day(NaiveDate),
    /// `2026-03`: the first day of that month is kept.
    Month(NaiveDate),
    /// `2026`: the first day of that year is kept.
    Year(NaiveDate),
    /// `unknown`
    #[default]
    Unknown,
}

impl PartialDate {
    /// The earliest day it can mean.
    #[must_use]
    pub fn earliest(self) -> Option<NaiveDate> {
        match self {
            Self::Day(day) | Self::Month(day) | Self::Year(day) => Some(day),
            Self::Unknown => None,
        }
    }

    /// The last day it can mean: a month or a year counts as its last day, so that an age is never overstated.
    #[must_use]
    pub fn latest(self) -> Option<NaiveDate> {
        match self {
            Self::Day(day) => Some(day),
            Self::Month(first) => first.checked_add_months(Months::new(1))?.pred_opt(),
            Self::Year(first) => NaiveDate::from_ymd_opt(first.year(), 12, 31),
            Self::Unknown => None,
        }
    }
}

/// What was read and what would have been right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{read:?} is not {expected}")]
pub struct DateError {
    read: String,
    expected: &'static str,
}

const DATE: &str = "a date that exists, written year-month-day like 2026-08-07";
const LOCAL_TIME: &str = "a local date and time like 2026-08-07T10:30";
const CLOCK: &str = "a time of day from 00:00 to 23:59 like 07:30";
const PARTIAL: &str = "a day (2026-03-14), a month (2026-03), a year (2026) or \"unknown\"";

fn refuse(read: &str, expected: &'static str) -> DateError {
    DateError { read: read.chars().take(40).collect(), expected }
}

/// Digits where the form has `0`, the same elsewhere: chrono alone would also take `2026-8-7` and `+202-01-01`.
fn has_form(text: &str, form: &str) -> bool {
    let fits = |(is, like): (u8, u8)| if like == b'0' { is.is_ascii_digit() } else { is == like };
    text.len() == form.len() && text.bytes().zip(form.bytes()).all(fits)
}

fn day(text: &str) -> Option<NaiveDate> {
    let (year, month, day) = has_form(text, "0000-00-00").then(|| (&text[..4], &text[5..7], &text[8..]))?;
    NaiveDate::from_ymd_opt(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
}

fn clock(text: &str) -> Option<NaiveTime> {
    let read = |form, pattern| has_form(text, form).then(|| NaiveTime::parse_from_str(text, pattern).ok()).flatten();
    read("00:00", "%H:%M").or_else(|| read("00:00:00", "%H:%M:%S"))
}

impl FromStr for Date {
    type Err = DateError;
    fn from_str(text: &str) -> Result<Self, DateError> {
        day(text).map(Self).ok_or_else(|| refuse(text, DATE))
    }
}

impl FromStr for LocalTime {
    type Err = DateError;
    fn from_str(text: &str) -> Result<Self, DateError> {
        text.split_once('T')
            .and_then(|(date, time)| Some(Self(NaiveDateTime::new(day(date)?, clock(time)?))))
            .ok_or_else(|| refuse(text, LOCAL_TIME))
    }
}

impl FromStr for Clock {
    type Err = DateError;
    fn from_str(text: &str) -> Result<Self, DateError> {
        clock(text).map(Self).ok_or_else(|| refuse(text, CLOCK))
    }
}

impl FromStr for PartialDate {
    type Err = DateError;
    fn from_str(text: &str) -> Result<Self, DateError> {
        let read = match text.len() {
            _ if text == "unknown" => Some(Self::Unknown),
            4 => day(&format!("{text}-01-01")).map(Self::Year),
            7 if text != "unknown" => day(&format!("{text}-01")).map(Self::Month),
            _ => day(text).map(Self::Day),
        };
        read.ok_or_else(|| refuse(text, PARTIAL))
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%d"))
    }
}

impl fmt::Display for LocalTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%dT%H:%M"))
    }
}

impl fmt::Display for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%H:%M"))
    }
}

impl fmt::Display for PartialDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Day(day) => write!(f, "{}", day.format("%Y-%m-%d")),
            Self::Month(first) => write!(f, "{}", first.format("%Y-%m")),
            Self::Year(first) => write!(f, "{}", first.format("%Y")),
            Self::Unknown => f.write_str("unknown"),
        }
    }
}

/// Gives a text-shaped type its JSON Schema: a string with a pattern and a sentence that says what to write.
macro_rules! text_schema {
    ($type:ty, $name:literal, $pattern:literal, $says:expr) => {
        impl JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                $name.into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "pattern": $pattern, "description": $says })
            }
        }
    };
}

text_schema!(Date, "Date", r"^\d{4}-\d{2}-\d{2}$", DATE);
text_schema!(LocalTime, "LocalTime", r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2})?$", LOCAL_TIME);
text_schema!(Clock, "Clock", r"^\d{2}:\d{2}(:\d{2})?$", CLOCK);
text_schema!(PartialDate, "PartialDate", r"^(\d{4}(-\d{2}(-\d{2})?)?|unknown)$", PARTIAL);

/// The completed calendar months from one date to another; negative spans count as 0.
///
/// The value on a limit is the full number: from 15 January to 15 July are 6 months, to 14 July 5. A start on the
/// 31st is completed on the last day of a shorter month.
#[must_use]
pub fn whole_months(from: NaiveDate, to: NaiveDate) -> u32 {
    let estimate = (to.year() - from.year()) * 12 + (to.month() as i32 - from.month() as i32);
    let estimate = u32::try_from(estimate).unwrap_or(0);
    match from.checked_add_months(Months::new(estimate)) {
        Some(reached) if reached <= to => estimate,
        _ => estimate.saturating_sub(1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> NaiveDate {
        text.parse::<Date>().expect("test date").0
    }

    #[test]
    fn months_and_years_count_as_their_last_day() {
        assert_eq!("2026-02".parse::<PartialDate>().unwrap().latest(), Some(date("2026-02-28")));
        assert_eq!("2028-02".parse::<PartialDate>().unwrap().latest(), Some(date("2028-02-29")));
        assert_eq!("2026".parse::<PartialDate>().unwrap().latest(), Some(date("2026-12-31")));
        assert_eq!(PartialDate::Unknown.latest(), None);
    }

    #[test]
    fn a_date_that_does_not_exist_is_refused() {
        for wrong in ["2026-02-30", "2026-8-7", "07/08/2026", "+202-01-01", "", "unknown"] {
            assert!(wrong.parse::<Date>().is_err(), "{wrong}");
        }
        for wrong in ["26", "2026-13", "2026-02-30", "march"] {
            assert!(wrong.parse::<PartialDate>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_time_has_two_digits_everywhere() {
        for right in ["07:30", "07:30:15", "00:00", "23:59"] {
            assert!(right.parse::<Clock>().is_ok(), "{right}");
            assert!(format!("2026-08-07T{right}").parse::<LocalTime>().is_ok(), "{right}");
        }
        for wrong in ["7:30", "24:00", "07:60", "07:30Z", "07.30", "", "+7:30"] {
            assert!(wrong.parse::<Clock>().is_err(), "{wrong}");
            assert!(format!("2026-08-07T{wrong}").parse::<LocalTime>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_limit_is_reached_on_the_day() {
        assert_eq!(whole_months(date("2026-01-15"), date("2026-07-14")), 5);
        assert_eq!(whole_months(date("2026-01-15"), date("2026-07-15")), 6);
        assert_eq!(whole_months(date("2026-08-31"), date("2027-02-28")), 6);
        assert_eq!(whole_months(date("2026-08-31"), date("2026-01-01")), 0);
    }
}

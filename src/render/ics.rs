//! The calendar file (RFC 5545): one event per dose, visit and recheck, with reminders, nothing private in its titles.
//!
//! Written here rather than by a library: content lines of at most 75 octets including the continuation's space, no
//! time stamp and no identifier that the caller did not give, and so the same bytes for the same input.
//! Local times carry the zone's name, and the file carries the zone's rules for the years it covers.

use std::collections::BTreeSet;
use std::fmt::Write;

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeDelta, TimeZone};
use chrono_tz::{OffsetComponents, OffsetName, Tz};

/// A calendar to be written.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// Identifies the program that wrote it, for example `-//vitreoleaf 0.1.0//EN`.
    pub prodid: String,
    /// When the document was made, UTC.
    pub dtstamp: NaiveDateTime,
    /// Zone of all local times.
    pub zone: Tz,
    /// Revision of the document less 1: raised, it replaces the events of an earlier issue.
    pub sequence: u32,
    /// The events.
    pub entries: Vec<Entry>,
}

/// One event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Identifier: what the event is, not what it says, so that a reissue keeps it; then `@` and the id of its document,
    /// never personal data.
    pub uid: String,
    /// Title. It shows on a locked screen: neutral words only.
    pub summary: String,
    /// Details, lines parted by `\n`. Empty: none.
    pub description: String,
    /// Place. Empty: none.
    pub location: String,
    /// When.
    pub when: When,
    /// A reminder this long before the start, minutes; 0 is at the start.
    pub alarm_minutes_before: Option<u32>,
    /// Whether it is agreed.
    pub status: Status,
    /// Whether the time counts as taken.
    pub busy: bool,
}

/// When an event is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum When {
    /// At a local wall time of the calendar's zone.
    At {
        /// Start.
        start: NaiveDateTime,
        /// Length, minutes.
        minutes: u32,
    },
    /// All day on a date.
    On(NaiveDate),
}

/// Whether an event is agreed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// It stands.
    Confirmed,
    /// It may not be needed, or is not booked yet.
    Tentative,
}

/// Why a calendar cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IcsError {
    /// A calendar without events is not valid.
    #[error("the calendar has no event: leave the file out")]
    Empty,
    /// Two events would become one.
    #[error("two events of the calendar have the identifier {0:?}: give each its own")]
    SameUid(String),
    /// An event has no title, which its reminder would show.
    #[error("event {0:?} has no title: give it one")]
    NoSummary(String),
    /// A text holds a character that a calendar cannot carry.
    #[error("a text of event {0:?} holds a control character: take it out")]
    ControlCharacter(String),
    /// The clocks skip this time.
    #[error("{start} of event {uid:?} does not exist in {zone}, where the clocks skip it: choose a later time")]
    SkippedTime {
        /// Which event.
        uid: String,
        /// Local time.
        start: NaiveDateTime,
        /// Zone.
        zone: Tz,
    },
}

const LOCAL: &str = "%Y%m%dT%H%M%S";
const LINE_OCTETS: usize = 75;

impl Calendar {
    /// Writes the calendar, events in order of time.
    ///
    /// # Errors
    /// [`IcsError`] if it would not be valid.
    pub fn write(&self) -> Result<String, IcsError> {
        self.check()?;
        let mut entries: Vec<&Entry> = self.entries.iter().collect();
        entries.sort_by_key(|entry| (entry.when.start(), &entry.uid));
        let mut lines = Lines::default();
        lines.put("BEGIN", "VCALENDAR");
        lines.put("VERSION", "2.0");
        lines.text("PRODID", &self.prodid);
        lines.put("CALSCALE", "GREGORIAN");
        self.zone(&mut lines);
        for entry in entries {
            self.event(&mut lines, entry);
        }
        lines.put("END", "VCALENDAR");
        Ok(lines.0)
    }

    fn check(&self) -> Result<(), IcsError> {
        if self.entries.is_empty() {
            return Err(IcsError::Empty);
        }
        let mut seen = BTreeSet::new();
        for entry in &self.entries {
            if !seen.insert(&entry.uid) {
                return Err(IcsError::SameUid(entry.uid.clone()));
            }
            if entry.summary.is_empty() {
                return Err(IcsError::NoSummary(entry.uid.clone()));
            }
            let texts = [&entry.uid, &entry.summary, &entry.description, &entry.location, &self.prodid];
            if texts.iter().any(|text| text.chars().any(|letter| letter.is_control() && letter != '\n')) {
                return Err(IcsError::ControlCharacter(entry.uid.clone()));
            }
            if let When::At { start, .. } = entry.when
                && self.zone.from_local_datetime(&start).earliest().is_none()
            {
                return Err(IcsError::SkippedTime { uid: entry.uid.clone(), start, zone: self.zone });
            }
        }
        Ok(())
    }

    fn event(&self, lines: &mut Lines, entry: &Entry) {
        lines.put("BEGIN", "VEVENT");
        lines.text("UID", &entry.uid);
        lines.put("DTSTAMP", &format!("{}Z", self.dtstamp.format(LOCAL)));
        lines.put("SEQUENCE", &self.sequence.to_string());
        match entry.when {
            When::At { start, minutes } => {
                lines.put(&format!("DTSTART;TZID={}", self.zone.name()), &start.format(LOCAL).to_string());
                lines.put("DURATION", &format!("PT{minutes}M"));
            }
            When::On(date) => {
                lines.put("DTSTART;VALUE=DATE", &date.format("%Y%m%d").to_string());
                // The end of a day is the day after: DTEND is not part of the event.
                lines.put("DTEND;VALUE=DATE", &(date + Days::new(1)).format("%Y%m%d").to_string());
            }
        }
        lines.text("SUMMARY", &entry.summary);
        lines.text("DESCRIPTION", &entry.description);
        lines.text("LOCATION", &entry.location);
        lines.put("CLASS", "PRIVATE");
        lines.put("STATUS", if entry.status == Status::Confirmed { "CONFIRMED" } else { "TENTATIVE" });
        lines.put("TRANSP", if entry.busy { "OPAQUE" } else { "TRANSPARENT" });
        if let Some(minutes) = entry.alarm_minutes_before {
            alarm(lines, &entry.summary, minutes);
        }
        lines.put("END", "VEVENT");
    }

    /// The zone's rules from the year before the first event to the end of the last event's year, each change of the
    /// clocks by itself.
    fn zone(&self, lines: &mut Lines) {
        let years = || self.entries.iter().map(|entry| entry.when.start().year());
        let (Some(first), Some(last)) = (years().min(), years().max()) else { return };
        let january = |year| {
            NaiveDate::from_ymd_opt(year, 1, 1).map(|day| self.zone.from_utc_datetime(&day.and_time(NaiveTime::MIN)))
        };
        let (Some(from), Some(to)) = (january(first - 1), january(last + 1)) else { return };
        lines.put("BEGIN", "VTIMEZONE");
        lines.put("TZID", self.zone.name());
        observance(lines, &from, &from);
        for (before, after) in changes(from, to) {
            observance(lines, &before, &after);
        }
        lines.put("END", "VTIMEZONE");
    }
}

impl When {
    fn start(self) -> NaiveDateTime {
        match self {
            Self::At { start, .. } => start,
            Self::On(date) => date.and_time(NaiveTime::MIN),
        }
    }
}

/// A reminder shown on the screen. It repeats the neutral title, nothing else.
fn alarm(lines: &mut Lines, summary: &str, minutes: u32) {
    lines.put("BEGIN", "VALARM");
    lines.put("ACTION", "DISPLAY");
    lines.text("DESCRIPTION", summary);
    lines.put("TRIGGER", &if minutes == 0 { "PT0S".into() } else { format!("-PT{minutes}M") });
    lines.put("END", "VALARM");
}

/// The changes of a zone's offset between two instants: the last second before and the first second of each.
fn changes(from: DateTime<Tz>, to: DateTime<Tz>) -> Vec<(DateTime<Tz>, DateTime<Tz>)> {
    let same = |one: &DateTime<Tz>, other: &DateTime<Tz>| one.offset() == other.offset();
    let mut found = Vec::new();
    let mut day = from;
    while day < to {
        let next = day + TimeDelta::days(1);
        if !same(&day, &next) {
            let (mut before, mut after) = (day, next);
            while after - before > TimeDelta::seconds(1) {
                let middle = before + TimeDelta::seconds((after - before).num_seconds() / 2);
                if same(&day, &middle) { before = middle } else { after = middle }
            }
            found.push((before, after));
        }
        day = next;
    }
    found
}

/// One stretch of a zone's time, from its first second `after`, told in the local time that held `before`.
fn observance(lines: &mut Lines, before: &DateTime<Tz>, after: &DateTime<Tz>) {
    let kind = if after.offset().dst_offset() > TimeDelta::zero() { "DAYLIGHT" } else { "STANDARD" };
    let starts = after.naive_utc() + TimeDelta::seconds(offset_seconds(before).into());
    lines.put("BEGIN", kind);
    lines.put("DTSTART", &starts.format(LOCAL).to_string());
    lines.put("TZOFFSETFROM", &offset(before));
    lines.put("TZOFFSETTO", &offset(after));
    lines.text("TZNAME", after.offset().abbreviation().unwrap_or_default());
    lines.put("END", kind);
}

fn offset_seconds(at: &DateTime<Tz>) -> i32 {
    at.offset().fix().local_minus_utc()
}

/// An offset from UTC as `+hhmm`, with seconds only if there are some.
fn offset(at: &DateTime<Tz>) -> String {
    let seconds = offset_seconds(at);
    let sign = if seconds < 0 { '-' } else { '+' };
    let (hours, minutes, rest) = (seconds.abs() / 3600, seconds.abs() / 60 % 60, seconds.abs() % 60);
    let mut text = format!("{sign}{hours:02}{minutes:02}");
    if rest != 0 {
        let _ = write!(text, "{rest:02}");
    }
    text
}

/// Content lines, each folded and ended by CRLF.
#[derive(Default)]
struct Lines(String);

impl Lines {
    /// A property whose value is written as it is.
    fn put(&mut self, name: &str, value: &str) {
        self.0.push_str(&fold(&format!("{name}:{value}")));
        self.0.push_str("\r\n");
    }

    /// A property whose value is text; nothing if it is empty.
    fn text(&mut self, name: &str, value: &str) {
        if !value.is_empty() {
            self.put(name, &escape(value));
        }
    }
}

/// Escapes a text value (RFC 5545, 3.3.11). The backslash first, or it would escape the escapes.
#[must_use]
pub fn escape(text: &str) -> String {
    text.replace('\\', r"\\").replace(';', r"\;").replace(',', r"\,").replace('\n', r"\n")
}

/// Folds a content line into pieces of at most 75 octets, the space that begins a continuation included, none of which
/// ends within a character (RFC 5545, 3.1).
#[must_use]
pub fn fold(line: &str) -> String {
    let mut folded = String::with_capacity(line.len() + line.len() / LINE_OCTETS * 3);
    let mut octets = 0;
    for letter in line.chars() {
        if octets + letter.len_utf8() > LINE_OCTETS {
            folded.push_str("\r\n ");
            octets = 1;
        }
        folded.push(letter);
        octets += letter.len_utf8();
    }
    folded
}

//! The calendar file, read back by a reader of its own.

use vitreoleaf::plan::DosePlace;
use vitreoleaf::record::profile::StepLength::Dates;
use vitreoleaf::render::ics::{Calendar, Entry, IcsError, Status, When, escape, fold};

use super::*;

fn entry(what: &str, when: When) -> Entry {
    Entry {
        uid: format!("{what}@example-1.vitreoleaf.invalid"),
        summary: "Reminder".into(),
        description: String::new(),
        location: String::new(),
        when,
        alarm_minutes_before: Some(0),
        status: Status::Confirmed,
        busy: false,
    }
}

fn calendar(zone: Tz, entries: Vec<Entry>) -> Calendar {
    Calendar { prodid: "-//vitreoleaf test//EN".into(), dtstamp: local("2026-08-07 09:00"), zone, sequence: 0, entries }
}

fn at(text: &str) -> When {
    When::At { start: local(text), minutes: 5 }
}

fn of_plan(plan: &Plan) -> Calendar {
    let home = plan.doses.iter().filter(|dose| dose.place == DosePlace::Home);
    calendar(plan.zone, home.map(|dose| entry(&dose.identity(), When::At { start: dose.at, minutes: 5 })).collect())
}

fn unfold(text: &str) -> String {
    text.replace("\r\n ", "")
}

fn unescape(text: &str) -> String {
    let mut plain = String::new();
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next() {
                Some('n') => plain.push('\n'),
                Some(other) => plain.push(other),
                None => panic!("a backslash at the end"),
            },
            other => plain.push(other),
        }
    }
    plain
}

/// A component: its name, its properties (name with parameters, raw value) and what it holds.
#[derive(Debug, Default)]
struct Component {
    name: String,
    properties: Vec<(String, String)>,
    components: Vec<Component>,
}

impl Component {
    fn get(&self, name: &str) -> &str {
        let mut values = self.properties.iter().filter(|(key, _)| key.split(';').next() == Some(name));
        let value = &values.next().unwrap_or_else(|| panic!("no {name} in {self:?}")).1;
        assert!(values.next().is_none(), "two of {name}");
        value
    }

    fn has(&self, name: &str) -> bool {
        self.properties.iter().any(|(key, _)| key.split(';').next() == Some(name))
    }

    fn all(&self, name: &str) -> Vec<&Component> {
        self.components.iter().filter(|component| component.name == name).collect()
    }
}

/// Reads a calendar. Refuses what RFC 5545, 3.1 forbids: a line end that is not CRLF, a line above 75 octets.
fn parse(text: &str) -> Component {
    assert!(text.ends_with("\r\n") && text.matches('\r').count() == text.matches('\n').count());
    assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains(['\r', '\n'])));
    let mut open = vec![Component::default()];
    for line in unfold(text).split_terminator("\r\n") {
        let (key, value) = line.split_once(':').expect("a colon");
        match key {
            "BEGIN" => open.push(Component { name: value.into(), ..Component::default() }),
            "END" => {
                let done = open.pop().unwrap();
                assert_eq!(done.name, value);
                open.last_mut().unwrap().components.push(done);
            }
            _ => open.last_mut().unwrap().properties.push((key.into(), value.into())),
        }
    }
    let mut root = open.pop().unwrap();
    assert!(open.is_empty() && root.components.len() == 1);
    root.components.remove(0)
}

fn moment(text: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(text, "%Y%m%dT%H%M%S").expect("a date and time")
}

fn offset(text: &str) -> TimeDelta {
    let number = |range: std::ops::Range<usize>| text[range].parse::<i64>().expect("digits");
    let minutes = TimeDelta::minutes(number(1..3) * 60 + number(3..5));
    if text.starts_with('-') { -minutes } else { minutes }
}

/// Reads a local time by the VTIMEZONE alone (RFC 5545, 3.6.5): the first instant whose observance gives this local time.
fn by_vtimezone(zone: &Component, local: NaiveDateTime) -> Option<NaiveDateTime> {
    let observances = zone.components.iter().map(|part| {
        let from = moment(part.get("DTSTART")) - offset(part.get("TZOFFSETFROM"));
        (from, offset(part.get("TZOFFSETTO")))
    });
    let mut observances: Vec<_> = observances.collect();
    observances.sort();
    let in_force = |utc| observances.iter().rfind(|(from, _)| *from <= utc).map(|(_, to)| *to);
    let instants = observances.iter().map(|(_, to)| (local - *to, *to));
    instants.filter(|(utc, to)| in_force(*utc) == Some(*to)).map(|(utc, _)| utc).min()
}

/// RFC 5545, 3.1: 75 octets without the line end, no character torn; a line of exactly 75 stays whole.
#[test]
fn lines_fold_at_seventy_five_octets() {
    for letter in ["x", "ü", "→", "😀"] {
        for before in 70..=76 {
            let line = format!("{}{letter}", "a".repeat(before));
            assert_eq!(fold(&line).contains("\r\n "), line.len() > 75, "{before} {letter}");
            let folded = fold(&line.repeat(4));
            assert!(folded.split("\r\n").all(|piece| piece.len() <= 75), "{before} {letter}");
            assert_eq!(unfold(&folded), line.repeat(4));
        }
    }
    // 75 and 74 octets fill both lines to the last, one more begins a third.
    assert_eq!(fold(&"a".repeat(149)).split("\r\n").map(str::len).collect::<Vec<_>>(), [75, 75]);
    assert_eq!(fold(&"a".repeat(150)).split("\r\n").map(str::len).collect::<Vec<_>>(), [75, 75, 2]);
}

/// RFC 5545, 3.6.1, 3.6.6, 3.8.2.2, 3.8.4.7: what an event and its reminder must and must not hold.
#[test]
fn an_event_holds_what_it_must() {
    let visit = Entry {
        description: "Bring your glasses; you may not drive.\nCall us, if late.".into(),
        location: r"Suite 4\5".into(),
        alarm_minutes_before: Some(90),
        status: Status::Tentative,
        busy: true,
        ..entry("visit-1", When::On(date("2026-12-31")))
    };
    let calendar = Calendar {
        sequence: 2,
        ..calendar(Tz::Europe__Berlin, vec![visit.clone(), entry("dose-1", at("2026-08-07 22:00"))])
    };
    let read = parse(&calendar.write().unwrap());
    assert_eq!((read.get("VERSION"), read.get("PRODID")), ("2.0", "-//vitreoleaf test//EN"));
    assert_eq!(read.all("VTIMEZONE").len(), 1);
    let events = read.all("VEVENT");
    for event in &events {
        assert_eq!(
            (event.get("DTSTAMP"), event.get("SEQUENCE"), event.get("CLASS")),
            ("20260807T090000Z", "2", "PRIVATE")
        );
        assert!(event.has("DTEND") != event.has("DURATION"));
        let alarm = event.all("VALARM")[0];
        assert_eq!((alarm.get("ACTION"), alarm.get("DESCRIPTION"), alarm.properties.len()), ("DISPLAY", "Reminder", 3));
    }
    // In order of time, whatever the order they came in.
    let (dose, all_day) = (events[0], events[1]);
    assert_eq!(dose.properties[3], ("DTSTART;TZID=Europe/Berlin".into(), "20260807T220000".into()));
    assert_eq!(
        (dose.get("DURATION"), dose.all("VALARM")[0].get("TRIGGER"), dose.get("TRANSP")),
        ("PT5M", "PT0S", "TRANSPARENT")
    );
    assert_eq!(dose.get("UID"), "dose-1@example-1.vitreoleaf.invalid");
    // The end of a day is the day after.
    assert_eq!((all_day.get("DTSTART"), all_day.get("DTEND")), ("20261231", "20270101"));
    assert_eq!(
        (all_day.get("STATUS"), all_day.get("TRANSP"), all_day.all("VALARM")[0].get("TRIGGER")),
        ("TENTATIVE", "OPAQUE", "-PT90M")
    );
    assert_eq!(all_day.get("DESCRIPTION"), r"Bring your glasses\; you may not drive.\nCall us\, if late.");
    assert_eq!(unescape(all_day.get("DESCRIPTION")), visit.description);
    assert_eq!(all_day.get("LOCATION"), r"Suite 4\\5");
}

/// New York in 2026 (IANA tz): daylight time from 8 March 02:00 to 1 November 02:00, both told in the time before.
#[test]
fn the_zone_tells_its_changes() {
    let text = calendar(Tz::America__New_York, vec![entry("a", at("2026-08-07 08:00"))]).write().unwrap();
    let read = parse(&text);
    let zone = read.all("VTIMEZONE")[0];
    let lines: Vec<_> = zone
        .components
        .iter()
        .map(|part| {
            assert!(part.properties.len() == 4, "nothing but its four properties: {part:?}");
            [
                part.name.as_str(),
                part.get("DTSTART"),
                part.get("TZOFFSETFROM"),
                part.get("TZOFFSETTO"),
                part.get("TZNAME"),
            ]
        })
        .collect();
    assert_eq!(zone.get("TZID"), "America/New_York");
    assert_eq!(lines[3], ["DAYLIGHT", "20260308T020000", "-0500", "-0400", "EDT"]);
    assert_eq!(lines[4], ["STANDARD", "20261101T020000", "-0400", "-0500", "EST"]);
    assert_eq!(lines.len(), 5);
}

#[test]
fn what_would_not_be_valid_is_refused() {
    let write = |entries| calendar(Tz::America__New_York, entries).write().unwrap_err();
    assert_eq!(write(vec![]), IcsError::Empty);
    let one = entry("a", at("2026-08-07 08:00"));
    assert_eq!(write(vec![one.clone(), one.clone()]), IcsError::SameUid(one.uid.clone()));
    assert_eq!(
        write(vec![Entry { location: "a\u{7}b".into(), ..one.clone() }]),
        IcsError::ControlCharacter(one.uid.clone())
    );
    let uid = one.uid.clone();
    assert_eq!(write(vec![Entry { summary: String::new(), ..one }]), IcsError::NoSummary(uid));
    assert!(matches!(write(vec![entry("a", at("2026-03-08 02:30"))]), IcsError::SkippedTime { .. }));
}

/// The identifiers of a reissue are those of the first issue, and its events replace the earlier ones (RFC 5545, 3.8.7.4).
#[test]
fn a_reissue_keeps_its_identifiers() {
    let issue = |sleeps, sequence| {
        let plan =
            plan(Tz::America__New_York, done("2026-08-07 11:00"), waking("07:00", sleeps), &[course("a", 4, Dates(7))])
                .unwrap();
        parse(&Calendar { sequence, ..of_plan(&plan) }.write().unwrap())
    };
    let (first, second) = (issue("22:00", 0), issue("23:00", 1));
    let uids =
        |read: &Component| read.all("VEVENT").iter().map(|event| event.get("UID").to_owned()).collect::<Vec<_>>();
    assert_eq!(uids(&first), uids(&second));
    assert_ne!(first.all("VEVENT")[0].get("DTSTART"), second.all("VEVENT")[0].get("DTSTART"));
    assert!(second.all("VEVENT").iter().all(|event| event.get("SEQUENCE") == "1"));
}

proptest! {
    #![proptest_config(quiet())]

    /// RFC 5545, 3.1: unfolding gives back what was folded.
    #[test]
    fn folding_loses_nothing(line in "[ -~äöüß→😀\u{301}]{0,400}") {
        let folded = fold(&line);
        prop_assert!(folded.split("\r\n").all(|piece| piece.len() <= 75));
        prop_assert_eq!(unfold(&folded), line);
    }

    /// RFC 5545, 3.3.11.
    #[test]
    fn escaping_loses_nothing(text in "(\\PC|[\\\\;,:n\n]){0,200}") {
        prop_assert_eq!(unescape(&escape(&text)), text);
    }

    /// One event for each dose at home, at the same instant when read by the file's own zone rules.
    #[test]
    fn the_file_means_what_the_plan_means(case in super::laws::cases(720..1320)) {
        let Ok(plan) = case.plan() else { return Ok(()) };
        let mut calendar = of_plan(&plan);
        if calendar.entries.is_empty() { return Ok(()) }
        let text = calendar.write().unwrap();
        let read = parse(&text);
        let zone = read.all("VTIMEZONE")[0];
        let mut instants: Vec<_> = plan.doses.iter().filter(|dose| dose.place == DosePlace::Home).map(|dose| dose.instant.naive_utc()).collect();
        instants.sort();
        let events = read.all("VEVENT");
        prop_assert_eq!(zone.get("TZID"), case.zone.name());
        let mut meant: Vec<_> = events.iter().map(|event| by_vtimezone(zone, moment(event.get("DTSTART"))).expect("a time")).collect();
        meant.sort();
        prop_assert_eq!(meant, instants);
        calendar.entries.reverse();
        prop_assert_eq!(calendar.write().unwrap(), text);
    }
}

//! Three views, one truth: the boxes of the page, the events of the calendar file and the dosages as data are the doses
//! of one plan, over many kinds of regimen and hours. Paper itself is read in `outside`.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};
use vitreoleaf::assets::Assets;
use vitreoleaf::content::locale::Locale;
use vitreoleaf::demo;
use vitreoleaf::document::{Block, Calendar, CalendarDay};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::plan::dosage::Repeat;
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;

use crate::packets::{checked, practice, record};

const REGIMENS: [&str; 9] = [
    "steps = [{ per_day = 4, length = { dates = 7 } }]",
    "steps = [{ per_day = 4, length = { dates = 3 } }, { per_day = 3, length = { dates = 4 } }, { per_day = 1, length = { dates = 5 } }]",
    "steps = [{ per_day = 1, every_days = 2, length = { dates = 9 } }]",
    "steps = [{ per_day = 2, length = { doses = 5 } }, { per_day = 1, at = \"bedtime\", length = { dates = 2 } }]",
    "steps = [{ per_day = 1, at = \"evening\", length = { goes_on = 28 } }]",
    "steps = [{ per_day = 6, length = { dates = 3 } }]\nat_night = true",
    "steps = [{ per_day = 3, length = { dates = 6 } }]\nstarts = -2",
    "steps = [{ per_day = 8, length = { dates = 2 } }]\nstarts = 3",
    "steps = [{ per_day = 4, length = { dates = 5 } }]\nas_needed = true",
];

/// Ordinary hours, past midnight, and a night worker's.
const HOURS: [(&str, &str); 3] = [("07:00", "22:30"), ("09:00", "01:00"), ("14:00", "06:00")];

/// An ordinary day, the turn of a year, and the days before the clocks change (2026-11-01 and 2027-03-14, IANA).
const DAYS: [&str; 4] = ["2026-08-07", "2026-12-30", "2026-10-30", "2027-03-12"];

fn case_text(text: &str, day: &str, hours: (&str, &str)) -> String {
    let day: NaiveDate = day.parse().unwrap();
    let week = (day + TimeDelta::days(7)).to_string();
    let examined = (day - TimeDelta::days(10)).to_string();
    let booked = text.find("visits = [").expect("a booked visit");
    let end = booked + text[booked..].find('\n').expect("the end of its line");
    let text = format!("{}{}", &text[..booked], &text[end..]);
    text.replace("2026-08-07", &day.to_string())
        .replace("2026-08-14", &week)
        .replace("2026-07-27", &examined)
        .replace("wakes = \"07:00\"", &format!("wakes = \"{}\"", hours.0))
        .replace("sleeps = \"22:30\"", &format!("sleeps = \"{}\"", hours.1))
}

/// The record with an answer to every finding that would withhold the drop plan.
fn answered(practice: &Practice, record: Record) -> Record {
    let checked = checked(practice, &record);
    let case = Case::new(&checked, Moment::After).unwrap();
    let open = case.findings.withholding(Moment::After).map(|finding| finding.id.clone()).collect::<Vec<_>>();
    let open: Vec<&str> = open.iter().map(String::as_str).collect();
    crate::packets::answered(practice, record, Moment::After, &open)
}

/// (name, time) of each dose to come, as the plan has it.
fn plan(case: &Case) -> Vec<(String, NaiveDateTime)> {
    let name = |key: &str| {
        let drug = case.practice().formulary.get(key).unwrap();
        format!("{} {}", drug.name, drug.strength)
    };
    case.plan.doses.iter().filter(|dose| !dose.given()).map(|dose| (name(&dose.drug), dose.at)).collect()
}

fn calendars(case: &Case, record: &Record) -> Vec<Calendar> {
    let documents = case.documents(demo::issued(record, Moment::After)).unwrap();
    let calendars = documents.into_iter().flat_map(|document| document.blocks).filter_map(|block| match block {
        Block::Calendar(calendar) => Some(calendar),
        _ => None,
    });
    calendars.collect()
}

fn boxes(case: &Case, record: &Record) -> Vec<(String, String, String)> {
    calendars(case, record).iter().flat_map(of_calendar).collect()
}

/// Drug, date and clock time of each empty box, in words.
fn of_calendar(calendar: &Calendar) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for day in &calendar.days {
        for dose in day.doses.iter().flatten().filter(|dose| !dose.given) {
            let drug = calendar.drugs[dose.drug].name.clone();
            found.push((drug, format!("{}, {}", day.weekday, day.date), dose.at.clone()));
        }
    }
    found
}

/// Start and number of the drug of each dose in the calendar file.
fn events(case: &Case, record: &Record) -> Vec<(usize, NaiveDateTime)> {
    let file = case.calendar(demo::issued(record, Moment::After)).unwrap().replace("\r\n ", "");
    let line = |event: &str, start: &str| {
        let line = event.lines().find(|line| line.starts_with(start))?;
        Some(line.rsplit_once(':')?.1.to_owned())
    };
    let dose = |event: &str| {
        let uid = line(event, "UID:dose-")?;
        let at = NaiveDateTime::parse_from_str(&line(event, "DTSTART;TZID=")?, "%Y%m%dT%H%M%S").unwrap();
        Some((uid.split('-').nth(1)?.parse::<usize>().unwrap() - 1, at))
    };
    file.split("BEGIN:VEVENT").filter_map(dose).collect()
}

/// The times the dosages stand for (HL7 FHIR R4, Timing: every `period` days at each time of day, both ends included).
fn dosages(case: &Case, record: &Record) -> Vec<(String, NaiveDateTime)> {
    let drugs = case.dosages(demo::issued(record, Moment::After)).unwrap();
    let mut found = Vec::new();
    for drug in drugs {
        for Repeat { bounds_period: bounds, period, time_of_day, .. } in
            drug.dosages.iter().map(|one| &one.timing.repeat)
        {
            let last = bounds.end.unwrap_or(drug.last).0;
            let days = bounds.start.0.iter_days().take_while(|day| *day <= last).step_by(*period as usize);
            let times =
                |day: NaiveDate| time_of_day.iter().map(move |at| day.and_time(at.parse::<NaiveTime>().unwrap()));
            found.extend(days.flat_map(times).map(|at| (drug.name.clone(), at)));
        }
    }
    found
}

fn sorted<T: Ord>(mut items: Vec<T>) -> Vec<T> {
    items.sort();
    items
}

/// Looks at the case of every regimen at each of the hours and days, which are named in words.
fn each_case(mut look: impl FnMut(&Case, &Record, &str)) {
    for regimen in REGIMENS {
        let steps = "steps = [{ per_day = 6, length = { dates = 7 } }]";
        let practice = practice(|text| text.replacen(steps, regimen, 1), BTreeMap::new());
        for (hours, day) in HOURS.iter().flat_map(|hours| DAYS.map(|day| (*hours, day))) {
            let record = answered(&practice, record("ring-implant", |text| case_text(&text, day, hours)));
            let checked = checked(&practice, &record);
            let case = Case::new(&checked, Moment::After).unwrap();
            assert_eq!(case.withheld(), None, "{regimen} {day}");
            look(&case, &record, &format!("{regimen} {day} {hours:?}"));
        }
    }
}

#[test]
fn boxes_events_and_dosages_are_the_same_doses() {
    let locale = Locale::load(&Assets::default(), "en-US").unwrap();
    let mut seen = 0;
    each_case(|case, record, which| {
        let plan = plan(case);
        seen += plan.len();
        // A dose after midnight stands in the row of its waking day.
        let days = case.plan.doses.iter().filter(|dose| !dose.given()).map(|dose| dose.day);
        let words = |((name, at), day): (&(String, NaiveDateTime), NaiveDate)| {
            let date = format!("{}, {}", locale.weekday(day), locale.day(day));
            (name.clone(), date, locale.time(at.time()).unwrap())
        };
        let expected = plan.iter().zip(days).map(words).collect();
        assert_eq!(sorted(boxes(case, record)), sorted(expected), "{which}");
        assert_eq!(sorted(dosages(case, record)), sorted(plan), "{which}");
        let numbered = case.plan.doses.iter().filter(|dose| !dose.given()).map(|dose| (dose.course, dose.at));
        assert_eq!(sorted(events(case, record)), sorted(numbered.collect()), "{which}");
    });
    assert!(seen > 1000, "{seen} doses were compared");
}

/// Where the course of a drug ends on paper: once, in the row of its last box, with the words of its course. No row of it comes
/// after, and the row is that of the date which the course names.
#[test]
fn a_course_ends_in_the_row_of_its_last_box() {
    let locale = Locale::load(&Assets::default(), "en-US").unwrap();
    let (mut stopped, mut gone_on) = (0, 0);
    each_case(|case, record, which| {
        let calendars = calendars(case, record);
        let [calendar] = &calendars[..] else { panic!("{which}: one calendar") };
        let timed: Vec<_> = case.plan.uses.iter().filter(|drug| drug.as_needed.is_none()).collect();
        assert_eq!(calendar.drugs.len(), timed.len(), "{which}");
        for (drug, planned) in timed.into_iter().enumerate() {
            let ends = |day: &&CalendarDay| day.stops.iter().any(|line| line.drug == drug);
            let ends: Vec<&CalendarDay> = calendar.days.iter().filter(ends).collect();
            let [end] = &ends[..] else { panic!("{which}: {} ends {} times", planned.drug, ends.len()) };
            let last = calendar.days.iter().rfind(|day| day.doses.iter().flatten().any(|dose| dose.drug == drug));
            assert_eq!(Some(&end.date), last.map(|day| &day.date), "{which}: {}", planned.drug);
            assert_eq!(end.date, locale.day(planned.last), "{which}: {}", planned.drug);
            let text = end.stops.iter().find(|line| line.drug == drug).map(|line| line.text.as_str());
            assert_eq!(text, Some(if planned.goes_on { "Go on" } else { "Then stop" }), "{which}: {}", planned.drug);
            *(if planned.goes_on { &mut gone_on } else { &mut stopped }) += 1;
        }
    });
    assert!(stopped > 100 && gone_on > 10, "{stopped} courses stop, {gone_on} go on");
}

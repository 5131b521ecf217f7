//! Own results: what is counted of which eye, told as cases that a clinician can read.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::reading;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::{Checked, Files};
use vitreoleaf::record::course;
use vitreoleaf::record::date::Date;
use vitreoleaf::record::eye::{ImplantFocus, Lens, Optic, Side};
use vitreoleaf::record::identity::folded_number;
use vitreoleaf::record::known::{Answer, Known};
use vitreoleaf::record::profile::{Profile, ResultsRule};
use vitreoleaf::record::vitreous::FloaterKind;
use vitreoleaf::results::{
    Change, Counted, Endpoint, Event, EventKind, EyeGroup, Eyes, FloaterGroup, Outcome, OwnResults, Selection, Session,
    SessionNumber, Severity, due, own,
};

use crate::packets::{checked, practice, record};

/// Six months; 30 days early still count.
const RULE: ResultsRule = ResultsRule {
    least_eyes: 20,
    window_months: 6,
    early_days: 30,
    expected_harm: 0.03,
    alarming_harm: 0.08,
    eyes_between_false_alarms: 500,
    in_consent: None,
};

fn day(text: &str) -> NaiveDate {
    text.parse::<Date>().unwrap().0
}

fn profile() -> Profile {
    demo::practice(&samples()).unwrap().profile.clone()
}

/// An eye with a monofocal implant, treated on 15 January 2026.
fn session(case: SessionNumber, record_number: &str) -> Session {
    Session {
        case,
        code: Some(format!("A-{case}")),
        patient: folded_number(record_number),
        side: Side::Right,
        surgeon: "sample".into(),
        on: day("2026-01-15"),
        lens: Lens::Implant,
        focus: ImplantFocus::Monofocal,
        optic: Optic::Unknown,
        floater: FloaterKind::Ring,
        acuity: Some("20/25".parse().unwrap()),
        pressure_before: Some(16.0),
        pressure_day: Some(18.0),
        energy_mj: 600.0,
        pulses: 150,
        events: Vec::new(),
        booked: Vec::new(),
    }
}

fn seen(on: &str, change: Change) -> Outcome {
    Outcome { change, ..Outcome::at("late", day(on)) }
}

fn with_event(on: &str, kind: EventKind, found: &str) -> Outcome {
    let event = Event { kind, on: Date(day(found)), severity: Severity::Severe, done: Some("operated".into()) };
    Outcome { events: vec![event], ..seen(on, Change::Same) }
}

fn count(sessions: &[Session], outcomes: &[(SessionNumber, Outcome)]) -> OwnResults {
    count_of(sessions, outcomes, &Selection::default(), "2026-12-31")
}

fn count_of(
    sessions: &[Session],
    outcomes: &[(SessionNumber, Outcome)],
    selection: &Selection,
    up_to: &str,
) -> OwnResults {
    own(&Eyes::of(sessions, outcomes, selection, day(up_to)), &RULE, &profile().thresholds)
}

fn row(results: &OwnResults, endpoint: Endpoint) -> (u32, u32, u32) {
    let Counted { treated, followed, affected } =
        results.rows.iter().find(|row| row.endpoint == endpoint).unwrap().counted;
    (affected, followed, treated)
}

#[test]
fn eyes_are_counted_and_not_sessions() {
    let again = Session { on: day("2026-03-02"), patient: folded_number("0OO 101"), ..session(2, "000-101") };
    let other_eye = Session { side: Side::Left, ..session(3, "000-101") };
    let outcomes = [(2, seen("2026-07-15", Change::Gone))];
    let results = count(&[session(1, "000-101"), again, other_eye], &outcomes);
    assert_eq!(results.standing.treated, 2);
    assert_eq!(row(&results, Endpoint::MuchBetter), (1, 1, 2), "whatever session the visit was entered at");
    assert_eq!(row(&results, Endpoint::FurtherLaser), (1, 1, 2));
}

#[test]
fn an_eye_is_followed_from_thirty_days_before_the_end_of_the_window() {
    for (on, followed) in [("2026-06-14", false), ("2026-06-15", true), ("2026-07-15", true), ("2026-12-01", true)] {
        let results = count(&[session(1, "000-101")], &[(1, seen(on, Change::MuchBetter))]);
        assert_eq!((results.standing.followed, results.standing.lost), (followed.into(), (!followed).into()), "{on}");
        assert_eq!(row(&results, Endpoint::MuchBetter), (followed.into(), followed.into(), 1), "{on}");
    }
}

#[test]
fn who_is_not_there_yet_is_told_from_who_is_lost() {
    let one = [session(1, "000-101")];
    let standing = |outcomes: &[(SessionNumber, Outcome)], up_to: &str| {
        let standing = count_of(&one, outcomes, &Selection::default(), up_to).standing;
        (standing.followed, standing.not_yet, standing.lost)
    };
    assert_eq!(standing(&[], "2026-07-14"), (0, 1, 0));
    assert_eq!(standing(&[], "2026-07-15"), (0, 0, 1));
    let lost = Outcome { lost: true, ..Outcome::at("month", day("2026-02-20")) };
    assert_eq!(standing(&[(1, lost.clone())], "2026-07-14"), (0, 0, 1), "nobody can find them");
    assert_eq!(
        standing(&[(1, lost), (1, seen("2026-07-01", Change::Same))], "2026-07-14"),
        (1, 0, 0),
        "they came back"
    );
    assert_eq!(standing(&[], "2026-01-14"), (0, 0, 0), "not treated yet");
}

#[test]
fn what_comes_after_the_day_up_to_which_is_counted_is_left_out() {
    let outcomes = [(1, with_event("2026-08-01", EventKind::Tear, "2026-07-01"))];
    let up_to = |day: &str| count_of(&[session(1, "000-101")], &outcomes, &Selection::default(), day);
    assert_eq!(row(&up_to("2026-07-31"), Endpoint::TearOrDetachment), (0, 0, 1));
    assert!(up_to("2026-07-31").review.is_empty());
    assert_eq!(row(&up_to("2026-08-01"), Endpoint::TearOrDetachment), (1, 1, 1));
    assert_eq!(up_to("2026-08-01").review.len(), 1);
}

#[test]
fn an_eye_with_harm_counts_although_it_was_never_seen_again() {
    let outcomes = [(1, with_event("2026-03-01", EventKind::Detachment, "2026-02-27"))];
    let results = count(&[session(1, "000-101")], &outcomes);
    assert_eq!(row(&results, Endpoint::TearOrDetachment), (1, 1, 1));
    assert_eq!(row(&results, Endpoint::MuchBetter), (0, 0, 1), "whether it helped is not known");
}

#[test]
fn harm_after_the_window_is_reviewed_and_counted_by_time_and_not_in_the_window() {
    let outcomes = [(1, with_event("2026-09-01", EventKind::Tear, "2026-07-16"))];
    let results = count(&[session(1, "000-101")], &outcomes);
    assert_eq!(row(&results, Endpoint::TearOrDetachment), (0, 1, 1));
    let tears = results.rates.iter().find(|(kind, _)| *kind == EventKind::Tear).unwrap().1;
    assert!(tears.events == 1 && (tears.eye_years - 229.0 / 365.25).abs() < 1e-9, "{tears:?}");
    let line = &results.review[0];
    assert_eq!((line.kind, line.days, line.done.as_deref()), (EventKind::Tear, 182, Some("operated")));
}

#[test]
fn a_lens_hit_is_counted_of_eyes_with_a_natural_lens_and_a_mark_of_those_with_an_implant() {
    let hit = Session {
        lens: Lens::Natural,
        focus: ImplantFocus::Unknown,
        events: vec![course::EventKind::CapsuleOrLens],
        ..session(1, "000-101")
    };
    let marked = Session { events: vec![course::EventKind::ImplantMarked], ..session(2, "000-102") };
    let results = count(&[hit, marked, session(3, "000-103")], &[]);
    assert_eq!(row(&results, Endpoint::LensHit), (1, 1, 1));
    assert_eq!(row(&results, Endpoint::ImplantMarked), (1, 2, 2));
    assert_eq!(results.review.len(), 2);
}

#[test]
fn the_pressure_of_the_day_counts_where_it_was_measured() {
    let pressure = |case, mmhg| Session { pressure_day: mmhg, ..session(case, &format!("000-10{case}")) };
    let results = count(&[pressure(1, Some(29.9)), pressure(2, Some(30.0)), pressure(3, None)], &[]);
    assert_eq!(row(&results, Endpoint::PressureDay), (1, 2, 3));
}

/// The practice's limits: from 21 mmHg, and 5 above what it was.
#[test]
fn a_pressure_lasts_that_is_high_a_month_later() {
    for (before, on, mmhg, lasts) in [
        (16.0, "2026-07-15", 20.9, false),
        (16.0, "2026-07-15", 21.0, true),
        (16.0, "2026-02-13", 25.0, false),
        (16.0, "2026-02-14", 25.0, true),
        (20.0, "2026-07-15", 24.9, false),
        (20.0, "2026-07-15", 25.0, true),
    ] {
        let treated = Session { pressure_before: Some(before), ..session(1, "000-101") };
        let measured = Outcome { pressure_mmhg: Known::Value(mmhg), ..seen(on, Change::Same) };
        let results = count(&[treated], &[(1, measured), (1, seen("2026-08-01", Change::Same))]);
        assert_eq!(row(&results, Endpoint::LastingPressure), (lasts.into(), 1, 1), "{before} {on} {mmhg}");
        assert_eq!(results.review.len(), usize::from(lasts));
    }
}

#[test]
fn two_lines_are_a_loss_of_sight() {
    for (after, lost) in [("20/32", false), ("20/40", true), ("20/20", false), ("hand motion", true)] {
        let outcome = Outcome { acuity: Known::Value(after.parse().unwrap()), ..seen("2026-07-15", Change::Same) };
        let results = count(&[session(1, "000-101")], &[(1, outcome)]);
        assert_eq!(row(&results, Endpoint::SightLoss), (lost.into(), 1, 1), "{after}");
    }
    let unknown = count(&[session(1, "000-101")], &[(1, seen("2026-07-15", Change::Same))]);
    assert_eq!(row(&unknown, Endpoint::SightLoss), (0, 0, 1), "not measured is not unharmed");
}

#[test]
fn surgery_and_further_laser_elsewhere_are_told_at_a_visit() {
    let told = Outcome { further_laser: Answer::Yes, surgery: Answer::Yes, ..seen("2026-07-20", Change::LittleBetter) };
    let results = count(&[session(1, "000-101")], &[(1, told)]);
    assert_eq!(row(&results, Endpoint::FurtherLaser), (1, 1, 1));
    assert_eq!(row(&results, Endpoint::Surgery), (1, 1, 1));
    assert_eq!(row(&results, Endpoint::LittleOrNot), (1, 1, 1));
}

#[test]
fn a_group_holds_its_eyes() {
    let natural = Session { lens: Lens::Natural, focus: ImplantFocus::Unknown, ..session(1, "000-101") };
    let diffractive = Session {
        focus: ImplantFocus::Multifocal,
        optic: Optic::Diffractive,
        surgeon: "novak".into(),
        ..session(2, "000-102")
    };
    let unclear = Session { focus: ImplantFocus::Multifocal, floater: FloaterKind::Cloud, ..session(3, "000-103") };
    let all = [natural, diffractive, unclear, session(4, "000-104")];
    let treated = |selection: Selection| count_of(&all, &[], &selection, "2026-12-31").standing.treated;
    let eyes = |eyes| treated(Selection { eyes, ..Selection::default() });
    assert_eq!(EyeGroup::WORDS.map(|(group, _)| eyes(group)), [4, 1, 3, 1, 1, 0]);
    let floaters = |floaters| treated(Selection { floaters, ..Selection::default() });
    assert_eq!(FloaterGroup::WORDS.map(|(group, _)| floaters(group)), [4, 3, 1]);
    assert_eq!(treated(Selection { surgeon: Some("novak".into()), ..Selection::default() }), 1);
    for (since, left) in [("2026-01-15", 4), ("2026-01-16", 0)] {
        assert_eq!(treated(Selection { since: Some(day(since)), ..Selection::default() }), left, "{since}");
    }
}

/// An eye that two surgeons treated counts for each from their own first session.
#[test]
fn a_second_surgeon_answers_for_what_came_after_them() {
    let second = Session { surgeon: "novak".into(), on: day("2026-04-01"), ..session(2, "000-101") };
    let all = [session(1, "000-101"), second];
    let outcomes = [(1, with_event("2026-09-20", EventKind::Tear, "2026-09-01"))];
    let of = |surgeon: &str| {
        let selection = Selection { surgeon: Some(surgeon.into()), ..Selection::default() };
        row(&count_of(&all, &outcomes, &selection, "2026-12-31"), Endpoint::TearOrDetachment)
    };
    assert_eq!(of("sample"), (0, 1, 1), "over six months after the first");
    assert_eq!(of("novak"), (0, 0, 1), "the visit was entered at the case of another");
    let outcomes = [(2, with_event("2026-09-20", EventKind::Tear, "2026-09-01"))];
    let selection = Selection { surgeon: Some("novak".into()), ..Selection::default() };
    let results = count_of(&all, &outcomes, &selection, "2026-12-31");
    assert_eq!(row(&results, Endpoint::TearOrDetachment), (1, 1, 1));
}

#[test]
fn the_curve_goes_eye_by_eye_and_leaves_out_whose_fate_is_not_known() {
    let at = |case: SessionNumber, on: &str| Session { on: day(on), ..session(case, &format!("000-10{case}")) };
    let sessions = [at(2, "2026-02-01"), at(1, "2026-01-01"), at(3, "2026-03-01")];
    let outcomes =
        [(1, seen("2026-08-01", Change::Same)), (2, with_event("2026-03-01", EventKind::Tear, "2026-02-20"))];
    let results = count(&sessions, &outcomes);
    assert_eq!(results.curve.points.iter().map(|point| point.harm).collect::<Vec<_>>(), [false, true]);
    assert_eq!((results.harm.affected, results.harm.followed, results.harm.treated), (1, 2, 3));
}

/// The demo's practice that says its own numbers.
fn saying(better: (u32, u32), torn: (u32, u32)) -> String {
    let table = |(eyes, followed): (u32, u32)| format!("{{ eyes = {eyes}, followed = {followed} }}");
    let own = format!(
        "eyes_between_false_alarms = 500\n\n[results.in_consent]\nup_to = \"2026-07-31\"\ntreated = 162\n\
         much_better = {}\ntorn = {}\n",
        table(better),
        table(torn)
    );
    samples()["practice/profile.toml"].replace("eyes_between_false_alarms = 500\n", &own)
}

fn read_own(profile: String) -> Option<String> {
    let practice = practice(|_| profile.clone(), BTreeMap::new());
    let record = record("ring-implant", |text| text);
    let checked = checked(&practice, &record);
    let document = Case::new(&checked, Moment::Before).unwrap().unissued().unwrap();
    let passages = reading::read(&document).into_iter().filter(|passage| passage.id == "own-results");
    let own = passages.map(|passage| passage.text.replace('\u{a0}', " ")).collect::<String>();
    (!own.is_empty()).then_some(own)
}

/// Clopper-Pearson: 71 of 118 is 50.7 to 69.1 in 100, 3 of 118 up to 7.3, none of 118 up to 3.1.
#[test]
fn the_consent_says_benefit_and_harm_of_the_practice_together_or_nothing() {
    let says = read_own(saying((71, 118), (3, 118))).expect("its own numbers");
    for words in ["162 eyes", "71 of 118", "50 to 70 in a hundred", "3 of 118", "up to 8 in a hundred", "not a trial"] {
        assert!(says.contains(words), "{words}: {says}");
    }
    let none = read_own(saying((71, 118), (0, 118))).unwrap();
    assert!(none.contains("0 of 118") && none.contains("up to 4 in a hundred"), "{none}");
    assert_eq!(read_own(samples()["practice/profile.toml"].clone()), None);
}

#[test]
fn numbers_that_cannot_be_are_refused() {
    for (better, torn, wrong) in [
        ((20, 20), (0, 20), false),
        ((19, 19), (0, 20), true),
        ((21, 20), (0, 20), true),
        ((20, 20), (0, 163), true),
        ((20, 20), (0, 162), false),
    ] {
        let file = SourceFile { name: "profile.toml".into(), text: saying(better, torn) };
        let read = Checked::<Profile>::read(&file, Files::of(Assets::default()).unwrap());
        assert_eq!(read.is_err(), wrong, "{better:?} {torn:?}");
    }
}

#[test]
fn a_visit_is_due_a_week_ahead_and_missed_after_two() {
    let profile = profile();
    let treated = Session { on: day("2026-08-03"), ..session(1, "000-101") };
    let visits = |outcomes: &[(SessionNumber, Outcome)], today: &str| {
        let due = due::due(std::slice::from_ref(&treated), outcomes, &profile, day(today));
        due.into_iter().map(|due| (due.visit, due.on.to_string(), due.missed)).collect::<Vec<_>>()
    };
    let week = |missed| vec![("week".to_owned(), "2026-08-10".to_owned(), missed)];
    assert_eq!(visits(&[], "2026-08-02"), []);
    assert_eq!(visits(&[], "2026-08-03"), week(false));
    assert_eq!(visits(&[], "2026-08-24"), week(false), "two weeks of grace");
    assert_eq!(visits(&[], "2026-08-25"), week(true));
    let came = |visit: &str, on: &str| (1, Outcome { visit: visit.into(), ..seen(on, Change::Same) });
    assert_eq!(visits(&[came("week", "2026-08-07")], "2026-08-25"), [], "who came early came");
    assert_eq!(visits(&[came("other", "2026-08-12")], "2026-08-25"), [], "a later visit stands for it");
    let lost = (1, Outcome { lost: true, ..Outcome::at("week", day("2026-08-20")) });
    assert_eq!(visits(&[lost], "2027-08-25"), [], "nobody waits for who is lost");
}

#[test]
fn a_visit_that_is_booked_is_due_on_its_day() {
    let mut profile = demo::practice(&samples()).unwrap().profile.clone();
    profile.visits.retain(|rule| rule.id == "week");
    let booked = |visit: &str, on: &str| vec![(visit.to_owned(), day(on))];
    let due = |booked: Vec<(String, NaiveDate)>, outcomes: &[(SessionNumber, Outcome)]| {
        let treated = Session { on: day("2026-08-03"), booked, ..session(1, "000-101") };
        let due = due::due(&[treated], outcomes, &profile, day("2026-08-12"));
        due.into_iter().map(|due| (due.visit, due.on.to_string())).collect::<Vec<_>>()
    };
    let week = |on: &str| ("week".to_owned(), on.to_owned());
    assert_eq!(due(Vec::new(), &[]), [week("2026-08-10")], "by the rule of the practice");
    assert_eq!(due(booked("week", "2026-08-13"), &[]), [week("2026-08-13")]);
    assert_eq!(due(booked("week", "2026-08-19"), &[]), [week("2026-08-19")], "a week ahead");
    assert_eq!(due(booked("week", "2026-08-20"), &[]), []);
    let seen = |on: &str| [(1, Outcome { visit: "other".into(), ..seen(on, Change::Same) })];
    assert_eq!(due(booked("week", "2026-08-13"), &seen("2026-08-11")), [week("2026-08-13")], "it is still to come");
    assert_eq!(due(booked("week", "2026-08-11"), &seen("2026-08-11")), []);
    let event = ("event".to_owned(), "2026-08-05".to_owned());
    assert_eq!(due(booked("event", "2026-08-05"), &[]), [event, week("2026-08-10")], "also because of an event");
}

/// A figure that stands beside an own result names one there is, and no two stand beside the same.
#[test]
fn each_published_figure_stands_beside_an_own_result() {
    let practice = demo::practice(&samples()).unwrap();
    let evidence = &practice.library("en-US").unwrap().evidence;
    let named: Vec<&str> = evidence.values().filter_map(|evidence| evidence.own_result.as_deref()).collect();
    let words = Endpoint::ALL.map(Endpoint::word);
    assert!(named.iter().all(|name| words.contains(name)), "{named:?}");
    assert!(named.contains(&Endpoint::MuchBetter.word()) && named.contains(&Endpoint::TearOrDetachment.word()));
    let different: std::collections::BTreeSet<_> = named.iter().collect();
    assert_eq!(different.len(), named.len(), "{named:?}");
}

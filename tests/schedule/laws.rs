//! What holds of every plan, tried on generated zones, days, waking hours and regimens.

use std::collections::BTreeSet;

use vitreoleaf::facts::hours;
use vitreoleaf::plan::{Dose, DosePlace, Period};
use vitreoleaf::record::profile::DayPart;

use super::*;

/// A request without its borrowed parts.
#[derive(Debug, Clone)]
pub(super) struct Case {
    pub(super) zone: Tz,
    anchors: Anchors,
    waking: Waking,
    courses: Vec<Course>,
}

impl Case {
    pub(super) fn plan(&self) -> Result<Plan, PlanError> {
        plan(self.zone, self.anchors, self.waking, &self.courses)
    }

    fn course(&self, dose: &Dose) -> &Course {
        &self.courses[dose.course]
    }

    fn gap(&self, one: &Dose, other: &Dose) -> TimeDelta {
        TimeDelta::minutes(5.max(self.course(one).gap_minutes).max(self.course(other).gap_minutes).into())
    }
}

fn steps() -> impl Strategy<Value = Vec<DropStep>> {
    let part = prop::sample::select(vec![None, Some(DayPart::Noon), Some(DayPart::Evening), Some(DayPart::Bedtime)]);
    let dated = (1..=6_u32, 1..=3_u32, part, 1..12_u32);
    let dated = dated.prop_map(|(per_day, every_days, at, dates)| DropStep {
        per_day,
        every_days,
        at,
        length: StepLength::Dates(dates),
    });
    let counted = (1..=6_u32, 1..30_u32).prop_map(|(per_day, doses)| step(per_day, StepLength::Doses(doses)));
    let endless = (1..=6_u32, 1..30_u32).prop_map(|(per_day, dates)| step(per_day, StepLength::GoesOn(dates)));
    let last = prop_oneof![4 => dated.clone(), 2 => counted.clone(), 1 => endless];
    let before = prop::collection::vec(prop_oneof![4 => dated, 1 => counted], 0..=3);
    (before, last).prop_map(|(mut steps, last)| {
        steps.push(last);
        steps
    })
}

/// Order, gap, rest, steps, start, first in the clinic, at night and as needed, minutes before leaving of clinic doses.
type Parts = (u8, u32, u32, Vec<DropStep>, i32, bool, (bool, bool), Vec<i64>);

fn courses(leaves: NaiveDateTime) -> impl Strategy<Value = Vec<Course>> {
    let recorded = prop::collection::vec(0..90_i64, 0..3);
    let gap = prop::sample::select(vec![0_u32, 5, 10, 15]);
    let starts = prop_oneof![4 => Just(0), 1 => -5..=-1_i32, 1 => 1..=5_i32];
    let (night, needed) = (prop::bool::weighted(0.1), prop::bool::weighted(0.1));
    let one = (0..4_u8, gap, 60..480_u32, steps(), starts, any::<bool>(), (night, needed), recorded);
    prop::collection::vec(one, 1..=4).prop_map(move |all| {
        let drugs = ["delta", "alpha", "charlie", "bravo"];
        let course = |(drug, one): (&str, Parts)| Course {
            drug: drug.into(),
            order: one.0,
            gap_minutes: one.1,
            min_same_drug_minutes: one.2,
            steps: one.3,
            starts: one.4,
            first_in_clinic: one.5 && one.4 <= 0,
            at_night: one.6.0,
            as_needed: one.6.1,
            in_use: false,
            recorded: one.7.into_iter().map(|minutes| leaves - TimeDelta::minutes(minutes)).collect(),
        };
        drugs.into_iter().zip(all).map(course).collect()
    })
}

/// `awake`: length of the waking day, minutes.
pub(super) fn cases(awake: std::ops::Range<i64>) -> impl Strategy<Value = Case> {
    let zone = prop::sample::select(&ZONES[..]);
    let treatment = zone.prop_flat_map(|zone| (Just(zone), day(zone), 90..1440_i64, any::<bool>()));
    let night = prop_oneof![0..1440_i64, 60..240_i64];
    (treatment, night, awake).prop_flat_map(|((zone, day, minute, done), wakes, awake)| {
        let midnight = day.and_time(NaiveTime::MIN);
        let leaves = midnight + TimeDelta::minutes(minute);
        let last_pulse = leaves - TimeDelta::minutes(20);
        let starts = last_pulse - TimeDelta::minutes(30);
        let anchors = Anchors { treatment: day, starts, last_pulse, leaves, done };
        let time = |minutes| (midnight + TimeDelta::minutes(minutes)).time();
        let waking = Waking { wakes: time(wakes), sleeps: time(wakes + awake) };
        courses(leaves).prop_map(move |courses| Case { zone, anchors, waking, courses })
    })
}

fn home(plan: &Plan) -> impl Iterator<Item = &Dose> {
    plan.doses.iter().filter(|dose| dose.place == DosePlace::Home)
}

fn at_home_while_awake(case: &Case, plan: &Plan) {
    for dose in home(plan) {
        let course = case.course(dose);
        let early = course.starts < 0 && dose.instant <= read(case.zone, case.anchors.starts);
        assert!(early || dose.instant >= read(case.zone, case.anchors.leaves), "{dose:?}");
        assert!(!early || !case.anchors.done, "{dose:?}");
        assert!(!course.as_needed, "{dose:?}");
        if course.at_night {
            continue;
        }
        let next = i64::from(case.waking.sleeps <= case.waking.wakes);
        let wakes = read(case.zone, dose.day.and_time(case.waking.wakes));
        let sleeps = read(case.zone, (dose.day + TimeDelta::days(next)).and_time(case.waking.sleeps));
        assert!(wakes <= dose.instant && dose.instant <= sleeps, "{dose:?}");
    }
}

fn instants_are_their_wall_times(case: &Case, plan: &Plan) {
    for dose in &plan.doses {
        assert_eq!(read(case.zone, dose.at), dose.instant);
        assert!(dose.place != DosePlace::Home || !skipped(case.zone, dose.at));
    }
}

fn gaps_are_kept(case: &Case, plan: &Plan) {
    for (index, dose) in plan.doses.iter().enumerate() {
        let others =
            plan.doses[..index].iter().filter(|other| other.drug != dose.drug || other.place == DosePlace::Home);
        for other in others.filter(|_| dose.place == DosePlace::Home) {
            assert!(dose.instant - other.instant >= case.gap(dose, other), "{other:?} {dose:?}");
        }
    }
}

/// Doses in the clinic of a course.
fn in_clinic(case: &Case, course: &Course) -> usize {
    match case.anchors.done {
        true => course.recorded.len(),
        false => usize::from(course.first_in_clinic),
    }
}

/// The dates of a step counted by hand from the regimen: the steps follow each other without gap or overlap.
fn counts_are_exact(case: &Case, plan: &Plan) {
    for (index, course) in case.courses.iter().enumerate().filter(|(_, course)| !course.as_needed) {
        let own: Vec<&Dose> = home(plan).filter(|dose| dose.course == index).collect();
        // One after the other, each slot once.
        assert!(
            own.is_sorted_by(|one, next| one.instant < next.instant && (one.day, one.slot) < (next.day, next.slot))
        );
        assert!(own.is_sorted_by_key(|dose| dose.step));
        if let Some(one) = plan.uses.iter().find(|one| one.course == index) {
            assert_eq!((one.in_clinic, one.at_home), (in_clinic(case, course), own.len()));
            assert_eq!(one.steps.iter().map(|step| step.doses).sum::<usize>(), one.in_clinic + one.at_home);
        }
        let mut first = case.anchors.treatment + TimeDelta::days(course.starts.into());
        for (number, step) in course.steps.iter().enumerate() {
            let of_step: Vec<&&Dose> = own.iter().filter(|dose| dose.step == number).collect();
            let (StepLength::Dates(dates) | StepLength::GoesOn(dates)) = step.length else {
                // A count is checked by itself; what follows it begins the day after its last dose.
                counted(case, course, step, first, &of_step);
                let Some(last) = of_step.last() else { break };
                first = last.day + TimeDelta::days(1);
                continue;
            };
            let used = (0..dates).step_by(step.every_days as usize).map(|days| first + TimeDelta::days(days.into()));
            let used: BTreeSet<NaiveDate> = used.collect();
            assert!(of_step.iter().all(|dose| used.contains(&dose.day)), "{of_step:?}");
            let past = |day: &NaiveDate| case.anchors.done && *day < case.anchors.treatment;
            for day in used.iter().filter(|day| **day != case.anchors.treatment && !past(day)) {
                let slots: Vec<u32> = of_step.iter().filter(|dose| dose.day == *day).map(|dose| dose.slot).collect();
                // Somebody who sleeps after midnight may have slots of the day before it after the treatment began.
                let night_before = *day + TimeDelta::days(1) == case.anchors.treatment;
                assert!(night_before || slots == (1..=step.per_day).collect::<Vec<_>>(), "{day} {slots:?}");
            }
            first += TimeDelta::days(dates.into());
        }
    }
}

/// As many doses as the step says, less those in the clinic if it was running then.
fn counted(case: &Case, course: &Course, step: &DropStep, first: NaiveDate, doses: &[&&Dose]) {
    let StepLength::Doses(count) = step.length else { return };
    let clinic = if first <= case.anchors.treatment { in_clinic(case, course) } else { 0 };
    let least = (count as usize).saturating_sub(clinic);
    assert!(doses.len() <= count as usize);
    // Those before the treatment are history once it is done, and may have used the count up before the clinic did.
    if course.starts >= 0 {
        assert_eq!(doses.len(), least, "{doses:?}");
    }
    // No date is left out, but in a running course those that the session, or the rest after a clinic dose, takes.
    let mut days: BTreeSet<_> = doses.iter().map(|dose| dose.day).collect();
    let around = days.first() < Some(&case.anchors.treatment) && days.last() > Some(&case.anchors.treatment);
    if course.starts < 0 && around {
        days.extend([case.anchors.treatment, case.anchors.treatment + TimeDelta::days(1)]);
    }
    assert!(days.iter().zip(days.iter().skip(1)).all(|(one, next)| one.succ_opt() == Some(*next)));
}

fn clinic_doses_rest(case: &Case, plan: &Plan) {
    let counted = |dose: &&Dose| matches!(case.course(dose).steps[dose.step].length, StepLength::Doses(_));
    for dose in home(plan).filter(counted) {
        let clinic = plan
            .doses
            .iter()
            .filter(|other| other.course == dose.course && other.place != DosePlace::Home && other.at < dose.at);
        let least = TimeDelta::minutes(case.course(dose).min_same_drug_minutes.into());
        assert!(clinic.into_iter().all(|given| dose.instant - given.instant >= least), "{dose:?}");
    }
}

fn first_slots_are_in_order(case: &Case, plan: &Plan) {
    let at_waking =
        |dose: &&Dose| dose.slot == 1 && matches!(dose.period, Period::Morning | Period::WakeUp | Period::GetUp);
    let first = |day| home(plan).filter(at_waking).filter(move |dose| dose.day == day);
    for day in home(plan).map(|dose| dose.day).collect::<BTreeSet<_>>() {
        assert!(first(day).is_sorted_by_key(|dose| (case.course(dose).order, &dose.drug)), "{day}");
    }
}

fn identities_are_unique(plan: &Plan) {
    let all: BTreeSet<String> = home(plan).map(Dose::identity).collect();
    assert_eq!(all.len(), home(plan).count());
}

fn visits_are_open_and_later(case: &Case, plan: &Plan) {
    let profile = profile(case.zone);
    for visit in &plan.visits {
        assert!(visit.date > case.anchors.treatment && visit.date >= visit.wanted);
        assert!(hours::on(&profile, visit.date).is_some());
        assert!(visit.at.is_none_or(|at| hours::is_open(&profile, visit.date.and_time(at))));
    }
    assert!(plan.visits.is_sorted_by(|one, next| one.date < next.date));
    assert_eq!(plan.visits.iter().map(|visit| visit.ids.len()).sum::<usize>(), profile.visits.len());
}

/// Laws of this project's design; distances from the labels and Chrai 1974 (J Pharm Sci 63:333-338).
fn hold(case: &Case, plan: &Plan) {
    at_home_while_awake(case, plan);
    instants_are_their_wall_times(case, plan);
    gaps_are_kept(case, plan);
    counts_are_exact(case, plan);
    clinic_doses_rest(case, plan);
    first_slots_are_in_order(case, plan);
    identities_are_unique(plan);
    visits_are_open_and_later(case, plan);
}

proptest! {
    #![proptest_config(quiet())]

    /// Someone awake for half a day or more always gets a plan: at most 24 drops, 15 minutes apart, are 6 hours.
    #[test]
    fn an_ordinary_day_has_a_plan(case in cases(720..1320)) {
        match case.plan() {
            Ok(plan) => hold(&case, &plan),
            Err(PlanError::NothingLeft { drug }) => {
                let course = case.courses.iter().find(|course| course.drug == drug).unwrap();
                prop_assert!(course.starts <= 0, "{:?}", course);
            }
            Err(other) => prop_assert!(false, "{}", other),
        }
    }

    /// However short the day: a plan that holds, or an error.
    #[test]
    fn a_short_day_has_a_plan_that_holds_or_none(case in cases(10..720)) {
        if let Ok(plan) = case.plan() {
            hold(&case, &plan);
        }
    }

    /// A single drug in a day of ten hours or more stands on whole and half hours, but where the clocks move it.
    #[test]
    fn times_stand_on_half_hours(mut case in cases(600..1320)) {
        case.courses.truncate(1);
        case.courses[0] = Course { as_needed: false, recorded: Vec::new(), first_in_clinic: false, ..case.courses[0].clone() };
        let Ok(plan) = case.plan() else { return Ok(()) };
        for dose in home(&plan) {
            let on_time = dose.at.time().signed_duration_since(NaiveTime::MIN).num_minutes() % 30 == 0;
            let moved = (0..=120).any(|minutes| skipped(case.zone, dose.at - TimeDelta::minutes(minutes)));
            prop_assert!(on_time || moved, "{:?}", dose);
        }
    }

    /// One drug is used at the same times every day, but where the clocks skip them.
    #[test]
    fn every_day_is_like_the_other(mut case in cases(600..1320)) {
        case.courses.truncate(1);
        let (per_day, at) = (case.courses[0].steps[0].per_day, case.courses[0].steps[0].at);
        let steps = vec![DropStep { at, ..step(per_day, StepLength::Dates(8)) }];
        case.courses[0] = Course { steps, starts: 0, as_needed: false, ..case.courses[0].clone() };
        let plan = case.plan().unwrap();
        for slot in 1..=per_day {
            let times = home(&plan).filter(|dose| dose.slot == slot);
            let usual: Vec<_> = times.map(|dose| dose.at - dose.day.and_time(NaiveTime::MIN)).collect();
            let mut counts: Vec<_> = usual.iter().map(|one| (usual.iter().filter(|other| *other == one).count(), *one)).collect();
            counts.sort();
            let common = counts.last().unwrap().1;
            for dose in home(&plan).filter(|dose| dose.slot == slot) {
                let wanted = dose.day.and_time(NaiveTime::MIN) + common;
                prop_assert!(dose.at == wanted || (skipped(case.zone, wanted) && dose.at == read(case.zone, wanted).naive_local()));
            }
        }
    }
}

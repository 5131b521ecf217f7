//! What holds of every plan, tried on generated zones, days, waking hours and regimens.

use std::collections::BTreeSet;

use vitreoleaf::facts::hours;
use vitreoleaf::plan::{Dose, DosePlace};

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

fn courses(leaves: NaiveDateTime) -> impl Strategy<Value = Vec<Course>> {
    let length = prop_oneof![(1..12_u32).prop_map(CourseLength::Dates), (1..30_u32).prop_map(CourseLength::Doses)];
    let recorded = prop::collection::vec(0..90_i64, 0..3);
    let gap = prop::sample::select(vec![0_u32, 5, 10, 15]);
    let one = (0..4_u8, gap, 60..480_u32, 1..=6_u32, length, any::<bool>(), recorded);
    prop::collection::vec(one, 1..=4).prop_map(move |all| {
        let drug = ["delta", "alpha", "charlie", "bravo"].into_iter();
        let course =
            |(drug, (order, gap_minutes, min_same_drug_minutes, per_day, length, first_in_clinic, before)): (
                &str,
                (_, _, _, _, _, _, Vec<i64>),
            )| Course {
                drug: drug.into(),
                order,
                gap_minutes,
                min_same_drug_minutes,
                per_day,
                length,
                first_in_clinic,
                recorded: before.into_iter().map(|minutes| leaves - TimeDelta::minutes(minutes)).collect(),
            };
        drug.zip(all).map(course).collect()
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
        let anchors = Anchors { treatment: day, last_pulse: leaves - TimeDelta::minutes(20), leaves, done };
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
        let next = i64::from(case.waking.sleeps <= case.waking.wakes);
        let wakes = read(case.zone, dose.day.and_time(case.waking.wakes));
        let sleeps = read(case.zone, (dose.day + TimeDelta::days(next)).and_time(case.waking.sleeps));
        assert!(wakes <= dose.instant && dose.instant <= sleeps, "{dose:?}");
        assert!(dose.instant >= read(case.zone, case.anchors.leaves), "{dose:?}");
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

fn counts_are_exact(case: &Case, plan: &Plan) {
    for (index, course) in case.courses.iter().enumerate() {
        let clinic = match case.anchors.done {
            true => course.recorded.len(),
            false => usize::from(course.first_in_clinic),
        };
        let own: Vec<&Dose> = home(plan).filter(|dose| dose.course == index).collect();
        let step = &plan.steps[index];
        assert_eq!((step.in_clinic, step.at_home), (clinic, own.len()));
        match course.length {
            CourseLength::Doses(doses) => assert_eq!(own.len(), (doses as usize).saturating_sub(clinic)),
            CourseLength::Dates(dates) => {
                for day in case.anchors.treatment.iter_days().take(dates as usize).skip(1) {
                    let slots: Vec<u32> = own.iter().filter(|dose| dose.day == day).map(|dose| dose.slot).collect();
                    assert_eq!(slots, (1..=course.per_day).collect::<Vec<_>>(), "{day}");
                }
                let last = case.anchors.treatment + TimeDelta::days(i64::from(dates) - 1);
                assert!(own.iter().all(|dose| (case.anchors.treatment..=last).contains(&dose.day)));
                assert!(dates == 1 || step.last == last);
            }
        }
        // One after the other, on days without a hole, each slot once.
        assert!(
            own.is_sorted_by(|one, next| one.instant < next.instant && (one.day, one.slot) < (next.day, next.slot))
        );
        let days: BTreeSet<_> = own.iter().map(|dose| dose.day).collect();
        assert!(days.iter().zip(days.iter().skip(1)).all(|(one, next)| one.succ_opt() == Some(*next)));
    }
}

fn clinic_doses_rest(case: &Case, plan: &Plan) {
    for dose in home(plan).filter(|dose| matches!(case.course(dose).length, CourseLength::Doses(_))) {
        let clinic = plan.doses.iter().filter(|other| other.course == dose.course && other.place != DosePlace::Home);
        let least = TimeDelta::minutes(case.course(dose).min_same_drug_minutes.into());
        assert!(clinic.into_iter().all(|given| dose.instant - given.instant >= least), "{dose:?}");
    }
}

fn first_slots_are_in_order(case: &Case, plan: &Plan) {
    let first = |day| home(plan).filter(move |dose| dose.slot == 1 && dose.day == day);
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
                prop_assert_eq!(course.length, CourseLength::Dates(1));
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

    /// One drug is used at the same times every day, but where the clocks skip them.
    #[test]
    fn every_day_is_like_the_other(mut case in cases(600..1320)) {
        case.courses.truncate(1);
        case.courses[0].length = CourseLength::Dates(8);
        let plan = case.plan().unwrap();
        for slot in 1..=case.courses[0].per_day {
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

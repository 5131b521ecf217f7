//! From facts and record to a request for the plan.

use super::{Anchors, Course, InUse, Plan, PlanError, Request, Waking, schedule, undosed};
use crate::facts::{Facts, Moment, Source, drops, recheck};
use crate::findings::Findings;
use crate::record::health::DropTimes;
use crate::record::profile::{DropCourse, DropStep, StepLength};

/// The keys of a record without which no plan can be made, as JSON pointers; a table or list stands for all within it.
pub const HANGS_ON: [&str; 6] =
    ["/plan/start", "/plan/regimen", "/plan/visits", "/patient/wakes", "/patient/sleeps", "/treatment"];

/// Makes the plan of a case.
///
/// # Errors
/// As [`schedule`].
pub fn of(source: &Source, facts: &Facts, findings: &Findings) -> Result<Plan, PlanError> {
    let profile = source.profile;
    let regimen = profile.regimens.iter().find(|regimen| regimen.id == source.record.plan.regimen);
    let drops = regimen.iter().flat_map(|regimen| &regimen.drops);
    let mut courses: Vec<Course> = drops.filter_map(|drops| course(source, drops)).collect();
    let in_use = in_use(source, &mut courses);
    schedule(&with(source, facts, findings, &courses, &in_use))
}

/// Makes the plan of a case without its drops: visits and recheck only. It stands whatever is wrong with the hours of the patient,
/// and without visits where the practice has no day for them.
#[must_use]
pub fn without_drops(source: &Source, facts: &Facts, findings: &Findings) -> Plan {
    undosed(&with(source, facts, findings, &[], &[]))
}

fn with<'a>(
    source: &'a Source,
    facts: &Facts,
    findings: &Findings,
    courses: &'a [Course],
    in_use: &'a [InUse],
) -> Request<'a> {
    let (record, profile) = (source.record, source.profile);
    let anchors = match source.moment {
        Moment::Before => Anchors::planned(record.plan.start.0, profile),
        Moment::After => Anchors::of(record, profile),
    };
    // Once it is done it is no appointment any more.
    let rechecked = source.treatment().is_some_and(|done| !done.rechecks.is_empty());
    let wanted = facts.choice("recheck_need") != "not_needed" && !rechecked;
    Request {
        profile,
        anchors,
        waking: Waking { wakes: record.patient.wakes.0, sleeps: record.patient.sleeps.0 },
        courses,
        in_use,
        booked: &record.plan.visits,
        event_visit_days: findings.0.iter().filter_map(|finding| finding.visit_days).min(),
        pressure_risk: facts.choice("pressure_risk") == "yes",
        recheck: wanted.then(|| recheck::place(profile, anchors.last_pulse)),
    }
}

fn course(source: &Source, drops: &DropCourse) -> Option<Course> {
    let drug = source.formulary.get(&drops.drug)?;
    let practice = source.profile.thresholds.drop_gap_minutes;
    let label = drug.gap_minutes(source.profile.practice.labels);
    let given = source.treatment().into_iter().flat_map(|done| &done.clinic_doses);
    Some(Course {
        drug: drug.key.clone(),
        order: drug.form.order(),
        gap_minutes: label.unwrap_or(practice).max(practice),
        min_same_drug_minutes: drug.min_same_drug_minutes,
        starts: drops.starts,
        steps: drops.steps.clone(),
        first_in_clinic: drops.first_in_clinic,
        as_needed: drops.as_needed,
        at_night: drops.at_night,
        in_use: false,
        // The course begins with the laser: a dose given before it is not counted.
        recorded: given
            .filter(|dose| dose.drug == drug.key && dose.at.0 >= source.doses_count_from())
            .map(|dose| dose.at.0)
            .collect(),
    })
}

/// The eye drops the patient already uses; those with recorded times join the courses, so that all keep their distance.
fn in_use(source: &Source, courses: &mut Vec<Course>) -> Vec<InUse> {
    let times = &source.record.health.eye_drop_times;
    let entries = source.record.health.eye_drops.as_ref().into_iter().flatten();
    let drop = |entry: &String| {
        let doubled = drops::is_doubled(source, entry);
        let times = times.iter().find(|times| times.drop == *entry).filter(|_| !doubled);
        let course = times.map(|times| {
            courses.push(continued(source, entry, times));
            courses.len() - 1
        });
        InUse { name: entry.clone(), doubled, course }
    };
    entries.map(drop).collect()
}

/// A drop in use as a course; what the formulary says of several products of that name counts at its longest.
fn continued(source: &Source, entry: &str, times: &DropTimes) -> Course {
    let labels = source.profile.practice.labels;
    let practice = source.profile.thresholds.drop_gap_minutes;
    let known = source.formulary.read(entry).drugs;
    let known = || known.iter().filter_map(|key| source.formulary.get(key));
    Course {
        drug: format!("in use: {entry}"),
        order: known().map(|drug| drug.form.order()).max().unwrap_or(0),
        gap_minutes: known().filter_map(|drug| drug.gap_minutes(labels)).fold(practice, u32::max),
        min_same_drug_minutes: 0,
        starts: 0,
        steps: vec![DropStep { per_day: times.per_day, every_days: 1, at: times.at, length: StepLength::GoesOn(366) }],
        first_in_clinic: false,
        as_needed: false,
        at_night: false,
        in_use: true,
        recorded: Vec::new(),
    }
}

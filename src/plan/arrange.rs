//! Puts the drops of a day in order, with the time between them that they need.
//!
//! Different drops wash each other out when they follow too closely; five minutes is the usual distance (Chrai 1974,
//! J Pharm Sci 63:333-338), some labels ask for more.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta, Timelike};
use chrono_tz::Tz;

use super::course::Due;
use super::slots::{GRIDS, at_bedtime};
use super::{Course, Dose, DosePlace, Period, PlanError, Request};
use crate::facts::hours::instant;

/// Every dose of the request, in order of time.
pub(super) fn doses(request: &Request<'_>) -> Result<Vec<Dose>, PlanError> {
    let mut doses = Vec::new();
    for (day, due) in by_day(request)? {
        doses.extend(home(request, day, due)?);
    }
    let clinic = clinic(request).into_iter().map(|dose| Dose { step: step_of_clinic(&doses, &dose), ..dose });
    doses.extend(clinic.collect::<Vec<_>>());
    doses.sort_by_key(|dose| (dose.instant, dose.course));
    Ok(doses)
}

/// A dose in the clinic belongs to the step that goes on after it.
fn step_of_clinic(home: &[Dose], clinic: &Dose) -> usize {
    let later = home.iter().filter(|dose| dose.course == clinic.course && dose.at > clinic.at);
    later.map(|dose| dose.step).min().unwrap_or(0)
}

fn zone(request: &Request<'_>) -> Tz {
    request.profile.practice.time_zone.0
}

fn clinic(request: &Request<'_>) -> Vec<Dose> {
    let given = |(index, course): (usize, &Course)| {
        course.in_clinic(&request.anchors).into_iter().map(move |(at, place)| (index, at, place)).collect::<Vec<_>>()
    };
    let dose = |(course, at, place): (usize, NaiveDateTime, DosePlace)| Dose {
        course,
        step: 0,
        drug: request.courses[course].drug.clone(),
        day: request.anchors.treatment,
        at,
        instant: instant(zone(request), at),
        period: Period::Other,
        slot: 0,
        place,
    };
    let timed = request.courses.iter().enumerate().filter(|(_, course)| !course.as_needed);
    timed.flat_map(given).map(dose).collect()
}

fn by_day(request: &Request<'_>) -> Result<BTreeMap<NaiveDate, Vec<Due>>, PlanError> {
    let room = room(request);
    let grid = grid(request, room);
    let mut days = BTreeMap::<NaiveDate, Vec<Due>>::new();
    for (index, course) in request.courses.iter().enumerate().filter(|(_, course)| !course.as_needed) {
        let slots = course.steps.iter().map(|step| {
            let slots = request.waking.slots(grid, step, course.at_night, room);
            slots.ok_or_else(|| PlanError::DayTooShort { drug: course.drug.clone(), per_day: step.per_day })
        });
        let slots = slots.collect::<Result<Vec<_>, _>>()?;
        for due in course.due(index, &slots, &request.anchors, zone(request)) {
            days.entry(due.day).or_default().push(due);
        }
    }
    Ok(days)
}

/// The coarsest grid on which every drug has its slots, minutes: one for all, so that drugs due together stay together.
fn grid(request: &Request<'_>, room: i64) -> i64 {
    let [coarse, fine] = GRIDS;
    let mut timed = request.courses.iter().filter(|course| !course.as_needed);
    let fits = |course: &Course| {
        course.steps.iter().all(|step| request.waking.slots(coarse, step, course.at_night, room).is_some())
    };
    if timed.all(fits) { coarse } else { fine }
}

/// Minutes that the last slot needs so that every drug used there is in before sleep. Kept on every day, so that the
/// times stay the same when one of the drugs ends.
fn room(request: &Request<'_>) -> i64 {
    let at_bedtime = |course: &&Course| !course.as_needed && !course.at_night && course.steps.iter().any(at_bedtime);
    let mut last: Vec<&Course> = request.courses.iter().filter(at_bedtime).collect();
    last.sort_by_key(|course| (course.order, &course.drug));
    last.windows(2).map(|pair| gap(request, pair[0], pair[1]).num_minutes()).sum()
}

/// The distance two drops need: the greater of both labels and the practice's own.
fn gap(request: &Request<'_>, one: &Course, other: &Course) -> TimeDelta {
    let practice = request.profile.thresholds.drop_gap_minutes;
    TimeDelta::minutes(practice.max(one.gap_minutes).max(other.gap_minutes).into())
}

/// The doses the patient takes on one day.
fn home(request: &Request<'_>, day: NaiveDate, mut due: Vec<Due>) -> Result<Vec<Dose>, PlanError> {
    let course = |due: &Due| &request.courses[due.course];
    due.sort_by_key(|due| (due.at, course(due).order, &course(due).drug));
    let gaps: Vec<TimeDelta> = due.windows(2).map(|pair| gap(request, course(&pair[0]), course(&pair[1]))).collect();
    let earliest: Vec<NaiveDateTime> = due.iter().map(|due| earliest(request, due)).collect();
    let latest: Vec<NaiveDateTime> = due.iter().map(|due| latest(request, due)).collect();
    let zone = zone(request);
    let utc = |local: &NaiveDateTime| instant(zone, *local).naive_utc();

    // By the clock on the wall first. Then by elapsed time, which differs only where the clocks skip an hour.
    let wanted = due.iter().map(|due| due.at).collect();
    let times = spread(wanted, &gaps, &earliest, &latest)
        .and_then(|local| {
            let [local, earliest, latest] = [&local, &earliest, &latest].map(|times| times.iter().map(utc).collect());
            spread(local, &gaps, &earliest, &latest)
        })
        .ok_or(PlanError::DayTooFull { day })?;

    let dose = |(due, utc): (&Due, NaiveDateTime)| {
        let instant = utc.and_utc().with_timezone(&zone);
        Dose {
            course: due.course,
            step: due.step,
            drug: course(due).drug.clone(),
            day,
            at: instant.naive_local(),
            instant,
            period: due.period,
            slot: due.slot,
            place: DosePlace::Home,
        }
    };
    Ok(due.iter().zip(times).map(dose).collect())
}

/// Not before the patient is up and ready for it, nor too soon after another drug's drop in the clinic.
fn earliest(request: &Request<'_>, due: &Due) -> NaiveDateTime {
    let this = &request.courses[due.course];
    // A slot that the clocks skip counts as its instant, which the wall time after the gap would seem to miss.
    let ready = due.ready.naive_local().min(due.at);
    let others = request.courses.iter().filter(|other| !due.before && other.drug != this.drug);
    others
        .flat_map(|other| other.in_clinic(&request.anchors).into_iter().map(move |(given, _)| (other, given)))
        .map(|(other, given)| {
            let ready = instant(zone(request), given) + gap(request, this, other);
            five_minutes_up(ready.naive_local())
        })
        .fold(request.waking.starts(due.day).max(ready), NaiveDateTime::max)
}

/// Not after the patient goes to sleep, unless the regimen says so; before the treatment not after it starts.
fn latest(request: &Request<'_>, due: &Due) -> NaiveDateTime {
    let ends = match request.courses[due.course].at_night {
        true => (due.at + TimeDelta::hours(1)).max(request.waking.ends(due.day)),
        false => request.waking.ends(due.day),
    };
    if due.before { ends.min(request.anchors.starts) } else { ends }
}

/// Rounds up to five minutes: a time that can be read off a clock.
fn five_minutes_up(at: NaiveDateTime) -> NaiveDateTime {
    let over = i64::from(at.num_seconds_from_midnight() % 300);
    if over == 0 { at } else { at + TimeDelta::seconds(300 - over) }
}

/// Moves times apart: each at least its gap after the one before, none before its `earliest` or after its `latest`, each
/// as near to what was wanted as the ones before it allow. `None` if there is no room.
fn spread(
    mut times: Vec<NaiveDateTime>,
    gaps: &[TimeDelta],
    earliest: &[NaiveDateTime],
    latest: &[NaiveDateTime],
) -> Option<Vec<NaiveDateTime>> {
    for index in 0..times.len() {
        let after = index.checked_sub(1).map(|before| times[before] + gaps[before]);
        times[index] = times[index].max(earliest[index]).max(after.unwrap_or(times[index]));
    }
    let mut limit = None;
    for index in (0..times.len()).rev() {
        times[index] = times[index].min(latest[index]).min(limit.unwrap_or(latest[index]));
        if times[index] < earliest[index] {
            return None;
        }
        limit = index.checked_sub(1).map(|before| times[index] - gaps[before]);
    }
    Some(times)
}

//! Puts the drops of a day in order, with the time between them that they need.
//!
//! Different drops wash each other out when they follow too closely; five minutes is the usual distance (Chrai 1974,
//! J Pharm Sci 63:333-338), some labels ask for more.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta, Timelike};
use chrono_tz::Tz;

use super::course::Due;
use super::{Course, Dose, DosePlace, Period, PlanError, Request};
use crate::facts::hours::instant;

/// Every dose of the request, in order of time.
pub(super) fn doses(request: &Request<'_>) -> Result<Vec<Dose>, PlanError> {
    let mut doses = clinic(request);
    for (day, due) in by_day(request)? {
        doses.extend(home(request, day, due)?);
    }
    doses.sort_by_key(|dose| (dose.instant, dose.course));
    Ok(doses)
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
        drug: request.courses[course].drug.clone(),
        day: request.anchors.treatment,
        at,
        instant: instant(zone(request), at),
        period: Period::Other,
        slot: 0,
        place,
    };
    request.courses.iter().enumerate().flat_map(given).map(dose).collect()
}

fn by_day(request: &Request<'_>) -> Result<BTreeMap<NaiveDate, Vec<Due>>, PlanError> {
    let room = room(request);
    let mut days = BTreeMap::<NaiveDate, Vec<Due>>::new();
    for (index, course) in request.courses.iter().enumerate() {
        let slots = request
            .waking
            .slots(course.per_day, room)
            .ok_or_else(|| PlanError::DayTooShort { drug: course.drug.clone(), per_day: course.per_day })?;
        for due in course.due(index, &slots, &request.anchors, zone(request)) {
            days.entry(due.day).or_default().push(due);
        }
    }
    Ok(days)
}

/// Minutes that the last slot needs so that every drug used there is in before sleep. Kept on every day, so that the
/// times stay the same when one of the drugs ends.
fn room(request: &Request<'_>) -> i64 {
    let mut last: Vec<&Course> = request.courses.iter().filter(|course| course.per_day > 1).collect();
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
    let zone = zone(request);
    let utc = |local: &NaiveDateTime| instant(zone, *local).naive_utc();
    let ends = request.waking.ends(day);

    // By the clock on the wall first. Then by elapsed time, which differs only where the clocks skip an hour.
    let wanted = due.iter().map(|due| due.at).collect();
    let times = spread(wanted, &gaps, &earliest, ends)
        .and_then(|local| {
            let earliest: Vec<_> = earliest.iter().map(utc).collect();
            spread(local.iter().map(utc).collect(), &gaps, &earliest, utc(&ends))
        })
        .ok_or(PlanError::DayTooFull { day })?;

    let dose = |(due, utc): (&Due, NaiveDateTime)| {
        let instant = utc.and_utc().with_timezone(&zone);
        Dose {
            course: due.course,
            drug: course(due).drug.clone(),
            day,
            at: instant.naive_local(),
            instant,
            period: Period::of(due.slot - 1, course(due).per_day),
            slot: due.slot,
            place: DosePlace::Home,
        }
    };
    Ok(due.iter().zip(times).map(dose).collect())
}

/// Not before the patient is up and ready for it, nor too soon after another drug's drop in the clinic.
fn earliest(request: &Request<'_>, due: &Due) -> NaiveDateTime {
    let this = &request.courses[due.course];
    let others = request.courses.iter().filter(|other| other.drug != this.drug);
    others
        .flat_map(|other| other.in_clinic(&request.anchors).into_iter().map(move |(given, _)| (other, given)))
        .map(|(other, given)| {
            let ready = instant(zone(request), given) + gap(request, this, other);
            five_minutes_up(ready.naive_local())
        })
        .fold(request.waking.starts(due.day).max(due.ready.naive_local()), NaiveDateTime::max)
}

/// Rounds up to five minutes: a time that can be read off a clock.
fn five_minutes_up(at: NaiveDateTime) -> NaiveDateTime {
    let over = i64::from(at.num_seconds_from_midnight() % 300);
    if over == 0 { at } else { at + TimeDelta::seconds(300 - over) }
}

/// Moves times apart: each at least its gap after the one before, none before its `earliest`, none after `latest`, each
/// as near to what was wanted as the ones before it allow. `None` if there is no room.
fn spread(
    mut times: Vec<NaiveDateTime>,
    gaps: &[TimeDelta],
    earliest: &[NaiveDateTime],
    latest: NaiveDateTime,
) -> Option<Vec<NaiveDateTime>> {
    for index in 0..times.len() {
        let after = index.checked_sub(1).map(|before| times[before] + gaps[before]);
        times[index] = times[index].max(earliest[index]).max(after.unwrap_or(times[index]));
    }
    let mut limit = latest;
    for index in (0..times.len()).rev() {
        times[index] = times[index].min(limit);
        if times[index] < earliest[index] {
            return None;
        }
        limit = times[index] - index.checked_sub(1).map_or(TimeDelta::zero(), |before| gaps[before]);
    }
    Some(times)
}

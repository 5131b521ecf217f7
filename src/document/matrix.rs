//! The columns of the drop calendar: which times of the day stand across, and which dose stands under which.

use chrono::{NaiveTime, Timelike};

use super::sheet::{Built, Sheet};
use super::{CalendarTime, Sun, drops};
use crate::plan::{Dose, DosePlace, Period};

/// A dose this near to a time, minutes, stands in its column with a clock time of its own. Drops into one eye follow each
/// other after minutes, and the slots of a waking day with twelve doses are over an hour apart.
const NEAR: u32 = 60;

const NOON: NaiveTime = NaiveTime::from_hms_opt(12, 0, 0).expect("a time of day");

/// The times across, in order: those at which most doses are taken at home, so far apart that each of these is near to one.
pub(super) fn times(doses: &[&Dose]) -> Vec<NaiveTime> {
    let at_home = doses.iter().filter(|dose| dose.place == DosePlace::Home);
    let at_home: Vec<&&Dose> = at_home.collect();
    let mut counted: Vec<(usize, NaiveTime)> = Vec::new();
    for dose in if at_home.is_empty() { doses.iter().collect() } else { at_home } {
        match counted.iter_mut().find(|(_, time)| *time == dose.at.time()) {
            Some((count, _)) => *count += 1,
            None => counted.push((1, dose.at.time())),
        }
    }
    counted.sort_by_key(|(count, time)| (std::cmp::Reverse(*count), *time));
    let mut times: Vec<NaiveTime> = Vec::new();
    for (_, time) in counted {
        if times.iter().all(|other| apart(*other, time) > NEAR) {
            times.push(time);
        }
    }
    // A time after midnight stands behind those of the evening: its row is that of the waking day.
    let of_night = |time: &NaiveTime| doses.iter().any(|dose| dose.at.time() == *time && dose.at.date() > dose.day);
    times.sort_by_key(|time| (of_night(time), *time));
    times
}

/// The column of a dose.
pub(super) fn column(times: &[NaiveTime], dose: &Dose) -> usize {
    let distances = times.iter().map(|time| apart(*time, dose.at.time())).enumerate();
    distances.min_by_key(|(_, distance)| *distance).map_or(0, |(column, _)| column)
}

/// The head of a column: the part of the day that its doses have, else the clock time alone.
pub(super) fn head(sheet: &Sheet, time: NaiveTime, doses: &[&Dose]) -> Built<CalendarTime> {
    let named = doses.iter().filter(|dose| dose.at.time() == time).find_map(|dose| named(dose));
    Ok(CalendarTime {
        sun: sun(time),
        period: named.map_or_else(|| Ok(String::new()), |key| sheet.text(key, &[]))?,
        at: sheet.content.locale.time(time)?,
    })
}

/// The part of the day of a dose; "noon" is the clock time too and needs no second word.
fn named(dose: &Dose) -> Option<&'static str> {
    let period = Some(dose.period).filter(|period| *period != Period::Other && dose.at.time() != NOON);
    period.and_then(drops::period)
}

/// Minutes between two times of one date.
fn apart(one: NaiveTime, other: NaiveTime) -> u32 {
    let minutes = |time: NaiveTime| time.hour() * 60 + time.minute();
    minutes(one).abs_diff(minutes(other))
}

fn sun(time: NaiveTime) -> Sun {
    match time.hour() {
        4..11 => Sun::Rising,
        11..16 => Sun::High,
        16..20 => Sun::Setting,
        _ => Sun::Down,
    }
}

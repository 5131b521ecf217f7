//! The patient's waking day and the slots in it.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike};
use schemars::JsonSchema;
use serde::Serialize;

use super::PlanError;
use crate::record::profile::{DayPart, DropStep};

/// The least night, minutes. Anything shorter is a slip of the pen, and the last drop of one day could meet the first
/// of the next.
pub const MIN_NIGHT_MINUTES: i64 = 120;

const DAY: i64 = 24 * 60;
/// Grids on which the times of doses may stand, minutes, the better one first: a time on the half hour is easier to keep.
pub(super) const GRIDS: [i64; 2] = [30, 15];

/// When the patient is awake, local wall times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Waking {
    /// Gets up.
    pub wakes: NaiveTime,
    /// Goes to sleep; earlier than `wakes` means after midnight.
    pub sleeps: NaiveTime,
}

/// Part of the day a dose belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Period {
    /// On waking: the first of more than four.
    WakeUp,
    /// When the patient gets up, for somebody who goes to sleep after midnight.
    GetUp,
    /// Morning.
    Morning,
    /// Noon.
    Noon,
    /// Evening.
    Evening,
    /// Bedtime.
    Bedtime,
    /// Before sleep, for somebody who goes to sleep after midnight.
    BeforeSleep,
    /// In the night.
    Night,
    /// None with a name: only its time says when.
    Other,
}

/// A time of day at which a dose is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Slot {
    /// Which slot of the day, from 1.
    pub(super) number: u32,
    /// Minutes from the midnight that the day begins with.
    pub(super) minutes: i64,
    /// Part of the day.
    pub(super) period: Period,
}

impl Waking {
    /// Refuses a night under [`MIN_NIGHT_MINUTES`].
    pub(super) fn check(self) -> Result<(), PlanError> {
        if DAY - (self.end() - self.start()) < MIN_NIGHT_MINUTES {
            return Err(PlanError::NoNight { wakes: self.wakes, sleeps: self.sleeps });
        }
        Ok(())
    }

    /// When the patient gets up on a day.
    pub(super) fn starts(self, day: NaiveDate) -> NaiveDateTime {
        at(day, self.start())
    }

    /// When the patient goes to sleep at the end of a day; the date may be the next.
    pub(super) fn ends(self, day: NaiveDate) -> NaiveDateTime {
        at(day, self.end())
    }

    /// Minutes from midnight to getting up.
    fn start(self) -> i64 {
        (i64::from(self.wakes.num_seconds_from_midnight()) + 59) / 60
    }

    /// Minutes from midnight to sleep; above a day's length after midnight.
    fn end(self) -> i64 {
        let end = i64::from(self.sleeps.num_seconds_from_midnight()) / 60;
        if self.sleeps <= self.wakes { end + DAY } else { end }
    }

    /// The slots of a step on a grid of so many minutes. `None` if they would not be distinct.
    ///
    /// Up to four a day are parts of the day after the universal medication schedule (Arch Intern Med 2011, 464 adults):
    /// 1 morning; 2 morning and bedtime; 3 morning, noon and evening; 4 all (three and four a day: 16 CCR 1707.5, from
    /// memory). Noon and evening part the waking day in three. More are spread evenly from getting up to sleep, or
    /// over day and night. Bedtime is `room` minutes before sleep or a little earlier.
    pub(super) fn slots(self, grid: i64, step: &DropStep, at_night: bool, room: i64) -> Option<Vec<Slot>> {
        let first = (self.start() + grid - 1).div_euclid(grid);
        let last = (self.end() - room).div_euclid(grid);
        let even = |span: i64, parts: i64, part: i64| first + (2 * span * part + parts).div_euclid(2 * parts);
        let count = i64::from(step.per_day);
        let marks: Vec<i64> = match (at_night, parts(step)) {
            (true, _) => (0..count).map(|slot| even(DAY / grid, count, slot)).collect(),
            (false, Some(parts)) => parts.iter().map(|part| even(last - first, 3, *part as i64)).collect(),
            (false, None) => (0..count).map(|slot| even(last - first, count - 1, slot)).collect(),
        };
        let distinct = last >= first && marks.is_sorted_by(|earlier, later| earlier < later);
        let slot = |(number, mark): (u32, i64)| {
            let minutes = mark * grid;
            Slot { number, minutes, period: self.period(step, at_night, number, minutes) }
        };
        distinct.then(|| (1..).zip(marks).map(slot).collect())
    }

    /// The name of a slot's part of the day. For somebody who sleeps from midnight or later, morning and evening would
    /// mislead: only getting up and sleep have a name then.
    fn period(self, step: &DropStep, at_night: bool, number: u32, minutes: i64) -> Period {
        let named = parts(step).filter(|_| !at_night).and_then(|parts| parts.get(number as usize - 1).copied());
        let last = number == step.per_day && !at_night;
        let late = self.end() >= DAY;
        match named {
            _ if !(self.start()..=self.end()).contains(&minutes) => Period::Night,
            Some(DayPart::Morning) if !late => Period::Morning,
            Some(DayPart::Noon) if !late => Period::Noon,
            Some(DayPart::Evening) if !late => Period::Evening,
            Some(DayPart::Bedtime) if !late => Period::Bedtime,
            Some(DayPart::Morning) => Period::GetUp,
            Some(DayPart::Bedtime) => Period::BeforeSleep,
            None if number == 1 && late => Period::GetUp,
            None if number == 1 => Period::WakeUp,
            None if last && late => Period::BeforeSleep,
            None if last => Period::Bedtime,
            _ => Period::Other,
        }
    }
}

/// The parts of the day of up to four doses.
fn parts(step: &DropStep) -> Option<Vec<DayPart>> {
    use DayPart::{Bedtime, Evening, Morning, Noon};
    match step.per_day {
        1 => Some(vec![step.at.unwrap_or(Morning)]),
        2 => Some(vec![Morning, Bedtime]),
        3 => Some(vec![Morning, Noon, Evening]),
        4 => Some(vec![Morning, Noon, Evening, Bedtime]),
        _ => None,
    }
}

/// Whether a step uses the time before sleep.
pub(super) fn at_bedtime(step: &DropStep) -> bool {
    parts(step).is_none_or(|parts| parts.contains(&DayPart::Bedtime))
}

/// A slot on a day.
pub(super) fn at(day: NaiveDate, minutes: i64) -> NaiveDateTime {
    day.and_time(NaiveTime::MIN) + TimeDelta::minutes(minutes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::profile::StepLength;

    fn step(per_day: u32) -> DropStep {
        DropStep { per_day, every_days: 1, at: None, length: StepLength::Dates(7) }
    }

    fn all(wakes: (u32, u32), sleeps: (u32, u32), step: &DropStep, night: bool, room: i64) -> Option<Vec<Slot>> {
        let time = |(hour, minute)| NaiveTime::from_hms_opt(hour, minute, 0).expect("test time");
        let waking = Waking { wakes: time(wakes), sleeps: time(sleeps) };
        GRIDS.into_iter().find_map(|grid| waking.slots(grid, step, night, room))
    }

    fn slots(wakes: (u32, u32), sleeps: (u32, u32), per_day: u32, room: i64) -> Vec<String> {
        let clock = |slot: Slot| format!("{:02}:{:02}", slot.minutes / 60, slot.minutes % 60);
        all(wakes, sleeps, &step(per_day), false, room).unwrap_or_default().into_iter().map(clock).collect()
    }

    #[test]
    fn slots_stand_on_half_hours_where_the_day_has_room() {
        assert_eq!(slots((6, 50), (22, 10), 2, 0), ["07:00", "22:00"]);
        assert_eq!(slots((7, 0), (22, 0), 3, 0), ["07:00", "12:00", "17:00"]);
        assert_eq!(slots((7, 0), (22, 0), 4, 0), ["07:00", "12:00", "17:00", "22:00"]);
        assert_eq!(slots((7, 0), (22, 0), 4, 10), ["07:00", "12:00", "16:30", "21:30"]);
        assert_eq!(slots((7, 0), (22, 0), 6, 0), ["07:00", "10:00", "13:00", "16:00", "19:00", "22:00"]);
        assert_eq!(slots((9, 0), (1, 0), 4, 0), ["09:00", "14:30", "19:30", "25:00"]);
        assert_eq!(slots((7, 10), (7, 20), 1, 0), ["07:15"]);
        assert_eq!(slots((7, 0), (8, 0), 4, 0), ["07:00", "07:15", "07:45", "08:00"]);
    }

    /// Windows of the universal medication schedule for somebody awake from 7 to 22 (from memory).
    #[test]
    fn parts_of_an_ordinary_day_fall_into_their_windows() {
        let all = all((7, 0), (22, 0), &step(4), false, 0).unwrap();
        let windows = [(6, 8), (11, 13), (16, 18), (21, 23)];
        for (slot, (from, to)) in all.iter().zip(windows) {
            assert!((from * 60..=to * 60).contains(&slot.minutes));
        }
        let periods: Vec<_> = all.iter().map(|slot| slot.period).collect();
        assert_eq!(periods, [Period::Morning, Period::Noon, Period::Evening, Period::Bedtime]);
    }

    #[test]
    fn one_dose_can_be_at_bedtime_and_doses_at_night_are_called_so() {
        let bedtime = DropStep { at: Some(DayPart::Bedtime), ..step(1) };
        let slot = all((7, 0), (22, 0), &bedtime, false, 0).unwrap()[0];
        assert_eq!((slot.minutes, slot.period), (22 * 60, Period::Bedtime));
        let night = all((7, 0), (22, 0), &step(4), true, 0).unwrap();
        let minutes: Vec<_> = night.iter().map(|slot| slot.minutes / 60).collect();
        assert_eq!(minutes, [7, 13, 19, 25]);
        assert_eq!((night[0].period, night[3].period), (Period::WakeUp, Period::Night));
    }

    #[test]
    fn after_midnight_only_getting_up_and_sleep_have_a_name() {
        let periods = |per_day| {
            let slots = all((14, 0), (6, 0), &step(per_day), false, 0).unwrap();
            slots.into_iter().map(|slot| slot.period).collect::<Vec<_>>()
        };
        assert_eq!(periods(1), [Period::GetUp]);
        assert_eq!(periods(2), [Period::GetUp, Period::BeforeSleep]);
        assert_eq!(periods(3), [Period::GetUp, Period::Other, Period::Other]);
        assert_eq!((periods(5)[0], periods(5)[4]), (Period::GetUp, Period::BeforeSleep));
    }

    /// Somebody who sleeps from midnight on has no evening and no bedtime of that date; a minute earlier both have their names.
    #[test]
    fn from_midnight_on_the_names_of_the_evening_go() {
        let periods = |sleeps| {
            let slots = all((7, 0), sleeps, &step(4), false, 0).unwrap();
            slots.into_iter().map(|slot| slot.period).collect::<Vec<_>>()
        };
        assert_eq!(periods((23, 59)), [Period::Morning, Period::Noon, Period::Evening, Period::Bedtime]);
        assert_eq!(periods((0, 0)), [Period::GetUp, Period::Other, Period::Other, Period::BeforeSleep]);
    }

    /// One or two a day have the names of the universal medication schedule, six have none between the first and the last.
    #[test]
    fn each_count_has_its_parts_of_the_day() {
        let periods = |per_day| {
            let slots = all((7, 0), (22, 0), &step(per_day), false, 0).unwrap();
            slots.into_iter().map(|slot| slot.period).collect::<Vec<_>>()
        };
        assert_eq!(periods(1), [Period::Morning]);
        assert_eq!(periods(2), [Period::Morning, Period::Bedtime]);
        assert_eq!(periods(3), [Period::Morning, Period::Noon, Period::Evening]);
        assert_eq!(periods(5)[0], Period::WakeUp);
        assert_eq!(periods(5)[1..4], [Period::Other; 3]);
        assert_eq!(periods(5)[4], Period::Bedtime);
    }

    /// A night of two hours is one; anything shorter is a slip of the pen (our own limit, no source).
    #[test]
    fn a_night_has_two_hours() {
        let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).expect("test time");
        for (sleeps, fits) in [(time(5, 0), true), (time(5, 1), false), (time(7, 0), false)] {
            assert_eq!(Waking { wakes: time(7, 0), sleeps }.check().is_ok(), fits, "{sleeps}");
        }
    }

    #[test]
    fn a_short_day_has_no_room() {
        assert!(slots((7, 0), (8, 0), 6, 0).is_empty());
        assert!(slots((7, 1), (7, 14), 1, 0).is_empty());
        assert!(slots((7, 0), (7, 15), 2, 5).is_empty());
    }
}

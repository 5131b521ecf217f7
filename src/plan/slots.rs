//! The patient's waking day and the slots in it.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike};
use serde::Serialize;

use super::PlanError;

/// The least night, minutes. Anything shorter is a slip of the pen, and the last drop of one day could meet the first
/// of the next.
pub const MIN_NIGHT_MINUTES: i64 = 120;

const DAY: i64 = 24 * 60;
const QUARTER: i64 = 15;

/// When the patient is awake, local wall times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Waking {
    /// Gets up.
    pub wakes: NaiveTime,
    /// Goes to sleep; earlier than `wakes` means after midnight.
    pub sleeps: NaiveTime,
}

/// Part of the day a dose belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Period {
    /// When the patient gets up; the first of more than four.
    WakeUp,
    /// Morning.
    Morning,
    /// Noon.
    Noon,
    /// Evening.
    Evening,
    /// Before sleep.
    Bedtime,
    /// None with a name: only its time says when.
    Other,
}

impl Period {
    /// Part of the day of one slot (from 0) of `per_day`.
    ///
    /// Up to four have a name, after the universal medication schedule (Arch Intern Med 2011, 464 adults; the names for
    /// one, three and four a day from memory).
    #[must_use]
    pub fn of(slot: u32, per_day: u32) -> Self {
        match (slot, per_day) {
            (0, 1..=4) => Self::Morning,
            (0, _) => Self::WakeUp,
            (slot, per_day) if slot + 1 >= per_day => Self::Bedtime,
            (1, 3 | 4) => Self::Noon,
            (2, 4) => Self::Evening,
            _ => Self::Other,
        }
    }
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

    /// The slots of a drug used `per_day` times, as minutes from the midnight that the day begins with: on quarter hours,
    /// the first when the patient gets up, the last `room` minutes before sleep or a little earlier, the rest evenly
    /// between. `None` if they would not be distinct.
    pub(super) fn slots(self, per_day: u32, room: i64) -> Option<Vec<i64>> {
        let first = (self.start() + QUARTER - 1).div_euclid(QUARTER);
        let last = (self.end() - room).div_euclid(QUARTER);
        let steps = i64::from(per_day) - 1;
        let between = |slot: i64| first + (2 * (last - first) * slot + steps).div_euclid(2 * steps);
        let quarters: Vec<i64> = if steps == 0 { vec![first] } else { (0..=steps).map(between).collect() };
        let distinct = last >= first && quarters.is_sorted_by(|earlier, later| earlier < later);
        distinct.then(|| quarters.into_iter().map(|quarter| quarter * QUARTER).collect())
    }
}

/// A slot on a day.
pub(super) fn at(day: NaiveDate, minutes: i64) -> NaiveDateTime {
    day.and_time(NaiveTime::MIN) + TimeDelta::minutes(minutes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slots(wakes: (u32, u32), sleeps: (u32, u32), per_day: u32, room: i64) -> Option<Vec<String>> {
        let time = |(hour, minute)| NaiveTime::from_hms_opt(hour, minute, 0).expect("test time");
        let waking = Waking { wakes: time(wakes), sleeps: time(sleeps) };
        let clock = |minutes: i64| format!("{:02}:{:02}", minutes / 60, minutes % 60);
        Some(waking.slots(per_day, room)?.into_iter().map(clock).collect())
    }

    #[test]
    fn slots_stand_on_quarter_hours() {
        assert_eq!(slots((6, 50), (22, 10), 2, 0).unwrap(), ["07:00", "22:00"]);
        assert_eq!(slots((7, 0), (22, 0), 3, 0).unwrap(), ["07:00", "14:30", "22:00"]);
        assert_eq!(slots((7, 0), (22, 0), 4, 0).unwrap(), ["07:00", "12:00", "17:00", "22:00"]);
        assert_eq!(slots((7, 0), (22, 0), 3, 10).unwrap(), ["07:00", "14:30", "21:45"]);
        assert_eq!(slots((9, 0), (1, 0), 3, 0).unwrap(), ["09:00", "17:00", "25:00"]);
    }

    #[test]
    fn a_short_day_has_no_room() {
        assert_eq!(slots((7, 0), (8, 0), 6, 0), None);
        assert_eq!(slots((7, 1), (7, 14), 1, 0), None);
        assert_eq!(slots((7, 0), (7, 15), 2, 5), None);
    }
}

//! The drop calendar as data: drugs, times of the day, dates with their doses.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Check, Inlines, Side};

/// The drop calendar as a matrix: dates down, times of the day across, a box per dose.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Calendar {
    /// What a box is, and what to do with it.
    pub how: Inlines,
    /// Head of the date column.
    pub date_head: String,
    /// What the boxes stand for: a drug in an eye each.
    pub drugs: Vec<CalendarDrug>,
    /// The times of the day, one column each, in their order.
    pub times: Vec<CalendarTime>,
    /// One row per date.
    pub days: Vec<CalendarDay>,
    /// Visits after the last date.
    pub later: Vec<Check>,
}

/// A drug in an eye.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct CalendarDrug {
    /// Generic name and strength as on the bottle.
    pub name: String,
    /// The eye, in words.
    pub eye: String,
    /// The eye, for its place in the pair of boxes where there are two.
    pub side: Side,
    /// Number of the drug from 0, the same in both eyes: each has a shape and a colour of its own.
    pub shape: usize,
    /// What it is for.
    pub purpose: String,
    /// One short line under it, for example "Shake the bottle". Empty: none.
    pub note: String,
}

/// A time of the day.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct CalendarTime {
    /// Where the sun stands.
    pub sun: Sun,
    /// The part of the day; empty where the time has no name.
    pub period: String,
    /// The clock time.
    pub at: String,
}

/// Where the sun stands, as a picture beside the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Sun {
    /// It rises: before 11.
    Rising,
    /// It is high: before 16.
    High,
    /// It sets: before 20.
    Setting,
    /// It is night: before 4, and from 20 on.
    Down,
}

/// One date of the calendar.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct CalendarDay {
    /// Weekday in words.
    pub weekday: String,
    /// Day and month in words (the year stands in the head of the column).
    pub date: String,
    /// Short weekday and day, where weeks stand side by side under their month.
    pub short: String,
    /// Month and year in words.
    pub month: String,
    /// Whether it is a Saturday or Sunday.
    pub weekend: bool,
    /// A mark under the date, for example "Day of the laser".
    pub mark: String,
    /// What changes with this date: "Now 3 drops a day".
    pub changes: Vec<CalendarLine>,
    /// One cell per time: its doses in their order.
    pub doses: Vec<Vec<DoseBox>>,
    /// What ends with this date: "Then stop".
    pub stops: Vec<CalendarLine>,
    /// Visits on this date.
    pub visits: Vec<Check>,
}

/// What is said of one drug between two dates.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct CalendarLine {
    /// Place among the drugs of the calendar.
    pub drug: usize,
    /// Its text.
    pub text: String,
}

/// One box to tick.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct DoseBox {
    /// Place among the drugs of the calendar.
    pub drug: usize,
    /// Its clock time.
    pub at: String,
    /// Whose night it is, or that it was given. Empty: neither.
    pub note: String,
    /// True when the dose was given in the clinic: the box is printed ticked.
    pub given: bool,
}

impl Calendar {
    /// When a dose of this column is due: the part of the day, and the clock time where that is not both. What was given in the
    /// clinic stands in the nearest column, and has its clock time alone.
    #[must_use]
    pub fn when(&self, column: usize, dose: &DoseBox) -> String {
        let period = if dose.given { "" } else { self.times[column].period.as_str() };
        let words = [period, dose.at.as_str(), dose.note.as_str()];
        let words = words.into_iter().filter(|word| !word.is_empty());
        words.collect::<Vec<_>>().join(", ")
    }
}

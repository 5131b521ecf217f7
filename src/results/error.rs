//! What cannot be in an outcome, each with its place.

/// One thing that is wrong, with its place in the outcome.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {why}")]
pub struct WrongOutcome {
    /// JSON pointer of the value.
    pub pointer: String,
    /// What is wrong, with the way out.
    pub why: Wrong,
}

impl WrongOutcome {
    /// Something wrong at a place.
    #[must_use]
    pub fn at(pointer: impl Into<String>, why: Wrong) -> Self {
        Self { pointer: pointer.into(), why }
    }
}

/// What is wrong. No message quotes what was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Wrong {
    /// A visit that the practice does not have.
    #[error("no visit of the practice has this id: write one of the profile, \"event\" or \"other\"")]
    NoSuchVisit,
    /// Before the eye was treated.
    #[error("it lies before the treatment: correct the date")]
    BeforeTreatment,
    /// A day that has not come.
    #[error("it lies in the future: correct the date")]
    InFuture,
    /// An event after the visit at which it was told.
    #[error("it lies after the visit: correct one of the two dates")]
    AfterVisit,
    /// A number outside its range.
    #[error("it must be from {lowest} to {highest}")]
    Range {
        /// Lowest.
        lowest: u32,
        /// Highest.
        highest: u32,
    },
    /// A text that is empty or too long.
    #[error("it must have 1 to {0} characters")]
    Length(usize),
    /// A text that a spreadsheet would compute.
    #[error("it may not begin with =, +, - or @ and must stand in one line: a spreadsheet would compute it")]
    Formula,
    /// Nobody was seen, and yet something was recorded.
    #[error("it cannot stand beside lost = yes: who is lost was not seen")]
    LostAndSeen,
    /// An outcome that says nothing.
    #[error("nothing is recorded: write what was seen, or lost = yes")]
    Nothing,
    /// More events than an outcome takes.
    #[error("there are at most {0} events at one visit")]
    TooMany(usize),
    /// The word is none of those there are.
    #[error("this word is not known: write one of {0}")]
    NoSuchWord(&'static str),
    /// No number.
    #[error("write a number with a decimal point and no unit")]
    NoNumber,
    /// No date.
    #[error("write a date that exists, year-month-day like 2026-08-07")]
    NoDate,
    /// No acuity.
    #[error("write an acuity like 20/25, 6/7.5, 0.8 or \"logMAR 0.1\"")]
    NoAcuity,
}

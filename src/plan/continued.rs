//! Eye drops the patient goes on with: they keep their distance to the new ones, and have boxes where their times are known.

use chrono::NaiveDate;

use super::{Dose, Request};

/// A drop that the patient already uses, in a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InUse {
    /// As recorded.
    pub name: String,
    /// Whether the new drops hold the same substance: then a clinician says which of them goes on.
    pub doubled: bool,
    /// Which course of the request it is, from 0; none while nobody recorded how often it is used.
    pub course: Option<usize>,
}

/// A drop that the patient already uses, in the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Continued {
    /// As recorded.
    pub name: String,
    /// Whether the new drops hold the same substance.
    pub doubled: bool,
    /// Its doses as far as the calendar goes; none where nobody recorded how often it is used.
    pub doses: Vec<Dose>,
}

/// Parts the doses of the regimen from those of drops in use. The calendar ends with the regimen.
pub(super) fn part(request: &Request<'_>, doses: Vec<Dose>) -> (Vec<Dose>, Vec<Continued>) {
    let (in_use, planned): (Vec<Dose>, Vec<Dose>) =
        doses.into_iter().partition(|dose| request.courses[dose.course].in_use);
    let last: Option<NaiveDate> = planned.iter().map(|dose| dose.day).max();
    let continued = |drop: &InUse| {
        let own = |dose: &&Dose| Some(dose.course) == drop.course && Some(dose.day) <= last;
        let doses = in_use.iter().filter(own).cloned().collect();
        Continued { name: drop.name.clone(), doubled: drop.doubled, doses }
    };
    let continued = request.in_use.iter().map(continued).collect();
    (planned, continued)
}

//! The doses of a plan as data, without a word of any language: each drug as stretches of dates with the same clock times, in
//! the shape of Timing of HL7 FHIR R4 (datatypes).
//!
//! They are made from the same doses as the boxes on paper and the events of the calendar file. Doses that were given are
//! not among them.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Dose, DrugUse, Limit, Plan};
use crate::record::date::Date;

/// The doses of one drug.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrugDoses<'p> {
    /// The use of the drug.
    pub planned: &'p DrugUse,
    /// One for each stretch of dates with the same clock times; of a drug that is used as needed, its limit.
    pub stretches: Vec<Stretch<'p>>,
}

/// A stretch of dates with the same clock times, or a limit without times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stretch<'p> {
    /// Doses at clock times.
    Timed {
        /// When.
        timing: Timing,
        /// The doses of its first date.
        doses: Vec<&'p Dose>,
    },
    /// Only when it is needed: the most on one date is a limit, not a plan.
    AsNeeded {
        /// Within which dates, and how many at most.
        timing: Timing,
        /// The most in one period.
        most: Ratio,
        /// The same as the regimen says it.
        limit: Limit,
    },
}

/// The doses of each drug of a plan, in the order of the regimen.
#[must_use]
pub fn of(plan: &Plan) -> Vec<DrugDoses<'_>> {
    let uses = plan.uses.iter();
    uses.map(|planned| DrugDoses { planned, stretches: stretches(plan, planned) }).collect()
}

fn stretches<'p>(plan: &'p Plan, planned: &DrugUse) -> Vec<Stretch<'p>> {
    if let Some(limit) = planned.as_needed {
        return vec![as_needed(planned, limit)];
    }
    let runs = runs(plan, planned);
    let last = runs.len().saturating_sub(1);
    let timed = |(at, run): (usize, Run<'p>)| run.timed(planned.goes_on && at == last);
    runs.into_iter().enumerate().map(timed).collect()
}

/// Dates with the same clock times at an even distance.
struct Run<'p> {
    first: NaiveDate,
    last: NaiveDate,
    every_days: i64,
    doses: Vec<&'p Dose>,
}

impl<'p> Run<'p> {
    fn times(&self) -> impl Iterator<Item = NaiveTime> {
        self.doses.iter().map(|dose| dose.at.time())
    }

    /// Takes a further date in if it goes on evenly with the same times.
    fn goes_on_to(&mut self, date: NaiveDate, doses: &[&Dose]) -> bool {
        let distance = (date - self.last).num_days();
        let even = self.first == self.last || distance == self.every_days;
        let same = doses.iter().map(|dose| dose.at.time()).eq(self.times());
        if even && same {
            (self.last, self.every_days) = (date, distance);
        }
        even && same
    }

    fn timed(self, endless: bool) -> Stretch<'p> {
        let repeat = Repeat {
            bounds_period: bounds(self.first, (!endless).then_some(self.last)),
            count: None,
            count_max: None,
            frequency: self.doses.len(),
            frequency_max: None,
            period: self.every_days,
            period_unit: PeriodUnit::Day,
            time_of_day: self.times().map(|time| time.format("%H:%M:%S").to_string()).collect(),
        };
        Stretch::Timed { timing: Timing { repeat }, doses: self.doses }
    }
}

fn runs<'p>(plan: &'p Plan, planned: &DrugUse) -> Vec<Run<'p>> {
    let mut by_date = BTreeMap::<NaiveDate, Vec<&Dose>>::new();
    for dose in plan.doses.iter().filter(|dose| planned.holds(dose) && !dose.given()) {
        by_date.entry(dose.at.date()).or_default().push(dose);
    }
    let mut runs = Vec::<Run>::new();
    for (date, doses) in by_date {
        if !runs.last_mut().is_some_and(|run| run.goes_on_to(date, &doses)) {
            runs.push(Run { first: date, last: date, every_days: 1, doses });
        }
    }
    runs
}

fn as_needed<'p>(planned: &DrugUse, limit: Limit) -> Stretch<'p> {
    let repeat = Repeat {
        bounds_period: bounds(planned.first, (!planned.goes_on).then_some(planned.last)),
        count: limit.doses.map(|_| 1),
        count_max: limit.doses,
        frequency: 1,
        frequency_max: (limit.per_day > 1).then_some(limit.per_day),
        period: 1,
        period_unit: PeriodUnit::Day,
        time_of_day: Vec::new(),
    };
    let most = Ratio { numerator: Quantity::drops(limit.per_day), denominator: Quantity::days(1) };
    Stretch::AsNeeded { timing: Timing { repeat }, most, limit }
}

fn bounds(start: NaiveDate, end: Option<NaiveDate>) -> Bounds {
    Bounds { start: Date(start), end: end.map(Date) }
}

/// When.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Timing {
    /// How it is repeated.
    pub repeat: Repeat,
}

/// How doses are repeated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Repeat {
    /// First and last date.
    pub bounds_period: Bounds,
    /// Fewest doses in all, for a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Most doses in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count_max: Option<u32>,
    /// Doses in each period.
    pub frequency: usize,
    /// Most doses in each period, for a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frequency_max: Option<u32>,
    /// Length of a period, in its unit.
    pub period: i64,
    /// `d`: days.
    pub period_unit: PeriodUnit,
    /// Clock times of the doses, local, with seconds.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub time_of_day: Vec<String>,
}

/// Unit of a period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum PeriodUnit {
    /// Days.
    #[serde(rename = "d")]
    Day,
}

/// First and last date.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Bounds {
    /// First date.
    pub start: Date,
    /// Last date; left out where the drug goes on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end: Option<Date>,
}

/// An amount in one period.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Ratio {
    /// The amount.
    pub numerator: Quantity,
    /// The period.
    pub denominator: Quantity,
}

/// An amount with its unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Quantity {
    /// How many.
    pub value: u32,
    /// The unit in words.
    pub unit: &'static str,
    /// The name by which FHIR knows the code system of UCUM.
    pub system: &'static str,
    /// The unit's code.
    pub code: &'static str,
}

/// The name by which FHIR knows the code system of UCUM.
const UNITS: &str = "http://unitsofmeasure.org";

impl Quantity {
    /// Counted drops: UCUM `[drp]` would be a volume, a twentieth of a milliliter.
    #[must_use]
    pub fn drops(value: u32) -> Self {
        Self { value, unit: "drop", system: UNITS, code: "{drop}" }
    }

    /// Days.
    #[must_use]
    pub fn days(value: u32) -> Self {
        Self { value, unit: "day", system: UNITS, code: "d" }
    }
}

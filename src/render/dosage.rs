//! Doses as data for other programs, shaped after Dosage and Timing of HL7 FHIR R4 (datatypes), made from the same plan
//! as the boxes on paper and the events of the calendar file.
//!
//! One dosage a stretch of dates with the same clock times. Doses that were given are not among them. Codes of the body
//! site are left out: the eye stands in words.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};

use crate::document::drops;
use crate::document::sheet::{Built, Sheet};
use crate::plan::dosage::{
    Bounds, Concept, Dosage, DoseAndRate, DrugDosages, PeriodUnit, Quantity, Ratio, Repeat, Timing,
};
use crate::plan::{Dose, DrugUse, Limit};
use crate::record::date::Date;

/// The dosages of each drug of the plan, in the order of the regimen.
///
/// # Errors
/// A drug the formulary does not have, or a text that is missing.
pub fn dosages(sheet: &Sheet) -> Built<Vec<DrugDosages>> {
    sheet.plan.uses.iter().map(|planned| of_drug(sheet, planned)).collect()
}

fn of_drug(sheet: &Sheet, planned: &DrugUse) -> Built<DrugDosages> {
    let drug = drops::drug(sheet, &planned.drug)?;
    let dosages = match planned.as_needed {
        Some(limit) => vec![when_needed(sheet, planned, limit)?],
        None => {
            let stretches = stretches(sheet, planned);
            let last = stretches.len().saturating_sub(1);
            let dosage =
                |(at, stretch): (usize, &Stretch)| dosage(sheet, at + 1, stretch, planned.goes_on && at == last);
            stretches.iter().enumerate().map(dosage).collect::<Built<_>>()?
        }
    };
    Ok(DrugDosages {
        drug: planned.drug.clone(),
        name: format!("{} {}", drug.name, drug.strength),
        last: Date(planned.last),
        goes_on: planned.goes_on,
        dosages,
    })
}

/// Dates with the same clock times at an even distance.
struct Stretch<'a> {
    first: NaiveDate,
    last: NaiveDate,
    every_days: i64,
    doses: Vec<&'a Dose>,
}

impl Stretch<'_> {
    fn times(&self) -> Vec<NaiveTime> {
        self.doses.iter().map(|dose| dose.at.time()).collect()
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
}

fn stretches<'a>(sheet: &Sheet<'a>, planned: &DrugUse) -> Vec<Stretch<'a>> {
    let mut by_date = BTreeMap::<NaiveDate, Vec<&Dose>>::new();
    for dose in sheet.plan.doses.iter().filter(|dose| planned.holds(dose) && !dose.given()) {
        by_date.entry(dose.at.date()).or_default().push(dose);
    }
    let mut stretches = Vec::<Stretch>::new();
    for (date, doses) in by_date {
        if !stretches.last_mut().is_some_and(|stretch| stretch.goes_on_to(date, &doses)) {
            stretches.push(Stretch { first: date, last: date, every_days: 1, doses });
        }
    }
    stretches
}

fn dosage(sheet: &Sheet, sequence: usize, stretch: &Stretch, endless: bool) -> Built<Dosage> {
    let repeat = Repeat {
        bounds_period: bounds(stretch.first, (!endless).then_some(stretch.last)),
        count: None,
        count_max: None,
        frequency: stretch.doses.len(),
        frequency_max: None,
        period: stretch.every_days,
        period_unit: PeriodUnit::Day,
        time_of_day: stretch.times().into_iter().map(|time| time.format("%H:%M:%S").to_string()).collect(),
    };
    let text = drops::instruction(sheet, &stretch.doses)?;
    Ok(Dosage { sequence, ..one_drop(sheet, text, repeat)? })
}

/// The most on one date is a limit, not a plan: no clock time.
fn when_needed(sheet: &Sheet, planned: &DrugUse, limit: Limit) -> Built<Dosage> {
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
    let text = drops::limit(sheet, planned, limit)?;
    let dosage = one_drop(sheet, text, repeat)?;
    Ok(Dosage { as_needed_boolean: Some(true), max_dose_per_period: Some(most), ..dosage })
}

/// A drop in the eye of the case.
fn one_drop(sheet: &Sheet, text: String, repeat: Repeat) -> Built<Dosage> {
    Ok(Dosage {
        sequence: 1,
        text,
        timing: Timing { repeat },
        as_needed_boolean: None,
        site: Concept { text: sheet.text(sheet.side("eye.right", "eye.left"), &[])? },
        route: Concept { text: "ophthalmic".into() },
        dose_and_rate: vec![DoseAndRate { dose_quantity: Quantity::drops(1) }],
        max_dose_per_period: None,
    })
}

fn bounds(start: NaiveDate, end: Option<NaiveDate>) -> Bounds {
    Bounds { start: Date(start), end: end.map(Date) }
}

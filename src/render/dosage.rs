//! Doses as data for other programs, shaped after Dosage and Timing of HL7 FHIR R4 (datatypes), made from the same plan
//! as the boxes on paper and the events of the calendar file.
//!
//! One dosage a stretch of dates with the same clock times. Doses that were given are not among them. Codes of the body
//! site are left out: the eye stands in words.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};
use serde_json::{Value as Json, json};

use crate::document::drops;
use crate::document::sheet::{Built, Sheet};
use crate::plan::{Dose, DrugUse, Limit};

/// The dosages of each drug of the plan, in the order of the regimen.
///
/// # Errors
/// A drug the formulary does not have, or a text that is missing.
pub fn dosages(sheet: &Sheet) -> Built<Json> {
    sheet.plan.uses.iter().map(|planned| of_drug(sheet, planned)).collect()
}

fn of_drug(sheet: &Sheet, planned: &DrugUse) -> Built<Json> {
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
    Ok(json!({
        "drug": planned.drug,
        "name": format!("{} {}", drug.name, drug.strength),
        "last": day(planned.last),
        "goes_on": planned.goes_on,
        "dosages": dosages,
    }))
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

fn dosage(sheet: &Sheet, sequence: usize, stretch: &Stretch, endless: bool) -> Built<Json> {
    let mut bounds = json!({ "start": day(stretch.first) });
    if !endless {
        bounds["end"] = json!(day(stretch.last));
    }
    let times = stretch.times().into_iter().map(|time| time.format("%H:%M:%S").to_string());
    Ok(json!({
        "sequence": sequence,
        "text": drops::instruction(sheet, &stretch.doses)?,
        "timing": { "repeat": {
            "boundsPeriod": bounds,
            "frequency": stretch.doses.len(),
            "period": stretch.every_days,
            "periodUnit": "d",
            "timeOfDay": times.collect::<Vec<_>>(),
        } },
        "site": site(sheet)?,
        "route": { "text": "ophthalmic" },
        "doseAndRate": [{ "doseQuantity": drops_of(1) }],
    }))
}

/// The most on one date is a limit, not a plan: no clock time.
fn when_needed(sheet: &Sheet, planned: &DrugUse, limit: Limit) -> Built<Json> {
    let mut bounds = json!({ "start": day(planned.first) });
    if !planned.goes_on {
        bounds["end"] = json!(day(planned.last));
    }
    let mut repeat = json!({ "boundsPeriod": bounds, "frequency": 1, "period": 1, "periodUnit": "d" });
    if limit.per_day > 1 {
        repeat["frequencyMax"] = json!(limit.per_day);
    }
    if let Some(doses) = limit.doses {
        repeat["count"] = json!(1);
        repeat["countMax"] = json!(doses);
    }
    let a_day = json!({ "value": 1, "unit": "day", "system": UNITS, "code": "d" });
    Ok(json!({
        "sequence": 1,
        "text": drops::limit(sheet, planned, limit)?,
        "timing": { "repeat": repeat },
        "asNeededBoolean": true,
        "site": site(sheet)?,
        "route": { "text": "ophthalmic" },
        "doseAndRate": [{ "doseQuantity": drops_of(1) }],
        "maxDosePerPeriod": { "numerator": drops_of(limit.per_day), "denominator": a_day },
    }))
}

/// The name by which FHIR knows the code system of UCUM.
const UNITS: &str = "http://unitsofmeasure.org";

/// Counted drops: UCUM `[drp]` would be a volume, a twentieth of a milliliter.
fn drops_of(count: u32) -> Json {
    json!({ "value": count, "unit": "drop", "system": UNITS, "code": "{drop}" })
}

fn site(sheet: &Sheet) -> Built<Json> {
    Ok(json!({ "text": sheet.text(sheet.side("eye.right", "eye.left"), &[])? }))
}

fn day(date: NaiveDate) -> String {
    date.format("%Y-%m-%d").to_string()
}

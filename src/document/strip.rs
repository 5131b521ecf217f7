//! The whole course at a glance: one bar per drug and step over the days.

use chrono::NaiveDate;

use super::sheet::{Built, Sheet};
use super::{Bar, Mark, Strip, drops, visits};
use crate::plan::DrugUse;

/// The strip; none when no dose is planned.
///
/// # Errors
/// A text that is missing.
pub(super) fn strip(sheet: &Sheet) -> Built<Option<Strip>> {
    let locale = &sheet.content.locale;
    let planned = || sheet.plan.uses.iter().filter(|drug| drug.as_needed.is_none());
    let Some(first) = planned().map(|drug| drug.first).min() else { return Ok(None) };
    let first = first.min(sheet.plan.anchors.treatment);
    let last = planned().map(|drug| drug.last).max().unwrap_or(first);
    let index = |date: NaiveDate| u16::try_from((date - first).num_days()).unwrap_or(0);
    let bars = planned().flat_map(|drug| drug.steps.iter().map(move |step| (drug, step))).map(|(drug, step)| {
        Ok(Bar {
            label: drops::drug(sheet, &drug.drug)?.name.clone(),
            from: index(step.first),
            to: index(step.last),
            text: drops::often(sheet, step)?,
        })
    });
    let marks = sheet.plan.visits.iter().filter(|visit| visit.date <= last).map(|visit| {
        let label = visits::visit_title(sheet, visit)?;
        Ok(Mark { day: index(visit.date), label })
    });
    Ok(Some(Strip {
        alt: alt(sheet, &planned().collect::<Vec<_>>())?,
        days: first.iter_days().take_while(|date| *date <= last).map(|date| locale.short_day(date)).collect(),
        bars: bars.collect::<Built<_>>()?,
        marks: marks.collect::<Built<_>>()?,
    }))
}

/// The strip in words, for those who do not see it.
fn alt(sheet: &Sheet, planned: &[&DrugUse]) -> Built<String> {
    let locale = &sheet.content.locale;
    let drugs = planned.iter().map(|drug| {
        let (from, to) = (locale.full_date(drug.first), locale.full_date(drug.last));
        let name = &drops::drug(sheet, &drug.drug)?.name;
        let key = if drug.goes_on { "aftercare.strip_goes_on" } else { "aftercare.strip_drug" };
        sheet.text(key, &[("drug", name), ("from", &from), ("to", &to)])
    });
    let drugs = drugs.collect::<Built<Vec<_>>>()?.join("; ");
    sheet.text("aftercare.strip", &[("drugs", &drugs)])
}

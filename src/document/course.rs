//! The course of the drops in full: until when, in which steps, what each is for, and how long its bottle lasts.

use std::collections::BTreeMap;

use super::drops::{as_needed, bottle_ml, drug, name, often, supply, times};
use super::sheet::{Built, Sheet};
use super::{Block, Inline, Inlines};
use crate::plan::DrugUse;
use crate::plan::supply::{Bottle, POOREST_DROPS_PER_ML, USUAL_DAYS_IN_USE};
use crate::record::formulary::{Drug, Selector, Storage};

/// Everything about the drops but the calendar: until when, steps, what for, bottles, how and what if.
///
/// # Errors
/// A text that is missing.
pub(super) fn plan(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = Vec::new();
    blocks.extend(sheet.section("aftercare", "how-to")?);
    blocks.extend(sheet.body(&sheet.content.section("missed").collect::<Vec<_>>())?);
    blocks.push(sheet.heading("aftercare.drops")?);
    blocks.extend(courses(sheet)?);
    blocks.extend(bottles(sheet)?);
    blocks.extend(sheet.body(&sheet.content.section("drops").collect::<Vec<_>>())?);
    Ok(blocks)
}

/// An item for each drug; below them the steps of those that have several.
fn courses(sheet: &Sheet) -> Built<Vec<Block>> {
    let items = sheet.plan.uses.iter().map(|planned| course(sheet, planned)).collect::<Built<Vec<_>>>()?;
    let mut blocks = vec![Block::List { ordered: false, items }];
    for drug in sheet.plan.uses.iter().filter(|drug| drug.steps.len() > 1) {
        blocks.push(steps(sheet, drug)?);
    }
    Ok(blocks)
}

/// How a drug is used, what it is for and what it usually does besides, and its bottles.
fn course(sheet: &Sheet, planned: &DrugUse) -> Built<Inlines> {
    let drug = drug(sheet, &planned.drug)?;
    let (purpose, nuisance) = (of_groups(sheet, "purpose", drug)?, of_groups(sheet, "nuisance", drug)?);
    let mut text = directions(sheet, planned, drug)?;
    text.push(Inline::Text(format!(" {purpose} {nuisance}")));
    for sentence in about_bottles(sheet, planned, drug)? {
        text.push(Inline::Text(" ".into()));
        text.extend(sentence);
    }
    Ok(text)
}

/// From when to when, when on a full day, and that it then stops.
fn directions(sheet: &Sheet, planned: &DrugUse, drug: &Drug) -> Built<Inlines> {
    if let Some(limit) = planned.as_needed {
        return as_needed(sheet, planned, limit);
    }
    let locale = &sheet.content.locale;
    let (from, to) = (locale.full_date(planned.first), locale.full_date(planned.last));
    let count = locale.count("time", (planned.in_clinic + planned.at_home) as f64)?;
    let key = match planned.steps.as_slice() {
        _ if planned.goes_on => "aftercare.goes_on",
        [step] if step.counted => "aftercare.until_count",
        _ => "aftercare.until",
    };
    let name = drug.shown_name();
    let values =
        [("drug", name.as_str()), ("strength", &drug.strength), ("from", &from), ("to", &to), ("count", &count)];
    let mut text = sheet.inline(key, &values)?;
    if let [step] = planned.steps.as_slice()
        && !step.counted
    {
        text.push(Inline::Text(" ".into()));
        text.extend(sheet.inline("aftercare.times", &[("times", &times(sheet, planned, step)?)])?);
    }
    Ok(text)
}

/// Each step with its first and last date, how often, and when.
fn steps(sheet: &Sheet, planned: &DrugUse) -> Built<Block> {
    let locale = &sheet.content.locale;
    let text = |text: String| vec![Inline::Text(text)];
    let last = planned.steps.len() - 1;
    let rows = planned.steps.iter().enumerate().map(|(at, step)| {
        let values = [("times", times(sheet, planned, step)?), ("count", often(sheet, step)?)];
        let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
        let mut how = sheet.inline("aftercare.step", &values)?;
        if at == last && !planned.goes_on {
            how.push(Inline::Text(" ".into()));
            how.extend(sheet.inline("aftercare.then_stop", &[])?);
        }
        Ok(vec![text(locale.full_date(step.first)), text(locale.full_date(step.last)), how])
    });
    sheet.table(
        sheet.text("aftercare.steps", &[("drug", &name(drug(sheet, &planned.drug)?))])?,
        &["aftercare.from", "aftercare.to", "aftercare.how_often"],
        &[4, 4, 5],
        rows.collect::<Built<_>>()?,
    )
}

/// What is said of the groups a drug belongs to, each thing once.
pub(super) fn of_groups(sheet: &Sheet, table: &str, drug: &Drug) -> Built<String> {
    let mut said: Vec<String> = Vec::new();
    for group in &drug.groups {
        let key = Selector::Group(*group).to_string().replace("group:", &format!("{table}."));
        let text = sheet.text(&key, &[])?;
        if !said.contains(&text) {
            said.push(text);
        }
    }
    Ok(said.join(" "))
}

/// How long a bottle may be used, whether what the patient gets is enough, and where the drops are kept.
fn bottles(sheet: &Sheet) -> Built<Vec<Block>> {
    let used: Vec<_> =
        sheet.plan.uses.iter().filter(|planned| planned.at_home > 0 || planned.as_needed.is_some()).collect();
    if used.is_empty() {
        return Ok(Vec::new());
    }
    let mut about = keeping(sheet, &used)?;
    if let Some(days) = outlasted(sheet, &used)? {
        about.push(Inline::Text(" ".into()));
        about.extend(sheet.inline("aftercare.bottles_about", &[("days", &days.to_string())])?);
    }
    if used.iter().all(|planned| handed_over(sheet, planned) && bottle_ml(sheet, planned).is_some()) {
        about.push(Inline::Text(" ".into()));
        about.extend(sheet.inline("aftercare.bottles_enough", &[])?);
    }
    Ok(vec![Block::Paragraph { text: about }])
}

/// The shortest time that an opened bottle may be used, days, where a course may last longer: for a bottle opened on another
/// day it counts for all. Who stops earlier throws the bottle away then.
fn outlasted(sheet: &Sheet, used: &[&DrugUse]) -> Built<Option<u32>> {
    let mut shortest = None;
    for planned in used {
        let days = drug(sheet, &planned.drug)?.in_use_days.unwrap_or(USUAL_DAYS_IN_USE);
        let lasts = (planned.last - planned.first).num_days() + 1;
        if planned.goes_on || planned.as_needed.is_some() || lasts >= i64::from(days) {
            shortest = Some(shortest.map_or(days, |shortest: u32| shortest.min(days)));
        }
    }
    Ok(shortest)
}

/// Where the drops are kept, a sentence for each place, and that they are for this eye and nobody else.
fn keeping(sheet: &Sheet, used: &[&DrugUse]) -> Built<Inlines> {
    let mut places: BTreeMap<Storage, Vec<String>> = BTreeMap::new();
    for planned in used {
        let drug = drug(sheet, &planned.drug)?;
        places.entry(drug.storage).or_default().push(drug.shown_name());
    }
    let mut text = sheet.inline("aftercare.bottles_own", &[])?;
    for (storage, drugs) in places {
        let drugs = sheet.content.locale.list(drugs.iter().map(String::as_str));
        text.push(Inline::Text(" ".into()));
        text.extend(sheet.inline(place(storage), &[("drugs", &drugs)])?);
    }
    Ok(text)
}

/// The text of where a bottle is kept.
fn place(storage: Storage) -> &'static str {
    match storage {
        Storage::AsTheBoxSays => "storage.as_the_box_says",
        Storage::Room => "storage.room",
        Storage::ColdUntilOpened => "storage.cold_until_opened",
        Storage::Cold => "storage.cold",
    }
}

/// Whether bottles of this drop are counted and handed over after the treatment.
fn handed_over(sheet: &Sheet, planned: &DrugUse) -> bool {
    planned.as_needed.is_none() && !planned.began_before(&sheet.plan.anchors)
}

/// How many bottles the patient gets if it is more than one, and of each that ends before the drug stops when it is opened and its last day: who
/// stops and throws the bottle away needs no second date.
fn about_bottles(sheet: &Sheet, planned: &DrugUse, drug: &Drug) -> Built<Vec<Inlines>> {
    if drug.single_dose {
        return Ok(vec![sheet.inline("aftercare.single_dose", &[])?]);
    }
    if planned.as_needed.is_some() {
        return Ok(vec![sheet.inline("aftercare.opened_blank", &[])?]);
    }
    let supply = supply(sheet, planned)?;
    let mut said = Vec::new();
    if let Some(ml) = bottle_ml(sheet, planned).filter(|_| handed_over(sheet, planned)) {
        let bottles = supply.bottles_to_hand_out(ml, POOREST_DROPS_PER_ML);
        if bottles > 1 {
            let count = sheet.content.locale.count("bottle", bottles as f64)?;
            said.push(sheet.inline("aftercare.you_get", &[("count", &count)])?);
        }
    }
    if planned.goes_on || supply.bottles.len() > 1 {
        said.extend(supply.bottles.iter().map(|bottle| in_use(sheet, planned, bottle)).collect::<Built<Vec<_>>>()?);
    }
    Ok(said)
}

/// A bottle is thrown away on its last day, or when the drug stops, if that is earlier.
fn in_use(sheet: &Sheet, planned: &DrugUse, bottle: &Bottle) -> Built<Inlines> {
    let locale = &sheet.content.locale;
    let stops = !planned.goes_on && planned.last < bottle.last;
    let last = locale.full_date(if stops { planned.last } else { bottle.last });
    sheet.inline("aftercare.bottle_use", &[("opened", &locale.full_date(bottle.opened)), ("last", &last)])
}

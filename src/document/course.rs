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
    let mut blocks = vec![sheet.heading("aftercare.drops")?];
    blocks.extend(courses(sheet)?);
    blocks.push(purposes(sheet)?);
    blocks.extend(sheet.body(&sheet.content.section("drops").collect::<Vec<_>>())?);
    blocks.extend(bottles(sheet)?);
    for section in ["how-to", "missed"] {
        blocks.extend(sheet.section("aftercare", section)?);
    }
    Ok(blocks)
}

/// One sentence per drug: from when to when, and that it then stops; below them the steps of those that have several.
fn courses(sheet: &Sheet) -> Built<Vec<Block>> {
    let items = sheet.plan.uses.iter().map(|drug| course(sheet, drug)).collect::<Built<Vec<_>>>()?;
    let mut blocks = vec![Block::List { ordered: false, items }];
    for drug in sheet.plan.uses.iter().filter(|drug| drug.steps.len() > 1) {
        blocks.push(steps(sheet, drug)?);
    }
    Ok(blocks)
}

fn course(sheet: &Sheet, planned: &DrugUse) -> Built<Inlines> {
    if let Some(limit) = planned.as_needed {
        return as_needed(sheet, planned, limit);
    }
    let drug = drug(sheet, &planned.drug)?;
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

/// What each drop is for, and what it usually does besides.
fn purposes(sheet: &Sheet) -> Built<Block> {
    let rows = sheet.plan.uses.iter().map(|planned| {
        let drug = drug(sheet, &planned.drug)?;
        let (purpose, nuisance) = (of_groups(sheet, "purpose", drug)?, of_groups(sheet, "nuisance", drug)?);
        Ok(vec![vec![Inline::Text(name(drug))], vec![Inline::Text(purpose)], vec![Inline::Text(nuisance)]])
    });
    sheet.table(
        sheet.text("aftercare.purposes", &[])?,
        &["aftercare.drop", "aftercare.purpose", "aftercare.nuisance"],
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

/// How many bottles, and for each when it is opened and the last day it may be used.
fn bottles(sheet: &Sheet) -> Built<Vec<Block>> {
    let used = || sheet.plan.uses.iter().filter(|planned| planned.at_home > 0 || planned.as_needed.is_some());
    let rows = used().map(|planned| bottle_rows(sheet, planned)).collect::<Built<Vec<_>>>()?.concat();
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let table = sheet.table(
        sheet.text("aftercare.bottles", &[])?,
        &["aftercare.drop", "aftercare.opened", "aftercare.last_use"],
        &[4, 4, 4],
        rows,
    )?;
    // For a bottle opened on another day the shortest time counts for all.
    let days = used().map(|planned| Ok(drug(sheet, &planned.drug)?.in_use_days.unwrap_or(USUAL_DAYS_IN_USE)));
    let days = days.collect::<Built<Vec<_>>>()?.into_iter().min().unwrap_or(USUAL_DAYS_IN_USE);
    let mut about = sheet.inline("aftercare.bottles_about", &[("days", &days.to_string())])?;
    let counted = |planned: &DrugUse| {
        let handed_now = !planned.began_before(&sheet.plan.anchors);
        planned.as_needed.is_none() && handed_now && bottle_ml(sheet, planned).is_some()
    };
    if used().all(counted) {
        about.push(Inline::Text(" ".into()));
        about.extend(sheet.inline("aftercare.bottles_enough", &[])?);
    }
    let keeping = keeping(sheet, &used().collect::<Vec<_>>())?;
    Ok(vec![table, Block::Paragraph { text: about }, Block::Paragraph { text: keeping }])
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

fn bottle_rows(sheet: &Sheet, planned: &DrugUse) -> Built<Vec<Vec<Inlines>>> {
    let drug = drug(sheet, &planned.drug)?;
    let locale = &sheet.content.locale;
    let supply = supply(sheet, planned)?;
    let mut head = vec![Inline::Text(name(drug))];
    if drug.single_dose {
        let last = sheet.inline("aftercare.single_dose_last", &[])?;
        return Ok(vec![vec![head, sheet.inline("aftercare.single_dose", &[])?, last]]);
    }
    if planned.as_needed.is_some() {
        let days = drug.in_use_days.unwrap_or(USUAL_DAYS_IN_USE).to_string();
        let last = sheet.inline("aftercare.last_use_blank", &[("days", &days)])?;
        return Ok(vec![vec![head, sheet.inline("aftercare.opened_blank", &[])?, last]]);
    }
    if let (Some(ml), false) = (bottle_ml(sheet, planned), planned.began_before(&sheet.plan.anchors)) {
        let count = locale.count("bottle", supply.bottles_to_hand_out(ml, POOREST_DROPS_PER_ML) as f64)?;
        head.push(Inline::Text(". ".into()));
        head.extend(sheet.inline("aftercare.you_get", &[("count", &count)])?);
    }
    supply.bottles.iter().map(|bottle| bottle_row(sheet, planned, bottle, &head)).collect()
}

/// A bottle is thrown away on its last day, or when the drug stops, if that is earlier.
fn bottle_row(sheet: &Sheet, planned: &DrugUse, bottle: &Bottle, head: &Inlines) -> Built<Vec<Inlines>> {
    let locale = &sheet.content.locale;
    let stops = !planned.goes_on && planned.last < bottle.last;
    let last = locale.full_date(if stops { planned.last } else { bottle.last });
    let opened = vec![Inline::Text(locale.full_date(bottle.opened))];
    Ok(vec![head.clone(), opened, sheet.inline("aftercare.last_use_on", &[("last", &last)])?])
}

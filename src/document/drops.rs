//! What is said of each drop: what it is for, from when to when, in which steps, and how long its bottle lasts.

use std::collections::BTreeMap;

use super::calendar::period;
use super::sheet::{Built, Sheet};
use super::{Block, Inline, Inlines, Weight, strip};
use crate::content::markdown;
use crate::plan::supply::{Bottle, POOREST_DROPS_PER_ML, Supply, USUAL_DAYS_IN_USE};
use crate::plan::{Dose, DosePlace, DrugUse, Limit, Step};
use crate::record::formulary::{Drug, Storage};

/// A drug of the plan.
pub(crate) fn drug<'a>(sheet: &Sheet<'a>, key: &str) -> Built<&'a Drug> {
    sheet.formulary.get(key).ok_or_else(|| format!("the formulary has no drug {key}"))
}

fn name(drug: &Drug) -> String {
    format!("{} {}", drug.shown_name(), drug.strength)
}

/// "1 drop in the right eye: morning and bedtime", for doses of one date.
pub(crate) fn instruction(sheet: &Sheet, doses: &[&Dose]) -> Built<String> {
    sheet.text("dosage.text", &[("times", &named_times(sheet, doses)?)])
}

/// The same for a drug that is used when needed: its limit.
pub(crate) fn limit(sheet: &Sheet, planned: &DrugUse, limit: Limit) -> Built<String> {
    Ok(markdown::plain(&as_needed(sheet, planned, limit)?))
}

/// Everything about the drops but the calendar: until when, steps, what for, the whole course, bottles, how and what if.
///
/// # Errors
/// A text that is missing.
pub(super) fn plan(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("aftercare.drops")?];
    blocks.extend(courses(sheet)?);
    blocks.extend(strip::strip(sheet)?.map(Block::Strip));
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

fn as_needed(sheet: &Sheet, planned: &DrugUse, limit: Limit) -> Built<Inlines> {
    let drug = drug(sheet, &planned.drug)?;
    let locale = &sheet.content.locale;
    let (to, most) = (locale.full_date(planned.last), locale.count("drop_a_day", f64::from(limit.per_day))?);
    let count = locale.count("drop", f64::from(limit.doses.unwrap_or_default()))?;
    let key = match (limit.doses, planned.goes_on) {
        (Some(_), _) => "aftercare.as_needed_count",
        (None, true) => "aftercare.as_needed",
        (None, false) => "aftercare.as_needed_until",
    };
    let name = drug.shown_name();
    let values =
        [("drug", name.as_str()), ("strength", &drug.strength), ("most", &most), ("to", &to), ("count", &count)];
    sheet.inline(key, &values)
}

/// The drops without boxes, of those that `shown` holds; they stand with the calendar.
pub(super) fn when_needed(sheet: &Sheet, shown: impl Fn(&DrugUse) -> bool) -> Built<Vec<Block>> {
    let needed = sheet.plan.uses.iter().filter(|drug| shown(drug)).filter_map(|drug| Some((drug, drug.as_needed?)));
    let notice = needed.map(|(drug, limit)| {
        Ok(Block::Notice {
            weight: Weight::Light,
            title: sheet.text("aftercare.as_needed_title", &[])?,
            text: as_needed(sheet, drug, limit)?,
        })
    });
    notice.collect()
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

/// "4 drops a day", "1 drop every 2 days", or the count of a fixed number.
pub(super) fn often(sheet: &Sheet, step: &Step) -> Built<String> {
    let locale = &sheet.content.locale;
    if step.counted {
        return locale.count("time", step.doses as f64);
    }
    match step.every_days {
        1 => locale.count("drop_a_day", f64::from(step.per_day)),
        days => {
            let values = [locale.count("drop", f64::from(step.per_day))?, locale.count("day", f64::from(days))?];
            sheet.text("aftercare.every", &[("count", &values[0]), ("days", &values[1])])
        }
    }
}

/// The parts of the day of a full date, else its clock times.
fn times(sheet: &Sheet, planned: &DrugUse, step: &Step) -> Built<String> {
    let doses = || {
        let of_step = sheet.plan.doses.iter().filter(|dose| planned.holds(dose) && dose.step == step.step);
        of_step.filter(|dose| dose.place == DosePlace::Home)
    };
    // The day of the treatment may be short: the first of the fullest days tells.
    let of = |day| doses().filter(|dose| dose.day == day).count();
    let full = doses().map(|dose| dose.day).max_by_key(|day| (of(*day), std::cmp::Reverse(*day)));
    let of_day = || doses().filter(|dose| Some(dose.day) == full);
    named_times(sheet, &of_day().collect::<Vec<_>>())
}

/// Parts of the day where each has one, else clock times.
fn named_times(sheet: &Sheet, doses: &[&Dose]) -> Built<String> {
    let named = doses.iter().map(|dose| period(dose.period)).collect::<Option<Vec<_>>>();
    let words = match named {
        Some(keys) => keys.into_iter().map(|key| sheet.text(key, &[])).collect::<Built<Vec<_>>>()?,
        None => doses.iter().map(|dose| sheet.content.locale.time(dose.at.time())).collect::<Built<Vec<_>>>()?,
    };
    Ok(sheet.content.locale.list(words.iter().map(String::as_str)))
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
fn of_groups(sheet: &Sheet, table: &str, drug: &Drug) -> Built<String> {
    let mut said: Vec<String> = Vec::new();
    for group in &drug.groups {
        let word = serde_json::to_value(group).map_err(|error| error.to_string())?;
        let text = sheet.text(&format!("{table}.{}", word.as_str().unwrap_or_default()), &[])?;
        if !said.contains(&text) {
            said.push(text);
        }
    }
    Ok(said.join(" "))
}

/// What a drug takes at home, with its label's time in use.
pub(super) fn supply(sheet: &Sheet, planned: &DrugUse) -> Built<Supply> {
    let drug = drug(sheet, &planned.drug)?;
    let at_home = sheet.plan.doses.iter().filter(|dose| planned.holds(dose) && dose.place == DosePlace::Home);
    let dates: Vec<_> = at_home.map(|dose| dose.at.date()).collect();
    let days = drug.in_use_days.unwrap_or(USUAL_DAYS_IN_USE);
    // The bottle at home is opened with the first drop at home, or was before a treatment that is done.
    let done = sheet.plan.anchors.done && planned.began_before(&sheet.plan.anchors);
    let opened = if done { planned.began } else { dates.first().copied().unwrap_or(planned.first) };
    Ok(Supply::of(opened, &dates, days, spare_percent(sheet)))
}

/// Spare for drops that miss the eye, percent of the doses.
pub(super) fn spare_percent(sheet: &Sheet) -> u32 {
    sheet.profile.thresholds.drop_spare_percent.percent(sheet.record.patient.print)
}

/// The size of the bottle that the practice hands out, mL.
pub(super) fn bottle_ml(sheet: &Sheet, planned: &DrugUse) -> Option<f64> {
    let id = &sheet.record.plan.regimen;
    let regimen = sheet.profile.regimens.iter().find(|regimen| regimen.id == *id)?;
    regimen.drops.iter().find(|course| course.drug == planned.drug)?.bottle_ml.value()
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

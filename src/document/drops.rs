//! A drop in words: its name, when it is taken and how often, and what it takes of its bottle.

use chrono::NaiveTime;

use super::sheet::{Built, Sheet};
use super::{Block, Inlines, Weight};
use crate::content::{ComposeError, markdown};
use crate::plan::supply::{Supply, USUAL_DAYS_IN_USE};
use crate::plan::{Dose, DosePlace, DrugUse, Limit, Period, Step};
use crate::record::formulary::Drug;

/// A drug of the plan.
pub(crate) fn drug<'a>(sheet: &Sheet<'a>, key: &str) -> Built<&'a Drug> {
    sheet.formulary.get(key).ok_or_else(|| ComposeError::UnknownDrug { key: key.to_owned() })
}

pub(super) fn name(drug: &Drug) -> String {
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

pub(super) fn as_needed(sheet: &Sheet, planned: &DrugUse, limit: Limit) -> Built<Inlines> {
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
pub(super) fn times(sheet: &Sheet, planned: &DrugUse, step: &Step) -> Built<String> {
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
    let named = doses.iter().map(|dose| part(dose)).collect::<Option<Vec<_>>>();
    let words = match named {
        Some(keys) => keys.into_iter().map(|key| sheet.text(key, &[])).collect::<Built<Vec<_>>>()?,
        None => doses.iter().map(|dose| sheet.content.locale.time(dose.at.time())).collect::<Built<Vec<_>>>()?,
    };
    Ok(sheet.content.locale.list(words.iter().map(String::as_str)))
}

/// What a drug takes at home, with its label's time in use.
pub(super) fn supply(sheet: &Sheet, planned: &DrugUse) -> Built<Supply> {
    let drug = drug(sheet, &planned.drug)?;
    let at_home = sheet.plan.doses.iter().filter(|dose| planned.holds(dose) && dose.place == DosePlace::Home);
    // A dose after midnight is of the waking day of its row: the bottle of that evening is in use.
    let dates: Vec<_> = at_home.map(|dose| dose.day).collect();
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

const NOON: NaiveTime = NaiveTime::from_hms_opt(12, 0, 0).expect("a time of day");

/// The text of a dose's part of the day. At twelve it is noon, whatever the part is called.
pub(super) fn part(dose: &Dose) -> Option<&'static str> {
    let named = period(dose.period)?;
    Some(if dose.at.time() == NOON { "time.noon" } else { named })
}

/// The text of a part of the day; none for a time without a name.
pub(super) fn period(period: Period) -> Option<&'static str> {
    match period {
        Period::WakeUp => Some("period.wake_up"),
        Period::GetUp => Some("period.get_up"),
        Period::Morning => Some("period.morning"),
        Period::Noon => Some("period.noon"),
        Period::Evening => Some("period.evening"),
        Period::Bedtime => Some("period.bedtime"),
        Period::BeforeSleep => Some("period.before_sleep"),
        Period::Night => Some("period.night"),
        Period::Other => None,
    }
}

//! The drop calendar: every dose of the plan as a box, each date once.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use super::sheet::{Built, Sheet};
use super::{Bar, Block, Calendar, CalendarDay, CalendarDrug, DoseBox, Inlines, Mark, Strip};
use crate::plan::{Dose, Period, Step};
use crate::record::formulary::Drug;
use crate::record::profile::CourseLength;

/// The calendar with its instruction, on a page of its own that can hang on a fridge.
///
/// # Errors
/// A text that is missing.
pub(super) fn page(sheet: &Sheet) -> Built<Vec<Block>> {
    Ok(vec![
        Block::PageBreak,
        sheet.heading("aftercare.calendar_title")?,
        sheet.paragraph("aftercare.calendar_how", &[])?,
        Block::Calendar(calendar(sheet)?),
        Block::PageBreak,
    ])
}

/// One sentence per drug: from when to when, and that it then stops.
pub(super) fn courses(sheet: &Sheet) -> Built<Vec<Inlines>> {
    sheet.plan.steps.iter().map(|step| course(sheet, step)).collect()
}

fn course(sheet: &Sheet, step: &Step) -> Built<Inlines> {
    let drug = drug(sheet, &step.drug)?;
    let locale = &sheet.content.locale;
    let (from, to) = (locale.full_date(step.first), locale.full_date(last_date(sheet, step)));
    let count = locale.count("time", (step.in_clinic + step.at_home) as f64)?;
    let key = match length(sheet, &step.drug) {
        Some(CourseLength::Doses(_)) => "aftercare.until_count",
        _ => "aftercare.until",
    };
    sheet.inline(
        key,
        &[("drug", &drug.shown_name()), ("strength", &drug.strength), ("from", &from), ("to", &to), ("count", &count)],
    )
}

fn length(sheet: &Sheet, key: &str) -> Option<CourseLength> {
    let id = &sheet.record.plan.regimen;
    let regimen = sheet.profile.regimens.iter().find(|regimen| regimen.id == *id)?;
    regimen.drops.iter().find(|course| course.drug == key).map(|course| course.length)
}

pub(super) fn drug<'a>(sheet: &Sheet<'a>, key: &str) -> Built<&'a Drug> {
    sheet.formulary.get(key).ok_or_else(|| format!("the formulary has no drug {key}"))
}

fn calendar(sheet: &Sheet) -> Built<Calendar> {
    let locale = &sheet.content.locale;
    let dates: BTreeSet<NaiveDate> = sheet.plan.doses.iter().map(|dose| dose.at.date()).collect();
    let years: BTreeSet<String> = dates.iter().map(|date| date.format("%Y").to_string()).collect();
    Ok(Calendar {
        date_head: locale.list(years.iter().map(String::as_str)),
        given_word: sheet.text("aftercare.given", &[])?,
        drugs: sheet.plan.steps.iter().map(|step| head(sheet, step)).collect::<Built<_>>()?,
        days: dates.iter().map(|date| day(sheet, *date)).collect::<Built<_>>()?,
    })
}

fn head(sheet: &Sheet, step: &Step) -> Built<CalendarDrug> {
    let drug = drug(sheet, &step.drug)?;
    Ok(CalendarDrug {
        name: format!("{} {}", drug.shown_name(), drug.strength),
        eye: sheet.text(sheet.side("eye.right_cap", "eye.left_cap"), &[])?,
        note: if drug.shake { sheet.text("aftercare.shake", &[])? } else { String::new() },
    })
}

fn day(sheet: &Sheet, date: NaiveDate) -> Built<CalendarDay> {
    let locale = &sheet.content.locale;
    let doses = sheet.plan.steps.iter().map(|step| {
        let of_day = |dose: &&Dose| dose.drug == step.drug && dose.at.date() == date;
        sheet.plan.doses.iter().filter(of_day).map(|dose| dose_box(sheet, dose)).collect()
    });
    Ok(CalendarDay {
        weekday: locale.weekday(date),
        date: locale.day(date),
        mark: mark(sheet, date)?,
        stops: sheet.plan.steps.iter().map(|step| stop(sheet, step, date)).collect::<Built<_>>()?,
        doses: doses.collect::<Built<_>>()?,
    })
}

fn dose_box(sheet: &Sheet, dose: &Dose) -> Built<DoseBox> {
    if dose.at.date() != dose.day {
        // Under its real date, and named after the night it belongs to.
        let weekday = sheet.content.locale.weekday(dose.day);
        let period = sheet.text("period.night", &[("weekday", &weekday)])?;
        return Ok(DoseBox { time: sheet.content.locale.time(dose.at.time())?, period, given: dose.given() });
    }
    let period = match dose.period {
        Period::WakeUp => "period.wake_up",
        Period::Morning => "period.morning",
        Period::Noon => "period.noon",
        Period::Evening => "period.evening",
        Period::Bedtime => "period.bedtime",
        Period::Other => "",
    };
    Ok(DoseBox {
        time: sheet.content.locale.time(dose.at.time())?,
        period: if period.is_empty() { String::new() } else { sheet.text(period, &[])? },
        given: dose.given(),
    })
}

/// The day of the laser.
fn mark(sheet: &Sheet, date: NaiveDate) -> Built<String> {
    match date == sheet.plan.anchors.treatment {
        true => sheet.text("aftercare.laser_day", &[]),
        false => Ok(String::new()),
    }
}

/// On the last date of a drug its cell says that it then stops.
fn stop(sheet: &Sheet, step: &Step, date: NaiveDate) -> Built<String> {
    match last_date(sheet, step) == date {
        true => sheet.text("aftercare.last_dose", &[]),
        false => Ok(String::new()),
    }
}

/// The date of the last dose: a dose after midnight has the date of the night, not of the day it belongs to.
fn last_date(sheet: &Sheet, step: &Step) -> NaiveDate {
    let doses = sheet.plan.doses.iter().filter(|dose| dose.drug == step.drug);
    doses.map(|dose| dose.at.date()).max().unwrap_or(step.last)
}

/// The whole course at a glance.
pub(super) fn strip(sheet: &Sheet) -> Built<Strip> {
    let locale = &sheet.content.locale;
    let doses = sheet.plan.doses.iter().map(|dose| dose.day);
    let first = sheet.plan.anchors.treatment;
    let last = doses.max().unwrap_or(first);
    let index = |date: NaiveDate| u16::try_from((date - first).num_days()).unwrap_or(0);
    let bars = sheet.plan.steps.iter().map(|step| {
        Ok(Bar {
            label: drug(sheet, &step.drug)?.name.clone(),
            from: index(step.first),
            to: index(step.last),
            text: match length(sheet, &step.drug) {
                Some(CourseLength::Doses(_)) => locale.count("time", (step.in_clinic + step.at_home) as f64)?,
                _ => locale.count("drop_a_day", f64::from(step.per_day))?,
            },
        })
    });
    let marks = sheet.plan.visits.iter().filter(|visit| visit.date <= last).map(|visit| {
        let label = super::aftercare::visit_title(sheet, visit)?;
        Ok(Mark { day: index(visit.date), label })
    });
    Ok(Strip {
        alt: alt(sheet)?,
        days: first.iter_days().take_while(|date| *date <= last).map(|date| locale.short_day(date)).collect(),
        bars: bars.collect::<Built<_>>()?,
        marks: marks.collect::<Built<_>>()?,
    })
}

/// The strip in words, for those who do not see it.
fn alt(sheet: &Sheet) -> Built<String> {
    let locale = &sheet.content.locale;
    let drugs = sheet.plan.steps.iter().map(|step| {
        let (from, to) = (locale.full_date(step.first), locale.full_date(last_date(sheet, step)));
        let name = &drug(sheet, &step.drug)?.name;
        sheet.text("aftercare.strip_drug", &[("drug", name), ("from", &from), ("to", &to)])
    });
    let drugs = drugs.collect::<Built<Vec<_>>>()?.join("; ");
    sheet.text("aftercare.strip", &[("drugs", &drugs)])
}

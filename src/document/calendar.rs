//! The drop calendar: every dose of a plan as a box, each date once; of two plans when both eyes are treated.

use std::collections::BTreeSet;

use chrono::{NaiveDate, NaiveTime};

use super::sheet::{Built, Sheet};
use super::{Block, Calendar, CalendarDay, CalendarDrug, DoseBox, drops};
use crate::plan::{Dose, DosePlace, DrugUse, Period};

const NOON: NaiveTime = NaiveTime::from_hms_opt(12, 0, 0).expect("a time of day");

/// One column: a drug in an eye.
struct Column<'a> {
    sheet: &'a Sheet<'a>,
    drug: &'a DrugUse,
    doses: Vec<&'a Dose>,
    /// Those of the first of the days that have most.
    fullest: Vec<&'a Dose>,
}

impl<'a> Column<'a> {
    fn new(sheet: &'a Sheet<'a>, drug: &'a DrugUse, doses: Vec<&'a Dose>) -> Self {
        let mut column = Self { sheet, drug, doses, fullest: Vec::new() };
        let days: BTreeSet<NaiveDate> = column.doses.iter().map(|dose| dose.at.date()).collect();
        // Of equal ones the last counts, so from the last day to the first.
        let days = days.into_iter().rev().map(|date| column.on(date));
        column.fullest = days.max_by_key(Vec::len).unwrap_or_default();
        column
    }

    fn on(&self, date: NaiveDate) -> Vec<&'a Dose> {
        self.doses.iter().copied().filter(|dose| dose.at.date() == date).collect()
    }
}

/// The calendar with its instruction, on a page of its own that can hang on a fridge.
///
/// # Errors
/// A text that is missing.
pub(super) fn page(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![
        Block::PageBreak,
        sheet.heading("aftercare.calendar_title")?,
        sheet.paragraph("aftercare.calendar_how", &[])?,
    ];
    blocks.extend(drops::when_needed(sheet, |_| true)?);
    blocks.extend(boxes(&[sheet], |_| true)?);
    blocks.push(Block::PageBreak);
    Ok(blocks)
}

/// The drops that begin before the treatment, with their calendar up to it; nothing if none does.
///
/// # Errors
/// A text that is missing.
pub(super) fn before(sheet: &Sheet) -> Built<Vec<Block>> {
    let starts = sheet.plan.anchors.starts;
    let before = |dose: &Dose| dose.place == DosePlace::Home && dose.at <= starts;
    let mut drops = drops::when_needed(sheet, |drug| drug.began_before(&sheet.plan.anchors))?;
    drops.extend(boxes(&[sheet], before)?);
    if drops.is_empty() {
        return Ok(drops);
    }
    let head = vec![sheet.heading("consent.drops_before")?, sheet.paragraph("consent.drops_before_how", &[])?];
    Ok([head, drops].concat())
}

/// The doses of some plans that `shown` holds; nothing if there is none.
pub(super) fn boxes(sheets: &[&Sheet], shown: impl Fn(&Dose) -> bool) -> Built<Option<Block>> {
    let columns = sheets.iter().flat_map(|sheet| {
        let shown = &shown;
        let column = move |drug| {
            let doses = sheet.plan.doses.iter().filter(|dose| DrugUse::holds(drug, dose) && shown(dose)).collect();
            Column::new(sheet, drug, doses)
        };
        sheet.plan.uses.iter().map(column)
    });
    let columns: Vec<Column> = columns.filter(|column| !column.doses.is_empty()).collect();
    columns.first().map(|first| Ok(Block::Calendar(calendar(first.sheet, &columns)?))).transpose()
}

fn calendar(sheet: &Sheet, columns: &[Column]) -> Built<Calendar> {
    let dates = columns.iter().flat_map(|column| column.doses.iter().map(|dose| dose.at.date()));
    let dates: BTreeSet<NaiveDate> = dates.collect();
    // Every date from the first to the last: one that is left out would look forgotten.
    let dates: Vec<NaiveDate> = dates
        .first()
        .map_or_else(Vec::new, |first| first.iter_days().take_while(|date| Some(date) <= dates.last()).collect());
    let years: BTreeSet<String> = dates.iter().map(|date| date.format("%Y").to_string()).collect();
    Ok(Calendar {
        date_head: sheet.content.locale.list(years.iter().map(String::as_str)),
        more: sheet.text("aftercare.more_drops", &[])?,
        drugs: columns.iter().map(head).collect::<Built<_>>()?,
        days: dates.iter().map(|date| day(sheet, columns, *date)).collect::<Built<_>>()?,
    })
}

fn head(column: &Column) -> Built<CalendarDrug> {
    let sheet = column.sheet;
    let drug = drops::drug(sheet, &column.drug.drug)?;
    Ok(CalendarDrug {
        name: format!("{} {}", drug.shown_name(), drug.strength),
        eye: sheet.text(sheet.side("eye.right_cap", "eye.left_cap"), &[])?,
        note: if drug.shake { sheet.text("aftercare.shake", &[])? } else { String::new() },
    })
}

fn day(sheet: &Sheet, columns: &[Column], date: NaiveDate) -> Built<CalendarDay> {
    let locale = &sheet.content.locale;
    let doses = columns.iter().map(|column| {
        let of_date = column.on(date);
        let places = places(&of_date, &column.fullest);
        of_date.into_iter().zip(places).map(|(dose, place)| dose_box(sheet, dose, place)).collect()
    });
    Ok(CalendarDay {
        weekday: locale.weekday(date),
        date: locale.day(date),
        mark: mark(columns, date)?,
        changes: columns.iter().map(|column| change(column, date)).collect::<Built<_>>()?,
        stops: columns.iter().map(|column| stop(column, date)).collect::<Built<_>>()?,
        doses: doses.collect::<Built<_>>()?,
    })
}

/// Where the doses of a day stand among those of the fullest day; one after the other if it has not all of them.
fn places(doses: &[&Dose], fullest: &[&Dose]) -> Vec<usize> {
    let same = |a: &Dose, b: &Dose| match (a.period, b.period) {
        (Period::Other, Period::Other) => a.at.time() == b.at.time(),
        (a, b) => a == b,
    };
    let found = doses.iter().map(|dose| fullest.iter().position(|other| same(dose, other)));
    match found.collect::<Option<Vec<usize>>>() {
        Some(places) if places.is_sorted_by(|a, b| a < b) => places,
        _ => (0..doses.len()).collect(),
    }
}

/// The part of the day first, the clock time second: people follow clock times less well (USP <17>).
fn dose_box(sheet: &Sheet, dose: &Dose, place: usize) -> Built<DoseBox> {
    let time = sheet.content.locale.time(dose.at.time())?;
    let given = dose.given();
    if given {
        return Ok(DoseBox { head: time, lines: vec![sheet.text("aftercare.given", &[])?], given, place });
    }
    // Under its real date, and named after the day whose night it is.
    let night = (dose.at.date() != dose.day).then(|| sheet.content.locale.weekday(dose.day));
    let night = night.map(|weekday| sheet.text("period.night_of", &[("weekday", &weekday)])).transpose()?;
    // "noon" is both, and a night with its weekday needs no second word for it.
    let named = drops::period(dose.period).filter(|_| dose.at.time() != NOON && (night.is_none() || !at_night(dose)));
    let (head, lines) = match (named, night) {
        (Some(key), night) => (sheet.text(key, &[])?, [night, Some(time)]),
        (None, Some(night)) => (night, [None, Some(time)]),
        (None, None) => (time, [None, None]),
    };
    Ok(DoseBox { head, lines: lines.into_iter().flatten().collect(), given, place })
}

fn at_night(dose: &Dose) -> bool {
    dose.period == Period::Night
}

/// The day of the laser; with two eyes, which one.
fn mark(columns: &[Column], date: NaiveDate) -> Built<String> {
    let treated = columns.iter().find(|column| column.sheet.plan.anchors.treatment == date);
    let two = columns.iter().any(|column| column.sheet.record.eye.side != columns[0].sheet.record.eye.side);
    match treated {
        Some(column) if two => column.sheet.text("aftercare.laser_day_eye", &[]),
        Some(column) => column.sheet.text("aftercare.laser_day", &[]),
        None => Ok(String::new()),
    }
}

/// On the first date of a further step its cell says how often the drug is used from now on.
fn change(column: &Column, date: NaiveDate) -> Built<String> {
    let further = column.drug.steps.iter().filter(|step| step.step > 0);
    match further.into_iter().find(|step| step.first == date && step.first > column.drug.first) {
        Some(step) => {
            let count = drops::often(column.sheet, step)?;
            column.sheet.text("aftercare.change", &[("count", &count)])
        }
        None => Ok(String::new()),
    }
}

/// On the last date of a drug its cell says that it then stops, or that it goes on.
fn stop(column: &Column, date: NaiveDate) -> Built<String> {
    match (column.drug.last == date, column.drug.goes_on) {
        (true, false) => column.sheet.text("aftercare.last_dose", &[]),
        (true, true) => column.sheet.text("aftercare.goes_on_cell", &[]),
        (false, _) => Ok(String::new()),
    }
}

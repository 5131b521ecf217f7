//! The drop calendar: every dose of a plan as a box, each date once; of two plans when both eyes are treated.

use std::collections::BTreeSet;

use chrono::{Datelike, NaiveDate, NaiveTime, Weekday};

use super::sheet::{Built, Sheet};
use super::{Block, Calendar, CalendarDay, CalendarDrug, CalendarLine, DoseBox, course, drops, matrix, visits};
use crate::plan::{Continued, Dose, DosePlace, DrugUse, Visit};

/// Up to so many dates a row tells a visit in full.
const FULL_DAYS: usize = 10;

/// Up to so many visits after the last date stand behind it, where the front holds little else.
const MOST_LATER: usize = 3;

/// A drug in an eye.
struct Column<'a> {
    sheet: &'a Sheet<'a>,
    drug: Taken<'a>,
    doses: Vec<&'a Dose>,
}

/// A drug of the regimen, or a drop that the patient goes on with.
#[derive(Clone, Copy)]
enum Taken<'a> {
    Planned(&'a DrugUse),
    InUse(&'a Continued),
}

impl<'a> Taken<'a> {
    /// Key of the formulary, or the drop as recorded.
    fn key(self) -> &'a str {
        match self {
            Self::Planned(drug) => &drug.drug,
            Self::InUse(drop) => &drop.name,
        }
    }
}

/// The calendar of the page on the fridge.
pub(super) struct Hung<'a> {
    /// The calendar with its instruction and the visits in their rows; none when no drop has a box.
    pub(super) calendar: Vec<Block>,
    /// Whether it has more than [`FULL_DAYS`] dates.
    pub(super) long: bool,
    /// Visits that are still to be told in full.
    pub(super) later: Vec<&'a Visit>,
}

/// The calendar to hang on a fridge; `roomy` when the front holds little else.
///
/// # Errors
/// A text that is missing.
pub(super) fn hung<'a>(sheet: &Sheet<'a>, roomy: bool) -> Built<Hung<'a>> {
    let Some(mut calendar) = boxes(&[sheet], "aftercare.calendar_how", |_| true)? else {
        return Ok(Hung { calendar: Vec::new(), long: false, later: sheet.plan.visits.iter().collect() });
    };
    let later = enter_visits(sheet, &mut calendar, roomy)?;
    Ok(Hung { long: calendar.days.len() > FULL_DAYS, calendar: vec![Block::Calendar(calendar)], later })
}

/// Each visit under its date, in brief in a long calendar, and those after the last date behind it where there is room: the
/// page on the fridge tells when to come next. Gives those that are still to be told in full.
fn enter_visits<'a>(sheet: &Sheet<'a>, calendar: &mut Calendar, roomy: bool) -> Built<Vec<&'a Visit>> {
    let locale = &sheet.content.locale;
    let (mut later, long) = (Vec::new(), calendar.days.len() > FULL_DAYS);
    for visit in &sheet.plan.visits {
        let (weekday, date) = (locale.weekday(visit.date), locale.day(visit.date));
        match calendar.days.iter_mut().find(|day| day.weekday == weekday && day.date == date) {
            Some(day) if long => {
                day.visits.push(visits::brief(sheet, visit)?);
                later.push(visit);
            }
            Some(day) => day.visits.push(visits::row(sheet, visit)?),
            None if roomy && !long && calendar.later.len() < MOST_LATER => {
                calendar.later.push(visits::row(sheet, visit)?)
            }
            None => later.push(visit),
        }
    }
    Ok(later)
}

/// The drops the patient already uses, beside the calendar: those without boxes, and those the new ones would double.
///
/// # Errors
/// A text that is missing.
pub(super) fn in_use(sheet: &Sheet) -> Built<Vec<Block>> {
    let named = |text: &str, shown: &dyn Fn(&Continued) -> bool| {
        let drops = sheet.plan.continued.iter().filter(|drop| shown(drop));
        let drops: Vec<String> = drops.map(|drop| sheet.content.locale.set_apart(&drop.name)).collect();
        let list = sheet.content.locale.list(drops.iter().map(String::as_str));
        (!drops.is_empty()).then(|| sheet.paragraph(text, &[("drops", &list)])).transpose()
    };
    let goes_on = named("aftercare.continued", &|drop| !drop.doubled && drop.doses.is_empty())?;
    let doubled = named("aftercare.continued_doubled", &|drop| drop.doubled)?;
    Ok(doubled.into_iter().chain(goes_on).collect())
}

/// The drops that begin before the treatment, with their calendar up to it; nothing if none does.
///
/// # Errors
/// A text that is missing.
pub(super) fn before(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut drops = drops::when_needed(sheet, |drug| drug.began_before(&sheet.plan.anchors))?;
    drops.extend(boxes_before(sheet, "consent.drops_before_how")?);
    if drops.is_empty() {
        return Ok(drops);
    }
    Ok([vec![sheet.heading("consent.drops_before")?], drops].concat())
}

/// The calendar of the drops before the treatment alone, if any of them has a box; `how` is the text above it.
///
/// # Errors
/// A text that is missing.
pub(super) fn boxes_before(sheet: &Sheet, how: &str) -> Built<Option<Block>> {
    let starts = sheet.plan.anchors.starts;
    let before = |dose: &Dose| dose.place == DosePlace::Home && dose.at <= starts;
    Ok(boxes(&[sheet], how, before)?.map(Block::Calendar))
}

/// The doses of some plans that `shown` holds; nothing if there is none.
pub(super) fn boxes(sheets: &[&Sheet], how: &str, shown: impl Fn(&Dose) -> bool) -> Built<Option<Calendar>> {
    let columns = sheets.iter().flat_map(|sheet| columns(sheet, &shown));
    let columns: Vec<Column> = columns.filter(|column| !column.doses.is_empty()).collect();
    columns.first().map(|first| calendar(first.sheet, how, &columns)).transpose()
}

/// The drugs of the regimen, then the drops that the patient goes on with.
fn columns<'a>(sheet: &'a Sheet<'a>, shown: &dyn Fn(&Dose) -> bool) -> Vec<Column<'a>> {
    let planned = sheet.plan.uses.iter().map(|drug| {
        let doses = sheet.plan.doses.iter().filter(|dose| drug.holds(dose) && shown(dose)).collect();
        Column { sheet, drug: Taken::Planned(drug), doses }
    });
    let in_use = sheet.plan.continued.iter().map(|drop| {
        let doses = drop.doses.iter().filter(|dose| shown(dose)).collect();
        Column { sheet, drug: Taken::InUse(drop), doses }
    });
    planned.chain(in_use).collect()
}

fn calendar(sheet: &Sheet, how: &str, columns: &[Column]) -> Built<Calendar> {
    let doses: Vec<&Dose> = columns.iter().flat_map(|column| column.doses.iter().copied()).collect();
    let times = matrix::times(&doses);
    let dates: BTreeSet<NaiveDate> = doses.iter().map(|dose| dose.day).collect();
    // Every date from the first to the last: one that is left out would look forgotten.
    let dates: Vec<NaiveDate> = dates
        .first()
        .map_or_else(Vec::new, |first| first.iter_days().take_while(|date| Some(date) <= dates.last()).collect());
    let years: BTreeSet<String> = dates.iter().map(|date| date.format("%Y").to_string()).collect();
    let mut keys: Vec<&str> = columns.iter().map(|column| column.drug.key()).collect();
    keys.dedup();
    let shape = |column: &Column| keys.iter().position(|key| *key == column.drug.key()).unwrap_or_default();
    Ok(Calendar {
        how: sheet.inline(how, &[])?,
        date_head: sheet.content.locale.list(years.iter().map(String::as_str)),
        drugs: columns.iter().map(|column| head(column, shape(column))).collect::<Built<_>>()?,
        times: times.iter().map(|time| matrix::head(sheet, *time, &doses)).collect::<Built<_>>()?,
        days: dates.iter().map(|date| day(columns, &times, *date)).collect::<Built<_>>()?,
        later: Vec::new(),
    })
}

fn head(column: &Column, shape: usize) -> Built<CalendarDrug> {
    let sheet = column.sheet;
    let (name, purpose, note) = match column.drug {
        Taken::Planned(planned) => {
            let drug = drops::drug(sheet, &planned.drug)?;
            let note = if drug.shake { sheet.text("aftercare.shake", &[])? } else { String::new() };
            (drops::name(drug), course::of_groups(sheet, "purpose", drug)?, note)
        }
        Taken::InUse(drop) => (drop.name.clone(), sheet.text("aftercare.continued_note", &[])?, String::new()),
    };
    Ok(CalendarDrug {
        name,
        eye: sheet.text(sheet.side("eye.right_cap", "eye.left_cap"), &[])?,
        side: sheet.record.eye.side,
        shape,
        purpose,
        note,
    })
}

fn day(columns: &[Column], times: &[NaiveTime], date: NaiveDate) -> Built<CalendarDay> {
    let locale = &columns[0].sheet.content.locale;
    Ok(CalendarDay {
        weekday: locale.weekday(date),
        date: locale.day(date),
        short: locale.weekday_and_day(date),
        month: locale.month(date),
        weekend: matches!(date.weekday(), Weekday::Sat | Weekday::Sun),
        mark: mark(columns, date)?,
        changes: lines(columns, |column| change(column, date))?,
        doses: cells(columns, times, date)?,
        stops: lines(columns, |column| stop(column, date))?,
        visits: Vec::new(),
    })
}

/// The doses of the waking day that begins on a date, a cell for each time, in order of time and drug: one after midnight
/// stands in the row of the day before.
fn cells(columns: &[Column], times: &[NaiveTime], date: NaiveDate) -> Built<Vec<Vec<DoseBox>>> {
    let mut cells: Vec<Vec<(NaiveTime, DoseBox)>> = times.iter().map(|_| Vec::new()).collect();
    for (drug, column) in columns.iter().enumerate() {
        for dose in column.doses.iter().filter(|dose| dose.day == date) {
            cells[matrix::column(times, dose)].push((dose.at.time(), dose_box(column.sheet, drug, dose)?));
        }
    }
    cells.iter_mut().for_each(|cell| cell.sort_by_key(|(time, dose)| (*time, dose.drug)));
    Ok(cells.into_iter().map(|cell| cell.into_iter().map(|(_, dose)| dose).collect()).collect())
}

/// A dose after midnight is named after the day whose night it is.
fn dose_box(sheet: &Sheet, drug: usize, dose: &Dose) -> Built<DoseBox> {
    let locale = &sheet.content.locale;
    let note = match (dose.given(), dose.at.date() == dose.day) {
        (true, _) => sheet.text("aftercare.given", &[])?,
        (false, true) => String::new(),
        (false, false) => sheet.text("period.night_of", &[("weekday", &locale.weekday(dose.day))])?,
    };
    Ok(DoseBox { drug, at: locale.time(dose.at.time())?, note, given: dose.given() })
}

/// What is said of each drug that has something to say.
fn lines(columns: &[Column], text: impl Fn(&Column) -> Built<String>) -> Built<Vec<CalendarLine>> {
    let lines = columns.iter().enumerate().map(|(drug, column)| Ok(CalendarLine { drug, text: text(column)? }));
    Ok(lines.collect::<Built<Vec<_>>>()?.into_iter().filter(|line| !line.text.is_empty()).collect())
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
    let Taken::Planned(drug) = column.drug else { return Ok(String::new()) };
    let further = drug.steps.iter().filter(|step| step.step > 0);
    match further.into_iter().find(|step| step.first == date && step.first > drug.first) {
        Some(step) => {
            let count = drops::often(column.sheet, step)?;
            column.sheet.text("aftercare.change", &[("count", &count)])
        }
        None => Ok(String::new()),
    }
}

/// On the last date of a drug its cell says that it then stops, or that it goes on.
fn stop(column: &Column, date: NaiveDate) -> Built<String> {
    let (last, goes_on) = match column.drug {
        Taken::Planned(drug) => (Some(drug.last), drug.goes_on),
        Taken::InUse(drop) => (drop.doses.last().map(|dose| dose.day), true),
    };
    match (last == Some(date), goes_on) {
        (true, false) => column.sheet.text("aftercare.last_dose", &[]),
        (true, true) => column.sheet.text("aftercare.goes_on_cell", &[]),
        (false, _) => Ok(String::new()),
    }
}

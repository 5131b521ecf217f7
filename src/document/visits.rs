//! Visits and the pressure check of the same day, in words.

use super::sheet::{Built, Sheet, literal};
use super::{Block, Check, Pair, code};
use crate::facts::recheck::Recheck;
use crate::plan::Visit;
use crate::record::profile::OutOfHours;

/// When and where the pressure is rechecked; none when it is not wanted or there is no place.
pub(super) fn recheck_place(sheet: &Sheet) -> Built<Option<(chrono::NaiveDateTime, String)>> {
    Ok(match sheet.plan.recheck {
        Some(Recheck::Clinic { at } | Recheck::ClinicEarly { at }) => {
            Some((at, sheet.profile.practice.name(&sheet.content.locale.tag).to_owned()))
        }
        Some(Recheck::OutOfHours { at }) => out_of_hours(sheet)?.map(|place| (at, place)),
        Some(Recheck::Nowhere) | None => None,
    })
}

/// Name and address of the place for out of hours, if there is one.
fn out_of_hours(sheet: &Sheet) -> Built<Option<String>> {
    let place = |place: &OutOfHours| {
        let address = place.address(&sheet.content.locale.tag);
        sheet.text(
            "aftercare.out_of_hours",
            &[("name", place.name(&sheet.content.locale.tag)), ("address", address.as_str())],
        )
    };
    sheet.profile.out_of_hours.as_ref().map(place).transpose()
}

/// Today's pressure check and the visits that no calendar holds, and what all of them are for.
pub(super) fn list(sheet: &Sheet, visits: &[&Visit]) -> Built<Vec<Block>> {
    let mut items: Vec<Check> = today(sheet)?.into_iter().collect();
    items.extend(visits.iter().map(|visit| row(sheet, visit)).collect::<Built<Vec<_>>>()?);
    let mut blocks = vec![sheet.heading("aftercare.visits")?];
    if !items.is_empty() {
        blocks.push(Block::Checklist { items });
    }
    let about = sheet.body(&sheet.content.section("visits").collect::<Vec<_>>())?;
    blocks.extend(code::beside(sheet, about)?);
    Ok(blocks)
}

/// A visit with its date; a blank for the time where the desk still has to give one.
pub(super) fn row(sheet: &Sheet, visit: &Visit) -> Built<Check> {
    let (title, when) = (visit_title(sheet, visit)?, visit_when(sheet, visit)?);
    let text = sheet.inline("aftercare.visit", &[("title", &title), ("when", &when)])?;
    let blanks = if visit.at.is_none() { vec![sheet.text("sign.time", &[])?] } else { Vec::new() };
    Ok(Check { text, blanks })
}

/// The same in brief, under its date.
pub(super) fn brief(sheet: &Sheet, visit: &Visit) -> Built<Check> {
    let title = visit_title(sheet, visit)?;
    match visit.at {
        Some(at) => {
            let at = sheet.content.locale.time(at)?;
            let text = sheet.inline("aftercare.visit", &[("title", &title), ("when", &at)])?;
            Ok(Check { text, blanks: Vec::new() })
        }
        None => Ok(Check { text: literal(&title), blanks: vec![sheet.text("sign.time", &[])?] }),
    }
}

/// The pressure check of the same day, as on the first page.
fn today(sheet: &Sheet) -> Built<Option<Check>> {
    let title = sheet.text("aftercare.recheck", &[])?;
    let text = match (sheet.plan.recheck, recheck_place(sheet)?) {
        (_, Some((at, place))) => {
            let when = sheet.when(at)?;
            sheet.inline("aftercare.visit_today", &[("title", &title), ("when", &when), ("place", &place)])?
        }
        (Some(_), None) => sheet.inline("aftercare.visit_today_nowhere", &[("title", &title)])?,
        (None, None) => return Ok(None),
    };
    Ok(Some(Check { text, blanks: Vec::new() }))
}

/// Titles that name a span of time, and the days after the treatment for which it holds (common practice, no source).
const NAMED_SPANS: [(&str, std::ops::RangeInclusive<i64>); 2] = [("week", 5..=9), ("month", 25..=35)];

/// What a visit is for, by the id of its rule. A closed day or a booking can move it out of the span its title names.
fn title_of(sheet: &Sheet, visit: &Visit, id: &str) -> Built<String> {
    let days = (visit.date - sheet.plan.anchors.treatment).num_days();
    match NAMED_SPANS.iter().find(|(named, _)| *named == id) {
        Some((_, span)) if !span.contains(&days) => {
            let days = sheet.content.locale.count("day", days as f64)?;
            sheet.text("aftercare.visit_after", &[("days", &days)])
        }
        _ => sheet.text(&format!("visit.{id}"), &[]),
    }
}

/// What a visit is for.
pub(super) fn visit_title(sheet: &Sheet, visit: &Visit) -> Built<String> {
    titled(sheet, visit, "aftercare.visit_if_raised")
}

/// What a visit is for; `if_raised` is the text of one that is kept only where the pressure is raised.
fn titled(sheet: &Sheet, visit: &Visit, if_raised: &str) -> Built<String> {
    let titles = visit.ids.iter().map(|id| title_of(sheet, visit, id));
    let titles = titles.collect::<Built<Vec<_>>>()?;
    let title = titles.join("; ");
    match visit.if_raised {
        true => sheet.text(if_raised, &[("title", &title)]),
        false => Ok(title),
    }
}

/// The pressure check of the same day and the visits, each with its date, as told to a clinician.
pub(super) fn for_clinicians(sheet: &Sheet) -> Built<Vec<Pair>> {
    let mut items = Vec::new();
    if let Some((at, place)) = recheck_place(sheet)? {
        items.push(sheet.pair("surgeon.recheck", literal(&format!("{}, {place}", sheet.when(at)?)))?);
    }
    for visit in &sheet.plan.visits {
        let label = titled(sheet, visit, "paper.visit_if_raised")?;
        items.push(Pair { label, value: literal(&visit_when(sheet, visit)?) });
    }
    Ok(items)
}

/// Weekday and date, the time where it is known, and the place where that is not the practice.
pub(super) fn visit_when(sheet: &Sheet, visit: &Visit) -> Built<String> {
    let when = match visit.at {
        Some(time) => sheet.when(visit.date.and_time(time))?,
        None => sheet.content.locale.full_date(visit.date),
    };
    match out_of_hours(sheet)?.filter(|_| visit.out_of_hours) {
        Some(place) => sheet.text("aftercare.visit_place", &[("when", &when), ("place", &place)]),
        None => Ok(when),
    }
}

//! Visits and the pressure check of the same day, in words.

use super::sheet::{Built, Sheet, literal};
use super::{Block, Check};
use crate::facts::recheck::Recheck;
use crate::plan::Visit;
use crate::record::profile::OutOfHours;

/// When and where the pressure is rechecked; none when it is not wanted or there is no place.
pub(super) fn recheck_place(sheet: &Sheet) -> Built<Option<(chrono::NaiveDateTime, String)>> {
    Ok(match sheet.plan.recheck {
        Some(Recheck::Clinic { at } | Recheck::ClinicEarly { at }) => Some((at, sheet.profile.practice.name.clone())),
        Some(Recheck::OutOfHours { at }) => out_of_hours(sheet)?.map(|place| (at, place)),
        Some(Recheck::Nowhere) | None => None,
    })
}

/// Name and address of the place for out of hours, if there is one.
fn out_of_hours(sheet: &Sheet) -> Built<Option<String>> {
    let place = |place: &OutOfHours| {
        let address = place.address.join(", ");
        sheet.text("aftercare.out_of_hours", &[("name", place.name.as_str()), ("address", address.as_str())])
    };
    sheet.profile.out_of_hours.as_ref().map(place).transpose()
}

/// The visits that no calendar holds, and what all of them are for.
pub(super) fn list(sheet: &Sheet, visits: &[&Visit]) -> Built<Vec<Block>> {
    let items = visits.iter().map(|visit| row(sheet, visit)).collect::<Built<Vec<_>>>()?;
    let mut blocks = vec![sheet.heading("aftercare.visits")?];
    if !items.is_empty() {
        blocks.push(Block::Checklist { items });
    }
    blocks.extend(sheet.body(&sheet.content.section("visits").collect::<Vec<_>>())?);
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

/// What a visit is for.
pub(super) fn visit_title(sheet: &Sheet, visit: &Visit) -> Built<String> {
    let titles = visit.ids.iter().map(|id| sheet.text(&format!("visit.{id}"), &[]));
    let titles = titles.collect::<Built<Vec<_>>>()?;
    let title = sheet.content.locale.list(titles.iter().map(String::as_str));
    match visit.if_raised {
        true => sheet.text("aftercare.visit_if_raised", &[("title", &title)]),
        false => Ok(title),
    }
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

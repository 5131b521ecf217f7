//! Visits and the pressure check of the same day, in words.

use super::sheet::{Built, Sheet};
use super::{Block, Check};
use crate::facts::recheck::Recheck;
use crate::plan::Visit;

/// When and where the pressure is rechecked; none when it is not wanted or there is no place.
pub(super) fn recheck_place(sheet: &Sheet) -> Built<Option<(chrono::NaiveDateTime, String)>> {
    Ok(match sheet.plan.recheck {
        Some(Recheck::Clinic { at } | Recheck::ClinicEarly { at }) => Some((at, sheet.profile.practice.name.clone())),
        Some(Recheck::OutOfHours { at }) => match &sheet.profile.out_of_hours {
            Some(place) => {
                let address = place.address.join(", ");
                let values = [("name", place.name.as_str()), ("address", address.as_str())];
                Some((at, sheet.text("aftercare.out_of_hours", &values)?))
            }
            None => None,
        },
        Some(Recheck::Nowhere) | None => None,
    })
}

/// Each visit with its date; a blank for the time where the desk still has to give one.
pub(super) fn list(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("aftercare.visits")?];
    let items = sheet.plan.visits.iter().map(|visit| {
        let (title, when) = (visit_title(sheet, visit)?, visit_when(sheet, visit)?);
        let text = sheet.inline("aftercare.visit", &[("title", &title), ("when", &when)])?;
        let blanks = if visit.at.is_none() { vec![sheet.text("sign.time", &[])?] } else { Vec::new() };
        Ok(Check { text, blanks })
    });
    blocks.push(Block::Checklist { items: items.collect::<Built<_>>()? });
    blocks.extend(sheet.body(&sheet.content.section("visits").collect::<Vec<_>>())?);
    Ok(blocks)
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

/// Weekday and date, and the time where it is known.
pub(super) fn visit_when(sheet: &Sheet, visit: &Visit) -> Built<String> {
    match visit.at {
        Some(time) => sheet.when(visit.date.and_time(time)),
        None => Ok(sheet.content.locale.full_date(visit.date)),
    }
}

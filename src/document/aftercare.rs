//! The aftercare packet: today's check and the warning signs first, then the calendar, then everything to look up.

use super::sheet::{Built, Sheet, item, literal};
use super::{Block, Document, Inline, Page, Print, Weight, calendar, course, visits};
use crate::facts::recheck::Recheck;
use crate::findings::{BeforeLeaving, Finding};

/// Builds the aftercare packet. `with_drops` is false while a clinician must first answer a finding about a drop: the page
/// then says so and holds no drop plan; everything else always prints.
///
/// # Errors
/// A text or number that is missing.
pub fn build(sheet: &Sheet, with_drops: bool) -> Built<Document> {
    let mut blocks = first_page(sheet, with_drops)?;
    let plan = match (with_drops, sheet.both_eyes) {
        (false, _) => withheld(sheet)?,
        (true, None) => calendar::page(sheet)?,
        (true, Some(id)) => vec![calendar_elsewhere(sheet, id)?],
    };
    let mut next = sheet.surgeon_words("aftercare.words")?;
    next.extend(visits::list(sheet)?);
    // What follows from an event (a word, a visit) comes before the calendar.
    let happened = sheet.record.treatment.iter().any(|done| !done.events.is_empty());
    let parts = if happened { [next, plan] } else { [plan, next] };
    blocks.extend(parts.concat());
    blocks.extend(sheet.section("aftercare", "normal")?);
    if with_drops {
        blocks.extend(course::plan(sheet)?);
    }
    for section in ["living", "remain", "late"] {
        blocks.extend(sheet.section("aftercare", section)?);
    }
    let references = sheet.content.references()?;
    if !references.is_empty() {
        blocks.push(sheet.heading("page.references")?);
        blocks.push(Block::References { items: references });
    }
    sheet.document(Page::Aftercare, sheet.text("aftercare.title", &[])?, blocks)
}

/// What to do, today's check and the warning signs on one page. Who must not leave yet reads that first; then what the surgeon
/// says of an event. After an event, and in large print, which needs two pages, the signs come before what to do.
fn first_page(sheet: &Sheet, with_drops: bool) -> Built<Vec<Block>> {
    let (mut first, events) = (stay(sheet)?, events(sheet)?);
    let signs_first = !events.is_empty() || sheet.record.patient.print == Print::Large;
    first.extend(events);
    let mut lead = sheet.replaces()?;
    match with_drops {
        true => lead.extend(sheet.body(&sheet.content.section("first").collect::<Vec<_>>())?),
        false => lead.push(Block::Lead { text: sheet.inline("aftercare.withheld_lead", &[])? }),
    }
    lead.extend(recheck(sheet)?);
    let warning = vec![warning(sheet)?];
    Ok(if signs_first { [first, warning, lead].concat() } else { [first, lead, warning].concat() })
}

/// That nobody leaves before the surgeon has seen them, while a finding asks for that.
fn stay(sheet: &Sheet) -> Built<Vec<Block>> {
    let seen = |finding: &Finding| finding.before_leaving == Some(BeforeLeaving::Seen);
    if !sheet.findings.before_leaving().any(seen) {
        return Ok(Vec::new());
    }
    Ok(vec![Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("aftercare.stay_title", &[])?,
        text: sheet.inline("aftercare.stay", &[])?,
    }])
}

fn warning(sheet: &Sheet) -> Built<Block> {
    let mut action = Vec::new();
    for said in sheet.content.section("signs-action") {
        if !action.is_empty() {
            action.push(Inline::Text(" ".into()));
        }
        action.extend(item(said)?);
    }
    if let Some(place) = &sheet.profile.out_of_hours {
        let address = place.address.join(", ");
        let values = [("name", place.name.as_str()), ("address", address.as_str())];
        action.push(Inline::Text(" ".into()));
        action.extend(sheet.inline("aftercare.closed_now", &values)?);
    }
    Ok(Block::Warning {
        title: sheet.text("aftercare.signs", &[])?,
        signs: sheet.content.section("signs").map(item).collect::<Built<_>>()?,
        action,
        phones: sheet.phones()?,
    })
}

/// The surgeon's own words on what happened.
fn events(sheet: &Sheet) -> Built<Vec<Block>> {
    let events = sheet.record.treatment.iter().flat_map(|done| &done.events);
    events
        .map(|event| {
            Ok(Block::Notice {
                weight: Weight::Heavy,
                title: sheet.text("aftercare.events", &[])?,
                text: literal(&event.words),
            })
        })
        .collect()
}

/// The pressure check of the same day, as an appointment with its place.
fn recheck(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.plan.recheck == Some(Recheck::Nowhere) {
        return Ok(vec![Block::Notice {
            weight: Weight::Heavy,
            title: sheet.text("aftercare.recheck", &[])?,
            text: sheet.inline("aftercare.recheck_nowhere", &[])?,
        }]);
    }
    let Some((at, place)) = visits::recheck_place(sheet)? else { return Ok(Vec::new()) };
    Ok(vec![Block::Appointment {
        title: sheet.text("aftercare.recheck", &[])?,
        when: sheet.when(at)?,
        place,
        text: sheet.inline("aftercare.recheck_text", &[])?,
    }])
}

/// Instead of the calendar: that one page holds the doses of both eyes. Two calendars would be followed by neither.
fn calendar_elsewhere(sheet: &Sheet, id: &str) -> Built<Block> {
    Ok(Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("both_eyes.title", &[])?,
        text: sheet.inline("both_eyes.elsewhere", &[("id", id)])?,
    })
}

/// Instead of the drop plan: that the surgeon must say which drops, with room to write it down.
fn withheld(sheet: &Sheet) -> Built<Vec<Block>> {
    let notice = Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("aftercare.withheld_title", &[])?,
        text: sheet.inline("aftercare.withheld", &[])?,
    };
    // With the lines on one page: the lead of the first page has said it already.
    Ok(vec![Block::PageBreak, notice, Block::Lines { label: sheet.text("aftercare.withheld_lines", &[])?, count: 2 }])
}

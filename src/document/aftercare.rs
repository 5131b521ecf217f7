//! The aftercare packet: a sheet for the fridge with today, the calendar and the warning signs, then everything to look up.

use super::sheet::{Built, Sheet, item, literal};
use super::{Block, Document, Inline, Inlines, Page, Print, Weight, calendar, card, course, drops, visits};
use crate::facts::recheck::Recheck;
use crate::findings::{BeforeLeaving, Finding};

/// Builds the aftercare packet: a sheet for the fridge, then what to look up. `with_drops` is false while a clinician must
/// first answer a finding about a drop: the page then says so and holds no drop plan; everything else always prints.
///
/// # Errors
/// A text or number that is missing.
pub fn build(sheet: &Sheet, with_drops: bool) -> Built<Document> {
    // Who must not leave yet reads that before all else.
    let mut blocks = [stay(sheet)?, unsaid(sheet)?].concat();
    blocks.extend(match (with_drops, sheet.both_eyes) {
        (true, None) => fridge(sheet)?,
        (true, Some(id)) => signs_first(sheet, with_drops, vec![calendar_elsewhere(sheet, id)?])?,
        (false, _) => signs_first(sheet, with_drops, withheld(sheet)?)?,
    });
    if with_drops {
        blocks.extend(course::plan(sheet)?);
    }
    blocks.push(sheet.heading("aftercare.late")?);
    for section in ["remain", "late"] {
        blocks.extend(sheet.body(&sheet.content.section(section).collect::<Vec<_>>())?);
    }
    blocks.push(card::card(sheet)?);
    let references = sheet.content.references()?;
    if !references.is_empty() {
        blocks.push(sheet.heading("page.references")?);
        blocks.push(Block::References { items: references });
    }
    sheet.document(Page::Aftercare, sheet.text("aftercare.title", &[])?, blocks)
}

/// The sheet for the fridge: in front today, the calendar and how to call; on its back the warning signs before all else. A long
/// calendar needs the front for itself. After an event, and in large print, the signs come first; what follows from an event
/// (a word, a visit) and a check of today come before the calendar.
fn fridge(sheet: &Sheet) -> Built<Vec<Block>> {
    let (lead, recheck, events) = (lead(sheet, true)?, recheck(sheet)?, events(sheet)?);
    let (call, back) = (vec![call(sheet)?], vec![warning(sheet)?]);
    let turn = vec![Block::PageBreak];
    let needed = [calendar::in_use(sheet)?, drops::when_needed(sheet, |_| true)?].concat();
    let roomy = recheck.is_empty() && events.is_empty();
    let calendar::Hung { calendar, long, later } = calendar::hung(sheet, roomy)?;
    let (words, usual) = (sheet.surgeon_words("aftercare.words")?, usual(sheet)?);
    let visits = visits::list(sheet, &later)?;
    let parts = match (sheet.record.patient.print, long) {
        _ if !events.is_empty() => vec![events, back, lead, recheck, words, visits, turn, calendar, needed, usual],
        (Print::Large, _) if recheck.is_empty() => vec![back, calendar, needed, lead, words, usual, visits],
        (Print::Large, _) => vec![back, lead, recheck, words, usual, visits, calendar, needed],
        (Print::Standard, false) => vec![lead, recheck, call, calendar, needed, turn, back, words, usual, visits],
        (Print::Standard, true) => vec![recheck, call, calendar, turn, back, lead, needed, words, usual, visits],
    };
    Ok(parts.concat())
}

/// Without a calendar of its own the front has room for the signs themselves.
fn signs_first(sheet: &Sheet, with_drops: bool, instead: Vec<Block>) -> Built<Vec<Block>> {
    let (lead, warning) = ([lead(sheet, with_drops)?, recheck(sheet)?].concat(), vec![warning(sheet)?]);
    let (events, words) = (events(sheet)?, sheet.surgeon_words("aftercare.words")?);
    let visits = visits::list(sheet, &sheet.plan.visits.iter().collect::<Vec<_>>())?;
    let happened = !events.is_empty();
    let first = match happened || sheet.record.patient.print == Print::Large {
        true => [events, warning, lead],
        false => [events, lead, warning],
    };
    let next = if happened { [words, visits, instead] } else { [instead, words, visits] };
    Ok([first.concat(), next.concat(), usual(sheet)?].concat())
}

/// What is normal and until when, and what to do with care or not at all.
fn usual(sheet: &Sheet) -> Built<Vec<Block>> {
    Ok([sheet.section("aftercare", "normal")?, sheet.section("aftercare", "living")?].concat())
}

/// What to do.
fn lead(sheet: &Sheet, with_drops: bool) -> Built<Vec<Block>> {
    let mut lead = sheet.replaces()?;
    match with_drops {
        true => lead.extend(sheet.body(&sheet.content.section("first").collect::<Vec<_>>())?),
        false => lead.push(Block::Lead { text: sheet.inline("aftercare.withheld_lead", &[])? }),
    }
    Ok(lead)
}

/// The signs in brief with the numbers, where they themselves stand on the back.
fn call(sheet: &Sheet) -> Built<Block> {
    Ok(Block::Call {
        text: sheet.inline("aftercare.call", &[])?,
        numbers: sheet.phones()?.into_iter().map(|phone| phone.number).collect(),
    })
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

/// That a text is missing, and whom to ask.
fn unsaid(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.content.unsaid.is_empty() {
        return Ok(Vec::new());
    }
    Ok(vec![Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("aftercare.unsaid_title", &[])?,
        text: sheet.inline("aftercare.unsaid", &[])?,
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
        let address = place.address(&sheet.content.locale.tag);
        let values = [("name", place.name(&sheet.content.locale.tag)), ("address", address.as_str())];
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

/// That the treatment was stopped, and the surgeon's own words on what happened.
fn events(sheet: &Sheet) -> Built<Vec<Block>> {
    let stopped = match sheet.facts.choice("stopped") {
        "before_pulses" => Some("aftercare.stopped_none"),
        "after_pulses" => Some("aftercare.stopped_part"),
        _ => None,
    };
    let notice = |title: &str, text: Inlines| -> Built<Block> {
        Ok(Block::Notice { weight: Weight::Heavy, title: sheet.text(title, &[])?, text })
    };
    let stopped = stopped.map(|text| sheet.inline(text, &[]).and_then(|text| notice("aftercare.stopped_title", text)));
    let words: Vec<&str> =
        sheet.record.treatment.iter().flat_map(|done| &done.events).map(|event| event.words.as_str()).collect();
    let told = (!words.is_empty())
        .then(|| notice("aftercare.events", literal(&sheet.content.locale.set_apart(&words.join(" ")))));
    stopped.into_iter().chain(told).collect()
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

/// Instead of the drop plan: that the surgeon must say which drops, and whom to ask. No blank lines: a plan written by hand
/// would pass no rule.
fn withheld(sheet: &Sheet) -> Built<Vec<Block>> {
    let notice = Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("aftercare.withheld_title", &[])?,
        text: sheet.inline("aftercare.withheld", &[])?,
    };
    let whom = sheet.paragraph("aftercare.withheld_ask", &[])?;
    Ok(vec![notice, whom, Block::Pairs { items: sheet.phone_pairs()? }])
}

//! The desk sheet: what to print and how many, what to book, what to hand over, who signs where.

use super::sheet::{Built, Sheet, literal};
use super::visits::{recheck_place, visit_title, visit_when};
use super::{Block, Check, Document, Inline, Inlines, Page, Weight, consent, drops};
use crate::facts::Moment;
use crate::plan::DrugUse;
use crate::plan::supply::{CONVENTION_DROPS_PER_ML, POOREST_DROPS_PER_ML};
use crate::record::known::Answer;
use crate::record::language;

/// Builds the desk sheet.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let mut blocks = Vec::new();
    blocks.extend(fetch(sheet)?);
    blocks.extend(drafts(sheet)?);
    blocks.push(needs(sheet)?);
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.push(sheet.heading("desk.print")?);
    blocks.push(prints(sheet)?);
    blocks.push(sheet.heading("desk.book")?);
    blocks.push(Block::Checklist { items: bookings(sheet)? });
    blocks.push(sheet.heading("desk.hand")?);
    blocks.push(Block::Checklist { items: hand_over(sheet)? });
    if sheet.moment == Moment::Before && sheet.patient_page {
        blocks.push(sheet.heading("desk.signs")?);
        blocks.push(Block::List { ordered: true, items: signing(sheet)? });
    }
    blocks.extend(counted(sheet)?);
    if sheet.moment == Moment::Before && sheet.patient_page {
        blocks.push(Block::PageBreak);
        blocks.extend(pauses(sheet)?);
    }
    let title = match sheet.moment {
        Moment::Before => "desk.title_before",
        Moment::After => "desk.title_after",
    };
    sheet.document(Page::Desk, sheet.text(title, &[])?, blocks)
}

/// Fetch the surgeon: pages are withheld, or a finding keeps the patient from leaving. Gone once it is answered.
fn fetch(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut text = Vec::new();
    match (sheet.patient_page, sheet.withheld) {
        (true, None) => {}
        (true, Some(_)) => text.extend(sheet.inline("desk.fetch_drops", &[])?),
        (false, _) => text.extend(sheet.inline("desk.fetch_before", &[])?),
    }
    let why = sheet.findings.before_leaving().map(|finding| sheet.title(finding)).collect::<Built<Vec<_>>>()?;
    if !why.is_empty() {
        let why = sheet.content.locale.list(why.iter().map(String::as_str));
        text.extend((!text.is_empty()).then(|| Inline::Text(" ".into())));
        text.extend(sheet.inline("desk.fetch_leaving", &[("why", &why)])?);
    }
    let title = sheet.text("desk.fetch", &[])?;
    Ok((!text.is_empty()).then_some(Block::Notice { weight: Weight::Heavy, title, text }).into_iter().collect())
}

/// No page that is a draft leaves the desk.
fn drafts(sheet: &Sheet) -> Built<Option<Block>> {
    let draft = || {
        let language = sheet.text(&format!("language.{}", sheet.patient.tag), &[])?;
        Ok(Block::Notice {
            weight: Weight::Heavy,
            title: sheet.text("desk.draft", &[])?,
            text: sheet.inline("desk.draft_text", &[("language", &language)])?,
        })
    };
    (sheet.patient_page && sheet.patient_draft).then(draft).transpose()
}

/// What this patient needs, seen before anything is printed.
fn needs(sheet: &Sheet) -> Built<Block> {
    let patient = &sheet.record.patient;
    let mut items = vec![
        sheet.pair("consent.when", literal(&sheet.when(sheet.record.plan.start.0)?))?,
        sheet.pair("desk.surgeon_name", sheet.inline("consent.who_value", &[])?)?,
        sheet.pair("desk.language", sheet.inline(&format!("language.{}", sheet.patient.tag), &[])?)?,
        sheet.pair(
            "desk.size",
            sheet.inline(
                match patient.print {
                    super::Print::Standard => "desk.size_standard",
                    super::Print::Large => "desk.size_large",
                },
                &[],
            )?,
        )?,
    ];
    match sheet.facts.choice("stopped") {
        "before_pulses" => items.push(sheet.pair("desk.stopped", sheet.inline("desk.stopped_none", &[])?)?),
        "after_pulses" => items.push(sheet.pair("desk.stopped", sheet.inline("desk.stopped_part", &[])?)?),
        _ => {}
    }
    if let Some(interpreter) = &patient.interpreter {
        items.push(sheet.pair("desk.interpreter", literal(&interpreter.language))?);
    }
    if let Some(representative) = &patient.representative {
        let text = format!("{}, {}", representative.name, representative.authority);
        items.push(sheet.pair("desk.representative", literal(&text))?);
    }
    Ok(Block::Pairs { items })
}

/// How many copies of a page set the desk prints. Of the consent one goes with the patient and one into the record; in the
/// clinic's language for the record alone.
#[must_use]
pub fn copies(page: Page, second: bool) -> u32 {
    if page == Page::Consent && !second { 2 } else { 1 }
}

/// What to print, how many, for whom.
fn prints(sheet: &Sheet) -> Built<Block> {
    let (page, key) = match sheet.moment {
        Moment::Before => (Page::Consent, "desk.consent"),
        Moment::After => (Page::Aftercare, "desk.aftercare"),
    };
    let of_patient = |second| if sheet.patient_page { copies(page, second) } else { 0 };
    let mut rows = vec![(key, of_patient(false), format!("{key}_for"))];
    if !language::same(&sheet.patient.tag, &sheet.clinic.tag) {
        rows.push((key, of_patient(true), "desk.second_for".into()));
    }
    rows.extend(
        sheet.both_eyes.map(|_| ("desk.both_eyes", copies(Page::BothEyes, false), "desk.both_eyes_for".into())),
    );
    let of_staff = [(Page::Surgeon, "desk.surgeon"), (Page::Desk, "desk.desk")];
    rows.extend(of_staff.map(|(page, key)| (key, copies(page, false), format!("{key}_for"))));
    let rows = rows.into_iter().map(|(key, copies, whom)| {
        let copies = match copies {
            0 => sheet.text("desk.not_yet", &[])?,
            _ => sheet.content.locale.count("copy", f64::from(copies))?,
        };
        Ok(vec![literal(&sheet.text(key, &[])?), literal(&copies), literal(&sheet.text(&whom, &[])?)])
    });
    sheet.table(
        sheet.text("desk.print_caption", &[])?,
        &["desk.page", "desk.copies", "desk.for"],
        &[3, 2, 5],
        rows.collect::<Built<_>>()?,
    )
}

/// The recheck and the visits, each with the blanks the desk fills in.
fn bookings(sheet: &Sheet) -> Built<Vec<Check>> {
    let mut items = Vec::new();
    let patient = &sheet.record.patient;
    if let Some(interpreter) = &patient.interpreter {
        let text = sheet.inline("desk.book_interpreter", &[("language", &interpreter.language)])?;
        items.push(check(sheet, text, if interpreter.booked == Answer::Yes { &[] } else { &["desk.booked_by"] })?);
    }
    if let (Some(representative), Moment::Before) = (&patient.representative, sheet.moment) {
        let text = sheet.inline("desk.book_representative", &[("name", &representative.name)])?;
        items.push(check(sheet, text, &["desk.booked_by"])?);
    }
    if let Some((at, place)) = recheck_place(sheet)? {
        let key = match sheet.facts.choice("recheck_need") {
            "if_energy" => "desk.recheck_if",
            _ => "desk.recheck",
        };
        let values = [("when", sheet.when(at)?), ("place", place)];
        let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
        items.push(check(sheet, sheet.inline(key, &values)?, &["desk.booked_by"])?);
    }
    for visit in &sheet.plan.visits {
        let values = [("title", visit_title(sheet, visit)?), ("when", visit_when(sheet, visit)?)];
        let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
        let text = sheet.inline("desk.visit", &values)?;
        let blanks: &[&str] = match (visit.booked, visit.at) {
            (true, _) => &[],
            (false, Some(_)) => &["desk.booked_by"],
            (false, None) => &["sign.time", "desk.booked_by"],
        };
        items.push(check(sheet, text, blanks)?);
    }
    Ok(items)
}

fn hand_over(sheet: &Sheet) -> Built<Vec<Check>> {
    goes_along(sheet)?.into_iter().map(|text| check(sheet, text, &[])).collect()
}

/// What leaves with the patient.
///
/// # Errors
/// A text that is missing.
pub fn goes_along(sheet: &Sheet) -> Built<Vec<Inlines>> {
    let mut texts = vec![sheet.inline("desk.id", &[])?];
    if sheet.record.case.revision > 1 {
        let before = (sheet.record.case.revision - 1).to_string();
        texts.push(sheet.inline("desk.take_back", &[("before", &before)])?);
    }
    match sheet.moment {
        Moment::Before if !sheet.patient_page => texts.push(sheet.inline("desk.hand_later", &[])?),
        Moment::Before => {
            texts.push(sheet.inline("desk.hand_consent", &[])?);
            texts.push(sheet.inline("desk.hand_driver", &[])?);
            if sheet.facts.choice("contact_lenses") != "no" {
                texts.push(sheet.inline("desk.hand_lenses", &[])?);
            }
            texts.extend(bottles(sheet)?);
        }
        Moment::After if sheet.withheld.is_some() => {
            texts.push(sheet.inline("desk.hand_aftercare", &[])?);
            texts.push(sheet.inline("desk.hand_no_drops", &[])?);
        }
        Moment::After => {
            texts.push(sheet.inline("desk.hand_aftercare", &[])?);
            if sheet.both_eyes.is_some() {
                texts.push(sheet.inline("desk.hand_both_eyes", &[])?);
            }
            texts.extend(bottles(sheet)?);
            texts.push(sheet.inline("desk.hand_calendar", &[])?);
        }
    }
    Ok(texts)
}

/// The drugs whose bottles are handed over at this moment: those that begin before the treatment are handed over before it.
fn handed<'a>(sheet: &'a Sheet) -> impl Iterator<Item = &'a DrugUse> {
    let before = sheet.moment == Moment::Before;
    sheet.plan.uses.iter().filter(move |planned| planned.began_before(&sheet.plan.anchors) == before)
}

/// The bottles to hand over.
fn bottles(sheet: &Sheet) -> Built<Vec<Inlines>> {
    handed(sheet).filter_map(|planned| bottle(sheet, planned).transpose()).collect()
}

/// The bottles or units of one drug to hand over.
fn bottle(sheet: &Sheet, planned: &DrugUse) -> Built<Option<Inlines>> {
    let single_dose = drops::drug(sheet, &planned.drug)?.single_dose;
    let key = match (planned.as_needed, single_dose, drops::bottle_ml(sheet, planned)) {
        (None, _, _) if planned.at_home == 0 => return Ok(None),
        (Some(_), _, _) => "desk.hand_as_needed",
        (None, true, _) => "desk.hand_units",
        (None, false, None) => "desk.hand_size_unknown",
        (None, false, Some(_)) => "desk.hand_bottle",
    };
    of_bottle(sheet, planned, key).map(Some)
}

/// What the counts of bottles rest on; nothing where none was counted.
fn counted(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.withheld.is_some() {
        return Ok(Vec::new());
    }
    let mut items = Vec::new();
    for planned in handed(sheet).filter(|planned| planned.as_needed.is_none() && planned.at_home > 0) {
        if !drops::drug(sheet, &planned.drug)?.single_dose && drops::bottle_ml(sheet, planned).is_some() {
            items.push(of_bottle(sheet, planned, "desk.count_bottle")?);
        }
    }
    match items.is_empty() {
        true => Ok(Vec::new()),
        false => Ok(vec![sheet.heading("desk.counted")?, Block::List { ordered: false, items }]),
    }
}

/// A text about the bottles of one drug, with their size and counts where the regimen gives a size.
fn of_bottle(sheet: &Sheet, planned: &DrugUse, key: &str) -> Built<Inlines> {
    let (drug, locale) = (drops::drug(sheet, &planned.drug)?, &sheet.content.locale);
    let supply = drops::supply(sheet, planned)?;
    let (drops, spare) = (locale.count("drop", supply.drops as f64)?, locale.count("drop", supply.with_spare as f64)?);
    let mut values = vec![
        ("drug", drug.shown_name()),
        ("strength", drug.strength.clone()),
        ("drops", drops),
        ("spare", spare),
        ("ml", locale.number(supply.ml, 1)),
        ("percent", locale.number(f64::from(drops::spare_percent(sheet)), 0)),
    ];
    if let Some(ml) = drops::bottle_ml(sheet, planned) {
        let bottles = supply.bottles_to_hand_out(ml, POOREST_DROPS_PER_ML);
        let usual = supply.bottles_to_hand_out(ml, CONVENTION_DROPS_PER_ML);
        let whole = if ml.fract() == 0.0 { 0 } else { 1 };
        values.push(("size", locale.number(ml, whole)));
        values.push(("bottles", locale.count("bottle", bottles as f64)?));
        values.push(("usual", locale.count("bottle", usual as f64)?));
        values.push(("least", locale.number((ml * POOREST_DROPS_PER_ML).floor(), 0)));
        values.push(("often", locale.number((ml * CONVENTION_DROPS_PER_ML).floor(), 0)));
    }
    let values: Vec<(&str, &str)> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
    sheet.inline(key, &values)
}

/// Who signs, in order.
fn signing(sheet: &Sheet) -> Built<Vec<Inlines>> {
    let patient = &sheet.record.patient;
    let mut keys = vec![match patient.representative {
        None => "desk.sign_patient",
        Some(_) => "desk.sign_representative",
    }];
    if consent::assents(sheet) {
        keys.push("desk.sign_assent");
    }
    keys.push("desk.sign_clinician");
    if patient.interpreter.is_some() {
        keys.push("desk.sign_interpreter");
    }
    keys.push("desk.sign_witness");
    keys.push("desk.sign_copy");
    keys.iter().map(|key| sheet.inline(key, &[])).collect()
}

/// Before the patient enters, the mark, and the pause before the start: filled in by hand. What does not apply to a
/// laser in the clinic is said, not left out.
fn pauses(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("desk.pauses")?];
    let blanks = &["sign.time", "desk.initials"];
    for (heading, keys) in [
        ("desk.sign_in", &["desk.id", "desk.side", "desk.consent_signed", "desk.allergy", "desk.mark"][..]),
        ("desk.time_out", &["desk.names", "desk.agree", "desk.images", "desk.concerns", "desk.not_applicable"]),
        ("desk.sign_out", &["desk.recorded", "desk.equipment", "desk.recovery"]),
    ] {
        blocks.push(Block::Heading { level: 3, text: sheet.text(heading, &[])? });
        let items = keys.iter().map(|key| {
            let text = match (*key, &sheet.record.health) {
                ("desk.allergy", health) => {
                    let known = match (health.allergies.is_empty(), health.allergies_asked) {
                        (false, _) => sheet.content.locale.list(health.allergies.iter().map(String::as_str)),
                        (true, Answer::Yes) => sheet.text("consent.allergies_none", &[])?,
                        (true, _) => sheet.text("desk.allergies_unknown", &[])?,
                    };
                    sheet.inline("desk.allergy", &[("known", &known)])?
                }
                _ => sheet.inline(key, &[])?,
            };
            check(sheet, text, if *key == "desk.not_applicable" { &[] } else { blanks })
        });
        blocks.push(Block::Checklist { items: items.collect::<Built<_>>()? });
    }
    Ok(blocks)
}

fn check(sheet: &Sheet, text: Inlines, blanks: &[&str]) -> Built<Check> {
    let blanks = blanks.iter().map(|key| sheet.text(key, &[]));
    Ok(Check { text, blanks: blanks.collect::<Built<_>>()? })
}

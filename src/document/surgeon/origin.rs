//! Where it all comes from: answers on record, statements and who chose them, evidence, confirmation.

use std::collections::{BTreeMap, BTreeSet};

use super::words;
use crate::content::Library;
use crate::content::catalog::Statement;
use crate::content::evidence::Evidence;
use crate::content::jurisdiction::Jurisdiction;
use crate::content::tailor::Chosen;
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Block, Inline, Inlines, Pair};
use crate::findings::idle_answers;
use crate::record::course::{Change, OwnWords, Tailoring};

/// Every answer of the record: finding, who, when, why.
pub(super) fn answers(sheet: &Sheet) -> Built<Vec<Block>> {
    let answers = &sheet.record.answers;
    if answers.is_empty() {
        return Ok(Vec::new());
    }
    let idle = idle_answers(sheet.findings, answers);
    let rows = answers.iter().map(|answer| {
        let mut reason = literal(&answer.reason);
        if idle.contains(&answer.finding.as_str()) {
            reason.push(Inline::Text(" ".into()));
            reason.extend(sheet.inline("surgeon.idle", &[])?);
        }
        let date = sheet.content.locale.date(answer.on.0);
        Ok(vec![named(sheet, &answer.finding)?, literal(&answer.by), literal(&date), reason])
    });
    Ok(vec![sheet.table(
        sheet.text("surgeon.answers", &[])?,
        &["surgeon.finding", "surgeon.by", "surgeon.on", "surgeon.reason"],
        &[3, 2, 2, 4],
        rows.collect::<Built<_>>()?,
    )?])
}

/// A finding by its title where it is raised, with its id.
fn named(sheet: &Sheet, id: &str) -> Built<Inlines> {
    let finding = sheet.findings.0.iter().find(|finding| finding.id == id);
    let title = finding.map(|finding| sheet.title(finding)).transpose()?;
    let title = title.map(|title| Inline::Text(format!("{title} ")));
    Ok(title.into_iter().chain([Inline::Id(id.to_owned())]).collect())
}

/// Which statements the patient reads: chosen by which facts, added, moved or left out by whom and why, the surgeon's own
/// words among them; those that everybody reads are only counted.
pub(super) fn statements(sheet: &Sheet, chosen: &Chosen) -> Built<Vec<Block>> {
    let tuned = chosen.said.iter().filter(|choice| choice.statement.row.when.is_some() || choice.by_hand.is_some());
    let rows = tuned.map(|choice| {
        let by = match choice.by_hand {
            Some(entry) => by_hand(sheet, entry)?,
            None => literal(&seen(sheet, choice.statement)?),
        };
        Ok(vec![words::ids([choice.statement.row.id.as_str()]), by])
    });
    let mut rows = rows.collect::<Built<Vec<_>>>()?;
    let count = (chosen.said.len() - rows.len()).to_string();
    for own in &sheet.record.surgeon_words {
        rows.push(vec![literal(&sheet.text("consent.words", &[])?), added(sheet, own)?]);
    }
    for (statement, entry) in &chosen.left_out {
        rows.push(vec![words::ids([statement.row.id.as_str()]), by_hand(sheet, entry)?]);
    }
    let mut blocks =
        vec![sheet.heading("surgeon.statements")?, sheet.paragraph("surgeon.statements_all", &[("count", &count)])?];
    if !rows.is_empty() {
        blocks.push(sheet.table(
            sheet.text("surgeon.statements_tuned", &[])?,
            &["surgeon.statement", "surgeon.chosen_by"],
            &[2, 5],
            rows,
        )?);
    }
    Ok(blocks)
}

/// The facts that made a condition hold; all it looked at where none alone did.
fn seen(sheet: &Sheet, statement: &Statement) -> Built<String> {
    let met = |(name, words): &(&str, &[String])| words.iter().any(|word| word == sheet.facts.choice(name));
    let met: BTreeSet<&str> = statement.when.questions().into_iter().filter(met).map(|(name, _)| name).collect();
    let names = if met.is_empty() { statement.when.names() } else { met };
    let seen = names.into_iter().map(|name| words::said(sheet, name)).collect::<Built<Vec<_>>>()?;
    Ok(seen.join(", "))
}

fn by_hand(sheet: &Sheet, entry: &Tailoring) -> Built<Inlines> {
    let key = match entry.change {
        Change::Add => "surgeon.added",
        Change::LeaveOut => "surgeon.left_out",
        Change::MoveUp => "surgeon.moved",
    };
    let date = sheet.content.locale.date(entry.on.0);
    sheet.inline(key, &[("by", &entry.by), ("date", &date), ("reason", &entry.reason)])
}

fn added(sheet: &Sheet, own: &OwnWords) -> Built<Inlines> {
    let date = sheet.content.locale.date(own.on.0);
    sheet.inline("surgeon.added", &[("by", &own.by), ("date", &date), ("reason", &own.reason)])
}

/// Whose rules the consent was compared with, and what it lacks.
pub(super) fn elements(sheet: &Sheet, jurisdiction: &Jurisdiction) -> Built<Block> {
    let values = [("name", jurisdiction.name.as_str()), ("notice", jurisdiction.notice.as_str())];
    sheet.paragraph("surgeon.elements", &values)
}

/// What the numbers of the patient's page rest on, by grade; what is indirect, from memory or not published is said.
pub(super) fn evidence(sheet: &Sheet, library: &Library, chosen: &Chosen) -> Built<Vec<Block>> {
    let ids: BTreeSet<&String> = chosen.said.iter().flat_map(|choice| &choice.statement.row.evidence).collect();
    let entries: Vec<&Evidence> = ids.into_iter().filter_map(|id| library.evidence.get(id)).collect();
    let mut by_grade: BTreeMap<(bool, &str), Vec<&str>> = BTreeMap::new();
    for entry in &entries {
        by_grade.entry((entry.indirect, entry.grade.as_str())).or_default().push(&entry.id);
    }
    let mut items = Vec::new();
    for ((indirect, grade), ids) in by_grade {
        let grade = sheet.text(&format!("grade.{grade}"), &[])?;
        let label = if indirect { format!("{grade} {}", sheet.text("page.indirect", &[])?) } else { grade };
        items.push(Pair { label, value: words::ids(ids) });
    }
    let memory = entries.iter().filter(|entry| !entry.from_memory().is_empty()).map(|entry| entry.id.as_str());
    let memory = words::ids(memory);
    if !memory.is_empty() {
        items.push(sheet.pair("surgeon.memory", memory)?);
    }
    if items.is_empty() {
        return Ok(Vec::new());
    }
    Ok(vec![sheet.heading("surgeon.unproven")?, Block::Pairs { items }, sheet.paragraph("surgeon.unpublished", &[])?])
}

pub(super) fn confirmation(sheet: &Sheet) -> Built<Block> {
    let pairs: Vec<Pair> = match &sheet.profile.confirmation {
        None => vec![sheet.pair("surgeon.confirmed", sheet.inline("surgeon.nobody", &[])?)?],
        Some(confirmation) => {
            let date = sheet.content.locale.date(confirmation.on.0);
            let values = [("by", confirmation.clinician.as_str()), ("date", date.as_str())];
            vec![sheet.pair("surgeon.confirmed", sheet.inline("surgeon.confirmed_by", &values)?)?]
        }
    };
    Ok(Block::Pairs { items: pairs })
}

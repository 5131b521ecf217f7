//! Whether this eye may be treated: what is withheld, which stops were released, what is open, and every finding in full.

use super::words;
use crate::content::markdown::plain;
use crate::document::sheet::{Built, Sheet, Withheld, literal};
use crate::document::{Block, Inline, Inlines, Weight};
use crate::facts::Moment;
use crate::findings::{Changed, Finding, Level, Unsettled};

/// The first thing seen: whether the patient's pages are withheld, and by how many open findings.
pub(super) fn verdict(sheet: &Sheet) -> Built<Block> {
    let open = match sheet.withheld {
        Some(Withheld::Findings) => sheet.findings.withholding(sheet.moment).count(),
        Some(Withheld::Incomplete) => sheet.lacking.len(),
        _ => sheet.findings.0.iter().filter(|finding| finding.open()).count(),
    };
    let count = sheet.content.locale.count("finding", open as f64)?;
    let list = |of: &[String]| sheet.content.locale.list(of.iter().map(String::as_str));
    let (lacking, cases) = (list(sheet.lacking), list(sheet.overlaps));
    let (title, text) = match (sheet.withheld, open) {
        (Some(Withheld::Unconfirmed), _) => ("surgeon.unconfirmed", "surgeon.unconfirmed_text"),
        (Some(Withheld::Stale), _) => ("surgeon.stale", "surgeon.stale_text"),
        (Some(Withheld::Incomplete), _) => ("surgeon.incomplete", "surgeon.incomplete_text"),
        (Some(Withheld::Undated), _) => ("surgeon.undated", "surgeon.undated_text"),
        (Some(Withheld::Overlap), _) => ("surgeon.overlap", "surgeon.overlap_text"),
        (Some(Withheld::Findings), _) if sheet.moment == Moment::After => {
            ("surgeon.drops_withheld", "surgeon.withheld_text")
        }
        (Some(Withheld::Findings), _) => ("surgeon.withheld", "surgeon.withheld_text"),
        (None, 0) => ("surgeon.clear", "surgeon.clear_text"),
        (None, _) => ("surgeon.open", "surgeon.withheld_text"),
    };
    Ok(Block::Notice {
        weight: if title == "surgeon.clear" { Weight::Light } else { Weight::Heavy },
        title: sheet.text(title, &[("count", &count)])?,
        text: sheet.inline(text, &[("count", &count), ("lacking", &lacking), ("cases", &cases)])?,
    })
}

/// Each stop that was answered, seen before anything else: who released it, and when.
pub(super) fn released(sheet: &Sheet) -> Built<Vec<Block>> {
    let released = sheet.findings.0.iter().filter(|finding| finding.released());
    let lines = released.filter_map(|finding| Some((finding, finding.settled_by()?))).map(|(finding, answer)| {
        let (title, date) = (sheet.title(finding)?, sheet.content.locale.date(answer.on.0));
        sheet.paragraph("surgeon.released", &[("title", &title), ("by", &answer.by), ("date", &date)])
    });
    lines.collect()
}

/// What is open, heaviest first, each with what it says and what to do.
pub(super) fn open(sheet: &Sheet) -> Built<Option<Block>> {
    let end = sheet.text("page.label_end", &[])?;
    let open = sheet.findings.0.iter().filter(|finding| finding.open());
    let items = open.map(|finding| {
        let level = sheet.text(&format!("surgeon.word_{}", finding.level.word()), &[])?;
        let mut item = vec![Inline::Strong(literal(&format!("{level}{end} {}.", sheet.title(finding)?)))];
        for text in [&finding.says, &finding.next_step].into_iter().filter(|text| !text.is_empty()) {
            item.push(Inline::Text(" ".into()));
            item.extend(sheet.content.template(&finding.id, text)?);
        }
        Ok(item)
    });
    list(items.collect::<Built<_>>()?)
}

/// What to be careful of, each thing said once in a sentence; the rest stands behind.
pub(super) fn cautions(sheet: &Sheet) -> Built<Option<Block>> {
    let mut said: Vec<(String, Vec<String>)> = Vec::new();
    for finding in sheet.findings.0.iter().filter(|finding| finding.level == Level::Caution) {
        let (title, text) = (sheet.title(finding)?, plain(&sheet.content.template(&finding.id, &finding.says)?));
        let first = text.split_inclusive(". ").next().unwrap_or_default().trim().to_owned();
        match said.iter_mut().find(|(same, _)| *same == first) {
            Some((_, titles)) => titles.push(title),
            None => said.push((first, vec![title])),
        }
    }
    let end = sheet.text("page.label_end", &[])?;
    let items = said.into_iter().map(|(text, titles)| {
        let titles = sheet.content.locale.list(titles.iter().map(String::as_str));
        vec![Inline::Strong(literal(&format!("{titles}{end}"))), Inline::Text(format!(" {text}"))]
    });
    list(items.collect())
}

fn list(items: Vec<Inlines>) -> Built<Option<Block>> {
    Ok((!items.is_empty()).then_some(Block::List { ordered: false, items }))
}

pub(super) fn findings(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.findings.0.is_empty() {
        return Ok(Vec::new());
    }
    let mut blocks = vec![sheet.heading("surgeon.findings")?];
    for level in [Level::Stop, Level::Ask, Level::Caution, Level::Note] {
        let of_level = sheet.findings.0.iter().filter(|finding| finding.level == level);
        let rows = of_level.map(|finding| finding_row(sheet, finding)).collect::<Built<Vec<_>>>()?;
        if rows.is_empty() {
            continue;
        }
        let key = format!("surgeon.level_{}", level.word());
        blocks.push(sheet.table(
            sheet.text(&key, &[])?,
            &["surgeon.finding", "surgeon.why", "surgeon.basis"],
            &[3, 6, 3],
            rows,
        )?);
    }
    Ok(blocks)
}

fn finding_row(sheet: &Sheet, finding: &Finding) -> Built<Vec<Inlines>> {
    let name = &finding.id;
    let title = vec![
        Inline::Strong(sheet.content.template(name, &finding.title)?),
        Inline::Text(" ".into()),
        Inline::Id(name.clone()),
    ];
    let mut why = Vec::new();
    if !finding.unrecorded.is_empty() {
        let names = finding.unrecorded.iter().map(|name| words::label(sheet, name));
        let names = names.collect::<Built<Vec<_>>>()?;
        let names = sheet.content.locale.list(names.iter().map(String::as_str));
        why.extend(sheet.inline("surgeon.unrecorded", &[("names", &names)])?);
        why.push(Inline::Text(" ".into()));
    }
    why.extend(sheet.content.template(name, &finding.says)?);
    if !finding.alternatives.is_empty() {
        let names = sheet.content.locale.list(finding.alternatives.iter().map(String::as_str));
        why.push(Inline::Text(" ".into()));
        why.extend(sheet.inline("surgeon.alternatives", &[("names", &names)])?);
    }
    if !finding.next_step.is_empty() {
        why.push(Inline::Text(" ".into()));
        why.extend(sheet.content.template(name, &finding.next_step)?);
    }
    if finding.level.withholds() {
        why.push(Inline::Text(" ".into()));
        why.extend(match (finding.settled_by(), &finding.answer, &finding.unsettled) {
            (Some(answer), ..) => sheet.inline("surgeon.answered", &[("by", &answer.by)])?,
            (None, Some(answer), Some(unsettled)) => self::unsettled(sheet, &answer.by, unsettled)?,
            _ => sheet.inline("surgeon.not_answered", &[])?,
        });
    }
    Ok(vec![title, why, literal(&finding.basis)])
}

/// Why the answer on record does not count.
fn unsettled(sheet: &Sheet, by: &str, why: &Unsettled) -> Built<Inlines> {
    match why {
        Unsettled::Unbound => sheet.inline("surgeon.answer_unbound", &[("by", by)]),
        Unsettled::Changed(values) => {
            let changed = values.iter().map(|value| changed(sheet, value)).collect::<Built<Vec<_>>>()?;
            let changed = sheet.content.locale.list(changed.iter().map(String::as_str));
            sheet.inline("surgeon.answer_changed", &[("by", by), ("changed", &changed)])
        }
        Unsettled::Ahead(date) => {
            let date = sheet.content.locale.date(*date);
            sheet.inline("surgeon.answer_ahead", &[("by", by), ("date", &date)])
        }
        Unsettled::Older(date) => {
            let date = sheet.content.locale.date(*date);
            sheet.inline("surgeon.answer_older", &[("by", by), ("date", &date)])
        }
    }
}

/// A value as it was answered, where the answer says so, and as it is now.
fn changed(sheet: &Sheet, Changed { name, before, now }: &Changed) -> Built<String> {
    let name = words::label(sheet, name)?;
    match before {
        Some(before) => sheet.text("surgeon.was_and_is", &[("name", &name), ("before", before), ("now", now)]),
        None => sheet.text("surgeon.is_now", &[("name", &name), ("now", now)]),
    }
}

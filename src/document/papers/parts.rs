//! What several papers share: what is open, a value or that it is not recorded, the block to sign.

use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::words;
use crate::document::{Block, Inlines, Pair, Signer, Weight};
use crate::findings::Finding;

/// What a clinician has not answered yet, for the staff of the practice; nothing where nothing is open.
pub(super) fn open(sheet: &Sheet) -> Built<Option<Block>> {
    let titles = open_findings(sheet).map(|finding| sheet.title(finding)).collect::<Built<Vec<_>>>()?;
    let text = sheet.inline("paper.open_text", &[("findings", &list(sheet, &titles))])?;
    counted(sheet, titles.len(), text)
}

/// How much is open, for a letter: what it is stands on the surgeon sheet, and concerns no reader outside.
pub(super) fn open_in_letter(sheet: &Sheet) -> Built<Option<Block>> {
    counted(sheet, open_findings(sheet).count(), sheet.inline("letter.open", &[])?)
}

fn open_findings<'a>(sheet: &'a Sheet) -> impl Iterator<Item = &'a Finding> {
    sheet.findings.0.iter().filter(|finding| finding.open())
}

fn counted(sheet: &Sheet, open: usize, text: Inlines) -> Built<Option<Block>> {
    let count = sheet.content.locale.count("finding", open as f64)?;
    let title = sheet.text("paper.open", &[("count", &count)])?;
    Ok((open > 0).then_some(Block::Notice { weight: Weight::Heavy, title, text }))
}

/// Texts as a list in the language.
pub(super) fn list(sheet: &Sheet, texts: &[String]) -> String {
    sheet.content.locale.list(texts.iter().map(String::as_str))
}

/// That nobody recorded it.
pub(super) fn not_recorded(sheet: &Sheet) -> Built<Inlines> {
    sheet.inline("word.any.unknown", &[])
}

/// A text of the record, or that nobody recorded it.
pub(super) fn recorded(sheet: &Sheet, text: Option<&String>) -> Built<Inlines> {
    text.map_or_else(|| not_recorded(sheet), |text| Ok(literal(&sheet.content.locale.set_apart(text))))
}

/// A label of the paper with a fact, or that nobody recorded it.
pub(super) fn fact(sheet: &Sheet, label: &str, name: &str) -> Built<Pair> {
    sheet.pair(label, words::shown(sheet, name)?.map_or_else(|| not_recorded(sheet), Ok)?)
}

/// The room for the surgeon to sign, under a title and the sentence that is signed if there is one.
pub(super) fn signed(sheet: &Sheet, title: &str, sentence: Option<&str>) -> Built<Block> {
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let signer = Signer {
        mark: "sign/surgeon".into(),
        role: sheet.text("paper.signs", &[])?,
        blanks: blanks.iter().map(|key| sheet.text(key, &[])).collect::<Built<_>>()?,
    };
    Ok(Block::Signatures {
        answers: Vec::new(),
        title: sheet.text(title, &[])?,
        sentence: sentence.map(|key| sheet.inline(key, &[])).transpose()?.into_iter().collect(),
        signers: vec![signer],
    })
}

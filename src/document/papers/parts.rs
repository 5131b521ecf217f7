//! What several papers share: what is open, a value or that it is not recorded, the block to sign.

use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::words;
use crate::document::{Block, Inlines, Pair, Signer, Weight};

/// What a clinician has not answered yet; nothing where nothing is open.
pub(super) fn open(sheet: &Sheet) -> Built<Option<Block>> {
    let open: Vec<_> = sheet.findings.0.iter().filter(|finding| finding.open()).collect();
    if open.is_empty() {
        return Ok(None);
    }
    let titles = open.iter().map(|finding| sheet.title(finding)).collect::<Built<Vec<_>>>()?;
    let (count, list) = (sheet.content.locale.count("finding", open.len() as f64)?, list(sheet, &titles));
    Ok(Some(Block::Notice {
        weight: Weight::Heavy,
        title: sheet.text("paper.open", &[("count", &count)])?,
        text: sheet.inline("paper.open_text", &[("findings", &list)])?,
    }))
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

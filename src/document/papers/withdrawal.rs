//! The slip on which a consent is taken back: printed when somebody asks for it, signed by hand by who signed the consent.

use crate::document::consent;
use crate::document::part::Part;
use crate::document::sheet::{Built, Sheet};
use crate::document::{Block, Check, Document, Page, Signer};

/// Builds the slip from the statements of its page.
///
/// # Errors
/// A text that is missing, or a sentence to sign that is no paragraph.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let said = |section: &str| sheet.body(&sheet.content.section(section).collect::<Vec<_>>());
    let mut blocks = said("what")?;
    blocks.extend(said("care")?);
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.push(Block::Signatures {
        title: sheet.text("withdrawal.sign", &[])?,
        answers: Vec::new(),
        sentence: consent::signed(sheet, "sign")?,
        signers: vec![signer(sheet)?],
    });
    blocks.push(Block::Checklist { items: vec![received(sheet)?] });
    sheet.document(Page::Withdrawal, sheet.text("withdrawal.title", &[])?, blocks)
}

/// The patient or who decides for them.
fn signer(sheet: &Sheet) -> Built<Signer> {
    let role = match sheet.record.patient.representative {
        None => "withdrawal.patient",
        Some(_) => "withdrawal.representative",
    };
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let blanks = blanks.iter().map(|key| sheet.text(key, &[])).collect::<Built<_>>()?;
    Ok(Signer { mark: Part::Withdrawal.id(), role: sheet.text(role, &[])?, blanks })
}

/// That the practice has it, by whom and when.
fn received(sheet: &Sheet) -> Built<Check> {
    let blanks = ["sign.name", "sign.date", "sign.time"].iter().map(|key| sheet.text(key, &[]));
    Ok(Check { text: sheet.inline("withdrawal.received", &[])?, blanks: blanks.collect::<Built<_>>()? })
}

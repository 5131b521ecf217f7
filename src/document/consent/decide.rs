//! Where the patient decides, on a page that is filled in by hand: what matters, what to ask, what was understood, what else is
//! asked, and the signatures.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet};
use super::super::{Block, Check, Inlines, Lined, Signer};
use crate::content::ComposeError;
use crate::content::markdown::Piece;
use crate::record::profile::Permission;

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = sheet.section("consent", "deciding")?;
    blocks.push(room(sheet)?);
    blocks.push(teach_back(sheet)?);
    blocks.extend(permissions(sheet)?);
    blocks.extend(signing(sheet)?);
    Ok(blocks)
}

/// Room for what matters, and for questions.
fn room(sheet: &Sheet) -> Built<Block> {
    let items = vec![
        lined(sheet, Part::Matters, "consent.matters", 2)?,
        lined(sheet, Part::Questions, "consent.questions_label", 2)?,
    ];
    Ok(Block::Lines { items })
}

/// Said back in the patient's own words, beside it room for the clinician's note.
fn teach_back(sheet: &Sheet) -> Built<Block> {
    let items = vec![
        lined(sheet, Part::TeachBack, "consent.teach", 0)?,
        lined(sheet, Part::ClinicianNote, "consent.teach_note", 1)?,
    ];
    Ok(Block::Lines { items })
}

/// What is not the treatment is asked apart from it, each question with its own yes and no.
fn permissions(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.profile.permissions.is_empty() {
        return Ok(Vec::new());
    }
    let mut blocks = vec![sheet.paragraph("consent.separate", &[])?];
    for permission in &sheet.profile.permissions {
        let (part, key) = match permission {
            Permission::Images => (Part::Images, "consent.separate_images"),
            Permission::Teaching => (Part::Teaching, "consent.separate_teaching"),
            Permission::Research => (Part::Research, "consent.separate_research"),
        };
        blocks.push(Block::Choice {
            question: part.mark(sheet.inline(key, &[])?),
            options: vec![sheet.text("consent.yes", &[])?, sheet.text("consent.no", &[])?],
            blank: sheet.text("consent.initials", &[])?,
        });
    }
    Ok(blocks)
}

fn lined(sheet: &Sheet, part: Part, label: &str, count: u8) -> Built<Lined> {
    Ok(Lined { mark: part.id(), label: sheet.text(label, &[])?, count })
}

/// Yes, no or not yet, the sentence that yes means, then those who sign. Nothing is ever filled in by the program.
fn signing(sheet: &Sheet) -> Built<Vec<Block>> {
    let answers = [
        sheet.inline("consent.answer_yes", &[]),
        sheet.inline("consent.answer_no", &[]).map(|text| Part::SignDecline.mark(text)),
        sheet.inline("consent.answer_not_yet", &[]).map(|text| Part::SignNotYet.mark(text)),
    ];
    Ok(vec![
        Block::Signatures {
            title: sheet.text("consent.sign", &[])?,
            answers: answers.into_iter().collect::<Built<_>>()?,
            sentence: signed(sheet, "consent")?,
            signers: signers(sheet)?,
        },
        Block::Checklist {
            items: vec![check(sheet, Part::Copy, "consent.copy", &["sign.name", "sign.date", "sign.time"])?],
        },
    ])
}

/// The paragraphs of a section that are signed.
pub(in crate::document) fn signed(sheet: &Sheet, section: &str) -> Built<Vec<Inlines>> {
    let pieces = sheet.content.section(section).flat_map(|said| &said.pieces);
    let paragraphs = pieces.map(|piece| match piece {
        Piece::Paragraph(text) => Ok(text.clone()),
        _ => Err(ComposeError::Page("the sentences that are signed hold paragraphs only")),
    });
    paragraphs.collect()
}

/// The patient or who decides for them, then those beside them.
fn signers(sheet: &Sheet) -> Built<Vec<Signer>> {
    let patient = &sheet.record.patient;
    let mut signers = vec![match patient.representative {
        None => signer(sheet, Part::SignPatient, "sign.patient", &["consent.which_eye"])?,
        Some(_) => {
            signer(sheet, Part::SignRepresentative, "sign.representative", &["sign.authority", "consent.which_eye"])?
        }
    }];
    if assents(sheet) {
        signers.push(signer(sheet, Part::SignAssent, "sign.assent", &[])?);
    }
    signers.push(explained(sheet)?);
    if patient.interpreter.is_some() {
        signers.push(signer(sheet, Part::SignInterpreter, "sign.interpreter", &["sign.language"])?);
    }
    let witness = match patient.representative {
        None => "sign.witness",
        Some(_) if assents(sheet) => "sign.witness_both",
        Some(_) => "sign.witness_representative",
    };
    signers.push(signer(sheet, Part::SignWitness, witness, &[])?);
    Ok(signers)
}

/// Whether the patient, too young to decide alone, says yes beside the representative.
pub(in crate::document) fn assents(sheet: &Sheet) -> bool {
    sheet.record.patient.representative.is_some() && sheet.facts.choice("minor") == "yes"
}

fn signer(sheet: &Sheet, part: Part, role: &str, further: &[&str]) -> Built<Signer> {
    signer_by(sheet, part, role, "sign.name", further)
}

/// Who explained it, in which role, and when the talk began and ended.
fn explained(sheet: &Sheet) -> Built<Signer> {
    signer_by(sheet, Part::SignExplained, "sign.explained", "sign.name_role", &["sign.talk"])
}

fn signer_by(sheet: &Sheet, part: Part, role: &str, name: &str, further: &[&str]) -> Built<Signer> {
    let blanks = ["sign.signature", name, "sign.date", "sign.time"];
    let blanks = blanks.iter().chain(further).map(|key| sheet.text(key, &[]));
    Ok(Signer { mark: part.id(), role: sheet.text(role, &[])?, blanks: blanks.collect::<Built<_>>()? })
}

/// Something to tick, with its blanks.
fn check(sheet: &Sheet, part: Part, key: &str, blanks: &[&str]) -> Built<Check> {
    let blanks = blanks.iter().map(|key| sheet.text(key, &[]));
    Ok(Check { text: part.mark(sheet.inline(key, &[])?), blanks: blanks.collect::<Built<_>>()? })
}

//! Where the patient decides: time to do so, cost and rules, what matters, what to ask, what was understood, what else is
//! asked, and the signatures.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet, literal};
use super::super::{Block, Check, Inline, Inlines, Lined, Signer};
use crate::content::ComposeError;
use crate::content::markdown::Piece;
use crate::record::known::Answer;
use crate::record::profile::Permission;

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = sheet.section("consent", "deciding")?;
    let notices = &sheet.profile.notices;
    blocks.extend(sheet.notice(Part::Cost, "consent.cost", notices.cost.as_ref())?);
    blocks.extend(sheet.notice(Part::Regulation, "consent.regulation", notices.regulation.as_ref())?);
    blocks.extend(own_words(sheet)?);
    blocks.extend(room(sheet)?);
    blocks.extend(teach_back(sheet)?);
    blocks.extend(permissions(sheet)?);
    blocks.extend(signing(sheet)?);
    Ok(blocks)
}

/// "None known" is said, never left blank; what nobody asked is not called none.
fn allergies(sheet: &Sheet) -> Built<Inlines> {
    let health = &sheet.record.health;
    match (health.allergies.as_slice(), health.allergies_asked) {
        ([], Answer::Yes) => sheet.inline("consent.allergies_none", &[]),
        ([], _) => sheet.inline("consent.allergies_unknown", &[]),
        (known, _) => Ok(literal(&sheet.content.locale.list(known.iter().map(String::as_str)))),
    }
}

/// The surgeon's own words to this patient; that there are none is said too.
fn own_words(sheet: &Sheet) -> Built<Vec<Block>> {
    match sheet.record.surgeon_words.as_slice() {
        [] => Ok(vec![Block::Paragraph { text: Part::OwnWords.mark(sheet.inline("consent.no_words", &[])?) }]),
        words => {
            let mut blocks = vec![sheet.heading("consent.words")?, Part::OwnWords.block()];
            blocks.extend(words.iter().map(|own| sheet.own_words(&own.words)));
            Ok(blocks)
        }
    }
}

/// Allergies to be checked; from here on the pages are filled in by hand: room for what matters, and for questions.
fn room(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut known = Part::Allergies.mark(sheet.inline("consent.allergies", &[])?);
    known.push(Inline::Text(" ".into()));
    known.extend(allergies(sheet)?);
    Ok(vec![
        Block::Paragraph { text: known },
        sheet.heading("consent.room")?,
        Block::Lines {
            items: vec![
                lined(sheet, Part::Matters, "consent.matters", 3)?,
                lined(sheet, Part::Questions, "consent.questions_label", 3)?,
            ],
        },
    ])
}

/// In the patient's own words, with room for the clinician's note.
fn teach_back(sheet: &Sheet) -> Built<Vec<Block>> {
    let prompts = ["consent.teach_eye", "consent.teach_risk", "consent.teach_signs"];
    let prompts = prompts.iter().map(|key| sheet.inline(key, &[])).collect::<Built<Vec<_>>>()?;
    Ok(vec![
        sheet.paragraph("consent.teach_intro", &[])?,
        Part::TeachBack.block(),
        Block::List { ordered: true, items: prompts },
        Block::Lines { items: vec![lined(sheet, Part::ClinicianNote, "consent.teach_note", 2)?] },
    ])
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
    signers.push(signer(sheet, Part::SignExplained, "sign.explained", &["sign.role", "sign.talk"])?);
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
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let blanks = blanks.iter().chain(further).map(|key| sheet.text(key, &[]));
    Ok(Signer { mark: part.id(), role: sheet.text(role, &[])?, blanks: blanks.collect::<Built<_>>()? })
}

/// Something to tick, with its blanks.
fn check(sheet: &Sheet, part: Part, key: &str, blanks: &[&str]) -> Built<Check> {
    let blanks = blanks.iter().map(|key| sheet.text(key, &[]));
    Ok(Check { text: part.mark(sheet.inline(key, &[])?), blanks: blanks.collect::<Built<_>>()? })
}

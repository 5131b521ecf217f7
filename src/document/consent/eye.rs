//! This eye: its drawing with what is special in it, what the laser does, the day step by step, and what is special in this
//! patient.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet, item, literal};
use super::super::{Block, Inline, Inlines, calendar, eye};
use crate::content::Said;
use crate::content::catalog::Kind;
use crate::content::markdown::Piece;
use crate::record::known::Answer;

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let special: Vec<&Said> = sheet.content.section("eye").collect();
    let (short, long): (Vec<&Said>, Vec<&Said>) = special.into_iter().partition(|said| is_prose(said));
    let (steps, told): (Vec<&Said>, Vec<&Said>) =
        sheet.content.section("what").partition(|said| said.kind == Kind::Step);
    let section = eye::section(sheet, paragraphs(&short), paragraphs(&told))?;
    let mut blocks = vec![sheet.heading("consent.eye")?, Block::EyeSection(section)];
    blocks.extend(sheet.body(&long)?);
    blocks.push(sheet.heading("consent.day")?);
    let day = sheet.content.section("before-you-come").chain(steps).chain(sheet.content.section("after"));
    blocks.push(Block::List { ordered: true, items: day.map(item).collect::<Built<_>>()? });
    blocks.extend(calendar::before(sheet)?);
    blocks.extend(own(sheet)?);
    Ok(blocks)
}

/// Whether it holds paragraphs alone, which stand beside a drawing; a list stands below it.
fn is_prose(said: &Said) -> bool {
    said.pieces.iter().all(|piece| matches!(piece, Piece::Paragraph(_)))
}

fn paragraphs(said: &[&Said]) -> Vec<Inlines> {
    let pieces = said.iter().flat_map(|said| &said.pieces);
    pieces.filter_map(|piece| if let Piece::Paragraph(text) = piece { Some(text.clone()) } else { None }).collect()
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

/// The surgeon's own words to this patient; that there are none is said too. Then the allergies, to be checked.
fn own(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut known = Part::Allergies.mark(sheet.inline("consent.allergies", &[])?);
    known.push(Inline::Text(" ".into()));
    known.extend(allergies(sheet)?);
    match sheet.record.surgeon_words.as_slice() {
        [] => {
            let none = Part::OwnWords.mark(sheet.inline("consent.no_words", &[])?);
            Ok(vec![Block::Paragraph { text: [none, known].join(&Inline::Text(" ".into())) }])
        }
        words => {
            let mut blocks = vec![sheet.heading("consent.words")?, Part::OwnWords.block()];
            blocks.extend(words.iter().map(|own| sheet.own_words(&own.words)));
            blocks.push(Block::Paragraph { text: known });
            Ok(blocks)
        }
    }
}

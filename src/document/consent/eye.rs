//! This eye: its drawing with what is special in it, what the laser does, and the day step by step.

use super::super::sheet::{Built, Sheet, item};
use super::super::{Block, Inlines, calendar, eye};
use crate::content::Said;
use crate::content::catalog::Kind;
use crate::content::markdown::Piece;

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

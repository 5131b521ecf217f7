//! The first page, which can stand alone: the decision, the ways in a line each, the numbers that decide, whom to call.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet, item, literal};
use super::super::{Block, Inline, Inlines, Pair};
use crate::content::catalog::Kind;
use crate::content::markdown::Piece;
use crate::content::{ComposeError, Said};

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let of =
        |kind: Kind| sheet.content.section("decision").filter(move |said| said.kind == kind).collect::<Vec<&Said>>();
    let mut blocks = sheet.replaces()?;
    blocks.extend(sheet.body(&of(Kind::Lead))?);
    blocks.push(Block::Eyes {
        side: sheet.side("right", "left").to_owned(),
        right: sheet.text("eye.your_right", &[])?,
        left: sheet.text("eye.your_left", &[])?,
        mark: sheet.text("eye.mark", &[])?,
        alt: sheet.text("eye.drawing", &[])?,
    });
    blocks.push(about(sheet)?);
    blocks.extend(of(Kind::Choices).into_iter().map(choices).collect::<Built<Vec<_>>>()?);
    blocks.push(sheet.heading("consent.points")?);
    blocks.extend(sheet.figures()?);
    blocks.extend(sheet.body(&sheet.content.section("benefit").collect::<Vec<_>>())?);
    blocks.extend(sheet.body(&of(Kind::Point))?);
    blocks.push(call(sheet, &of(Kind::Sign))?);
    Ok(blocks)
}

/// When, where, who and why.
fn about(sheet: &Sheet) -> Built<Block> {
    let plan = &sheet.record.plan;
    let (practice, tag) = (&sheet.profile.practice, &sheet.content.locale.tag);
    let place = format!("{}, {}, {}", plan.place, practice.name(tag), practice.address(tag));
    Ok(Block::Pairs {
        items: vec![
            pair(sheet, Part::Planned, "consent.when", literal(&sheet.when(plan.start.0)?))?,
            pair(sheet, Part::Facility, "consent.where", literal(&place))?,
            pair(sheet, Part::Practitioner, "consent.who", sheet.inline("consent.who_value", &[])?)?,
            pair(sheet, Part::Indication, "consent.why", sheet.inline("consent.why_value", &[])?)?,
        ],
    })
}

fn pair(sheet: &Sheet, part: Part, label: &str, value: Inlines) -> Built<Pair> {
    sheet.pair(label, part.mark(value))
}

/// A line for each way: the items of one list.
fn choices(said: &Said) -> Built<Block> {
    match said.pieces.as_slice() {
        [Piece::List(_, items)] => Ok(Block::Choices { items: items.clone() }),
        _ => Err(ComposeError::statement(&said.id, "the ways in a line each are one list")),
    }
}

/// When to call, with every number, who answers it and when.
fn call(sheet: &Sheet, said: &[&Said]) -> Built<Block> {
    let signs = said.iter().map(|said| item(said)).collect::<Built<Vec<_>>>()?;
    let space = Inline::Text(" ".into());
    let mut text = signs.join(&space);
    text.push(space);
    text.extend(Part::Contact.mark(phones(sheet)?));
    Ok(Block::Call { text, numbers: Vec::new() })
}

fn phones(sheet: &Sheet) -> Built<Inlines> {
    let written = sheet.phones()?.into_iter().map(|phone| {
        let values = [("who", phone.who.as_str()), ("number", &phone.number), ("hours", &phone.hours)];
        sheet.inline("consent.phone", &values)
    });
    Ok(written.collect::<Built<Vec<_>>>()?.join(&Inline::Text(" ".into())))
}

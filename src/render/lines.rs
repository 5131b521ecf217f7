//! A page set line after line: headings, paragraphs and lists, one below the other. Nothing stands beside anything, so nothing
//! can stand on it. It takes the place of pages of a treated patient that cannot be laid out as they should be.

use super::text;
use crate::document::{Block, Document, Inline, Inlines, Phone};

/// The document line after line: what is said about that, then the warning signs, then all else in its order. What nobody may
/// leave before reading stays first.
#[must_use]
pub fn in_lines(document: &Document, says: Inlines) -> Document {
    let first = document.blocks.iter().take_while(|block| matches!(block, Block::Notice { .. })).count();
    let (first, rest) = document.blocks.split_at(first);
    let (signs, rest): (Vec<&Block>, Vec<&Block>) =
        rest.iter().partition(|block| matches!(block, Block::Warning { .. }));
    let told = first.iter().chain(signs).chain(rest).flat_map(lines);
    let blocks = std::iter::once(Block::Paragraph { text: says }).chain(told).collect();
    Document { blocks, in_lines: true, ..document.clone() }
}

fn lines(block: &Block) -> Vec<Block> {
    match block {
        Block::Heading { .. } | Block::Paragraph { .. } => vec![block.clone()],
        Block::Lead { text } => vec![Block::Paragraph { text: text.clone() }],
        Block::List { ordered, items } => vec![list(*ordered, items)],
        Block::Notice { title, text, .. } => vec![heading(title), Block::Paragraph { text: text.clone() }],
        Block::Warning { title, signs, action, phones } => {
            let phones: Vec<Inlines> = phones.iter().map(phone).collect();
            vec![heading(title), list(false, signs), Block::Paragraph { text: action.clone() }, list(false, &phones)]
        }
        // Its picture is missing, and with it what to do with it.
        Block::Code(code) => code.text.iter().map(|text| Block::Paragraph { text: text.clone() }).collect(),
        Block::Calendar(_) => text::block(block).split("\n\n").flat_map(day).collect(),
        other => text::block(other).lines().filter(|line| !line.is_empty()).map(line).collect(),
    }
}

/// A day of the calendar: its date, then its drops and visits.
fn day(told: &str) -> Vec<Block> {
    match told.trim().split_once('\n') {
        Some((date, rest)) if !date.starts_with('[') => {
            let date = Block::Heading { level: 3, text: date.to_owned() };
            std::iter::once(date).chain(rest.lines().map(line)).collect()
        }
        _ => told.lines().filter(|line| !line.is_empty()).map(line).collect(),
    }
}

fn heading(text: &str) -> Block {
    Block::Heading { level: 2, text: text.to_owned() }
}

fn line(text: &str) -> Block {
    Block::Paragraph { text: vec![Inline::Text(text.to_owned())] }
}

fn phone(phone: &Phone) -> Inlines {
    vec![Inline::Text(format!("{}, {}: {}", phone.hours, phone.who, phone.number))]
}

/// A list without the marks by which its items would get their pictures.
fn list(ordered: bool, items: &[Inlines]) -> Block {
    let words = |item: &Inlines| item.iter().filter(|inline| !matches!(inline, Inline::Mark(_))).cloned().collect();
    Block::List { ordered, items: items.iter().map(words).collect() }
}

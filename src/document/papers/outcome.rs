//! The outcome form: half a page that the patient marks before the laser and again at a visit after it. What is marked is what
//! the register takes in: bother from 0 to 10 and the change in five steps.

use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Block, Check, Document, Lined, Page};
use crate::facts::Moment;

/// The highest mark of the bother; the lowest is 0.
const MOST: u8 = 10;

/// The change in five steps, as `results::Change` calls them.
pub const CHANGES: [&str; 5] = ["gone", "much_better", "little_better", "same", "worse"];

/// Builds the form of a moment. How much it bothered before the laser is asked before the laser alone: who thinks back marks
/// something else. Older forms are kept, marked as they are: nothing here says to throw them away.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let mut blocks = vec![Block::Lead { text: sheet.inline("outcome.lead", &[])? }, bother(sheet)?];
    if sheet.moment == Moment::After {
        blocks.push(change(sheet)?);
    }
    blocks.push(sheet.paragraph("outcome.what", &[])?);
    let hindered = hindered(sheet);
    blocks.extend((!hindered.is_empty()).then_some(Block::Checklist { items: hindered }));
    blocks.push(Block::Lines { items: vec![line(sheet, "outcome.other")?, line(sheet, "sign.date")?] });
    sheet.document(Page::Outcome, sheet.text("outcome.title", &[])?, blocks)
}

/// How much the floater bothers, in marks from 0 to 10.
fn bother(sheet: &Sheet) -> Built<Block> {
    Ok(Block::Scale {
        question: sheet.inline("outcome.now", &[])?,
        steps: (0..=MOST).map(|step| sheet.content.locale.number(f64::from(step), 0)).collect(),
        lowest: sheet.text("outcome.lowest", &[])?,
        highest: sheet.text("outcome.highest", &[])?,
    })
}

/// A line to write on.
fn line(sheet: &Sheet, label: &str) -> Built<Lined> {
    Ok(Lined { mark: String::new(), label: sheet.text(label, &[])?, count: 1 })
}

/// What became of the floater, the steps in a row.
fn change(sheet: &Sheet) -> Built<Block> {
    let steps = CHANGES.iter().map(|step| sheet.text(&format!("outcome.change_{step}"), &[]));
    Ok(Block::Scale {
        question: sheet.inline("outcome.change", &[])?,
        steps: steps.collect::<Built<_>>()?,
        lowest: String::new(),
        highest: String::new(),
    })
}

/// What the record says it hinders.
fn hindered(sheet: &Sheet) -> Vec<Check> {
    let named = sheet.record.complaint.hinders.iter();
    named.map(|what| Check { text: literal(&sheet.content.locale.set_apart(what)), blanks: Vec::new() }).collect()
}

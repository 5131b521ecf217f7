//! What could go wrong with the laser, then what nobody knows of any way, cost and rules.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet};
use super::super::{Block, Risk, Risks};
use crate::content::catalog::{Kind, Topic};
use crate::content::markdown::Piece;
use crate::content::{ComposeError, Said};

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let said = sheet.content.section("risks");
    let (listed, further): (Vec<&Said>, Vec<&Said>) = said.partition(|said| said.kind == Kind::Risk);
    let rows = listed.into_iter().map(|said| risk(sheet, said)).collect::<Built<_>>()?;
    let heads = ["consent.risk", "consent.risk_often", "consent.risk_then"].map(|key| sheet.text(key, &[]));
    let [what, often, then] = heads;
    let mut blocks = vec![
        sheet.heading("consent.risks")?,
        Block::Risks(Risks {
            caption: sheet.text("consent.risks_caption", &[])?,
            heads: [what?, often?, then?],
            mark: sheet.text("consent.risk_higher", &[])?,
            rows,
        }),
    ];
    blocks.extend(sheet.body(&further)?);
    blocks.extend(sheet.section("consent", "unknown")?);
    let notices = &sheet.profile.notices;
    blocks.extend(sheet.notice(Part::Cost, "consent.cost", notices.cost.as_ref())?);
    blocks.extend(sheet.notice(Part::Regulation, "consent.regulation", notices.regulation.as_ref())?);
    Ok(blocks)
}

/// A name, then a paragraph each: how often, what then. What follows says why it is higher in this eye.
fn risk(sheet: &Sheet, said: &Said) -> Built<Risk> {
    let topic = sheet.text(topic(said.topic), &[])?;
    let paragraph = |piece: &Piece| match piece {
        Piece::Paragraph(text) => Some(text.clone()),
        _ => None,
    };
    let read = || {
        let [Piece::Heading(_, name), often, then, higher @ ..] = said.pieces.as_slice() else { return None };
        let higher = higher.iter().map(paragraph).collect::<Option<_>>()?;
        Some(Risk { name: name.clone(), topic, often: paragraph(often)?, then: paragraph(then)?, higher })
    };
    let form = "a risk is its name, then a paragraph each: how often, what then, why it is higher in this eye";
    read().ok_or_else(|| ComposeError::statement(&said.id, form))
}

/// The words of a topic.
fn topic(topic: Topic) -> &'static str {
    match topic {
        Topic::Sight => "consent.topic_sight",
        Topic::Pressure => "consent.topic_pressure",
        Topic::Lens => "consent.topic_lens",
        Topic::Other => "consent.topic_other",
    }
}

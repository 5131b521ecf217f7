//! The consent packet: what this patient must be told and asked, and where they decide.

use super::sheet::{Built, Sheet, literal};
use super::{Block, Document, Inline, Inlines, Page, Print, Signer};
use crate::content::Said;
use crate::content::catalog::Kind;
use crate::content::markdown::Piece;
use crate::record::known::Answer;

/// Builds the consent packet.
///
/// # Errors
/// A text, number or note that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let mut blocks = first_page(sheet)?;
    for section in ["eye", "what", "before-you-come"] {
        blocks.extend(sheet.section("consent", section)?);
    }
    blocks.extend(contact(sheet)?);
    blocks.extend(sheet.section("consent", "benefit")?);
    blocks.extend(risks(sheet)?);
    blocks.extend(sheet.section("consent", "unknown")?);
    blocks.extend(options(sheet)?);
    blocks.extend(sheet.section("consent", "after")?);
    blocks.extend(sheet.surgeon_words("consent.words")?);
    blocks.extend(deciding(sheet)?);
    blocks.extend(signing(sheet)?);
    blocks.extend(separate(sheet)?);
    blocks.push(sheet.heading("page.references")?);
    blocks.push(Block::References { items: sheet.content.references()? });
    sheet.document(Page::Consent, sheet.text("consent.title", &[])?, blocks)
}

/// The first page can stand alone: the decision, what it may bring, the risks that matter most, the other ways.
fn first_page(sheet: &Sheet) -> Built<Vec<Block>> {
    let said: Vec<&Said> = sheet.content.section("decision").collect();
    let (leads, points): (Vec<&Said>, Vec<&Said>) = said.into_iter().partition(|said| said.kind == Kind::Lead);
    let mut blocks = sheet.replaces()?;
    blocks.extend(sheet.body(&leads)?);
    blocks.push(Block::Eyes {
        side: sheet.side("right", "left").to_owned(),
        right: sheet.text("eye.your_right", &[])?,
        left: sheet.text("eye.your_left", &[])?,
        mark: sheet.text("eye.mark", &[])?,
        alt: sheet.text("eye.drawing", &[])?,
    });
    let plan = &sheet.record.plan;
    let place = format!("{}, {}", plan.place, sheet.profile.practice.name);
    blocks.push(Block::Pairs {
        items: vec![
            sheet.pair("consent.when", literal(&sheet.when(plan.start.0)?))?,
            sheet.pair("consent.where", literal(&place))?,
            sheet.pair("consent.who", sheet.inline("consent.who_value", &[])?)?,
            sheet.pair("consent.why", sheet.inline("consent.why_value", &[])?)?,
        ],
    });
    blocks.push(sheet.heading("consent.points")?);
    blocks.extend(sheet.body(&points)?);
    Ok(blocks)
}

/// Address, phones and allergies. "None known" is said, never left blank; what nobody asked is not called none.
fn contact(sheet: &Sheet) -> Built<Vec<Block>> {
    let address = sheet.profile.practice.address.join(", ");
    let mut items = vec![sheet.pair("consent.address", literal(&address))?];
    items.extend(sheet.phone_pairs()?);
    let health = &sheet.record.health;
    let value = match (health.allergies.as_slice(), health.allergies_asked) {
        ([], Answer::Yes) => sheet.inline("consent.allergies_none", &[])?,
        ([], _) => sheet.inline("consent.allergies_unknown", &[])?,
        (known, _) => literal(&sheet.content.locale.list(known.iter().map(String::as_str))),
    };
    items.push(sheet.pair("consent.allergies", value)?);
    Ok(vec![Block::Pairs { items }])
}

fn risks(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("consent.risks")?];
    for said in sheet.content.section("risks") {
        match (said.kind, said.pieces.as_slice()) {
            (Kind::Risk, [Piece::Heading(_, name), text @ ..]) => {
                let text = text.iter().map(|piece| match piece {
                    Piece::Paragraph(text) => Ok(text.clone()),
                    _ => Err(format!("statement {}: a risk holds paragraphs only", said.id)),
                });
                blocks.push(Block::Risk { name: name.clone(), text: text.collect::<Built<_>>()? });
                if said.figure.is_some() {
                    let figure = Said { pieces: Vec::new(), ..said.clone() };
                    blocks.extend(sheet.body(&[&figure])?);
                }
            }
            (Kind::Risk, _) => {
                return Err(format!("statement {}: a risk begins with its name", said.id));
            }
            _ => blocks.extend(sheet.body(&[said])?),
        }
    }
    Ok(blocks)
}

/// The ways to choose from side by side: the same questions for each.
fn options(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("consent.options")?];
    let options = sheet.content.section("options").map(Way::of).collect::<Built<Vec<_>>>()?;
    let Some(first) = options.first() else {
        return Err("the consent page has no options to choose from".into());
    };
    if sheet.record.patient.print == Print::Large {
        blocks.extend(options.iter().flat_map(Way::stacked));
        return Ok(blocks);
    }
    let [_, asked @ ..] = first.answers.as_slice() else {
        return Err(format!("statement {}: an option answers what it involves and at least one more", first.id));
    };
    let heads = asked.iter().map(|(question, _)| (*question).to_owned());
    blocks.push(Block::Table {
        caption: sheet.text("consent.options_caption", &[])?,
        columns: std::iter::once(sheet.text("consent.options_head", &[])?).chain(heads).collect(),
        widths: std::iter::once(4).chain((5..).take(asked.len())).collect(),
        rows: options.iter().map(|option| option.row(first)).collect::<Built<_>>()?,
    });
    Ok(blocks)
}

/// One way to choose, cut at its subheadings.
struct Way<'a> {
    id: &'a str,
    name: &'a str,
    answers: Vec<(&'a str, Inlines)>,
}

impl<'a> Way<'a> {
    /// Its name with what it involves, then its other answers; the same questions as those of the first way.
    fn row(&self, first: &Self) -> Built<Vec<Inlines>> {
        let questions = |way: &Self| way.answers.iter().map(|(question, _)| (*question).to_owned()).collect::<Vec<_>>();
        if questions(self) != questions(first) {
            return Err(format!("statement {}: every option has the same subheadings", self.id));
        }
        let mut answers = self.answers.iter().map(|(_, answer)| answer.clone());
        let mut name = vec![Inline::Strong(literal(self.name)), Inline::Text(". ".into())];
        name.extend(answers.next().unwrap_or_default());
        Ok(std::iter::once(name).chain(answers).collect())
    }

    /// In large print the ways stand below each other with the same subheadings; a table would be too narrow to read.
    fn stacked(&self) -> Vec<Block> {
        let mut blocks = vec![Block::Heading { level: 3, text: self.name.to_owned() }];
        blocks.extend(self.answers.iter().map(|(question, answer)| {
            let mut text = vec![Inline::Strong(literal(question)), Inline::Text(": ".into())];
            text.extend(answer.clone());
            Block::Paragraph { text }
        }));
        blocks
    }

    fn of(said: &'a Said) -> Built<Self> {
        let [Piece::Heading(3, name), rest @ ..] = said.pieces.as_slice() else {
            return Err(format!("statement {}: an option begins with its name", said.id));
        };
        let mut answers: Vec<(&str, Inlines)> = Vec::new();
        for piece in rest {
            match (piece, answers.last_mut()) {
                (Piece::Heading(_, head), _) => answers.push((head, Vec::new())),
                (Piece::Paragraph(text), Some((_, answer))) => answer.extend(text.clone()),
                _ => {
                    return Err(format!("statement {}: an option holds paragraphs under its subheadings", said.id));
                }
            }
        }
        Ok(Self { id: &said.id, name, answers })
    }
}

/// Time to decide, what matters, questions, own words.
fn deciding(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = sheet.section("consent", "deciding")?;
    blocks.push(lines(sheet, "consent.matters", 1)?);
    blocks.push(lines(sheet, "consent.questions_label", 2)?);
    blocks.push(sheet.heading("consent.teach")?);
    blocks.push(sheet.paragraph("consent.teach_intro", &[])?);
    for prompt in ["consent.teach_eye", "consent.teach_risk", "consent.teach_signs"] {
        blocks.push(lines(sheet, prompt, 1)?);
    }
    blocks.push(lines(sheet, "consent.teach_note", 1)?);
    Ok(blocks)
}

/// What is not the treatment is asked apart from it.
fn separate(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut question = sheet.inline("consent.separate_intro", &[])?;
    question.push(Inline::Text(" ".into()));
    question.extend(sheet.inline("consent.separate_images", &[])?);
    let options = vec![sheet.text("consent.yes", &[])?, sheet.text("consent.no", &[])?];
    Ok(vec![sheet.heading("consent.separate")?, Block::Choice { question, options }])
}

fn lines(sheet: &Sheet, label: &str, count: u8) -> Built<Block> {
    Ok(Block::Lines { label: sheet.text(label, &[])?, count })
}

/// The sentence that is signed with those who sign. Nothing is ever filled in by the program.
fn signing(sheet: &Sheet) -> Built<Vec<Block>> {
    let sentence = sheet.content.section("consent").flat_map(|said| &said.pieces);
    let sentence = sentence.map(|piece| match piece {
        Piece::Paragraph(text) => Ok(text.clone()),
        _ => Err("the sentences that are signed hold paragraphs only".to_owned()),
    });
    let sentence = sentence.collect::<Built<Vec<_>>>()?;
    let patient = &sheet.record.patient;
    let mut signers = vec![match patient.representative {
        None => signer(sheet, "sign.patient", &["consent.which_eye"])?,
        Some(_) => signer(sheet, "sign.representative", &["sign.authority", "consent.which_eye"])?,
    }];
    signers.push(signer(sheet, "sign.explained", &[])?);
    if patient.interpreter.is_some() {
        signers.push(signer(sheet, "sign.interpreter", &["sign.language"])?);
    }
    signers.push(signer(sheet, "sign.witness", &[])?);
    Ok(vec![
        Block::Signatures { title: sheet.text("consent.sign", &[])?, sentence, signers },
        Block::Checklist {
            items: vec![
                check(sheet, "consent.copy", &["sign.name", "sign.date", "sign.time"])?,
                check(sheet, "consent.withdrawn", &["sign.signature", "sign.date", "sign.time"])?,
            ],
        },
    ])
}

fn signer(sheet: &Sheet, role: &str, further: &[&str]) -> Built<Signer> {
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let blanks = blanks.iter().chain(further).map(|key| sheet.text(key, &[]));
    Ok(Signer { role: sheet.text(role, &[])?, blanks: blanks.collect::<Built<_>>()? })
}

fn check(sheet: &Sheet, key: &str, blanks: &[&str]) -> Built<super::Check> {
    let blanks = blanks.iter().map(|key| sheet.text(key, &[]));
    Ok(super::Check { text: sheet.inline(key, &[])?, blanks: blanks.collect::<Built<_>>()? })
}

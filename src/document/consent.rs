//! The consent packet: what this patient must be told and asked, and where they decide.

use super::part::Part;
use super::sheet::{Built, Sheet, literal};
use super::{Block, Document, Inline, Inlines, Page, Pair, Print, Signer, calendar, eye};
use crate::content::catalog::Kind;
use crate::content::markdown::Piece;
use crate::content::{ComposeError, Said};
use crate::record::known::Answer;
use crate::record::language;
use crate::record::profile::{Notice, Permission};

/// Builds the consent packet.
///
/// # Errors
/// A text, number or note that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let mut blocks = first_page(sheet)?;
    blocks.push(sheet.heading("consent.eye")?);
    blocks.push(Block::EyeSection(eye::section(sheet)?));
    blocks.extend(sheet.body(&sheet.content.section("eye").collect::<Vec<_>>())?);
    for section in ["what", "benefit"] {
        blocks.extend(sheet.section("consent", section)?);
    }
    blocks.extend(sheet.figures()?);
    blocks.extend(risks(sheet)?);
    blocks.extend(sheet.section("consent", "unknown")?);
    blocks.extend(options(sheet)?);
    blocks.extend(sheet.section("consent", "deciding")?);
    blocks.extend(sheet.section("consent", "before-you-come")?);
    blocks.extend(calendar::before(sheet)?);
    let after: Vec<&Said> = sheet.content.section("after").collect();
    blocks.extend(sheet.body(&after)?);
    blocks.extend(practice(sheet)?);
    blocks.extend(own_words(sheet)?);
    blocks.extend(room(sheet)?);
    blocks.extend(teach_back(sheet)?);
    blocks.extend(permissions(sheet)?);
    blocks.push(Block::PageBreak);
    blocks.extend(signing(sheet)?);
    blocks.push(Block::Annex);
    blocks.extend(sources(sheet)?);
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
    let (practice, tag) = (&sheet.profile.practice, &sheet.content.locale.tag);
    let place = format!("{}, {}, {}", plan.place, practice.name(tag), practice.address(tag));
    blocks.push(Block::Pairs {
        items: vec![
            pair(sheet, Part::Planned, "consent.when", literal(&sheet.when(plan.start.0)?))?,
            pair(sheet, Part::Facility, "consent.where", literal(&place))?,
            pair(sheet, Part::Practitioner, "consent.who", sheet.inline("consent.who_value", &[])?)?,
            pair(sheet, Part::Indication, "consent.why", sheet.inline("consent.why_value", &[])?)?,
            pair(sheet, Part::Contact, "consent.call", phones(sheet)?)?,
        ],
    });
    blocks.push(sheet.heading("consent.points")?);
    blocks.extend(sheet.body(&points)?);
    Ok(blocks)
}

/// Every number with who answers it and when.
fn phones(sheet: &Sheet) -> Built<Inlines> {
    let phones = sheet.phones()?;
    let written = phones.iter().map(|phone| {
        let values = [("who", phone.who.as_str()), ("number", &phone.number), ("hours", &phone.hours)];
        sheet.inline("consent.phone", &values)
    });
    let written = written.collect::<Built<Vec<_>>>()?;
    Ok(written.join(&Inline::Text(" ".into())))
}

fn pair(sheet: &Sheet, part: Part, label: &str, value: Inlines) -> Built<Pair> {
    sheet.pair(label, part.mark(value))
}

fn risks(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("consent.risks")?];
    for said in sheet.content.section("risks") {
        match (said.kind, said.pieces.as_slice()) {
            (Kind::Risk, [Piece::Heading(_, name), text @ ..]) => {
                let text = text.iter().map(|piece| match piece {
                    Piece::Paragraph(text) => Ok(text.clone()),
                    _ => Err(ComposeError::statement(&said.id, "a risk holds paragraphs only")),
                });
                blocks.push(Block::Risk { name: name.clone(), text: text.collect::<Built<_>>()? });
            }
            (Kind::Risk, _) => {
                return Err(ComposeError::statement(&said.id, "a risk begins with its name"));
            }
            _ => blocks.extend(sheet.body(&[said])?),
        }
    }
    Ok(blocks)
}

/// The ways to choose from side by side: the same questions for each.
fn options(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("consent.options")?, Part::Comparison.block()];
    let options = sheet.content.section("options").map(Way::of).collect::<Built<Vec<_>>>()?;
    let end = format!("{} ", sheet.text("page.label_end", &[])?);
    let Some(first) = options.first() else {
        return Err(ComposeError::Page("the consent page has no options to choose from"));
    };
    if sheet.record.patient.print == Print::Large {
        blocks.extend(options.iter().flat_map(|option| option.stacked(&end)));
        return Ok(blocks);
    }
    let rows = first.answers.iter().enumerate().map(|(at, (question, _))| {
        options.iter().map(|option| option.cell(at, question, &end)).collect::<Built<Vec<_>>>()
    });
    blocks.push(Block::Table {
        caption: sheet.text("consent.options_caption", &[])?,
        columns: options.iter().map(|option| option.name.to_owned()).collect(),
        widths: vec![1; options.len()],
        row_heads: false,
        rows: rows.collect::<Built<_>>()?,
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
    /// Its answer to the question at this place, which every option must answer, under the question.
    fn cell(&self, at: usize, question: &str, end: &str) -> Built<Inlines> {
        match self.answers.get(at) {
            Some((asked, answer)) if *asked == question => Ok(self.labelled(question, end, answer)),
            _ => Err(ComposeError::statement(self.id, "every option has the same subheadings")),
        }
    }

    /// A question in bold, then its answer, marked as part of this option.
    fn labelled(&self, question: &str, end: &str, answer: &Inlines) -> Inlines {
        let question = [Inline::Strong(literal(question)), Inline::Text(end.to_owned())];
        let answer = answer.iter().filter(|inline| !matches!(inline, Inline::Mark(_))).cloned();
        std::iter::once(Inline::Mark(self.id.to_owned())).chain(question).chain(answer).collect()
    }

    /// In large print the ways stand below each other with the same subheadings; a table would be too narrow to read.
    fn stacked(&self, end: &str) -> Vec<Block> {
        let mut blocks = vec![Block::Heading { level: 3, text: self.name.to_owned() }];
        blocks.extend(
            self.answers
                .iter()
                .map(|(question, answer)| Block::Paragraph { text: self.labelled(question, end, answer) }),
        );
        blocks
    }

    fn of(said: &'a Said) -> Built<Self> {
        let [Piece::Heading(3, name), rest @ ..] = said.pieces.as_slice() else {
            return Err(ComposeError::statement(&said.id, "an option begins with its name"));
        };
        let mut answers: Vec<(&str, Inlines)> = Vec::new();
        for piece in rest {
            match (piece, answers.last_mut()) {
                (Piece::Heading(_, head), _) => answers.push((head, Vec::new())),
                (Piece::Paragraph(text), Some((_, answer))) => answer.extend(text.clone()),
                _ => {
                    return Err(ComposeError::statement(&said.id, "an option holds paragraphs under its subheadings"));
                }
            }
        }
        Ok(Self { id: &said.id, name, answers })
    }
}

/// Cost and regulation. What the practice must set and has not is left out here, and the consent is then refused.
fn practice(sheet: &Sheet) -> Built<Vec<Block>> {
    let notices = &sheet.profile.notices;
    let mut blocks = vec![sheet.heading("consent.practice")?];
    blocks.extend(notice(sheet, Part::Cost, "consent.cost", notices.cost.as_ref())?);
    blocks.extend(notice(sheet, Part::Regulation, "consent.regulation", notices.regulation.as_ref())?);
    Ok(blocks)
}

/// A text that only the practice can write, with the date it was set.
fn notice(sheet: &Sheet, part: Part, key: &str, notice: Option<&Notice>) -> Built<Option<Block>> {
    let tag = &sheet.content.locale.tag;
    let text = |notice: &Notice| {
        let chosen = language::choose(tag, notice.text.keys().map(String::as_str))?;
        notice.text.get(chosen).cloned()
    };
    let Some((notice, text)) = notice.and_then(|notice| Some((notice, text(notice)?))) else {
        return Ok(None);
    };
    let mut words = part.mark(sheet.inline(key, &[])?);
    words.push(Inline::Text(" ".into()));
    words.extend(sheet.content.own(&format!("profile.toml, {key}"), &text)?);
    words.push(Inline::Text(" ".into()));
    let date = sheet.content.locale.date(notice.on.0);
    words.extend(sheet.inline("consent.as_of", &[("date", &date)])?);
    Ok(Some(Block::Paragraph { text: words }))
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
            blocks.extend(words.iter().map(|text| sheet.own_words(text)));
            Ok(blocks)
        }
    }
}

/// Allergies to be checked; room for what matters to this patient, and for questions. From here on the pages are filled
/// in by hand.
fn room(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut known = Part::Allergies.mark(sheet.inline("consent.allergies", &[])?);
    known.push(Inline::Text(" ".into()));
    known.extend(allergies(sheet)?);
    Ok(vec![
        sheet.heading("consent.room")?,
        Part::Matters.block(),
        lines(sheet, "consent.matters", 2)?,
        Part::Questions.block(),
        lines(sheet, "consent.questions_label", 2)?,
        Block::Paragraph { text: known },
    ])
}

/// In the patient's own words, with room for the clinician's note.
fn teach_back(sheet: &Sheet) -> Built<Vec<Block>> {
    let prompts = ["consent.teach_eye", "consent.teach_risk", "consent.teach_signs"];
    let prompts = prompts.iter().map(|key| sheet.inline(key, &[])).collect::<Built<Vec<_>>>()?;
    Ok(vec![
        sheet.heading("consent.teach")?,
        sheet.paragraph("consent.teach_intro", &[])?,
        Part::TeachBack.block(),
        Block::List { ordered: true, items: prompts },
        Part::ClinicianNote.block(),
        lines(sheet, "consent.teach_note", 2)?,
    ])
}

/// What is not the treatment is asked apart from it, each question with its own yes and no.
fn permissions(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.profile.permissions.is_empty() {
        return Ok(Vec::new());
    }
    let mut blocks = vec![sheet.heading("consent.separate")?, sheet.paragraph("consent.separate_intro", &[])?];
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

fn lines(sheet: &Sheet, label: &str, count: u8) -> Built<Block> {
    Ok(Block::Lines { label: sheet.text(label, &[])?, count })
}

/// Sources by number, then who keeps the patient's data and who answers for these pages: what nobody needs to decide.
fn sources(sheet: &Sheet) -> Built<Vec<Block>> {
    let notices = &sheet.profile.notices;
    let mut blocks = vec![
        sheet.heading("page.references")?,
        Part::References.block(),
        Block::References { items: sheet.content.references()? },
    ];
    let privacy = notice(sheet, Part::Privacy, "consent.privacy", notices.privacy.as_ref())?;
    let imprint = notice(sheet, Part::Imprint, "consent.imprint", notices.imprint.as_ref())?;
    let about: Vec<Block> = privacy.into_iter().chain(imprint).chain(texts(sheet)?).collect();
    if !about.is_empty() {
        blocks.push(sheet.heading("consent.about")?);
        blocks.extend(about);
    }
    Ok(blocks)
}

/// Which version of the texts this is, and who confirmed it.
fn texts(sheet: &Sheet) -> Built<Option<Block>> {
    let Some(confirmation) = &sheet.profile.confirmation else { return Ok(None) };
    let date = sheet.content.locale.date(confirmation.on.0);
    let values = [("hash", confirmation.version()), ("by", &confirmation.clinician), ("date", &date)];
    let version = sheet.pair("consent.texts", sheet.inline("consent.texts_value", &values)?)?;
    Ok(Some(Block::Pairs { items: vec![version] }))
}

/// The sentence that is signed with those who sign: yes, no or not yet, then those beside the patient. Nothing is ever
/// filled in by the program.
fn signing(sheet: &Sheet) -> Built<Vec<Block>> {
    let sentence = sheet.content.section("consent").flat_map(|said| &said.pieces);
    let sentence = sentence.map(|piece| match piece {
        Piece::Paragraph(text) => Ok(text.clone()),
        _ => Err(ComposeError::Page("the sentences that are signed hold paragraphs only")),
    });
    let choose = std::iter::once(sheet.inline("consent.choose", &[]));
    let sentence = choose.chain(sentence).collect::<Built<Vec<_>>>()?;
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
    signers.push(signer(sheet, Part::SignDecline, "sign.decline", &[])?);
    signers.push(signer(sheet, Part::SignNotYet, "sign.not_yet", &[])?);
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
    Ok(vec![
        Block::Signatures { title: sheet.text("consent.sign", &[])?, sentence, signers },
        Block::Checklist {
            items: vec![
                check(sheet, Part::Copy, "consent.copy", &["sign.name", "sign.date", "sign.time"])?,
                check(sheet, Part::Withdrawal, "consent.withdrawn", &["sign.signature", "sign.date", "sign.time"])?,
            ],
        },
    ])
}

/// Whether the patient, too young to decide alone, says yes beside the representative.
pub(super) fn assents(sheet: &Sheet) -> bool {
    sheet.record.patient.representative.is_some() && sheet.facts.choice("minor") == "yes"
}

fn signer(sheet: &Sheet, part: Part, role: &str, further: &[&str]) -> Built<Signer> {
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let blanks = blanks.iter().chain(further).map(|key| sheet.text(key, &[]));
    Ok(Signer { mark: part.id(), role: sheet.text(role, &[])?, blanks: blanks.collect::<Built<_>>()? })
}

fn check(sheet: &Sheet, part: Part, key: &str, blanks: &[&str]) -> Built<super::Check> {
    let blanks = blanks.iter().map(|key| sheet.text(key, &[]));
    Ok(super::Check { text: part.mark(sheet.inline(key, &[])?), blanks: blanks.collect::<Built<_>>()? })
}

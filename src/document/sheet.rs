//! What every page set is built from, and the head and foot they share.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

use super::part::Part;
use super::{BannerLine, Block, Document, Figure, Footer, Header, Inline, Inlines, Page, Pair, Phone, Seal};
use crate::content::error::ComposeError;
use crate::content::locale::Locale;
use crate::content::markdown::{Piece, plain};
use crate::content::{Content, Drawn, Said, TABLE};
use crate::facts::{Facts, Moment};
use crate::findings::{Finding, Findings};
use crate::plan::{Plan, Visit};
use crate::record::Record;
use crate::record::eye::Side;
use crate::record::formulary::Formulary;
use crate::record::language;
use crate::record::profile::{Notice, PhoneHours, Profile};

/// Why a page cannot be built, in words that say what to do.
pub type Built<T> = Result<T, ComposeError>;

/// Everything a page is built from.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'a> {
    /// The case record.
    pub record: &'a Record,
    /// The practice profile.
    pub profile: &'a Profile,
    /// The formulary.
    pub formulary: &'a Formulary,
    /// The facts.
    pub facts: &'a Facts,
    /// The findings.
    pub findings: &'a Findings,
    /// The plan.
    pub plan: &'a Plan,
    /// The text of this page set.
    pub content: &'a Content,
    /// Before or after.
    pub moment: Moment,
    /// Date of issue, local.
    pub issued: NaiveDate,
    /// Why the patient's pages are withheld, if they are.
    pub withheld: Option<Withheld>,
    /// Whether the patient's page of this moment is made at all.
    pub patient_page: bool,
    /// Ids of required elements that the consent lacks.
    pub lacking: &'a [String],
    /// Codes of the two cases whose drops are at the same time and cannot stand in one calendar; none: there are no such.
    pub overlaps: &'a [String],
    /// Whether pages in this language are drafts only where the practice works.
    pub draft: bool,
    /// Id of the calendar for both eyes that holds the doses of this one, if there is one.
    pub both_eyes: Option<&'a str>,
    /// The patient's language.
    pub patient: &'a Locale,
    /// The clinic's language.
    pub clinic: &'a Locale,
    /// The patient's name as the print fonts can show it; none where they cannot and the page must print all the same.
    pub name: Option<&'a str>,
    /// Whether the patient's page of this moment is a draft, seen by the desk.
    pub patient_draft: bool,
}

/// Why the patient's pages are withheld.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Withheld {
    /// A finding waits for a clinician's answer.
    Findings,
    /// The consent lacks something that the practice must set or its jurisdiction requires.
    Incomplete,
    /// The clinical values of the practice are not confirmed.
    Unconfirmed,
    /// The clinical values changed since they were confirmed.
    Stale,
    /// The drops cannot be dated, for example because the patient goes to sleep before they can all be taken.
    Undated,
    /// Another case that is or may be of this patient has drops at the same time, and no calendar can hold both.
    Overlap,
}

impl<'a> Sheet<'a> {
    /// A page set with the head and foot of every page.
    pub(super) fn document(&self, page: Page, title: String, blocks: Vec<Block>) -> Built<Document> {
        let draft = self.draft_lines(page)?;
        Ok(Document {
            page,
            id: self.document_id(page),
            revision: self.record.case.revision,
            language: self.content.locale.tag.clone(),
            paper: self.profile.practice.paper,
            print: if page.for_the_patient() { self.record.patient.print } else { super::Print::Standard },
            title,
            header: self.header()?,
            footer: self.footer(page)?,
            seal: page.for_the_patient().then(|| self.seal(&self.document_id(page))).transpose()?,
            draft: !draft.is_empty(),
            banner: self.banner(page, draft)?,
            second: self.is_second(page),
            marked: false,
            in_lines: false,
            right_to_left: self.content.locale.right_to_left,
            label_end: self.text("page.label_end", &[])?,
            blocks,
        })
    }

    /// The practice's line across the page; whose language it is in when there are two; that it is a draft if it is.
    fn banner(&self, page: Page, draft: Vec<BannerLine>) -> Built<Vec<BannerLine>> {
        let practice = self.profile.practice.banner.clone();
        let mut lines: Vec<BannerLine> = practice.map(|text| line(self.clinic, text)).into_iter().collect();
        if self.is_second(page) {
            let language = self.text(&format!("language.{}", self.patient.tag), &[])?;
            lines.push(line(self.clinic, self.text("page.second", &[("language", &language)])?));
        }
        lines.extend(draft);
        // Lines of both directions stand beside each other, each in its own.
        if self.content.locale.right_to_left || self.clinic.right_to_left {
            lines.iter_mut().for_each(|line| line.text = format!("\u{2068}{}\u{2069}", line.text));
        }
        Ok(lines)
    }

    /// That a page is a draft: in its own language and the clinic's, so that neither hands it on unseen.
    pub(crate) fn draft_lines(&self, page: Page) -> Built<Vec<BannerLine>> {
        let key = match (self.content.draft, self.draft && page.for_the_patient()) {
            (true, _) => "page.draft_translation",
            (false, true) => "page.draft",
            (false, false) => return Ok(Vec::new()),
        };
        let mut lines = vec![line(&self.content.locale, self.text(key, &[])?)];
        if !language::same(&self.content.locale.tag, &self.clinic.tag) {
            lines.push(line(self.clinic, self.clinic.word(key)?.to_owned()));
        }
        Ok(lines)
    }

    /// Whether this is the patient's page over again in the clinic's language.
    fn is_second(&self, page: Page) -> bool {
        page.for_the_patient() && self.content.locale.tag != self.patient.tag
    }

    fn header(&self) -> Built<Header> {
        let patient = &self.record.patient;
        let date = self.content.locale.date(patient.birth_date.0);
        let born = self.text("page.born", &[("date", &date)])?;
        let record = self.text("page.record", &[("number", &patient.record_number)])?;
        let (name, identifiers) = match self.name {
            Some(name) => {
                let identifiers = self.text("page.identifiers", &[("born", &born), ("record", &record)])?;
                (self.content.locale.set_apart(name), identifiers)
            }
            None => (record, born),
        };
        let eye = self.text(self.side("eye.right_cap", "eye.left_cap"), &[])?;
        Ok(Header { name, identifiers, eye, eyes: self.record.eye.side.into() })
    }

    /// The foot of every page, which alone tells the date of issue.
    pub(crate) fn footer(&self, page: Page) -> Built<Footer> {
        Ok(Footer {
            document: self.footer_of(&self.document_id(page), self.record.case.revision)?,
            practice: self.profile.practice.name(&self.content.locale.tag).to_owned(),
            page: self.text("page.page", &[])?,
            of: self.text("page.of", &[])?,
        })
    }

    /// The words of the seal of a document.
    pub(super) fn seal(&self, id: &str) -> Built<Seal> {
        let values = [("id", id), ("revision", &*self.record.case.revision.to_string())];
        Ok(Seal { alt: self.text("seal.alt", &values)?, file: self.text("seal.file", &[])? })
    }

    /// Id and version of a document, when it was printed, and from the second version on what it replaces.
    pub(super) fn footer_of(&self, id: &str, revision: u32) -> Built<String> {
        let key = if revision > 1 { "page.replaces" } else { "page.document" };
        self.text(
            key,
            &[
                ("id", id),
                ("revision", &revision.to_string()),
                ("before", &(revision.saturating_sub(1)).to_string()),
                ("date", &self.content.locale.date(self.issued)),
            ],
        )
    }

    /// Id of a document: case code, moment and page; never the record number.
    pub(super) fn document_id(&self, page: Page) -> String {
        document_id(self.record, self.moment, page)
    }

    /// Identifier of something in a calendar: what it is, and the id of the page it belongs to.
    pub(crate) fn uid(&self, what: &str) -> String {
        let id = document_id(self.record, Moment::After, Page::Aftercare).to_lowercase();
        format!("{what}@{id}.vitreoleaf.invalid")
    }

    /// That of a visit.
    pub(crate) fn visit_uid(&self, visit: &Visit) -> String {
        self.uid(&format!("visit-{}", visit.ids.join("-")))
    }

    /// One of two keys by the side.
    pub(crate) fn side<'k>(&self, right: &'k str, left: &'k str) -> &'k str {
        match self.record.eye.side {
            Side::Right => right,
            Side::Left => left,
        }
    }

    /// A text of the language.
    pub(crate) fn text(&self, key: &str, values: &[(&str, &str)]) -> Built<String> {
        self.content.text(key, values)
    }

    /// The title of a finding, filled.
    pub(super) fn title(&self, finding: &Finding) -> Built<String> {
        Ok(plain(&self.content.template(&finding.id, &finding.title)?))
    }

    /// A text of the language with emphasis.
    pub(super) fn inline(&self, key: &str, values: &[(&str, &str)]) -> Built<Inlines> {
        self.content.inline(key, values)
    }

    /// From the second version on: that older pages are to be thrown away.
    pub(super) fn replaces(&self) -> Built<Vec<Block>> {
        match self.record.case.revision {
            0 | 1 => Ok(Vec::new()),
            revision => {
                let before = (revision - 1).to_string();
                Ok(vec![self.paragraph("page.throw_away", &[("before", &before)])?])
            }
        }
    }

    /// A heading below the title.
    pub(super) fn heading(&self, key: &str) -> Built<Block> {
        Ok(Block::Heading { level: 2, text: self.text(key, &[])? })
    }

    /// A paragraph.
    pub(super) fn paragraph(&self, key: &str, values: &[(&str, &str)]) -> Built<Block> {
        Ok(Block::Paragraph { text: self.inline(key, values)? })
    }

    /// A label with a value.
    pub(super) fn pair(&self, label: &str, value: Inlines) -> Built<Pair> {
        Ok(Pair { label: self.text(label, &[])?, value })
    }

    /// A table whose rows have heads: caption, keys of its columns, their relative widths, rows.
    pub(super) fn table(
        &self,
        caption: String,
        columns: &[&str],
        widths: &[u8],
        rows: Vec<Vec<Inlines>>,
    ) -> Built<Block> {
        let columns = columns.iter().map(|key| self.text(key, &[])).collect::<Built<_>>()?;
        Ok(Block::Table { caption, columns, widths: widths.to_vec(), row_heads: true, rows })
    }

    /// Weekday, date and time in words.
    pub(super) fn when(&self, at: chrono::NaiveDateTime) -> Built<String> {
        let date = self.content.locale.full_date(at.date());
        let time = self.content.locale.time(at.time())?;
        self.text("time.at", &[("date", &date), ("time", &time)])
    }

    /// Statements of a section as paragraphs and lists, under the section's heading; nothing if there are none.
    pub(super) fn section(&self, page: &str, section: &str) -> Built<Vec<Block>> {
        let said: Vec<&Said> = self.content.section(section).collect();
        if said.is_empty() {
            return Ok(Vec::new());
        }
        let mut blocks = vec![self.heading(&format!("{page}.{section}"))?];
        blocks.extend(self.body(&said)?);
        Ok(blocks)
    }

    /// Statements as blocks: items and steps join into one list, figures follow their statement.
    pub(super) fn body(&self, said: &[&Said]) -> Built<Vec<Block>> {
        use crate::content::catalog::Kind;
        let mut blocks = Vec::new();
        for said in said {
            match said.kind {
                Kind::Item | Kind::Point => add_item(&mut blocks, false, item(said)?),
                Kind::Step => add_item(&mut blocks, true, item(said)?),
                Kind::Lead => blocks.push(Block::Lead { text: item(said)? }),
                _ => blocks.extend(said.pieces.iter().map(block)),
            }
        }
        Ok(blocks)
    }

    /// The numbers that decide, each drawn, side by side; nothing if no statement outside the ways has a picture.
    pub(super) fn figures(&self) -> Built<Option<Block>> {
        let drawn = self.content.said.iter().filter(|said| said.section != TABLE);
        let drawn = drawn.flat_map(|said| said.figures.iter().map(move |id| (id, said.section != "benefit")));
        let items = drawn.map(|(id, harm)| {
            let title = self.text(&format!("figure.{id}"), &[])?;
            self.figure(self.content.drawn(id, false)?, title, harm)
        });
        let items = items.collect::<Built<Vec<_>>>()?;
        let caption = self.text("consent.pictures", &[])?;
        Ok((!items.is_empty()).then_some(Block::Figures { caption, items }))
    }

    /// A share as a picture, with its title.
    pub(super) fn figure(&self, drawn: Drawn, title: String, harm: bool) -> Built<Figure> {
        let Drawn { number, rest, share, small, range } = drawn;
        let words = range.as_ref().map_or("", |(_, words)| words);
        let values = [("title", title.as_str()), ("number", &number), ("rest", &rest), ("range", words)];
        let alt = self.text(if small { "figure.bar" } else { "figure.hundred" }, &values)?;
        Ok(Figure { title, number, share, small, range: range.map(|(ends, _)| ends), harm, alt })
    }

    /// A text that only the practice can write, with the date it was set. What it must set and has not is left out here, and
    /// the consent is then refused.
    pub(super) fn notice(&self, part: Part, key: &str, notice: Option<&Notice>) -> Built<Option<Block>> {
        let tag = &self.content.locale.tag;
        let text = |notice: &Notice| {
            let chosen = language::choose(tag, notice.text.keys().map(String::as_str))?;
            notice.text.get(chosen).cloned()
        };
        let Some((notice, text)) = notice.and_then(|notice| Some((notice, text(notice)?))) else {
            return Ok(None);
        };
        let space = || Inline::Text(" ".into());
        let mut words = part.mark(self.inline(key, &[])?);
        words.push(space());
        words.extend(self.content.own(&format!("profile.toml, {key}"), &text)?);
        words.push(space());
        let date = self.content.locale.date(notice.on.0);
        words.extend(self.inline("consent.as_of", &[("date", &date)])?);
        Ok(Some(Block::Paragraph { text: words }))
    }

    /// The surgeon's own words, if there are any.
    pub(super) fn surgeon_words(&self, heading: &str) -> Built<Vec<Block>> {
        let words = &self.record.surgeon_words;
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let mut blocks = vec![self.heading(heading)?];
        blocks.extend(words.iter().map(|own| self.own_words(&own.words)));
        Ok(blocks)
    }

    /// A paragraph of the surgeon's own, in whatever language it was written.
    pub(super) fn own_words(&self, text: &str) -> Block {
        Block::Paragraph { text: literal(&self.content.locale.set_apart(text)) }
    }

    /// Whom to phone at which hour.
    pub(super) fn phones(&self) -> Built<Vec<Phone>> {
        let hours = self.opening_hours()?;
        let line = |phone: &crate::record::profile::PhoneLine| {
            let hours = match phone.answered {
                PhoneHours::OpeningHours => self.text("aftercare.phone_open", &[("hours", &hours)])?,
                PhoneHours::OutOfHours => self.text("aftercare.phone_closed", &[])?,
                PhoneHours::Always => self.text("aftercare.phone_always", &[])?,
            };
            Ok(Phone { hours, who: phone.who(&self.content.locale.tag).to_owned(), number: phone.number.clone() })
        };
        self.profile.phones.iter().map(line).collect()
    }

    /// The phones as pairs: hours, then who and which number.
    pub(super) fn phone_pairs(&self) -> Built<Vec<Pair>> {
        let pair =
            |phone: Phone| Pair { label: phone.hours, value: literal(&format!("{}, {}", phone.who, phone.number)) };
        Ok(self.phones()?.into_iter().map(pair).collect())
    }

    /// Opening hours in words; days with the same hours in a row are joined.
    fn opening_hours(&self) -> Built<String> {
        let mut spans: Vec<(NaiveDate, NaiveDate, crate::record::profile::Hours)> = Vec::new();
        // A Monday, only to name the days of the week.
        let monday = NaiveDate::from_isoywd_opt(2026, 1, chrono::Weekday::Mon).unwrap_or_default();
        for date in monday.iter_days().take(7) {
            let Some(hours) = self.profile.hours.get(&chrono::Datelike::weekday(&date).into()) else {
                continue;
            };
            match spans.last_mut() {
                Some((_, last, same)) if last.succ_opt() == Some(date) && same == hours => {
                    *last = date;
                }
                _ => spans.push((date, date, *hours)),
            }
        }
        let locale = &self.content.locale;
        let written = spans.into_iter().map(|(first, last, hours)| {
            let times = [locale.time(hours.opens.0)?, locale.time(hours.closes.0)?];
            let times = self.text("time.from_to", &[("from", &times[0]), ("to", &times[1])])?;
            let days = [locale.weekday(first), locale.weekday(last)];
            let days = match first == last {
                true => days[0].clone(),
                false => self.text("time.days", &[("from", &days[0]), ("to", &days[1])])?,
            };
            self.text("time.on", &[("days", &days), ("times", &times)])
        });
        let written = written.collect::<Built<Vec<String>>>()?.into_iter().map(Ok);
        let joined =
            written.reduce(|before, after| self.text("time.then", &[("before", &before?), ("after", &after?)]));
        joined.unwrap_or_else(|| Ok(String::new()))
    }
}

fn line(locale: &Locale, text: String) -> BannerLine {
    BannerLine { language: locale.tag.clone(), text }
}

/// Id of a document: case code, moment and page.
#[must_use]
pub fn document_id(record: &Record, moment: Moment, page: Page) -> String {
    format!("{}-{}-{}", record.case.code, moment.word(), page.word())
}

/// Text of the record, printed literally.
pub(super) fn literal(text: &str) -> Inlines {
    vec![Inline::Text(text.to_owned())]
}

/// The one paragraph of an item, point, step, lead or sign.
pub(super) fn item(said: &Said) -> Built<Inlines> {
    match said.pieces.as_slice() {
        [Piece::Paragraph(text)] => Ok(text.clone()),
        _ => Err(ComposeError::statement(&said.id, "one paragraph is expected")),
    }
}

fn block(piece: &Piece) -> Block {
    match piece {
        Piece::Heading(level, text) => Block::Heading { level: (*level).clamp(2, 3), text: text.clone() },
        Piece::Paragraph(text) => Block::Paragraph { text: text.clone() },
        Piece::List(ordered, items) => Block::List { ordered: *ordered, items: items.clone() },
    }
}

fn add_item(blocks: &mut Vec<Block>, ordered: bool, item: Inlines) {
    match blocks.last_mut() {
        Some(Block::List { ordered: same, items }) if *same == ordered => items.push(item),
        _ => blocks.push(Block::List { ordered, items: vec![item] }),
    }
}

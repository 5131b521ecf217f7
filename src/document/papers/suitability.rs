//! The suitability sheet of a first visit: whether complaint and floater agree, and what is missing before a date can be given.
//! It is made of a record that is half filled in, and says of each thing whether it is recorded.

use super::parts::{list, not_recorded};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::words;
use crate::document::{Block, Document, Eyes, Inline, Inlines, Page, Weight};
use crate::findings::{Finding, Level};
use crate::record::form::KnownBy;

/// A required key that is missing.
#[derive(Debug, Clone)]
pub struct Missing {
    /// Its JSON pointer.
    pub pointer: String,
    /// What a form calls it, in the language of the staff.
    pub name: String,
    /// Who knows it.
    pub known_by: KnownBy,
}

/// Which keys the record lacks, and what may come of them.
#[derive(Debug, Clone, Copy)]
pub struct Lacking<'a> {
    /// The required keys that are missing.
    pub keys: &'a [Missing],
    /// Titles of the stops and questions that may yet come.
    pub may_come: &'a [String],
}

impl Lacking<'_> {
    fn lacks(&self, pointer: &str) -> bool {
        self.keys.iter().any(|key| pointer.starts_with(key.pointer.as_str()) || key.pointer.starts_with(pointer))
    }

    /// What is missing beside what is filled in once there is a date.
    fn before_a_date(&self, by: KnownBy) -> Vec<String> {
        const WITH_THE_DATE: [&str; 4] = ["/plan/start", "/plan/place", "/plan/surgeon", "/case"];
        let later = |key: &&Missing| WITH_THE_DATE.iter().any(|later| key.pointer.starts_with(later));
        let needed = self.keys.iter().filter(|key| key.known_by == by && !later(key));
        needed.map(|key| key.name.clone()).collect()
    }
}

/// Builds the sheet. The plan of `sheet` is not looked at: there may be none yet.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, lacking: Lacking) -> Built<Document> {
    let open: Vec<&Finding> = sheet.findings.0.iter().filter(|finding| finding.open()).collect();
    let missing = missing(sheet, lacking)?;
    let mut blocks = vec![verdict(sheet, missing.iter().map(|(_, keys)| keys.len()).sum(), open.len())?];
    blocks.push(sheet.heading("suitability.complaint")?);
    blocks.push(complaint(sheet, lacking)?);
    blocks.extend(by_person(sheet, &missing)?);
    blocks.extend(questions(sheet, &open)?);
    blocks.extend(may_come(sheet, lacking.may_come)?);
    blocks.push(examined(sheet)?);
    let mut document = sheet.document(Page::Suitability, sheet.text("suitability.title", &[])?, blocks)?;
    unnamed(sheet, lacking, &mut document)?;
    Ok(document)
}

/// What is missing before a date, by who knows it. Whether the floater explains the complaint is what the first visit is for: the
/// record can do without it, a date cannot.
fn missing(sheet: &Sheet, lacking: Lacking) -> Built<Vec<(KnownBy, Vec<String>)>> {
    let agree = match sheet.facts.word("floater_explains") {
        None | Some("unknown") => Some(sheet.text("suitability.agree", &[])?),
        Some(_) => None,
    };
    let of = |by| {
        let agree = agree.iter().filter(|_| by == KnownBy::Surgeon).cloned();
        (by, lacking.before_a_date(by).into_iter().chain(agree).collect())
    };
    Ok(KnownBy::ALL.map(of).into())
}

/// Whether a date can be given. What no rule says is not said either: that it is right to treat.
fn verdict(sheet: &Sheet, missing: usize, open: usize) -> Built<Block> {
    let number = |count: usize| sheet.content.locale.number(count as f64, 0);
    let ready = missing == 0 && open == 0;
    let key = if ready { "suitability.ready" } else { "suitability.not_yet" };
    Ok(Block::Notice {
        weight: if ready { Weight::Light } else { Weight::Heavy },
        title: sheet.text(key, &[])?,
        text: sheet.inline(&format!("{key}_text"), &[("missing", &number(missing)), ("open", &number(open))])?,
    })
}

/// The complaint beside what is seen, and whether they agree.
fn complaint(sheet: &Sheet, lacking: Lacking) -> Built<Block> {
    let reason = match lacking.lacks("/complaint/reason") {
        true => not_recorded(sheet)?,
        false => sheet.inline("consent.why_value", &[])?,
    };
    let fact = |name: &str| words::shown(sheet, name)?.map_or_else(|| not_recorded(sheet), Ok);
    let items = vec![
        sheet.pair("consent.why", reason)?,
        sheet.pair("suitability.since", fact("complaint_months")?)?,
        sheet.pair("fact.sudden", fact("sudden")?)?,
        sheet.pair("fact.floater_kind", fact("floater_kind")?)?,
        sheet.pair("suitability.agree", strong(fact("floater_explains")?))?,
        sheet.pair("fact.lens", fact("lens")?)?,
        sheet.pair("fact.detachment", fact("detachment")?)?,
        sheet.pair("fact.examination_days", fact("examination_days")?)?,
        sheet.pair("fact.acuity", fact("acuity")?)?,
        sheet.pair("fact.pressure_mmhg", fact("pressure_mmhg")?)?,
    ];
    Ok(Block::Pairs { items })
}

fn strong(text: Inlines) -> Inlines {
    vec![Inline::Strong(text)]
}

/// What is missing, by who knows it.
fn by_person(sheet: &Sheet, missing: &[(KnownBy, Vec<String>)]) -> Built<Vec<Block>> {
    let mut items = Vec::new();
    for (by, keys) in missing.iter().filter(|(_, keys)| !keys.is_empty()) {
        let who = match by {
            KnownBy::Desk => "suitability.desk",
            KnownBy::Nurse => "suitability.nurse",
            KnownBy::Surgeon => "suitability.surgeon",
        };
        items.push(sheet.pair(who, literal(&list(sheet, keys)))?);
    }
    match items.is_empty() {
        true => Ok(Vec::new()),
        false => Ok(vec![sheet.heading("suitability.missing")?, Block::Pairs { items }]),
    }
}

/// Each stop and question that is open, the stops first.
fn questions(sheet: &Sheet, open: &[&Finding]) -> Built<Vec<Block>> {
    let end = sheet.text("page.label_end", &[])?;
    let mut items = Vec::new();
    for level in [Level::Stop, Level::Ask] {
        let titles = open.iter().filter(|finding| finding.level == level).map(|finding| sheet.title(finding));
        let titles = titles.collect::<Built<Vec<_>>>()?;
        if !titles.is_empty() {
            let word = sheet.text(&format!("surgeon.word_{}", level.word()), &[])?;
            let mut item = strong(literal(&format!("{word}{end} ")));
            item.push(Inline::Text(titles.join("; ")));
            items.push(item);
        }
    }
    match items.is_empty() {
        true => Ok(Vec::new()),
        false => Ok(vec![sheet.heading("suitability.open")?, Block::List { ordered: false, items }]),
    }
}

/// What may come of what is missing.
fn may_come(sheet: &Sheet, titles: &[String]) -> Built<Option<Block>> {
    let said = || sheet.paragraph("suitability.may_come", &[("titles", &titles.join("; "))]);
    (!titles.is_empty()).then(said).transpose()
}

/// Who examined, signed by hand: there may be no surgeon on record yet.
fn examined(sheet: &Sheet) -> Built<Block> {
    let blanks = ["sign.signature", "sign.name", "sign.date", "sign.time"];
    let signer = crate::document::Signer {
        mark: "sign/surgeon".into(),
        role: sheet.text("suitability.examined", &[])?,
        blanks: blanks.iter().map(|key| sheet.text(key, &[])).collect::<Built<_>>()?,
    };
    Ok(Block::Signatures {
        title: sheet.text("paper.signature", &[])?,
        sentence: Vec::new(),
        answers: Vec::new(),
        signers: vec![signer],
    })
}

/// The head and foot say what is not recorded, and nothing that stands in its place.
fn unnamed(sheet: &Sheet, lacking: Lacking, document: &mut Document) -> Built<()> {
    let header = &mut document.header;
    if lacking.lacks("/patient/name") {
        header.name = sheet.text("suitability.no_name", &[])?;
    }
    if lacking.lacks("/patient/birth_date") || lacking.lacks("/patient/record_number") {
        header.identifiers = sheet.text("suitability.no_identifiers", &[])?;
    }
    if lacking.lacks("/eye/side") {
        header.eye = sheet.text("suitability.no_eye", &[])?;
        header.eyes = Eyes::Both;
    }
    if lacking.lacks("/case") {
        document.footer.document =
            sheet.text("suitability.no_code", &[("date", &sheet.content.locale.date(sheet.issued))])?;
    }
    Ok(())
}

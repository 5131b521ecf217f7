//! Everything of a packet as JSON, for other programs: facts, findings, doses, visits, and the hash of each page.

use serde_json::{Value as Json, json};
use sha2::{Digest, Sha256};

use super::Case;
use crate::document::{Document, Page};
use crate::facts::Value;

/// A page set as it was made.
#[derive(Debug, Clone)]
pub struct Printed {
    page: Page,
    language: String,
    draft: bool,
    file: String,
    id: String,
    sha256: String,
}

impl Printed {
    /// Notes a finished file with its hash.
    #[must_use]
    pub fn new(document: &Document, file: &str, id: &str, bytes: &[u8]) -> Self {
        let hash = Sha256::digest(bytes);
        let sha256 = hash.iter().map(|byte| format!("{byte:02x}")).collect();
        let (page, language, draft) = (document.page, document.language.clone(), document.draft);
        Self { page, language, draft, file: file.to_owned(), id: id.to_owned(), sha256 }
    }
}

/// The packet as JSON, keys sorted, times local with the zone and as UTC. `dosages` are the doses as stretches of dates
/// ([`crate::render::dosage`]).
///
/// # Errors
/// A drug of the plan that the formulary does not have.
pub fn packet(case: &Case, dosages: &Json, printed: &[Printed]) -> Result<String, String> {
    let (record, practice) = (case.record(), case.practice());
    let documents = printed.iter().map(|file| {
        json!({
            "page": file.page,
            "language": file.language,
            "draft": file.draft,
            "file": file.file,
            "id": file.id,
            "sha256": file.sha256,
        })
    });
    let value = json!({
        "case": record.case.code,
        "revision": record.case.revision,
        "moment": case.moment(),
        "zone": practice.profile.practice.time_zone,
        "language": record.patient.language,
        "print": record.patient.print,
        "eye": record.eye.side,
        "banner": practice.profile.practice.banner,
        "patient": {
            "name": record.patient.name,
            "birth_date": record.patient.birth_date,
            "record_number": record.patient.record_number,
        },
        "starts": case.plan.anchors.starts.format("%Y-%m-%dT%H:%M").to_string(),
        "treatment": case.plan.anchors.last_pulse.format("%Y-%m-%dT%H:%M").to_string(),
        "withheld": case.withheld().is_some(),
        "facts": facts(case),
        "findings": findings(case),
        "both_eyes": case.both_eyes(),
        "doses": if case.withheld().is_some() { json!([]) } else { doses(case)? },
        "dosages": dosages,
        "visits": visits(case),
        "recheck": recheck(case),
        "documents": documents.collect::<Vec<_>>(),
    });
    let text = serde_json::to_string_pretty(&value).map_err(|error| error.to_string())?;
    Ok(text + "\n")
}

/// Facts by name; a fact that is not recorded or does not apply is null.
#[must_use]
pub fn facts(case: &Case) -> Json {
    let written = case.facts.iter().map(|(name, value)| {
        let value = match value {
            Value::Choice(word) | Value::Text(word) => json!(word),
            Value::Word(key) => json!(key),
            Value::Number(number) => json!(number),
            Value::Numbers(numbers) => json!(numbers),
            Value::Minutes(minutes) => json!(minutes),
            Value::Words(keys) => json!(keys),
            Value::List(items) => json!(items),
            Value::Date(date) => json!(date.format("%Y-%m-%d").to_string()),
            Value::Time(time) => json!(time.format("%Y-%m-%dT%H:%M").to_string()),
            Value::Absent => Json::Null,
        };
        (name.to_owned(), value)
    });
    Json::Object(written.collect())
}

/// Findings, heaviest first.
#[must_use]
pub fn findings(case: &Case) -> Json {
    let rows = case.findings.0.iter().map(|finding| {
        json!({
            "id": finding.id,
            "level": finding.level,
            "drug": finding.drug,
            "unrecorded": finding.unrecorded,
            "alternatives": finding.alternatives,
            "answered": finding.answer.is_some(),
        })
    });
    rows.collect()
}

/// Doses in order of time.
///
/// # Errors
/// A drug of the plan that the formulary does not have.
pub fn doses(case: &Case) -> Result<Json, String> {
    let rows = case.plan.doses.iter().map(|dose| {
        let drug = case.practice().formulary.get(&dose.drug);
        let drug = drug.ok_or_else(|| format!("the formulary has no drug {}", dose.drug))?;
        Ok(json!({
            "course": dose.course + 1,
            "step": dose.step + 1,
            "drug": dose.drug,
            "name": format!("{} {}", drug.shown_name(), drug.strength),
            "at": dose.at.format("%Y-%m-%dT%H:%M").to_string(),
            "utc": dose.instant.to_utc().format("%Y-%m-%dT%H:%M:%SZ").to_string(),
            "period": dose.period,
            "given": dose.given(),
        }))
    });
    rows.collect()
}

/// Visits in order of date.
#[must_use]
pub fn visits(case: &Case) -> Json {
    let rows = case.plan.visits.iter().map(|visit| {
        json!({
            "ids": visit.ids,
            "date": visit.date.format("%Y-%m-%d").to_string(),
            "at": visit.at.map(|at| at.format("%H:%M").to_string()),
            "booked": visit.booked,
            "if_raised": visit.if_raised,
        })
    });
    rows.collect()
}

/// The same-day recheck; null when it is not wanted.
#[must_use]
pub fn recheck(case: &Case) -> Json {
    let at = case.plan.recheck.and_then(crate::facts::recheck::Recheck::at);
    let place = case.facts.choice("recheck_place");
    at.map_or(Json::Null, |at| json!({ "at": at.format("%Y-%m-%dT%H:%M").to_string(), "place": place }))
}

//! Everything of a packet as JSON, for other programs: facts, findings, doses, visits, and the hash of each page.

use chrono::{DateTime, NaiveDateTime, Utc};
use schemars::JsonSchema;
use serde::Serialize;

use super::rows::{self, CaseHead, DoseRow, FactValues, FindingRow, RecheckRow, VisitRow};
use super::version::Version;
use super::withholding::Withholding;
use super::{Case, CaseError, File, Output};
use crate::document::{Document, Page, Print, desk};
use crate::record::date::{Date, LocalTime};
use crate::record::eye::Side;
use crate::record::profile::Zone;
use crate::render::dosage::DrugDosages;

/// What `packet.json` holds: one case at one moment, as it was issued.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct PacketData {
    /// Version of this format.
    pub version: Version<1>,
    /// Time of issue, UTC.
    pub issued: DateTime<Utc>,
    /// Version of the program that made it.
    pub program_version: String,
    /// Hash of the record ([`crate::record::Record::hash`]): it changes with any value of it.
    pub record_hash: String,
    /// Hash of the clinical values and files behind it, as a clinician confirms them.
    pub clinical_hash: String,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// Time zone of the local times.
    pub zone: Zone,
    /// BCP 47 tag of the patient's language.
    pub language: String,
    /// Size of print.
    pub print: Print,
    /// Which eye.
    pub eye: Side,
    /// The practice's line across every page.
    pub banner: Option<String>,
    /// Who.
    pub patient: PatientRow,
    /// Start of the treatment, local.
    pub starts: LocalTime,
    /// Last pulse, local, as planned or as done.
    pub treatment: LocalTime,
    /// Whether the consent (before the treatment) or the drop plan (after it) is withheld.
    pub withheld: bool,
    /// Why it is withheld.
    pub withheld_because: Option<Withholding>,
    /// The facts.
    pub facts: FactValues,
    /// The findings, heaviest first.
    pub findings: Vec<FindingRow>,
    /// Id of the calendar for both eyes that holds the doses of this one, if there is one.
    pub both_eyes: Option<String>,
    /// Every dose in order of time; none while they are withheld.
    pub doses: Vec<DoseRow>,
    /// The doses as stretches of dates, drug by drug; none while they are withheld.
    pub dosages: Vec<DrugDosages>,
    /// The visits in order of date.
    pub visits: Vec<VisitRow>,
    /// The recheck of the pressure on the day of the laser, if it is wanted.
    pub recheck: Option<RecheckRow>,
    /// The page sets as files.
    pub documents: Vec<Printed>,
    /// The calendar files.
    pub calendars: Vec<CalendarFile>,
}

/// Who the patient is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct PatientRow {
    /// Name.
    pub name: String,
    /// Date of birth.
    pub birth_date: Date,
    /// Record number of the practice.
    pub record_number: String,
}

/// A page set as it was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Printed {
    /// Which page set.
    pub page: Page,
    /// BCP 47 tag of its language.
    pub language: String,
    /// Whether it is a draft that no patient may be given.
    pub draft: bool,
    /// Whether it is told line after line, because its usual form cannot be laid out.
    pub in_lines: bool,
    /// Name of the file.
    pub file: String,
    /// Id printed on it.
    pub id: String,
    /// How many copies the desk sheet asks for.
    pub copies: u32,
    /// Time of issue, UTC. It is that of the packet unless an earlier run made it of the same record.
    pub issued: DateTime<Utc>,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
}

/// A calendar file as it was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CalendarFile {
    /// Name of the file.
    pub file: String,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
}

impl CalendarFile {
    /// The calendars among finished files, each with its hash.
    pub fn among<'f>(files: impl IntoIterator<Item = &'f File>) -> Vec<Self> {
        let calendars = files.into_iter().filter(|file| file.output == Output::Calendar);
        calendars.map(|file| Self { file: file.name.clone(), sha256: file.sha256() }).collect()
    }
}

impl Printed {
    /// Notes a finished file with its hash.
    #[must_use]
    pub fn new(document: &Document, file: &File, id: &str, issued: NaiveDateTime) -> Self {
        Self {
            page: document.page,
            language: document.language.clone(),
            draft: document.draft,
            in_lines: document.in_lines,
            file: file.name.clone(),
            id: id.to_owned(),
            copies: desk::copies(document.page, document.second),
            issued: issued.and_utc(),
            sha256: file.sha256(),
        }
    }
}

impl PacketData {
    /// Gathers what a case holds. `dosages` are its doses as stretches of dates, `printed` its page sets, `calendars` its
    /// calendar files.
    ///
    /// # Errors
    /// A drug of the plan that the formulary does not have.
    pub fn new(
        case: &Case,
        issued: NaiveDateTime,
        dosages: Vec<DrugDosages>,
        printed: Vec<Printed>,
        calendars: Vec<CalendarFile>,
    ) -> Result<Self, CaseError> {
        let (record, practice) = (case.record(), case.practice());
        let withheld_because = case.withholding();
        let patient = &record.patient;
        Ok(Self {
            version: Version,
            issued: issued.and_utc(),
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            record_hash: record.hash()?,
            clinical_hash: practice.clinical_hash().to_owned(),
            head: CaseHead::of(case),
            zone: practice.profile.practice.time_zone,
            language: patient.language.clone(),
            print: patient.print,
            eye: record.eye.side,
            banner: practice.profile.practice.banner.clone(),
            patient: PatientRow {
                name: patient.name.clone(),
                birth_date: patient.birth_date,
                record_number: patient.record_number.clone(),
            },
            starts: LocalTime(case.plan.anchors.starts),
            treatment: LocalTime(case.plan.anchors.last_pulse),
            withheld: withheld_because.is_some(),
            facts: rows::facts(case),
            findings: rows::findings(case),
            both_eyes: case.both_eyes().map(str::to_owned),
            doses: if withheld_because.is_some() { Vec::new() } else { rows::doses(case)? },
            withheld_because,
            dosages,
            visits: rows::visits(case),
            recheck: rows::recheck(case),
            documents: printed,
            calendars,
        })
    }
}

/// An output as text, its keys sorted.
///
/// # Errors
/// A value that JSON cannot hold.
pub fn text(output: &impl Serialize) -> Result<String, serde_json::Error> {
    let value = serde_json::to_value(output)?;
    Ok(format!("{value:#}\n"))
}

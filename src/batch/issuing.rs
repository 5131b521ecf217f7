//! The register as the target of a batch: what is made is issued, and its files are written as well, both or neither. The
//! other eye of a patient is found in the register, and issued along if both share a calendar.

use std::sync::{Mutex, PoisonError};

use chrono::NaiveDateTime;
use serde_json::{Value, json};

use super::folder::Folder;
use super::{Fault, Refusal, Target};
use crate::facts::Moment;
use crate::packet::{Case, Output, Packet, both_eyes};
use crate::practice::{Checked, Practice};
use crate::record::Record;
use crate::register::{Act, CaseFile, CaseId, Filed, Files, Issue, Register, RegisterError};

/// A case of the register with its record, as it is to be issued.
#[derive(Clone)]
pub struct Wanted {
    case: CaseId,
    /// The record.
    pub record: Checked<Record>,
    /// Before or after the treatment.
    pub moment: Moment,
}

/// Who issues, and when.
#[derive(Debug, Clone)]
pub struct Issuer {
    /// Name of somebody of the register.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// A register and a folder that packets go to.
pub struct Issuing<'a> {
    register: Mutex<Register>,
    folder: Folder<'a>,
    issuer: Issuer,
    /// What is issued, by its place in the batch; nothing where a record was refused.
    wanted: Vec<Option<Wanted>>,
    /// How many of them were asked for; those that follow are the other eyes.
    own: usize,
    along: Mutex<Vec<String>>,
}

impl<'a> Issuing<'a> {
    /// Takes records into the register, each with what is written in its file, and finds the other eyes of their patients.
    ///
    /// # Errors
    /// A register that does not answer, knows nobody of the name, or has another patient or eye under a code.
    pub fn new(
        mut register: Register,
        folder: Folder<'a>,
        practice: &Practice,
        issuer: Issuer,
        records: Vec<Option<(Checked<Record>, Moment, Value)>>,
    ) -> Result<Self, RegisterError> {
        if !register.people()?.iter().any(|person| person.name == issuer.by) {
            return Err(RegisterError::NoPerson);
        }
        let own = records.len();
        let mut wanted = Vec::new();
        for record in records {
            let Some((record, moment, written)) = record else {
                wanted.push(None);
                continue;
            };
            let case = take_in(&mut register, &record, written, &issuer)?;
            wanted.push(Some(Wanted { case, record, moment }));
        }
        let others = others(&register, practice, &wanted)?;
        for other in others {
            wanted.push(Some(raised(&mut register, practice, &wanted[..own], other, &issuer)?));
        }
        Ok(Self { register: Mutex::new(register), folder, issuer, wanted, own, along: Mutex::default() })
    }

    /// How many cases are made, and how many of them were asked for.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        (self.wanted.len(), self.own)
    }

    /// What is made at a place of the batch.
    #[must_use]
    pub fn wanted(&self, at: usize) -> Option<&Wanted> {
        self.wanted[at].as_ref()
    }

    /// The files of other eyes that were issued along.
    #[must_use]
    pub fn along(self) -> Vec<String> {
        self.along.into_inner().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Target for Issuing<'_> {
    fn choose(&self, outputs: &mut Vec<Output>) {
        self.folder.choose(outputs);
    }

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        // Another eye that shares nothing with those asked for is left as it was issued.
        if packets.iter().all(|(at, _)| *at >= self.own) {
            return Ok(());
        }
        let issues: Vec<_> = packets.iter().filter_map(|(at, packet)| self.issue(*at, packet)).collect();
        let mut fault = None;
        let write = || {
            self.folder.take(packets).map_err(|why| {
                fault = Some(why);
                RegisterError::Full // what is really wrong is told instead
            })
        };
        let issued = self.register.lock().unwrap_or_else(PoisonError::into_inner).issue_all(&issues, write);
        match (fault, issued) {
            (Some(fault), _) => Err(fault),
            (None, Err(why)) => Err(Fault { at: None, why: Refusal::Register(why) }),
            (None, Ok(_)) => {
                let others = packets.iter().filter(|(at, _)| *at >= self.own);
                let files = others.flat_map(|(_, packet)| packet.files.iter().map(|file| file.name.clone()));
                self.along.lock().unwrap_or_else(PoisonError::into_inner).extend(files);
                Ok(())
            }
        }
    }
}

impl Issuing<'_> {
    fn issue<'p>(&self, at: usize, packet: &'p Packet) -> Option<(Issue, Files<'p>)> {
        let wanted = self.wanted[at].as_ref()?;
        let Issuer { by, at } = &self.issuer;
        let issue = Issue::of(wanted.case, &wanted.record, wanted.moment, packet.withheld.is_some(), by, *at);
        Some((issue, packet.files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect()))
    }
}

/// The number of a case under its code. What stands in its file replaces a draft that says something else; answers in it are
/// to be signed again at the desk.
fn take_in(
    register: &mut Register,
    record: &Checked<Record>,
    written: Value,
    issuer: &Issuer,
) -> Result<CaseId, RegisterError> {
    let known = register.by_code(&record.case.code)?.map(|id| register.case(id)).transpose()?.flatten();
    let Some(known) = known else { return register.add(&CaseFile::imported(written)?) };
    let same = |pointer: &str| known.file.record.pointer(pointer) == written.pointer(pointer);
    if !["/patient/record_number", "/eye/side"].iter().all(|pointer| same(pointer)) {
        return Err(RegisterError::CodeTaken);
    }
    if known.file.exported() != written {
        let act = Act { by: issuer.by.clone(), at: issuer.at, what: "print".into() };
        register.save(&known, &CaseFile::imported(written)?, &act)?;
    }
    Ok(known.id)
}

/// Other complete cases of the register that may be of the same patients.
fn others(
    register: &Register,
    practice: &Practice,
    wanted: &[Option<Wanted>],
) -> Result<Vec<(Filed, Wanted)>, RegisterError> {
    let mut known: Vec<CaseId> = wanted.iter().flatten().map(|wanted| wanted.case).collect();
    let mut others = Vec::new();
    for own in wanted.iter().flatten() {
        let patient = &own.record.patient;
        for filed in register.of_patient(&patient.name, &patient.record_number)? {
            if known.contains(&filed.id) {
                continue;
            }
            known.push(filed.id);
            if let Some(record) = filed.file.complete(practice) {
                let moment = Moment::chosen(None, record.treatment.is_some());
                others.push((filed.clone(), Wanted { case: filed.id, record, moment }));
            }
        }
    }
    Ok(others)
}

/// Another eye in the revision that follows what was issued of it, if its pages change by sharing a calendar.
fn raised(
    register: &mut Register,
    practice: &Practice,
    own: &[Option<Wanted>],
    (filed, other): (Filed, Wanted),
    issuer: &Issuer,
) -> Result<Wanted, RegisterError> {
    let issues = register.issues(other.case)?;
    let last = issues.iter().filter(|last| last.issue.moment == other.moment).max_by_key(|last| last.issue.revision);
    let Some(last) = last.filter(|_| shares(own, &other)) else { return Ok(other) };
    let now = Issue::of(other.case, &other.record, other.moment, false, &issuer.by, issuer.at);
    let same = last.joined && now.hashes.agree(&last.issue.hashes);
    if now.revision > last.issue.revision || same {
        return Ok(other);
    }
    let mut file = filed.file.clone();
    if let Some(revision) = file.record.pointer_mut("/case/revision") {
        *revision = json!(last.issue.revision + 1);
    }
    let act = Act { by: issuer.by.clone(), at: issuer.at, what: "print".into() };
    register.save(&filed, &file, &act)?;
    let record = file.complete(practice).ok_or(RegisterError::Changed)?;
    Ok(Wanted { record, ..other })
}

/// Whether a case shares a calendar with one of these.
fn shares(own: &[Option<Wanted>], other: &Wanted) -> bool {
    let Ok(last) = Case::new(&other.record, other.moment) else { return false };
    let cases: Vec<Case> =
        own.iter().flatten().filter_map(|own| Case::new(&own.record, own.moment).ok()).chain([last]).collect();
    let last = cases.len() - 1;
    both_eyes::find(&cases.iter().collect::<Vec<_>>()).pairs.iter().any(|pair| pair.contains(&last))
}

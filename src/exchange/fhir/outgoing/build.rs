//! From a case and its issued files to the bundle.

use chrono::{DateTime, NaiveDateTime, SecondsFormat, TimeDelta, TimeZone, Utc};

use super::id;
use super::resource::*;
use super::types::Types;
use crate::document::Page;
use crate::facts::Moment;
use crate::packet::rows::{self, VisitRow};
use crate::packet::{Case, CaseError, File, Output};
use crate::record::date::Date;
use crate::record::eye::Side;
use crate::record::known::Answer;

/// Names by which FHIR knows the code systems that are used here.
mod system {
    pub(super) const ATC: &str = "http://www.whocc.no/atc";
    pub(super) const LOINC: &str = "http://loinc.org";
    pub(super) const IDENTIFIERS: &str = "http://terminology.hl7.org/CodeSystem/v2-0203";
    pub(super) const SCOPE: &str = "http://terminology.hl7.org/CodeSystem/consentscope";
    pub(super) const AGENT: &str = "http://terminology.hl7.org/CodeSystem/provenance-participant-type";
}

/// A consent document (LOINC, seen in the examples of FHIR R4).
const CONSENT: &str = "59284-0";

/// All that goes out of a case: references to its issued files, the consent, the treatment, the doses, the visits, and who
/// made them from what. What is withheld is not in it.
///
/// # Errors
/// A text that is missing, or a record that cannot be written as JSON.
pub fn bundle(case: &Case, files: &[File], types: &Types, issued: NaiveDateTime) -> Result<Bundle, CaseError> {
    let out = Out { case, files, types, issued: issued.and_utc() };
    let mut resources = vec![out.patient(), out.practitioner()];
    resources.extend(out.documents());
    resources.extend(out.consent());
    resources.push(out.procedure());
    resources.extend(out.medicines()?);
    resources.extend(out.appointments());
    resources.extend(out.care_plan());
    let made: Vec<Reference> = resources.iter().skip(2).map(|(id, _)| reference(id)).collect();
    resources.push(out.provenance(made)?);
    let entry = resources.into_iter().map(|(id, resource)| entry(&id, resource)).collect();
    Ok(Bundle { resource_type: BundleKind::Bundle, kind: "transaction", timestamp: out.issued, entry })
}

/// A resource with its id.
type Made = (String, Resource);

struct Out<'a> {
    case: &'a Case<'a>,
    files: &'a [File],
    types: &'a Types,
    issued: DateTime<Utc>,
}

impl Out<'_> {
    /// The id of a resource of this case. The patient and who treats are the same in every case of theirs.
    fn id(&self, kind: &str, key: &str) -> String {
        let (record, practice) = (self.case.record(), &self.case.practice().profile.practice.name);
        let patient = &record.patient.record_number;
        match kind {
            "Patient" => id::of(&[practice, kind, patient]),
            "Practitioner" => id::of(&[practice, kind, key]),
            _ => id::of(&[practice, patient, &record.case.code, kind, key]),
        }
    }

    fn subject(&self) -> Reference {
        reference(&self.id("Patient", ""))
    }

    fn surgeon(&self) -> Reference {
        reference(&self.id("Practitioner", &self.case.record().plan.surgeon))
    }

    fn patient(&self) -> Made {
        let (id, patient) = (self.id("Patient", ""), &self.case.record().patient);
        let kind = Some(coded(system::IDENTIFIERS, "MR"));
        let made = Patient {
            id: id.clone(),
            identifier: vec![Identifier { kind, value: patient.record_number.clone() }],
            name: vec![Name { text: patient.name.clone() }],
            birth_date: patient.birth_date,
        };
        (id, Resource::Patient(made))
    }

    fn practitioner(&self) -> Made {
        let surgeon = &self.case.record().plan.surgeon;
        let known = self.case.practice().profile.surgeons.iter().find(|one| one.id == *surgeon);
        let text = known.map_or(surgeon, |known| &known.name).clone();
        let id = self.id("Practitioner", surgeon);
        (id.clone(), Resource::Practitioner(Practitioner { id, name: vec![Name { text }] }))
    }

    /// Every issued file but the data, which hold more than others need.
    fn documents(&self) -> Vec<Made> {
        let files = self.files.iter().filter(|file| file.output != Output::Data);
        files.map(|file| self.document(file)).collect()
    }

    fn document(&self, file: &File) -> Made {
        let id = self.id("DocumentReference", &file.name);
        let attachment = Attachment {
            content_type: media(&file.name),
            size: file.bytes.len(),
            title: file.name.clone(),
            creation: self.issued,
        };
        let made = DocumentReference {
            id: id.clone(),
            master_identifier: hashed(&file.sha256()),
            status: "current",
            kind: self.kind(file.output),
            subject: self.subject(),
            date: self.issued,
            author: vec![self.surgeon()],
            content: vec![Document { attachment }],
        };
        (id, Resource::DocumentReference(made))
    }

    /// What kind of document a page is, if a row says so.
    fn kind(&self, output: Output) -> Option<Concept> {
        let (Output::Page(page, _) | Output::Second(page, _)) = output else { return None };
        let (code, says) = self.types.of(page)?;
        Some(Concept { text: Some(says.to_owned()), ..coded(system::LOINC, code) })
    }

    /// The consent that was printed; once the treatment is done, the one that somebody saw signed.
    fn consent(&self) -> Option<Made> {
        let is_consent = |file: &&File| matches!(file.output, Output::Page(Page::Consent, _));
        let printed =
            self.files.iter().find(is_consent).map(|file| reference(&self.id("DocumentReference", &file.name)));
        let seen = self.case.record().procedure.consent_seen == Answer::Yes;
        if printed.is_none() && !seen {
            return None;
        }
        let practice = self.case.practice();
        let rules = &practice.profile.practice.jurisdiction;
        let id = self.id("Consent", "");
        let made = Consent {
            id: id.clone(),
            status: if seen { "active" } else { "proposed" },
            scope: coded(system::SCOPE, "treatment"),
            category: vec![coded(system::LOINC, CONSENT)],
            patient: self.subject(),
            date_time: self.issued,
            source_reference: printed,
            policy: vec![Policy { uri: format!("urn:vitreoleaf:jurisdiction:{rules}") }],
            policy_rule: said(practice.jurisdiction.name.clone()),
        };
        Some((id, Resource::Consent(made)))
    }

    fn procedure(&self) -> Made {
        let record = self.case.record();
        let done = record.treatment.as_ref().filter(|_| self.case.moment() == Moment::After);
        let status = match done {
            None => "preparation",
            Some(done) if done.stopped.is_some() => "stopped",
            Some(_) => "completed",
        };
        let id = self.id("Procedure", "");
        let made = Procedure {
            id: id.clone(),
            status,
            code: said("laser vitreolysis".into()),
            subject: self.subject(),
            performed_date_time: done.map(|done| self.instant(done.ended().0)),
            performer: vec![Actor { actor: self.surgeon() }],
            body_site: vec![said(match record.eye.side {
                Side::Right => "right eye".into(),
                Side::Left => "left eye".into(),
            })],
        };
        (id, Resource::Procedure(made))
    }

    /// The doses that the patient's calendar shows; none while they are withheld or before the treatment.
    fn medicines(&self) -> Result<Vec<Made>, CaseError> {
        if self.case.moment() == Moment::Before {
            return Ok(Vec::new());
        }
        let dosages = self.case.dosages(self.issued.naive_utc())?.into_iter();
        let formulary = &self.case.practice().formulary;
        let one = |drug: crate::render::dosage::DrugDosages| {
            let id = self.id("MedicationRequest", &drug.drug);
            let atc = formulary.get(&drug.drug).map(|known| Coding { system: system::ATC, code: known.atc.clone() });
            let made = MedicationRequest {
                id: id.clone(),
                status: "active",
                intent: "order",
                medication_codeable_concept: Concept { coding: atc.into_iter().collect(), text: Some(drug.name) },
                subject: self.subject(),
                authored_on: self.issued,
                requester: self.surgeon(),
                dosage_instruction: drug.dosages,
            };
            (id, Resource::MedicationRequest(made))
        };
        Ok(dosages.map(one).collect())
    }

    /// The treatment while it is still to come, and the visits that are booked.
    fn appointments(&self) -> Vec<Made> {
        let mut made = Vec::new();
        if self.case.moment() == Moment::Before {
            let stay = self.case.practice().profile.thresholds.visit_minutes;
            made.push(self.appointment("treatment", self.case.record().plan.start.0, TimeDelta::minutes(stay.into())));
        }
        let booked = rows::visits(self.case).into_iter().filter_map(|visit| Some((booked(&visit)?, visit)));
        made.extend(booked.map(|(at, visit)| self.appointment(&visit.ids.join(" "), at, TimeDelta::zero())));
        made
    }

    fn appointment(&self, key: &str, at: NaiveDateTime, lasts: TimeDelta) -> Made {
        let id = self.id("Appointment", key);
        let comes = |actor| Participant { actor, status: "accepted" };
        let made = Appointment {
            id: id.clone(),
            status: "booked",
            start: self.instant(at),
            end: self.instant(at + lasts),
            participant: vec![comes(self.subject())],
        };
        (id, Resource::Appointment(made))
    }

    fn care_plan(&self) -> Option<Made> {
        let visits = rows::visits(self.case);
        let (first, last) = (visits.first()?.date, visits.last()?.date);
        let id = self.id("CarePlan", "");
        let made = CarePlan {
            id: id.clone(),
            status: "active",
            intent: "plan",
            subject: self.subject(),
            period: Some(Period { start: first, end: last }),
            activity: visits.iter().map(|visit| self.activity(visit)).collect(),
        };
        Some((id, Resource::CarePlan(made)))
    }

    fn activity(&self, visit: &VisitRow) -> Activity {
        let ids = visit.ids.join(" ");
        if booked(visit).is_some() {
            return Activity { reference: Some(reference(&self.id("Appointment", &ids))), detail: None };
        }
        let on = |date: Date| Period { start: date, end: date };
        let detail = Detail {
            kind: "Appointment",
            code: said(ids),
            status: if visit.if_raised { "on-hold" } else { "scheduled" },
            scheduled_period: on(visit.date),
        };
        Activity { reference: None, detail: Some(detail) }
    }

    fn provenance(&self, target: Vec<Reference>) -> Result<Made, CaseError> {
        let revision = self.case.record().case.revision;
        let id = self.id("Provenance", &format!("{} {revision}", self.case.moment().word()));
        let agent = |kind: &str, who| Agent { kind: coded(system::AGENT, kind), who };
        let program = format!("vitreoleaf {}", env!("CARGO_PKG_VERSION"));
        let made = Provenance {
            id: id.clone(),
            target,
            recorded: self.issued,
            agent: vec![
                agent("author", Who::Known(self.surgeon())),
                agent("assembler", Who::Named { display: program }),
            ],
            entity: vec![Entity { role: "source", what: Source { identifier: hashed(&self.case.record().hash()?) } }],
        };
        Ok((id, Resource::Provenance(made)))
    }

    /// A local time of the practice with its offset. A time that the clock passes twice is the first one, as in the plan; one that
    /// it leaps over is told in UTC as the clock then stands.
    fn instant(&self, at: NaiveDateTime) -> String {
        let zone = self.case.practice().profile.practice.time_zone.0;
        let instant = zone.from_local_datetime(&at).earliest().unwrap_or_else(|| zone.from_utc_datetime(&at));
        instant.to_rfc3339_opts(SecondsFormat::Secs, true)
    }
}

fn booked(visit: &VisitRow) -> Option<NaiveDateTime> {
    visit.at.filter(|_| visit.booked).map(|at| visit.date.0.and_time(at.0))
}

fn entry(id: &str, resource: Resource) -> Entry {
    let request = Request { method: Method::Put, url: format!("{}/{id}", resource.kind()) };
    Entry { full_url: format!("urn:uuid:{id}"), resource, request }
}

fn reference(id: &str) -> Reference {
    Reference { reference: format!("urn:uuid:{id}") }
}

fn coded(system: &'static str, code: &str) -> Concept {
    Concept { coding: vec![Coding { system, code: code.to_owned() }], text: None }
}

fn said(text: String) -> Concept {
    Concept { coding: Vec::new(), text: Some(text) }
}

fn hashed(digits: &str) -> Identifier {
    Identifier { kind: None, value: format!("sha256:{digits}") }
}

fn media(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, ending)| ending) {
        Some("pdf") => "application/pdf",
        Some("html") => "text/html",
        Some("ics") => "text/calendar",
        Some("json") => "application/json",
        _ => "text/plain",
    }
}

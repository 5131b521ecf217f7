//! From files to one answer.

use serde_json::{Value, json};

use super::around::{Around, Reader};
use super::brought::{Incoming, NotRead, Why};
use super::ledger::Ledger;
use super::resources::{self, Resource};
use super::subject::{self, Person};
use super::{allergy, appointment, condition, medicine, observation, patient, practitioner, procedure};
use crate::diag::SourceFile;
use crate::practice::Draft;
use crate::record::{Record, load};

/// A file as it was read.
#[derive(Debug, Clone, Copy)]
pub struct JsonFile<'f> {
    /// Its name, for whoever looks a value up.
    pub name: &'f str,
    /// What it holds.
    pub bytes: &'f [u8],
}

impl Reader<'_> {
    /// Reads the files of one patient.
    ///
    /// ```
    /// use vitreoleaf::assets::Assets;
    /// use vitreoleaf::exchange::fhir::incoming::{JsonFile, Reader, Tables};
    /// use vitreoleaf::record::formulary::Formulary;
    ///
    /// let assets = Assets::default();
    /// let (tables, formulary) = (Tables::load(&assets).unwrap(), Formulary::load(&assets).unwrap());
    /// let today = "2026-08-04".parse().unwrap();
    /// let reader = Reader { tables: &tables, formulary: &formulary, practice: None, side: None, today };
    /// let bytes = br#"{ "resourceType": "Patient", "birthDate": "1955-03" }"#;
    /// let found = reader.read(&[JsonFile { name: "p.json", bytes }]).unwrap();
    /// assert_eq!(found.asked[0].key.as_deref(), Some("/patient/birth_date"));
    /// ```
    ///
    /// # Errors
    /// When a file holds nothing that can be read, or several patients.
    pub fn read(&self, files: &[JsonFile]) -> Result<Incoming, NotRead> {
        let values: Vec<(&str, Value)> = files.iter().map(parsed).collect::<Result<_, _>>()?;
        let mut all = Vec::new();
        for (name, value) in &values {
            let found = resources::of_file(name, value);
            if found.is_empty() {
                return Err(NotRead::NoResource((*name).to_owned()));
            }
            all.extend(found);
        }
        let person = subject::find(&all)?;
        let mut ledger = Ledger::default();
        all.iter().for_each(|resource| self.one(resource, &all, &person, &mut ledger));
        let mut found = ledger.close(|record| self.refused(record));
        if let Some(side) = self.side {
            found.record["eye"]["side"] = json!(side);
        }
        Ok(found)
    }

    fn one(&self, resource: &Resource, all: &[Resource], person: &Person, ledger: &mut Ledger) {
        let around = Around { reader: self, all };
        let read = match resource.kind {
            "Patient" => patient::read,
            "Practitioner" => practitioner::read,
            "Condition" => condition::read,
            "Observation" => observation::read,
            "Procedure" => procedure::read,
            "AllergyIntolerance" => allergy::read,
            "MedicationStatement" | "MedicationRequest" => medicine::read,
            "Appointment" => appointment::read,
            // Read where something refers to it.
            "Medication" => return,
            _ => return ledger.leave(Why::Kind, resource.origin("")),
        };
        if resource.modifier().is_some() {
            return ledger.leave(Why::Modifier, resource.origin(""));
        }
        let of_somebody = !matches!(resource.kind, "Patient" | "Practitioner");
        match of_somebody.then(|| subject::not_theirs(resource, person)).flatten() {
            Some(why) => ledger.leave(why, resource.origin("")),
            None => read(resource, around, ledger),
        }
    }

    /// The keys of a draft that the record, or the practice, does not take.
    fn refused(&self, record: &Value) -> Vec<String> {
        let file = SourceFile { name: "draft.json".into(), text: record.to_string() };
        let report = match self.practice {
            Some(practice) => Draft::read(&file, practice).err().map(|refused| refused.0.report),
            None => load::incomplete::<Record>(&file).err(),
        };
        let Some(report) = report else { return Vec::new() };
        let pointers: Vec<String> = report.sorted().into_iter().filter_map(|wrong| wrong.pointer.clone()).collect();
        // Refused, and nobody can say where: the empty pointer stands for the whole.
        if pointers.is_empty() { vec![String::new()] } else { pointers }
    }
}

fn parsed<'f>(file: &JsonFile<'f>) -> Result<(&'f str, Value), NotRead> {
    let bytes = file.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(file.bytes);
    let name = || file.name.to_owned();
    let text = std::str::from_utf8(bytes).map_err(|_| NotRead::NotUtf8(name()))?;
    let value = serde_json::from_str(text).map_err(|wrong| match wrong.is_eof() {
        true => NotRead::CutOff(name()),
        false => NotRead::NotJson(name()),
    })?;
    Ok((file.name, value))
}

//! Where findings stand in the form.

use std::collections::BTreeSet;

use serde_json::Value;

use super::IN_USE;
use super::view::{SaidHere, Viewer};
use crate::findings::shown;
use crate::review::check::Found;

/// Fields that plan drugs by name; all others come with the regimen.
const DRUGS: [&str; 2] = ["/plan/dilating", "/plan/numbing"];
const REGIMEN: &str = "/plan/regimen";

impl Viewer<'_> {
    /// The fields a finding rests on, the one that plans the drug it speaks of, and the list that names what is taken.
    pub(in crate::desk) fn fields_of_finding<'f>(&'f self, found: &'f Found) -> Vec<&'f str> {
        let rests = found.keys.iter().map(|key| self.form.field_of(&key.pointer).unwrap_or(&key.pointer));
        let planned = found.drug.as_deref().map(|drug| self.planned_in(drug));
        let mut fields: Vec<&str> = rests.chain(planned).chain(self.taken_in(found)).collect();
        let mut seen = BTreeSet::new();
        fields.retain(|field| seen.insert(*field));
        fields
    }

    /// The list of what is taken that names what a finding is called after.
    fn taken_in(&self, found: &Found) -> Option<&'static str> {
        let names = |list: &str| self.file.record.pointer(list).and_then(Value::as_array).into_iter().flatten();
        let is_of = |entry: &Value| entry.as_str().is_some_and(|entry| shown(entry) == found.title);
        IN_USE.into_iter().find(|list| names(list).any(is_of))
    }

    fn planned_in(&self, drug: &str) -> &'static str {
        let planned = |list: &str| self.file.record.pointer(list).and_then(Value::as_array).into_iter().flatten();
        DRUGS.into_iter().find(|list| planned(list).any(|one| one == drug)).unwrap_or(REGIMEN)
    }

    /// The findings of which this field is the last of its step, in the order of the form.
    pub(super) fn findings(&self, pointer: &str) -> Vec<SaidHere> {
        let step = |pointer: &str| self.form.section_of(pointer).map(|section| section.step);
        let here = step(pointer);
        let stands_here = |found: &&Found| {
            let fields = self.fields_of_finding(found).into_iter().filter(|field| step(field) == here);
            fields.max_by_key(|field| self.form.place(field)) == Some(pointer)
        };
        let said = self.judged.check.findings.iter().filter(stands_here);
        let here = |found: &Found| SaidHere {
            level: found.level,
            says: first_sentence(&found.says),
            answered_by: found.answered_by.clone(),
        };
        said.map(here).collect()
    }
}

fn first_sentence(text: &str) -> String {
    match text.split_once(". ") {
        Some((first, _)) => format!("{first}."),
        None => text.to_owned(),
    }
}

//! What somebody wrote beside a form and has not signed or sent yet. It waits in the desk's memory: neither a reload nor a wrong
//! passphrase costs it, and nothing of it is in the case.

use std::collections::BTreeMap;

use super::form::save::Fields;
use crate::register::CaseId;

/// Most texts that wait in one browser.
const MOST: usize = 200;

/// The texts of one browser, by case and field.
#[derive(Debug, Default)]
pub(super) struct Drafts(BTreeMap<(CaseId, String), String>);

impl Drafts {
    /// Remembers what came; what came empty is forgotten.
    pub(super) fn keep(&mut self, case: CaseId, fields: &Fields) {
        for (name, text) in fields.iter().filter(|(name, _)| is_draft(name)) {
            let key = (case, name.clone());
            if text.trim().is_empty() {
                self.0.remove(&key);
            } else if self.0.len() < MOST || self.0.contains_key(&key) {
                self.0.insert(key, text.clone());
            }
        }
    }

    /// Forgets what was signed or sent.
    pub(super) fn forget(&mut self, case: CaseId, names: &[&str]) {
        self.0.retain(|(of, name), _| *of != case || !names.contains(&name.as_str()));
    }

    /// What waits in a case, by field.
    pub(super) fn of(&self, case: CaseId) -> BTreeMap<String, String> {
        let here = self.0.iter().filter(|((of, _), _)| *of == case);
        here.map(|((_, name), text)| (name.clone(), text.clone())).collect()
    }
}

/// Reasons of answers and of changed statements, own words, a question to the surgeon.
fn is_draft(name: &str) -> bool {
    matches!(name, "question" | "own" | "own_was" | "own_reason")
        || ["reason ", "why "].iter().any(|start| name.starts_with(start))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_waits_until_it_is_signed_or_taken_out() {
        let fields = |texts: &[(&str, &str)]| {
            texts.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect::<Fields>()
        };
        let mut drafts = Drafts::default();
        drafts
            .keep(1, &fields(&[("reason steroid", "Seven days."), ("passphrase steroid", "x"), ("question", "When?")]));
        assert_eq!(drafts.of(1).into_keys().collect::<Vec<_>>(), ["question", "reason steroid"]);
        assert!(drafts.of(2).is_empty());
        drafts.keep(1, &fields(&[("question", " ")]));
        drafts.forget(1, &["reason steroid"]);
        assert!(drafts.of(1).is_empty());
    }

    #[test]
    fn there_is_an_end_to_what_is_remembered() {
        let mut drafts = Drafts::default();
        for number in 0..=MOST {
            drafts.keep(1, &Fields::from([(format!("reason {number}"), "x".to_owned())]));
        }
        assert_eq!(drafts.of(1).len(), MOST);
        drafts.keep(1, &Fields::from([("reason 0".to_owned(), "y".to_owned())]));
        assert_eq!(drafts.of(1)["reason 0"], "y");
    }
}

//! A store of an earlier form had the surgeon's own words as texts, and some of their reasons beside the record. Each
//! paragraph is brought to carry its reason; one without waits for a signature.

use std::mem;

use serde_json::Value;

use super::case::CaseFile;
use super::database::{Database, all, values};
use super::{CaseId, RegisterError, Version};
use crate::record::course::OwnWords;
use crate::record::date::Date;

/// Where they stand in a record.
const OWN_WORDS: &str = "surgeon_words";

/// Brings every case to this form, and what it was within its sitting.
pub(super) fn carry_reasons(database: &dyn Database) -> Result<(), RegisterError> {
    let holds = format!("instr(file, '\"{OWN_WORDS}\"') > 0");
    let cases = format!("SELECT id, file FROM kept_case WHERE {holds}");
    let cases = all(database, &cases, &[], |[id, file]| Ok((id.number()?, file.text()?)))?;
    for (id, file) in cases {
        let sql = "UPDATE kept_case SET file = $1 WHERE id = $2";
        database.rows(sql, &values![brought(&file)?, id])?;
    }
    let changes = format!("SELECT case_id, version, file FROM change WHERE {holds}");
    let changes: Vec<(CaseId, Version, String)> =
        all(database, &changes, &[], |[id, version, file]| Ok((id.number()?, version.number()?, file.text()?)))?;
    for (id, version, file) in changes {
        let sql = "UPDATE change SET file = $1 WHERE case_id = $2 AND version = $3";
        database.rows(sql, &values![brought(&file)?, id, version])?;
    }
    Ok(())
}

fn brought(file: &str) -> Result<String, RegisterError> {
    with_reasons(CaseFile::read(file)?).written()
}

fn with_reasons(mut file: CaseFile) -> CaseFile {
    let reasons = mem::take(&mut file.earlier_reasons);
    let planned = Date(file.starts().unwrap_or_default().date());
    let texts = file.record.as_object_mut().and_then(|record| record.remove(OWN_WORDS));
    let texts = texts.as_ref().and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str);
    let mut signed = Vec::new();
    for words in texts.map(str::to_owned) {
        match reasons.get(&words) {
            Some(why) => {
                let (by, on, reason) = (why.by.clone(), Date(why.at.date()), why.says.clone());
                signed.push(OwnWords { words, by, on, reason });
            }
            None => file.unsigned_words.push(OwnWords { words, by: String::new(), on: planned, reason: String::new() }),
        }
    }
    if let (Some(record), false) = (file.record.as_object_mut(), signed.is_empty()) {
        record.insert(OWN_WORDS.into(), serde_json::json!(signed));
    }
    file
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_paragraph_carries_its_reason_and_one_without_waits() {
        let earlier = json!({
            "record": { "plan": { "start": "2026-08-20T09:30" }, "surgeon_words": ["We spoke.", "Slowly."] },
            "own_words": { "We spoke.": { "by": "Ada", "at": "2026-08-12T10:00:00", "says": "He flies." } },
        });
        let brought = CaseFile::read(&brought(&earlier.to_string()).unwrap()).unwrap();
        let signed = json!([{ "words": "We spoke.", "by": "Ada", "on": "2026-08-12", "reason": "He flies." }]);
        assert_eq!(brought.record[OWN_WORDS], signed);
        assert_eq!((brought.unsigned_words.len(), brought.unsigned_words[0].words.as_str()), (1, "Slowly."));
        assert!(brought.earlier_reasons.is_empty());
    }

    #[test]
    fn a_case_without_a_reason_has_none_in_its_record() {
        let brought = with_reasons(CaseFile::of(json!({ "surgeon_words": ["Slowly."] })));
        assert_eq!((brought.record, brought.unsigned_words.len()), (json!({}), 1));
    }
}

//! Keys that say something although they do not apply: data of an implant without one, an opening of a closed capsule.

use serde_json::Value;

use super::Refusals;
use crate::record::form::RULES;

/// Every rule of the form that the values of a record break.
pub(super) fn check(values: &Value, found: &mut Refusals<'_>) {
    for rule in RULES.iter().filter(|rule| rule.is_broken(values)) {
        let refusal = rule.refusal;
        let marks = [(rule.key, ""), (rule.when.pointer, refusal.beside)];
        found.refuse(refusal.code, refusal.message, &marks, refusal.help);
    }
}

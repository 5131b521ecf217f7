//! Words by which FHIR R4 says how far something counts (value sets that the standard itself fixes).

use serde_json::Value;

use super::brought::Why;
use crate::exchange::fhir::element::{at, text, word};

/// What a resource says of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// It is so now.
    Now,
    /// It was so.
    Past,
    /// A person must say.
    Ask(Why),
    /// It does not count.
    Leave(Why),
}

/// Of a condition or an allergy: verification first, then whether it goes on.
pub(super) fn of_condition(body: &Value) -> Standing {
    let ended = ["abatementDateTime", "abatementAge", "abatementPeriod", "abatementRange", "abatementString"];
    let ended = ended.iter().any(|key| at(body, key).is_some());
    match word(body, "verificationStatus").as_deref() {
        Some("entered-in-error") => return Standing::Leave(Why::EnteredInError),
        Some("refuted") => return Standing::Leave(Why::Refuted),
        None | Some("confirmed") => {}
        Some(_) => return Standing::Ask(Why::Uncertain),
    }
    match word(body, "clinicalStatus").as_deref() {
        Some("active" | "recurrence" | "relapse") if ended => Standing::Ask(Why::State),
        Some("active" | "recurrence" | "relapse") => Standing::Now,
        Some("inactive" | "remission" | "resolved") => Standing::Past,
        None if ended => Standing::Past,
        None => Standing::Now,
        Some(_) => Standing::Ask(Why::State),
    }
}

/// Of an observation.
pub(super) fn of_observation(body: &Value) -> Standing {
    match text(body, "status") {
        Some("final" | "amended" | "corrected") => Standing::Now,
        Some("entered-in-error") => Standing::Leave(Why::EnteredInError),
        Some("cancelled") => Standing::Leave(Why::Ended),
        _ => Standing::Ask(Why::Uncertain),
    }
}

/// Of a procedure.
pub(super) fn of_procedure(body: &Value) -> Standing {
    match text(body, "status") {
        Some("completed") => Standing::Now,
        Some("entered-in-error") => Standing::Leave(Why::EnteredInError),
        Some("not-done") => Standing::Leave(Why::NotDone),
        Some("preparation") => Standing::Leave(Why::Planned),
        _ => Standing::Ask(Why::State),
    }
}

/// Of a statement that a medicine is taken.
pub(super) fn of_statement(body: &Value) -> Standing {
    match text(body, "status") {
        Some("active") => Standing::Now,
        Some("entered-in-error") => Standing::Leave(Why::EnteredInError),
        Some("not-taken") => Standing::Leave(Why::NotDone),
        Some("completed" | "stopped") => Standing::Leave(Why::Ended),
        _ => Standing::Ask(Why::State),
    }
}

/// Of a prescription.
pub(super) fn of_request(body: &Value) -> Standing {
    if at(body, "doNotPerform") == Some(&Value::Bool(true)) {
        return Standing::Leave(Why::NotDone);
    }
    let wanted = matches!(text(body, "intent"), Some("proposal" | "plan" | "option"));
    match text(body, "status") {
        Some("active") if wanted => Standing::Ask(Why::Planned),
        Some("active") => Standing::Now,
        Some("entered-in-error") => Standing::Leave(Why::EnteredInError),
        Some("completed" | "stopped" | "cancelled") => Standing::Leave(Why::Ended),
        Some("draft") => Standing::Leave(Why::Planned),
        _ => Standing::Ask(Why::State),
    }
}

/// Of an appointment.
pub(super) fn of_appointment(body: &Value) -> Standing {
    match text(body, "status") {
        Some("booked" | "arrived" | "checked-in") => Standing::Now,
        Some("entered-in-error") => Standing::Leave(Why::EnteredInError),
        Some("cancelled" | "noshow" | "fulfilled") => Standing::Leave(Why::Ended),
        Some("proposed" | "pending" | "waitlist") => Standing::Leave(Why::Planned),
        _ => Standing::Ask(Why::State),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn concept(code: &str) -> Value {
        json!({ "coding": [{ "code": code }] })
    }

    #[test]
    fn verification_comes_before_activity() {
        for (verified, clinical, standing) in [
            ("confirmed", "active", Standing::Now),
            ("confirmed", "resolved", Standing::Past),
            ("refuted", "active", Standing::Leave(Why::Refuted)),
            ("entered-in-error", "active", Standing::Leave(Why::EnteredInError)),
            ("provisional", "active", Standing::Ask(Why::Uncertain)),
            ("confirmed", "of-another-time", Standing::Ask(Why::State)),
        ] {
            let body = json!({ "verificationStatus": concept(verified), "clinicalStatus": concept(clinical) });
            assert_eq!(of_condition(&body), standing, "{verified} {clinical}");
        }
    }

    #[test]
    fn what_has_ended_and_goes_on_is_asked_about() {
        let mut body = json!({ "clinicalStatus": concept("active"), "abatementDateTime": "2019" });
        assert_eq!(of_condition(&body), Standing::Ask(Why::State));
        body["clinicalStatus"] = Value::Null;
        assert_eq!(of_condition(&body), Standing::Past);
    }

    #[test]
    fn a_state_that_is_not_said_is_asked_about() {
        let none = json!({});
        let asked = Standing::Ask(Why::State);
        assert_eq!([of_procedure(&none), of_statement(&none), of_request(&none), of_appointment(&none)], [asked; 4]);
        assert_eq!(of_observation(&none), Standing::Ask(Why::Uncertain));
        assert_eq!(of_request(&json!({ "status": "active", "doNotPerform": true })), Standing::Leave(Why::NotDone));
        assert_eq!(of_request(&json!({ "status": "active", "intent": "plan" })), Standing::Ask(Why::Planned));
    }
}

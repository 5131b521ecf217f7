//! Facts of how the treatment was done.

use super::{ANSWER, Definition, Kind, Value, fact, number, recorded};

pub(super) const FACTS: &[Definition] = &[
    recorded!(procedure.identity_checked, ANSWER, "Name, date of birth and eye were checked with the patient."),
    recorded!(procedure.consent_seen, ANSWER, "The signed consent was seen before the start."),
    recorded!(procedure.paused, ANSWER, "Everybody paused before the first pulse and agreed."),
    recorded!(procedure.drops_given, ANSWER, "The dilating and numbing drops were given as planned."),
    fact("contact_lens", Kind::Text, "The contact lens held on the eye, in the words of the record.", |s| {
        s.record.procedure.contact_lens.as_ref().map_or(Value::Absent, |words| Value::Text(words.clone()))
    })
    .from(&["/procedure/contact_lens"])
    .private(),
    fact("offset_mm", Kind::Number("mm", 3), "Focus of the treatment beam behind that of the aiming beam.", |s| {
        number(s.record.procedure.offset_mm.value())
    })
    .from(&["/procedure/offset_mm"]),
    recorded!(
        procedure.illumination,
        Kind::Choice(&["coaxial", "oblique", "both", "unknown"]),
        "How the target was lit."
    ),
    fact("breakdown_mj", Kind::Number("mJ", 2), "Lowest energy of a pulse at which breakdown was seen.", |s| {
        number(s.record.procedure.breakdown_mj.value())
    })
    .from(&["/procedure/breakdown_mj"]),
    fact("pulses_a_burst", Kind::Number("pulses", 0), "Single pulses a burst.", |s| {
        number(s.record.procedure.pulses_a_burst.value().map(f64::from))
    })
    .from(&["/procedure/pulses_a_burst"]),
    fact("target", Kind::Text, "What was aimed at, in the words of the record.", |s| {
        s.record.procedure.target.as_ref().map_or(Value::Absent, |words| Value::Text(words.clone()))
    })
    .from(&["/procedure/target"])
    .private(),
    fact("end_point", Kind::Text, "What was reached when the treatment ended, in the words of the record.", |s| {
        s.record.procedure.end_point.as_ref().map_or(Value::Absent, |words| Value::Text(words.clone()))
    })
    .from(&["/procedure/end_point"])
    .private(),
    recorded!(procedure.signs_told, ANSWER, "The warning signs and the phone were said aloud."),
    recorded!(procedure.pages_given, ANSWER, "The aftercare pages were handed over."),
];

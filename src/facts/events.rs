//! Facts of what happened during the laser that was not meant to.

use super::{DONE, Definition, Kind, Source, Value, WHEN, YES_NO, choice, fact, hours, yes_no};
use crate::record::course::{EVENT_VISIT, EventKind};

const EVENTS: &[&str] = &["/treatment/events"];

/// Whether an event of a kind is on record.
macro_rules! event {
    ($name:literal, $kind:ident, $meaning:literal) => {
        fact($name, YES_NO, $meaning, |s| yes_no(happened(s, EventKind::$kind))).from(EVENTS)
    };
}

/// The words of the record for events of a kind.
macro_rules! told {
    ($name:literal, $kind:ident) => {
        fact($name, Kind::List, "What happened of this kind, in the words of the record.", |s| {
            told(s, |kind| kind == EventKind::$kind)
        })
        .from(EVENTS)
        .private()
    };
}

pub(super) const FACTS: &[Definition] = &[
    event!("event_capsule_or_lens", CapsuleOrLens, "The natural lens or its capsule was hit."),
    event!("event_implant_marked", ImplantMarked, "The implant has a mark."),
    event!("event_vitreous_bleeding", VitreousBleeding, "Bleeding in the vitreous."),
    event!("event_retina", Retina, "The retina was hit, or bleeds."),
    event!("event_pressure", Pressure, "A rise of pressure during the laser."),
    event!("event_other", Other, "Something else happened that was not meant to."),
    event!("event_kind_unknown", Unknown, "Something happened, and its kind is not recorded."),
    fact("events", Kind::List, "What happened that was not meant to, in the words of the record.", |s| {
        told(s, |_| true)
    })
    .from(EVENTS)
    .private(),
    told!("capsule_or_lens_events", CapsuleOrLens),
    told!("implant_marked_events", ImplantMarked),
    told!("vitreous_bleeding_events", VitreousBleeding),
    told!("retina_events", Retina),
    told!("pressure_events", Pressure),
    told!("other_events", Other),
    told!("kind_unknown_events", Unknown),
    fact(
        "next_day_place",
        Kind::Choice(&["clinic", "out_of_hours", "nowhere"]),
        "Where the patient can be seen on the day after the treatment.",
        |s| choice(next_day_place(s)),
    )
    .from(&[WHEN, DONE]),
    fact(
        "event_visit_booked",
        Kind::Choice(&["next_day", "later", "no"]),
        "For when the visit because of what happened during the laser is booked.",
        |s| choice(event_visit_booked(s)),
    )
    .from(&["/plan/visits", WHEN, DONE]),
];

fn told(source: &Source, wanted: impl Fn(EventKind) -> bool) -> Value {
    let events = source.treatment().into_iter().flat_map(|done| &done.events).filter(|event| wanted(event.kind));
    Value::List(events.map(|event| event.what.clone()).collect())
}

fn happened(source: &Source, kind: EventKind) -> bool {
    source.treatment().is_some_and(|done| done.events.iter().any(|event| event.kind == kind))
}

fn event_visit_booked(source: &Source) -> &'static str {
    let booked = source.record.plan.visits.iter().find(|booked| booked.visit == EVENT_VISIT);
    match booked.map(|booked| booked.at.0.date()) {
        None => "no",
        Some(day) if Some(day) <= source.treatment_date().succ_opt() => "next_day",
        Some(_) => "later",
    }
}

fn next_day_place(source: &Source) -> &'static str {
    let open = source.treatment_date().succ_opt().is_some_and(|day| hours::on(source.profile, day).is_some());
    match source.profile.out_of_hours {
        _ if open => "clinic",
        Some(_) => "out_of_hours",
        None => "nowhere",
    }
}

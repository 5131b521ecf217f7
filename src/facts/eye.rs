//! Facts of the eye: lens, implant, capsule, measures, history.

use super::{
    ACTIVITY, ANSWER, DONE, Definition, Kind, Source, Value, WHEN, choice, fact, number, recorded, word, yes_no,
};
use crate::record::course::Aiming;
use crate::record::date::whole_months;
use crate::record::eye::{CapsuleState, Implant, ImplantFocus, Lens, Optic};
use crate::record::known::{Answer, Known};
use crate::record::vitreous::Breaks;

const CLARITY: Kind = Kind::Choice(&["clear", "cloudy", "unknown"]);

pub(super) const FACTS: &[Definition] = &[
    recorded!(
        eye.lens,
        Kind::Choice(&["natural", "implant", "none", "unknown"]),
        "What focuses the light: natural lens (phakic), lens implant (pseudophakic), no lens (aphakic)."
    ),
    fact(
        "implant_focus",
        Kind::Choice(&["monofocal", "multifocal", "extended_depth", "accommodating", "unknown", "not_applicable"]),
        "How the implant focuses.",
        |s| implant(s, |implant| word(&implant.focus)),
    )
    .from(&["/eye/lens", "/eye/implant/focus"]),
    fact(
        "implant_optic",
        Kind::Choice(&["refractive", "diffractive", "unknown", "not_applicable"]),
        "How the implant makes its further foci.",
        |s| implant(s, |implant| word(&implant.optic)),
    )
    .from(&["/eye/lens", "/eye/implant/optic"]),
    fact("implant_toric", Kind::Choice(&["yes", "no", "unknown", "not_applicable"]), "The implant is toric.", |s| {
        implant(s, |implant| word(&implant.toric))
    })
    .from(&["/eye/lens", "/eye/implant/toric"]),
    fact(
        "capsule",
        Kind::Choice(&["closed_clear", "closed_cloudy", "open", "unknown", "not_applicable"]),
        "The capsule behind the implant.",
        |s| match s.record.eye.lens {
            Lens::Implant => word(&capsule_state(s)),
            _ => choice("not_applicable"),
        },
    )
    .from(&["/eye/lens", "/eye/capsule/state"]),
    fact(
        "opening",
        Kind::Choice(&["adequate", "small", "very_small", "unknown", "not_applicable"]),
        "Opening of the capsule against the practice's two limits; not applicable unless open.",
        opening,
    )
    .from(&["/eye/lens", "/eye/capsule"]),
    fact("opening_mm", Kind::Number("mm", 2), "Smallest diameter of the opening.", |s| number(opening_mm(s)))
        .from(&["/eye/capsule/opening_mm"]),
    fact("acuity", Kind::Text, "Best corrected acuity as recorded.", |s| {
        s.record.eye.acuity.as_ref().map_or(Value::Absent, |acuity| Value::Text(acuity.to_string()))
    })
    .from(&["/eye/acuity"]),
    fact(
        "acuity_level",
        Kind::Choice(&["usual", "worse", "unknown"]),
        "Best corrected acuity against the practice's limit.",
        |s| {
            choice(match s.record.eye.acuity.as_ref() {
                None => "unknown",
                Some(acuity) if acuity.is_worse_than(&s.profile.thresholds.acuity_limit) => "worse",
                Some(_) => "usual",
            })
        },
    )
    .from(&["/eye/acuity"]),
    fact(
        "recent_lens_surgery",
        ANSWER,
        "The last lens operation is within the practice's limit; a natural lens never had one.",
        recent_surgery,
    )
    .from(&["/eye/last_lens_surgery", "/eye/lens", WHEN, DONE]),
    fact("lens_surgery_months", Kind::Number("months", 0), "Since the last lens operation.", |s| {
        number(surgery_months(s).map(f64::from))
    })
    .from(&["/eye/last_lens_surgery", WHEN, DONE]),
    fact("axial_length", Kind::Choice(&["long", "usual", "unknown"]), "Axial length.", |s| {
        band(s.record.eye.axial_length_mm, s.profile.thresholds.long_eye_mm, "long", "usual")
    })
    .from(&["/eye/axial_length_mm"]),
    recorded!(history.high_myopia, ANSWER, "Strong nearsightedness, now or before lens surgery."),
    fact("long_eye", ANSWER, "A long eye by its length, or strong nearsightedness.", |s| word(&long_eye(s)))
        .from(&["/eye/axial_length_mm", "/history/high_myopia"]),
    fact("axial_length_mm", Kind::Number("mm", 2), "Axial length.", |s| number(s.record.eye.axial_length_mm.value()))
        .from(&["/eye/axial_length_mm"]),
    recorded!(eye.pupil, Kind::Choice(&["good", "poor", "unknown"]), "The dilated pupil."),
    recorded!(eye.cornea, CLARITY, "Clarity of the cornea."),
    fact(
        "lens_clarity",
        Kind::Choice(&["clear", "cloudy", "unknown", "not_applicable"]),
        "Clarity of the natural lens or the implant.",
        |s| match s.record.eye.lens {
            Lens::None => choice("not_applicable"),
            _ => word(&s.record.eye.lens_clarity),
        },
    )
    .from(&["/eye/lens", "/eye/lens_clarity"]),
    recorded!(history.glaucoma, ANSWER, "Glaucoma of this eye."),
    recorded!(history.ocular_hypertension, ANSWER, "Ocular hypertension of this eye."),
    recorded!(history.steroid_response, ANSWER, "Pressure rose on steroid drops before."),
    recorded!(history.pressure_spike, ANSWER, "Pressure spike after an earlier laser or operation."),
    fact("retinal_tear", ANSWER, "Earlier retinal tear.", |s| match s.record.examination.breaks {
        Breaks::Treated => choice("yes"), // a break that was treated is an earlier tear
        _ => word(&s.record.history.retinal_tear),
    })
    .from(&["/history/retinal_tear", "/examination/breaks"]),
    recorded!(history.retinal_detachment, ANSWER, "Earlier retinal detachment."),
    recorded!(history.lattice, ANSWER, "Lattice degeneration."),
    recorded!(history.uveitis, ACTIVITY, "Uveitis."),
    recorded!(history.infection, ACTIVITY, "Infection of the eye."),
    recorded!(history.herpes_keratitis, ACTIVITY, "Herpes of the cornea."),
    recorded!(history.herpes_from_prostaglandin, ANSWER, "Herpes of the cornea came back on a prostaglandin drop."),
    recorded!(
        history.narrow_angle,
        Kind::Choice(&["no", "open_iridotomy", "narrow", "iridotomy_unknown", "unknown"]),
        "Narrow chamber angle."
    ),
    recorded!(
        history.corneal_damage,
        Kind::Choice(&["none", "thinning", "ulcer", "kind_unknown", "unknown"]),
        "Damage of cornea or sclera."
    ),
    recorded!(history.corneal_endothelium, ANSWER, "Disease of the inner layer of the cornea, or few cells there."),
    recorded!(history.corneal_denervation, ANSWER, "Loss of feeling of the cornea."),
    recorded!(history.dry_eye, ANSWER, "Dry eye or another disease of the surface of the eye."),
    recorded!(
        history.repeated_surgery,
        ANSWER,
        "Complicated surgery of this eye, or several operations in a short time."
    ),
    recorded!(history.macular_disease, ANSWER, "Macular disease."),
    recorded!(history.only_seeing_eye, ANSWER, "The other eye sees poorly or not at all."),
    fact(
        "enlarge_opening",
        Kind::Choice(&["yes", "no", "unknown", "not_applicable"]),
        "The opening of the capsule is to be enlarged in the same session.",
        |s| match s.record.eye.lens {
            Lens::Implant => word(&s.record.plan.enlarge_opening),
            _ => choice("not_applicable"),
        },
    )
    .from(&["/eye/lens", "/plan/enlarge_opening"]),
    fact(
        "opening_work",
        Kind::Choice(&["make", "widen", "make_or_widen", "none"]),
        "What is planned at the capsule: a closed one is opened, an open one widened.",
        |s| {
            choice(match (s.record.eye.lens, s.record.plan.enlarge_opening, capsule_state(s)) {
                (Lens::Implant, Answer::Yes, CapsuleState::ClosedClear | CapsuleState::ClosedCloudy) => "make",
                (Lens::Implant, Answer::Yes, CapsuleState::Open) => "widen",
                (Lens::Implant, Answer::Yes, CapsuleState::Unknown) => "make_or_widen",
                _ => "none",
            })
        },
    )
    .from(&["/eye/lens", "/eye/capsule/state", "/plan/enlarge_opening"]),
    fact(
        "second_focus",
        Kind::Choice(&["yes", "no", "unknown", "not_applicable"]),
        "The implant has a second focus.",
        |s| implant(s, |implant| choice(second_focus(implant))),
    )
    .from(&["/eye/lens", "/eye/implant"]),
    fact(
        "aiming",
        Kind::Choice(&["far", "near", "unknown", "not_applicable"]),
        "The focus aimed through; only for an implant that has or may have a second one.",
        |s| {
            implant(s, |implant| match (second_focus(implant), s.record.plan.aiming) {
                ("no", Aiming::Far | Aiming::Unknown) => choice("not_applicable"),
                (_, aiming) => word(&aiming),
            })
        },
    )
    .from(&["/eye/lens", "/eye/implant", "/plan/aiming"]),
];

/// A value against a limit that belongs to the upper band.
fn band(value: Known<f64>, limit: f64, at_or_above: &str, below: &str) -> Value {
    choice(match value {
        Known::Value(value) if value >= limit => at_or_above,
        Known::Value(_) => below,
        Known::Unknown => "unknown",
    })
}

/// One sign settles it; a length that was measured, or a *no* to nearsightedness, rules it out.
fn long_eye(source: &Source) -> Answer {
    let length = source.record.eye.axial_length_mm.value();
    match (length.map(|mm| mm >= source.profile.thresholds.long_eye_mm), source.record.history.high_myopia) {
        (Some(true), _) | (_, Answer::Yes) => Answer::Yes,
        (Some(false), _) | (None, Answer::No) => Answer::No,
        (None, Answer::Unknown) => Answer::Unknown,
    }
}

/// Applies to the implant; an implant without a table of its own is unknown in every respect.
fn implant(source: &Source, of: impl Fn(&Implant) -> Value) -> Value {
    match source.record.eye.lens {
        Lens::Implant => of(&source.record.eye.implant.clone().unwrap_or_default()),
        _ => choice("not_applicable"),
    }
}

/// An implant with adds has a second focus whatever it is called; without adds its kind decides.
fn second_focus(implant: &Implant) -> &'static str {
    match implant.focus {
        _ if !implant.adds_d.is_empty() => "yes",
        ImplantFocus::Multifocal => "yes",
        // A diffractive optic has more foci than one, whatever it is called.
        ImplantFocus::Accommodating if implant.optic == Optic::Diffractive => "unknown",
        ImplantFocus::Monofocal | ImplantFocus::Accommodating => "no",
        ImplantFocus::ExtendedDepth | ImplantFocus::Unknown => "unknown",
    }
}

fn capsule_state(source: &Source) -> CapsuleState {
    source.record.eye.capsule.as_ref().map_or(CapsuleState::Unknown, |capsule| capsule.state)
}

fn opening_mm(source: &Source) -> Option<f64> {
    source.record.eye.capsule.as_ref().and_then(|capsule| capsule.opening_mm.value())
}

fn opening(source: &Source) -> Value {
    let limits = &source.profile.thresholds;
    choice(match (source.record.eye.lens, capsule_state(source), opening_mm(source)) {
        (Lens::Implant, CapsuleState::Open, Some(mm)) if mm < limits.opening_stop_mm => "very_small",
        (Lens::Implant, CapsuleState::Open, Some(mm)) if mm < limits.opening_caution_mm => "small",
        (Lens::Implant, CapsuleState::Open, Some(_)) => "adequate",
        (Lens::Implant, CapsuleState::Open, None) => "unknown",
        _ => "not_applicable",
    })
}

/// A date known to the month or year counts as its last day: the surgery is not called older than it may be.
fn surgery_months(source: &Source) -> Option<u32> {
    let surgery = source.record.eye.last_lens_surgery.latest()?;
    Some(whole_months(surgery, source.treatment_date()))
}

fn recent_surgery(source: &Source) -> Value {
    let limit = source.profile.thresholds.recent_surgery_months;
    match (source.record.eye.lens, surgery_months(source)) {
        (_, Some(months)) => yes_no(months < limit),
        (Lens::Natural, None) => choice("no"),
        (_, None) => word(&Answer::Unknown),
    }
}

impl Source<'_> {
    /// Whether the implant has, or may have, a second focus.
    pub(super) fn has_second_focus(&self) -> bool {
        let implant = self.record.eye.implant.clone().unwrap_or_default();
        self.record.eye.lens == Lens::Implant && second_focus(&implant) != "no"
    }
}

//! Whether this is a good eye for a surgeon who is beginning, and what speaks against it (common practice, no source).

use super::{Definition, Kind, Source, Value, YES_NO, detachment, fact, yes_no};
use crate::record::eye::{Activity, Clarity, Lens, Pupil};
use crate::record::known::Answer;
use crate::record::vitreous::{DetachmentState, FloaterKind};

const AGAINST: &[&str] = &[
    "/eye",
    "/history",
    "/floater/kind",
    "/floater/lens_distance_mm",
    "/floater/retina_distance_mm",
    "/floater/measured",
    "/detachment",
    super::WHEN,
    super::DONE,
];

pub(super) const FACTS: &[Definition] = &[
    fact("good_first_eye", YES_NO, "A good first eye for a surgeon who is beginning.", |s| {
        yes_no(against(s).is_empty())
    })
    .from(AGAINST),
    fact("first_eye_against", Kind::List, "What speaks against this eye as a first one.", |s| Value::Words(against(s)))
        .from(AGAINST),
];

/// What is not recorded speaks against it too.
fn against(source: &Source) -> Vec<&'static str> {
    let (eye, history) = (&source.record.eye, &source.record.history);
    let limits = &source.profile.thresholds;
    let floater = &source.record.floater;
    let opening = eye.capsule.as_ref().and_then(|capsule| capsule.opening_mm.value());
    let far = |mm: Option<f64>| mm.is_some_and(|mm| source.judged_mm(mm) >= limits.lens_note_mm);
    let clear = eye.cornea == Clarity::Clear && eye.lens_clarity == Clarity::Clear;
    let settled = source.record.detachment.state == DetachmentState::Complete
        && detachment::months(source).is_some_and(|age| age >= limits.detachment_caution_months);
    let diseases = [
        history.glaucoma,
        history.ocular_hypertension,
        history.steroid_response,
        history.pressure_spike,
        history.retinal_tear,
        history.retinal_detachment,
        history.lattice,
        history.macular_disease,
        history.only_seeing_eye,
    ];
    let activities = [history.uveitis, history.infection, history.herpes_keratitis];
    let healthy = diseases.iter().all(|disease| *disease == Answer::No)
        && activities.iter().all(|activity| *activity == Activity::None);
    [
        (eye.lens == Lens::Implant, "first_eye.implant"),
        (opening.is_some_and(|mm| mm >= limits.opening_caution_mm), "first_eye.opening"),
        (!source.has_second_focus(), "first_eye.one_focus"),
        (clear, "first_eye.clear"),
        (eye.pupil == Pupil::Good, "first_eye.pupil"),
        (healthy, "first_eye.healthy"),
        (settled, "first_eye.settled"),
        (floater.kind == FloaterKind::Ring, "first_eye.ring"),
        (far(floater.lens_distance_mm.value()), "first_eye.lens"),
        (far(floater.retina_distance_mm.value()), "first_eye.retina"),
    ]
    .into_iter()
    .filter_map(|(holds, reason)| (!holds).then_some(reason))
    .collect()
}

//! What an eye cannot have or be at once.

use super::{Refusals, rounded};
use crate::record::Record;
use crate::record::course::{Aiming, Plan};
use crate::record::date::PartialDate;
use crate::record::eye::{Capsule, CapsuleState, Clarity, Eye, ImplantFocus, Lens};
use crate::record::known::{Answer, Known};
use crate::record::profile::FrontOfEye;
use crate::record::vitreous::{Breaks, DetachmentState, Floater};

/// Sums of decimal fractions differ from what was written in the last digits only.
const ROUNDING_MM: f64 = 1e-9;

/// The eye, its lens, vitreous and retina.
pub(super) fn check(record: &Record, front: &FrontOfEye, found: &mut Refusals<'_>) {
    lens(&record.eye, found);
    aims(record.eye.lens, &record.plan, found);
    if let Some(implant) = &record.eye.implant
        && implant.focus == ImplantFocus::Monofocal
    {
        monofocal(!implant.adds_d.is_empty(), record.plan.aiming, found);
    }
    if let Some(capsule) = &record.eye.capsule {
        opening(capsule, found);
    }
    vitreous(record, found);
    distances(&record.eye, &record.floater, front, found);
}

/// Data of an implant belong to an implant; no lens has no clarity; an operated lens is not the natural one.
fn lens(eye: &Eye, found: &mut Refusals<'_>) {
    let lens = ("/eye/lens", "says otherwise");
    let help = "correct `lens`, or take this out";
    if eye.lens != Lens::Implant {
        if eye.implant.is_some() {
            found.refuse(
                "lens-data",
                "`implant` is only for an eye with a lens implant",
                &[("/eye/implant", ""), lens],
                help,
            );
        }
        if eye.capsule.is_some() {
            found.refuse(
                "lens-data",
                "`capsule` is only for an eye with a lens implant",
                &[("/eye/capsule", ""), lens],
                help,
            );
        }
    }
    if eye.lens == Lens::None && eye.lens_clarity != Clarity::Unknown {
        found.refuse(
            "lens-data",
            "an eye without a lens has no `lens_clarity`",
            &[("/eye/lens_clarity", ""), lens],
            help,
        );
    }
    if eye.lens == Lens::Natural && eye.last_lens_surgery != PartialDate::Unknown {
        let message = "an eye with its natural lens had no lens surgery";
        found.refuse("lens-data", message, &[("/eye/last_lens_surgery", ""), lens], help);
    }
}

/// What is planned on a lens implant needs one.
fn aims(lens: Lens, plan: &Plan, found: &mut Refusals<'_>) {
    if !matches!(lens, Lens::Natural | Lens::None) {
        return;
    }
    let lens = ("/eye/lens", "has no implant");
    if plan.enlarge_opening == Answer::Yes {
        let message = "there is no opening of a capsule to enlarge without a lens implant";
        found.refuse("plan-data", message, &[("/plan/enlarge_opening", ""), lens], "write \"no\", or correct `lens`");
    }
    if plan.aiming != Aiming::Unknown {
        let message = "there is no far and near focus to aim through without a lens implant";
        found.refuse("plan-data", message, &[("/plan/aiming", ""), lens], "take `aiming` out, or correct `lens`");
    }
}

/// An implant with one focus has no adds and no second focus to aim through.
fn monofocal(has_adds: bool, aiming: Aiming, found: &mut Refusals<'_>) {
    let focus = ("/eye/implant/focus", "one focus");
    let help = "correct `focus`, or take this out";
    if has_adds {
        found.refuse("lens-data", "an implant with one focus has no adds", &[("/eye/implant/adds_d", ""), focus], help);
    }
    if aiming != Aiming::Unknown {
        let message = "an implant with one focus leaves no choice of focus to aim through";
        found.refuse("plan-data", message, &[("/plan/aiming", ""), focus], help);
    }
}

fn opening(capsule: &Capsule, found: &mut Refusals<'_>) {
    if capsule.state != CapsuleState::Open && capsule.opening_mm != Known::Unknown {
        let marks = [("/eye/capsule/opening_mm", ""), ("/eye/capsule/state", "not \"open\"")];
        let help = "write `state = \"open\"`, or take `opening_mm` out";
        found.refuse("capsule-data", "only an open capsule has an opening", &marks, help);
    }
}

/// An onset needs a detachment, and a treatment of breaks needs breaks.
fn vitreous(record: &Record, found: &mut Refusals<'_>) {
    if record.detachment.state == DetachmentState::None && record.detachment.onset != PartialDate::Unknown {
        let marks = [("/detachment/onset", ""), ("/detachment/state", "attached")];
        let help = "correct `state`, or take `onset` out";
        found.refuse("detachment-data", "an attached vitreous has no onset of its detachment", &marks, help);
    }
    if record.examination.breaks != Breaks::Treated && record.examination.breaks_treated != PartialDate::Unknown {
        let marks = [("/examination/breaks_treated", ""), ("/examination/breaks", "not \"treated\"")];
        let help = "write `breaks = \"treated\"`, or take `breaks_treated` out";
        found.refuse("breaks-data", "breaks were treated on a date but are not recorded as treated", &marks, help);
    }
}

/// The floater lies between lens and retina, so both distances fit behind the front of the eye.
///
/// How much lies in front is a value of the profile (from memory, confirmed by the practice). A distance that is not
/// known counts as nothing, an unknown lens as the one that leaves most room.
fn distances(eye: &Eye, floater: &Floater, front: &FrontOfEye, found: &mut Refusals<'_>) {
    let Some(&length) = eye.axial_length_mm.as_ref() else { return };
    let known: Vec<_> = [
        ("/floater/lens_distance_mm", floater.lens_distance_mm.value()),
        ("/floater/retina_distance_mm", floater.retina_distance_mm.value()),
    ]
    .into_iter()
    .filter_map(|(pointer, distance)| Some((pointer, distance?)))
    .collect();
    let room = length - front_mm(eye.lens, front);
    let distance: f64 = known.iter().map(|(_, distance)| distance).sum();
    if distance <= room + ROUNDING_MM {
        return;
    }
    let mut marks: Vec<_> = known.iter().map(|(pointer, _)| (*pointer, "")).collect();
    marks.push(("/eye/axial_length_mm", "the whole eye"));
    let message =
        format!("{} mm to lens and retina do not fit into an eye of {} mm", rounded(distance), rounded(length));
    let help = format!("measure again: behind the lens lie at most {} mm", rounded(room.max(0.0)));
    found.refuse("distances", message, &marks, help);
}

fn front_mm(lens: Lens, front: &FrontOfEye) -> f64 {
    match lens {
        Lens::None => front.none,
        Lens::Implant => front.implant,
        Lens::Natural => front.natural,
        Lens::Unknown => front.none.min(front.implant).min(front.natural),
    }
}

//! Distances that do not fit into an eye.

use super::{Refusals, rounded};
use crate::record::Record;
use crate::record::eye::Lens;
use crate::record::profile::FrontOfEye;

/// Sums of decimal fractions differ from what was written in the last digits only.
const ROUNDING_MM: f64 = 1e-9;

/// The floater lies between lens and retina, so both distances fit behind the front of the eye.
///
/// How much lies in front is a value of the profile (from memory, confirmed by the practice). A distance that is not
/// known counts as nothing, an unknown lens as the one that leaves most room.
pub(super) fn check(record: &Record, front: &FrontOfEye, found: &mut Refusals<'_>) {
    let (eye, floater) = (&record.eye, &record.floater);
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

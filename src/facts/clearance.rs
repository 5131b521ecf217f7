//! Facts of the floater: distances, and those of each second focus.

use super::{Definition, Kind, Source, Value, choice, fact, number, optics, word};
use crate::record::Record;
use crate::record::eye::{Implant, Lens, Optic};
use crate::record::known::Known;
use crate::record::vitreous::Measured;

const BANDS: Kind = Kind::Choice(&["under_stop", "under_caution", "under_note", "ample", "unknown", "not_applicable"]);

pub(super) const FACTS: &[Definition] = &[
    fact(
        "floater_kind",
        Kind::Choice(&["ring", "strand", "clump", "cloud", "asteroid", "unknown"]),
        "Kind of floater.",
        |s| word(&s.record.floater.kind),
    )
    .from(&["/floater/kind"]),
    fact(
        "measured",
        Kind::Choice(&["ultrasound", "oct", "slit_lamp", "unknown"]),
        "How the distances were measured.",
        |s| word(&s.record.floater.measured),
    )
    .from(&["/floater/measured"]),
    fact(
        "lens_distance_mm",
        Kind::Number("mm", 2),
        "From the back of the lens or implant (no lens: from the pupil plane) to the floater.",
        |s| number(s.record.floater.lens_distance_mm.value()),
    )
    .from(&["/floater/lens_distance_mm"]),
    fact("retina_distance_mm", Kind::Number("mm", 2), "From the floater to the retina.", |s| {
        number(s.record.floater.retina_distance_mm.value())
    })
    .from(&["/floater/retina_distance_mm"]),
    fact(
        "distance_error_mm",
        Kind::Number("mm", 1),
        "How far the distances may be off: nothing when measured by ultrasound or OCT, else the practice's margin.",
        |s| number(Some(s.distance_error_mm())),
    )
    .from(&["/floater/measured"]),
    fact("lens_clearance", BANDS, "Distance to the lens against the limits.", |s| {
        lens_band(s, s.record.floater.lens_distance_mm.value())
    })
    .from(&["/floater/lens_distance_mm", "/floater/measured", "/eye/lens"]),
    fact(
        "retina_clearance",
        Kind::Choice(&["under_stop", "ample", "unknown"]),
        "Distance to the retina against the limit.",
        |s| choice(retina_band(s, s.record.floater.retina_distance_mm.value())),
    )
    .from(&["/floater/retina_distance_mm", "/floater/measured"]),
    fact(
        "second_focus_front_mm",
        Kind::Number("mm", 3),
        "Farthest second focus in front of the target, aiming through the far focus (paraxial estimate).",
        |s| number(worst(s, optics::in_front_mm)),
    )
    .from(&["/eye/lens", "/eye/implant", "/floater/lens_distance_mm"]),
    fact(
        "second_focus_behind_mm",
        Kind::Number("mm", 3),
        "Farthest second focus behind the target, aiming through the near focus (paraxial estimate).",
        |s| number(worst(s, optics::behind_mm).filter(|behind| behind.is_finite())),
    )
    .from(&["/eye/lens", "/eye/implant", "/floater/lens_distance_mm"]),
    fact(
        "second_focus_lens_clearance",
        BANDS,
        "Distance from the lens to the second focus in front of the target.",
        |s| second_focus(s, second_lens_band),
    )
    .from(&["/eye/lens", "/eye/implant", "/floater/lens_distance_mm", "/floater/measured"]),
    fact(
        "second_focus_retina_clearance",
        Kind::Choice(&["under_stop", "ample", "unknown", "not_applicable"]),
        "Distance from the second focus behind the target to the retina.",
        |s| second_focus(s, second_retina_band),
    )
    .from(&["/eye/lens", "/eye/implant"])
    .and(&["/floater/lens_distance_mm", "/floater/retina_distance_mm", "/floater/measured"]),
    fact(
        "far_focus_share",
        Kind::Number("%", 0),
        "Share of the treatment light that stays in the far focus of a half-wave diffractive optic with one add.",
        |s| number(share(s, 0.0)),
    )
    .from(&["/eye/lens", "/eye/implant"]),
    fact("near_focus_share", Kind::Number("%", 0), "Share of the treatment light that goes to its near focus.", |s| {
        number(share(s, 1.0))
    })
    .from(&["/eye/lens", "/eye/implant"]),
];

impl Source<'_> {
    /// A distance guessed at the slit lamp, or nobody knows how, is judged as nearer by this, mm.
    pub(super) fn distance_error_mm(&self) -> f64 {
        match self.record.floater.measured {
            Measured::Ultrasound | Measured::Oct => 0.0,
            Measured::SlitLamp | Measured::Unknown => self.profile.thresholds.slit_lamp_error_mm,
        }
    }

    /// A distance as it is judged, mm, to the nanometer: a difference of decimals must reach a limit that it reaches on
    /// paper.
    pub(super) fn judged_mm(&self, distance_mm: f64) -> f64 {
        ((distance_mm - self.distance_error_mm()) * 1e6).round() / 1e6
    }
}

/// Bands of the distance to the lens; without one, to the pupil, behind which iris and cornea are the next to be hit. A
/// value on a limit belongs to the milder side.
fn lens_band(source: &Source, distance_mm: Option<f64>) -> Value {
    let limits = &source.profile.thresholds;
    let natural = matches!(source.record.eye.lens, Lens::Natural | Lens::Unknown);
    choice(match distance_mm.map(|mm| source.judged_mm(mm)) {
        None => "unknown",
        Some(mm) if mm < limits.clearance_stop_mm => "under_stop",
        Some(mm) if natural && mm < limits.natural_lens_caution_mm => "under_caution",
        Some(mm) if mm < limits.lens_note_mm => "under_note",
        Some(_) => "ample",
    })
}

fn retina_band(source: &Source, distance_mm: Option<f64>) -> &'static str {
    match distance_mm.map(|mm| source.judged_mm(mm)) {
        None => "unknown",
        Some(mm) if mm < source.profile.thresholds.clearance_stop_mm => "under_stop",
        Some(_) => "ample",
    }
}

/// The implant, if it has or may have a second focus.
fn implant<'a>(source: &Source<'a>) -> Option<&'a Implant> {
    match source.record.eye.lens {
        Lens::Implant => source.record.eye.implant.as_ref(),
        _ => None,
    }
}

/// The adds to reckon with, in dioptres: as recorded, and for a diffractive or unknown optic also as the treatment
/// laser sees them.
fn adds_to_judge(implant: &Implant) -> Vec<f64> {
    implant.adds_d.iter().flat_map(|add| as_seen(implant, *add)).collect()
}

fn as_seen(implant: &Implant, add: f64) -> Vec<f64> {
    let design = implant.design_wavelength_nm.value().unwrap_or(optics::ASSUMED_DESIGN_NM);
    match implant.optic {
        Optic::Refractive => vec![add],
        Optic::Diffractive | Optic::Unknown => vec![add, optics::add_at_laser_d(add, design)],
    }
}

/// The second foci of one add, farthest from the target as the add is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SecondFocus {
    /// The add as recorded, dioptres.
    pub(crate) add_d: f64,
    /// In front of the target, aiming through the far focus, mm.
    pub(crate) front_mm: f64,
    /// Behind the target, aiming through the near focus, mm; none where no far focus is real.
    pub(crate) behind_mm: Option<f64>,
    /// The light of the treatment may meet less far behind: the add of a diffractive optic is taken at its largest.
    pub(crate) at_most: bool,
}

/// The second foci of an eye, one for each add of its implant.
pub(crate) fn second_foci(record: &Record) -> Vec<SecondFocus> {
    let implant = record.eye.implant.as_ref().filter(|_| record.eye.lens == Lens::Implant);
    let Some((implant, distance)) = implant.zip(record.floater.lens_distance_mm.value()) else { return Vec::new() };
    let farthest = |add: f64, displacement: fn(f64, f64) -> f64| {
        as_seen(implant, add).into_iter().map(|add| displacement(distance, add)).fold(0.0, f64::max)
    };
    let focus = |add: &f64| SecondFocus {
        add_d: *add,
        front_mm: farthest(*add, optics::in_front_mm),
        behind_mm: Some(farthest(*add, optics::behind_mm)).filter(|behind| behind.is_finite()),
        at_most: implant.optic != Optic::Refractive,
    };
    implant.adds_d.iter().map(focus).collect()
}

/// The largest displacement over all adds to judge, mm.
fn worst(source: &Source, displacement: fn(f64, f64) -> f64) -> Option<f64> {
    let distance = source.record.floater.lens_distance_mm.value()?;
    let adds = adds_to_judge(implant(source)?);
    adds.into_iter().map(|add| displacement(distance, add)).reduce(f64::max)
}

fn second_focus(source: &Source, band: fn(&Source) -> Value) -> Value {
    match implant(source) {
        Some(implant) if !implant.adds_d.is_empty() => band(source),
        // A second focus without a recorded add cannot be judged.
        Some(_) if source.has_second_focus() => choice("unknown"),
        _ => choice("not_applicable"),
    }
}

fn second_lens_band(source: &Source) -> Value {
    let floater = source.record.floater.lens_distance_mm.value();
    lens_band(source, floater.zip(worst(source, optics::in_front_mm)).map(|(mm, front)| mm - front))
}

fn second_retina_band(source: &Source) -> Value {
    let floater = source.record.floater.retina_distance_mm.value();
    let behind = worst(source, optics::behind_mm);
    choice(retina_band(source, floater.zip(behind).map(|(mm, behind)| mm - behind)))
}

fn share(source: &Source, order: f64) -> Option<f64> {
    let bifocal = |implant: &&Implant| implant.optic != Optic::Refractive && implant.adds_d.len() == 1;
    let implant = implant(source).filter(bifocal)?;
    if !source.has_second_focus() {
        return None;
    }
    let design = match implant.design_wavelength_nm {
        Known::Value(nm) => nm,
        Known::Unknown => optics::ASSUMED_DESIGN_NM,
    };
    Some(optics::share(optics::HALF_WAVE, design, order) * 100.0)
}

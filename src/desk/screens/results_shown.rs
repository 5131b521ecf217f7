//! Own results in words, numbers and pictures, as the screen and the paper show them.

use serde::Serialize;

use crate::record::profile::ResultsRule;
use crate::register::CaseId;

/// One line of the table.
#[derive(Debug, Serialize)]
pub(super) struct RowView {
    pub(super) label: String,
    pub(super) help: bool,
    pub(super) affected: String,
    pub(super) followed: String,
    pub(super) treated: String,
    pub(super) window: String,
    /// The interval as a picture and in words; neither under the least number.
    pub(super) drawn: Option<String>,
    pub(super) could: Option<String>,
    pub(super) published: Option<String>,
}

/// An event to be looked at.
#[derive(Debug, Serialize)]
pub(super) struct ReviewView {
    pub(super) eye: usize,
    pub(super) case: CaseId,
    pub(super) code: Option<String>,
    pub(super) says: String,
    /// How heavy it was, if that is known.
    pub(super) severity: Option<String>,
    pub(super) done: Option<String>,
}

/// A share of events by time.
#[derive(Debug, Serialize)]
pub(super) struct RateView {
    pub(super) label: String,
    pub(super) events: u32,
    pub(super) eyes: String,
    pub(super) years: String,
    /// Events in 100 eye-years with their interval.
    pub(super) per: Option<(String, String, String)>,
}

/// The curve of harm.
#[derive(Debug, Serialize)]
pub(super) struct CurveView {
    pub(super) drawn: String,
    pub(super) alt: String,
    pub(super) reached: bool,
    pub(super) says: String,
    pub(super) alarm: String,
}

/// A surgeon beside the others.
#[derive(Debug, Serialize)]
pub(super) struct SurgeonView {
    pub(super) name: String,
    pub(super) affected: u32,
    pub(super) followed: u32,
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) high: bool,
}

/// The surgeons beside each other.
#[derive(Debug, Serialize)]
pub(super) struct FunnelView {
    pub(super) drawn: String,
    pub(super) alt: String,
    pub(super) rows: Vec<SurgeonView>,
}

/// Energy and pulses of each session over time.
#[derive(Debug, Serialize)]
pub(super) struct EnergyView {
    pub(super) energy: String,
    pub(super) energy_alt: String,
    pub(super) pulses: String,
    pub(super) pulses_alt: String,
}

/// What the screen and the paper show.
#[derive(Debug, Serialize)]
pub(super) struct Shown {
    pub(super) rule: ResultsRule,
    pub(super) shares: bool,
    pub(super) up_to: String,
    /// Id, name, and whether it is chosen.
    pub(super) surgeons: Vec<(String, String, bool)>,
    pub(super) eyes: Vec<(&'static str, bool)>,
    pub(super) floaters: Vec<(&'static str, bool)>,
    pub(super) since: String,
    pub(super) since_wrong: bool,
    pub(super) asked_surgeon: Option<String>,
    pub(super) asked_eyes: &'static str,
    pub(super) asked_floaters: &'static str,
    pub(super) treated: String,
    pub(super) followed: String,
    pub(super) not_yet: String,
    pub(super) lost: String,
    pub(super) rows: Vec<RowView>,
    pub(super) rates: Vec<RateView>,
    pub(super) curve: CurveView,
    pub(super) review: Vec<ReviewView>,
    pub(super) funnel: Option<FunnelView>,
    pub(super) energy: Option<EnergyView>,
    pub(super) for_consent: Option<String>,
    pub(super) said: Option<String>,
}

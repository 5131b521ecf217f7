//! A session as the results see it: which eye, by whom, when, and what happened on the day.

use chrono::NaiveDate;

use crate::record::acuity::Acuity;
use crate::record::course;
use crate::record::eye::{ImplantFocus, Lens, Optic, Side};
use crate::record::vitreous::FloaterKind;

/// Number of the case whose session it is.
pub type SessionNumber = i64;

/// A session in which pulses were given.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Number of its case.
    pub case: SessionNumber,
    /// Code of its case, if it has one.
    pub code: Option<String>,
    /// Record number of the patient, folded: without what a hand or a keyboard varies.
    pub patient: String,
    /// Which eye.
    pub side: Side,
    /// Id of the surgeon in the practice profile.
    pub surgeon: String,
    /// Day of the last pulse.
    pub on: NaiveDate,
    /// What focuses the light.
    pub lens: Lens,
    /// How an implant focuses.
    pub focus: ImplantFocus,
    /// How it makes its further foci.
    pub optic: Optic,
    /// The floater.
    pub floater: FloaterKind,
    /// Best corrected acuity before, if it was recorded.
    pub acuity: Option<Acuity>,
    /// Pressure before, mmHg, if it was measured.
    pub pressure_before: Option<f64>,
    /// Highest pressure after the laser on the same day, mmHg, if it was measured.
    pub pressure_day: Option<f64>,
    /// Energy in all, mJ.
    pub energy_mj: f64,
    /// Single pulses.
    pub pulses: u32,
    /// What happened on the day.
    pub events: Vec<course::EventKind>,
    /// Visits that are booked: id and day.
    pub booked: Vec<(String, NaiveDate)>,
}

impl Session {
    /// Tells this eye from every other.
    #[must_use]
    pub fn eye(&self) -> (&str, Side) {
        (&self.patient, self.side)
    }

    /// Whether an event of a kind is recorded of the day.
    #[must_use]
    pub fn has(&self, kind: course::EventKind) -> bool {
        self.events.contains(&kind)
    }
}

/// Which sessions are counted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selection {
    /// Id of the surgeon; none: all.
    pub surgeon: Option<String>,
    /// Which eyes.
    pub eyes: EyeGroup,
    /// Which floaters.
    pub floaters: FloaterGroup,
    /// Treated on this day or later; none: ever.
    pub since: Option<NaiveDate>,
}

/// Groups of eyes by what focuses the light.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum EyeGroup {
    /// All.
    #[default]
    All,
    /// With a natural lens.
    Natural,
    /// With an implant.
    Implant,
    /// With a diffractive implant.
    Diffractive,
    /// With an implant that is known not to be diffractive.
    NotDiffractive,
    /// Without a lens.
    NoLens,
}

impl EyeGroup {
    /// All groups with their words.
    pub const WORDS: [(Self, &str); 6] = [
        (Self::All, "all"),
        (Self::Natural, "natural"),
        (Self::Implant, "implant"),
        (Self::Diffractive, "diffractive"),
        (Self::NotDiffractive, "not_diffractive"),
        (Self::NoLens, "none"),
    ];

    /// The group of a word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, own)| *own == word).map(|(group, _)| *group)
    }

    fn holds(self, session: &Session) -> bool {
        let implant = session.lens == Lens::Implant;
        match self {
            Self::All => true,
            Self::Natural => session.lens == Lens::Natural,
            Self::Implant => implant,
            Self::Diffractive => implant && session.optic == Optic::Diffractive,
            Self::NotDiffractive => {
                implant && (session.optic == Optic::Refractive || session.focus == ImplantFocus::Monofocal)
            }
            Self::NoLens => session.lens == Lens::None,
        }
    }
}

/// Groups of floaters.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum FloaterGroup {
    /// All.
    #[default]
    All,
    /// A ring.
    Ring,
    /// Any other that is recorded.
    Other,
}

impl FloaterGroup {
    /// All groups with their words.
    pub const WORDS: [(Self, &str); 3] = [(Self::All, "all"), (Self::Ring, "ring"), (Self::Other, "other")];

    /// The group of a word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, own)| *own == word).map(|(group, _)| *group)
    }

    fn holds(self, kind: FloaterKind) -> bool {
        match self {
            Self::All => true,
            Self::Ring => kind == FloaterKind::Ring,
            Self::Other => !matches!(kind, FloaterKind::Ring | FloaterKind::Unknown),
        }
    }
}

impl Selection {
    /// Whether a session is counted.
    #[must_use]
    pub fn holds(&self, session: &Session) -> bool {
        self.surgeon.as_ref().is_none_or(|surgeon| *surgeon == session.surgeon)
            && self.eyes.holds(session)
            && self.floaters.holds(session.floater)
            && self.since.is_none_or(|since| session.on >= since)
    }
}

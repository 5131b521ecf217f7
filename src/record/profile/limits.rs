//! Limits of the practice, against which facts and findings judge.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::record::acuity::Acuity;
use crate::record::person::Print;

/// Limits of the practice. Unless a source stands beside one, they are common practice, no source.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Thresholds {
    /// A detachment younger than this stops, months.
    #[schemars(range(min = 0, max = 60))]
    pub detachment_stop_months: u32,
    /// A detachment younger than this is a caution, months.
    #[schemars(range(min = 0, max = 60))]
    pub detachment_caution_months: u32,
    /// A complaint younger than this stops, weeks.
    #[schemars(range(min = 0, max = 52))]
    pub floater_stop_weeks: u32,
    /// A complaint younger than this asks, months: the floater may still fade.
    #[schemars(range(min = 0, max = 60))]
    pub floater_wait_months: u32,
    /// Worse acuity than this asks: floaters do not explain it.
    pub acuity_limit: Acuity,
    /// The retinal examination may be this old at treatment, days.
    #[schemars(range(min = 1, max = 730))]
    pub examination_max_days: u32,
    /// Lens surgery within this time is recent, months.
    #[schemars(range(min = 0, max = 60))]
    pub recent_surgery_months: u32,
    /// An opening of the capsule below this stops, mm.
    #[schemars(range(min = 0.5, max = 10))]
    pub opening_stop_mm: f64,
    /// An opening of the capsule below this is a caution, mm.
    #[schemars(range(min = 0.5, max = 10))]
    pub opening_caution_mm: f64,
    /// Less than this to retina or lens stops, mm.
    #[schemars(range(min = 0.5, max = 10))]
    pub clearance_stop_mm: f64,
    /// Less than this to a natural lens is a caution, mm.
    #[schemars(range(min = 0.5, max = 10))]
    pub natural_lens_caution_mm: f64,
    /// Less than this to the lens is a note, mm: entry limit of a trial, from memory.
    #[schemars(range(min = 0.5, max = 10))]
    pub lens_note_mm: f64,
    /// From this axial length an eye is long, mm.
    #[schemars(range(min = 20, max = 35))]
    pub long_eye_mm: f64,
    /// At or above this pressure the eye is at the limit, mmHg.
    #[schemars(range(min = 10, max = 40))]
    pub pressure_limit_mmhg: f64,
    /// At or above this pressure before the treatment the practice does not treat, mmHg.
    #[schemars(range(min = 10, max = 80))]
    pub pressure_stop_mmhg: f64,
    /// At or below this pressure before the treatment a clinician is asked, mmHg.
    #[schemars(range(min = 1, max = 20))]
    pub pressure_low_mmhg: f64,
    /// Pulses below this energy may not reach breakdown, mJ.
    #[schemars(range(min = 0.1, max = 20))]
    pub low_pulse_mj: f64,
    /// Pulses above this energy are a caution, mJ.
    #[schemars(range(min = 0.1, max = 50))]
    pub high_pulse_mj: f64,
    /// A tear treated less long ago than this stops, weeks.
    #[schemars(range(min = 0, max = 52))]
    pub tear_wait_weeks: u32,
    /// A session closer than this to the one before asks, weeks.
    #[schemars(range(min = 0, max = 52))]
    pub session_wait_weeks: u32,
    /// What one session usually stays below at this practice, mJ; no ceiling is published.
    #[schemars(range(min = 1, max = 20000))]
    pub usual_session_mj: f64,
    /// What one eye usually stays below in all its sessions at this practice, mJ; no ceiling is published.
    #[schemars(range(min = 1, max = 100_000))]
    pub usual_eye_mj: f64,
    /// A natural lens below this age is a caution, years.
    #[schemars(range(min = 0, max = 100))]
    pub young_lens_years: u32,
    /// How far a distance may be off that was not measured by ultrasound or OCT, mm. It is judged as nearer by this.
    #[schemars(range(min = 0, max = 3))]
    pub slit_lamp_error_mm: f64,
    /// A waking day shorter than this asks, hours.
    #[schemars(range(min = 2, max = 20))]
    pub waking_day_hours: u32,
    /// From this energy in one session the pressure is rechecked the same day, mJ.
    #[schemars(range(min = 1, max = 20000))]
    pub recheck_energy_mj: f64,
    /// The recheck is this long after the last pulse, minutes.
    #[schemars(range(min = 30, max = 480))]
    pub recheck_after_minutes: u32,
    /// If the clinic closes first, the recheck may be this early, minutes.
    #[schemars(range(min = 15, max = 480))]
    pub recheck_earliest_minutes: u32,
    /// How long a session takes from start to last pulse, minutes; used to plan the recheck.
    #[schemars(range(min = 5, max = 240))]
    pub session_minutes: u32,
    /// How long the patient should plan to be at the practice, minutes.
    #[schemars(range(min = 15, max = 600))]
    pub visit_minutes: u32,
    /// Distance between different drops, minutes, where no label asks for more.
    #[schemars(range(min = 5, max = 30))]
    pub drop_gap_minutes: u32,
    /// How long to keep the eye closed and press the inner corner after a drop, minutes.
    #[schemars(range(min = 1, max = 10))]
    pub closing_minutes: u32,
    /// Spare for drops that miss the eye, percent of the doses.
    pub drop_spare_percent: DropSpare,
    /// What the practice makes of a pressure after the laser.
    pub pressure_after: PressureAfter,
    /// Least distance from cornea to the zero of the lens distance with no lens, an implant and a natural lens, mm
    /// (from memory). Distances that leave less are refused.
    pub front_of_eye_mm: FrontOfEye,
}

/// Limits of the pressure after the laser, mmHg. A pressure is also raised at `pressure_limit_mmhg`.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PressureAfter {
    /// From this rise above the pressure before the laser it is raised.
    #[schemars(range(min = 1, max = 30))]
    pub raised_rise_mmhg: f64,
    /// From this pressure on nobody leaves before the surgeon has seen them.
    #[schemars(range(min = 10, max = 60))]
    pub stay_mmhg: f64,
    /// From this rise on nobody leaves before the surgeon has seen them.
    #[schemars(range(min = 1, max = 40))]
    pub stay_rise_mmhg: f64,
}

/// Spare for drops that miss the eye, percent of the doses: 11 to 61 in 100 people did not put in exactly one drop in
/// studies of technique (Eye 2013;27:1293); no percentage is published.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropSpare {
    /// For everybody.
    #[schemars(range(min = 0, max = 100))]
    pub usual: u32,
    /// On top of it for who needs large print: bottles ran out early more often for those who see poorly (BMC Ophthalmol
    /// 2014;14:79).
    #[schemars(range(min = 0, max = 100))]
    pub more_in_large_print: u32,
}

impl DropSpare {
    /// The spare for who reads this print, percent of the doses.
    #[must_use]
    pub fn percent(self, print: Print) -> u32 {
        match print {
            Print::Standard => self.usual,
            Print::Large => self.usual + self.more_in_large_print,
        }
    }
}

/// What lies in front of the zero of the lens distance, mm.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FrontOfEye {
    /// Cornea to pupil plane, no lens.
    #[schemars(range(min = 1, max = 10))]
    pub none: f64,
    /// Cornea to implant.
    #[schemars(range(min = 1, max = 10))]
    pub implant: f64,
    /// Cornea to the back of the natural lens.
    #[schemars(range(min = 1, max = 10))]
    pub natural: f64,
}

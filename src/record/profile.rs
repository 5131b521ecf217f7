//! The practice profile: the clinic, its hours, its surgeons, and the clinical values it has confirmed.

use std::collections::BTreeMap;

use chrono_tz::Tz;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::acuity::Acuity;
use super::date::{Clock, Date};
use super::known::Known;
use super::language;
use super::person::Print;

/// A practice profile.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Name, address, zone, paper.
    pub practice: Practice,
    /// Opening hours by day of the week. A day left out is closed.
    #[schemars(schema_with = "hours_by_day")]
    pub hours: BTreeMap<Weekday, Hours>,
    /// Dates the practice is closed.
    #[serde(default)]
    #[schemars(length(max = 400))]
    pub closed_days: Vec<Date>,
    /// Whom a patient phones, by hour.
    #[schemars(length(min = 1, max = 6))]
    pub phones: Vec<PhoneLine>,
    /// Where a patient is seen when the practice is closed.
    #[serde(default)]
    pub out_of_hours: Option<OutOfHours>,
    /// The surgeons.
    #[schemars(length(min = 1, max = 60))]
    pub surgeons: Vec<Surgeon>,
    /// Others who may answer findings; the surgeons always may.
    #[serde(default)]
    #[schemars(length(max = 60))]
    pub clinicians: Vec<Clinician>,
    /// Limits used by facts and findings.
    pub thresholds: Thresholds,
    /// Drop regimens.
    #[schemars(length(min = 1, max = 40))]
    pub regimens: Vec<Regimen>,
    /// Visits after treatment.
    #[schemars(length(min = 1, max = 12))]
    pub visits: Vec<VisitRule>,
    /// What the practice itself has to say on every consent. Without `cost` and `regulation` no consent is made.
    #[serde(default)]
    pub notices: Notices,
    /// What the consent asks apart from the treatment, each with a yes and a no.
    #[serde(default)]
    #[schemars(length(max = 3))]
    pub permissions: Vec<Permission>,
    /// Who confirmed the clinical values, when, and for which state of them.
    #[serde(default)]
    pub confirmation: Option<Confirmation>,
}

/// The practice itself.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// Name.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Address, line by line.
    #[schemars(length(min = 1, max = 6), inner(length(min = 1, max = 120)))]
    pub address: Vec<String>,
    /// IANA time zone, for example `America/New_York`.
    pub time_zone: Zone,
    /// Paper.
    pub paper: Paper,
    /// Languages pages may be printed in.
    #[schemars(length(min = 1, max = 20), inner(length(min = 2, max = 35)), extend("x-names" = "language"))]
    pub languages: Vec<String>,
    /// Which drug labels count where they differ.
    pub labels: Labels,
    /// Whose rules a consent must satisfy: a file of `templates/jurisdictions/`, for example `us-facility`.
    #[schemars(length(min = 1, max = 40), extend("x-names" = "jurisdiction"))]
    pub jurisdiction: String,
    /// A line printed on every page, for example that it is an example.
    #[serde(default)]
    #[schemars(length(min = 1, max = 120))]
    pub banner: Option<String>,
    /// Whether the aftercare shows the visits as a code for a phone's camera. It holds dates and times alone, no name.
    #[serde(default)]
    pub visits_code: bool,
    /// Minutes after which a desk that nobody touches locks itself. Common practice, no source.
    #[serde(default = "lock_after_minutes")]
    #[schemars(range(min = 1, max = 240))]
    pub lock_after_minutes: u32,
}

/// Of a practice that does not say.
fn lock_after_minutes() -> u32 {
    10
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 8.5 by 11 inches.
    UsLetter,
    /// 210 by 297 millimetres.
    A4,
}

/// A time zone that the time zone database does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write an IANA time zone like America/New_York")]
pub struct NoSuchZone;

/// An IANA time zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde_with::SerializeDisplay, serde_with::DeserializeFromStr)]
pub struct Zone(pub Tz);

impl std::fmt::Display for Zone {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0.name())
    }
}

impl std::str::FromStr for Zone {
    type Err = NoSuchZone;
    fn from_str(text: &str) -> Result<Self, NoSuchZone> {
        text.parse().map(Self).map_err(|_| NoSuchZone)
    }
}

impl JsonSchema for Zone {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Zone".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "pattern": "^[A-Za-z0-9_+/-]{1,40}$",
            "description": "an IANA time zone like America/New_York"
        })
    }
}

/// Which drug labels count where regulators differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Labels {
    /// United States (FDA).
    Us,
    /// European Union and United Kingdom (EMA, MHRA).
    EuUk,
    /// The stricter of both.
    Stricter,
}

/// Days of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Weekday {
    /// Monday.
    Monday,
    /// Tuesday.
    Tuesday,
    /// Wednesday.
    Wednesday,
    /// Thursday.
    Thursday,
    /// Friday.
    Friday,
    /// Saturday.
    Saturday,
    /// Sunday.
    Sunday,
}

impl Weekday {
    /// The week from Monday.
    pub const ALL: [Self; 7] =
        [Self::Monday, Self::Tuesday, Self::Wednesday, Self::Thursday, Self::Friday, Self::Saturday, Self::Sunday];
}

/// Opening hours with one key for each day; the derive would allow any key.
fn hours_by_day(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
    let hours = generator.subschema_for::<Hours>();
    let days: serde_json::Map<_, _> = Weekday::ALL
        .iter()
        .filter_map(|day| serde_json::to_value(day).ok()?.as_str().map(|name| (name.to_owned(), hours.clone().into())))
        .collect();
    schemars::json_schema!({ "type": "object", "properties": days, "additionalProperties": false })
}

impl From<chrono::Weekday> for Weekday {
    fn from(day: chrono::Weekday) -> Self {
        match day {
            chrono::Weekday::Mon => Self::Monday,
            chrono::Weekday::Tue => Self::Tuesday,
            chrono::Weekday::Wed => Self::Wednesday,
            chrono::Weekday::Thu => Self::Thursday,
            chrono::Weekday::Fri => Self::Friday,
            chrono::Weekday::Sat => Self::Saturday,
            chrono::Weekday::Sun => Self::Sunday,
        }
    }
}

/// Opening hours of one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hours {
    /// Opens.
    pub opens: Clock,
    /// The last time a patient can still be seen.
    pub closes: Clock,
}

/// A phone number and when it is answered.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhoneLine {
    /// Who answers.
    #[schemars(length(min = 1, max = 80))]
    pub who: String,
    /// The same in further languages, by tag; where one is left out, `who` stands.
    #[serde(default)]
    pub who_in: BTreeMap<String, String>,
    /// The number as it is to be printed.
    #[schemars(length(min = 3, max = 40))]
    pub number: String,
    /// When it is answered.
    pub answered: PhoneHours,
}

/// When a phone is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PhoneHours {
    /// While the practice is open.
    OpeningHours,
    /// When it is closed.
    OutOfHours,
    /// Day and night.
    Always,
}

/// Where a patient is seen when the practice is closed.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutOfHours {
    /// Name of the place.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// The same in further languages, by tag; where one is left out, `name` stands.
    #[serde(default)]
    pub name_in: BTreeMap<String, String>,
    /// Address, line by line.
    #[schemars(length(min = 1, max = 6), inner(length(min = 1, max = 120)))]
    pub address: Vec<String>,
}

impl PhoneLine {
    /// Who answers, in the words of a language as far as the practice has them.
    #[must_use]
    pub fn who(&self, tag: &str) -> &str {
        in_language(&self.who, &self.who_in, tag)
    }
}

impl OutOfHours {
    /// The name, in the words of a language as far as the practice has them.
    #[must_use]
    pub fn name(&self, tag: &str) -> &str {
        in_language(&self.name, &self.name_in, tag)
    }
}

fn in_language<'a>(name: &'a str, others: &'a BTreeMap<String, String>, tag: &str) -> &'a str {
    let chosen = language::choose(tag, others.keys().map(String::as_str));
    chosen.and_then(|tag| others.get(tag)).map_or(name, String::as_str)
}

/// A surgeon.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Surgeon {
    /// Id used in case records.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Name as printed.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Role, for example "Ophthalmologist".
    #[schemars(length(min = 1, max = 80))]
    pub role: String,
    /// True while the surgeon is beginning with this treatment.
    #[serde(default)]
    pub beginning: bool,
    /// True when patients are told that the surgeon is beginning; else only staff read it.
    #[serde(default)]
    pub beginning_told: bool,
}

/// A clinician who answers findings and is no surgeon here.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Clinician {
    /// Name, as it stands beside an answer.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Role, for example "Retina specialist".
    #[schemars(length(min = 1, max = 80))]
    pub role: String,
}

impl Profile {
    /// The names of those who may answer findings.
    #[must_use]
    pub fn who_may_answer(&self) -> Vec<&str> {
        let surgeons = self.surgeons.iter().map(|surgeon| surgeon.name.as_str());
        surgeons.chain(self.clinicians.iter().map(|clinician| clinician.name.as_str())).collect()
    }
}

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

/// A drop regimen.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Regimen {
    /// Id used in case records.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Name for the desk and the surgeon.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// What it rests on.
    #[schemars(length(min = 1, max = 200))]
    pub basis: String,
    /// The drops, in any order; the program puts solutions before suspensions.
    #[schemars(length(min = 1, max = 5))]
    pub drops: Vec<DropCourse>,
}

/// One drug of a regimen.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropCourse {
    /// Key of the formulary.
    #[schemars(length(min = 1, max = 60), extend("x-names" = "drug"))]
    pub drug: String,
    /// Steps, one after the other without a gap; a taper has several.
    #[schemars(length(min = 1, max = 12))]
    pub steps: Vec<DropStep>,
    /// Days from the treatment to the first date; below 0 the course begins before the treatment.
    #[serde(default)]
    #[schemars(range(min = -30, max = 60))]
    pub starts: i32,
    /// The first dose is given in the clinic after the laser.
    #[serde(default)]
    pub first_in_clinic: bool,
    /// Used only when it is needed: `per_day` is then the most on one date, and no time is planned.
    #[serde(default)]
    pub as_needed: bool,
    /// Doses are spread over day and night; else no dose is planned while the patient sleeps.
    #[serde(default)]
    pub at_night: bool,
    /// Size of the bottle that is handed out, mL; a unit of a single dose holds one drop and needs none.
    #[serde(default)]
    #[schemars(range(min = 0.1, max = 50))]
    pub bottle_ml: Known<f64>,
}

/// A stretch of a course with the same doses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropStep {
    /// Doses on a date of use (slots a day for a fixed count).
    #[schemars(range(min = 1, max = 12))]
    pub per_day: u32,
    /// Used on every date, on every second one, and so on.
    #[serde(default = "every_date")]
    #[schemars(range(min = 1, max = 7))]
    pub every_days: u32,
    /// When a single dose a day is used; left out: in the morning.
    #[serde(default)]
    pub at: Option<DayPart>,
    /// How long.
    pub length: StepLength,
}

fn every_date() -> u32 {
    1
}

/// Parts of the day with a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DayPart {
    /// When the patient gets up.
    Morning,
    /// A third of the waking day later.
    Noon,
    /// Another third later.
    Evening,
    /// Before sleep.
    Bedtime,
}

/// How long a step lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StepLength {
    /// This many dates, whether used on each of them or not. A slot that has passed is dropped.
    Dates(#[schemars(range(min = 1, max = 366))] u32),
    /// This many doses in all. A slot that has passed moves to the next.
    Doses(#[schemars(range(min = 1, max = 366))] u32),
    /// Without end: the patient goes on with it. The calendar shows this many dates.
    GoesOn(#[schemars(range(min = 1, max = 366))] u32),
}

/// A visit after treatment.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitRule {
    /// Id; the text of the visit is `visit.<id>` in the locale.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Calendar days after treatment; moved on to the next open day.
    #[schemars(range(min = 1, max = 400))]
    pub after_days: u32,
    /// For whom.
    pub applies: VisitFor,
    /// Time of day if known; the desk books it otherwise.
    #[serde(default)]
    pub at: Option<Clock>,
}

/// For whom a visit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum VisitFor {
    /// Everyone.
    Everyone,
    /// Eyes at risk of a pressure rise keep it; for the others it is kept free in case the pressure is raised.
    PressureRisk,
}

/// Texts that only the practice can write, each set and dated by somebody.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Notices {
    /// What the treatment costs and who pays.
    pub cost: Option<Notice>,
    /// How the treatment and the drops are regulated where the practice works (approved, cleared, off-label).
    pub regulation: Option<Notice>,
    /// Who keeps the patient's data, what for, how long, and where to read more.
    pub privacy: Option<Notice>,
    /// Who wrote these pages, who paid for that, and when they are looked through again.
    pub imprint: Option<Notice>,
}

/// A text of the practice.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Notice {
    /// The text by language, one paragraph; **bold** is emphasis.
    pub text: BTreeMap<String, String>,
    /// Who set it.
    #[schemars(length(min = 1, max = 120))]
    pub by: String,
    /// When.
    pub on: Date,
}

/// What is asked apart from the treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Permission {
    /// Pictures of the eye for teaching, without the name.
    Images,
    /// Somebody who learns examines the eye or looks on.
    Teaching,
    /// Facts of the case, without the name, for research.
    Research,
}

/// A confirmation of the clinical values.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Confirmation {
    /// Which clinician.
    #[schemars(length(min = 1, max = 120))]
    pub clinician: String,
    /// When.
    pub on: Date,
    /// Hash printed by `vitreoleaf confirm`.
    #[schemars(length(min = 8, max = 64))]
    pub hash: String,
}

impl Confirmation {
    /// Name of the version of the texts: enough of the hash to tell two versions apart by eye.
    #[must_use]
    pub fn version(&self) -> &str {
        self.hash.get(..8).unwrap_or(&self.hash)
    }
}

//! What was seen of one eye at one visit after one session.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::error::{Wrong, WrongOutcome};
use crate::record::acuity::Acuity;
use crate::record::course::EVENT_VISIT;
use crate::record::date::Date;
use crate::record::known::{Answer, Known};
use crate::record::profile::VisitRule;

/// Id of a visit outside the practice's plan.
pub const OTHER_VISIT: &str = "other";

/// Most events told at one visit.
const EVENTS: usize = 10;

/// Longest text of what was done, and longest name of a questionnaire, characters.
const LONG: usize = 200;
const SHORT: usize = 60;

/// What was seen of an eye at a visit. What is left out was not recorded; that never means *no*.
///
/// ```
/// use vitreoleaf::results::{Change, Outcome};
///
/// let seen: Outcome = serde_json::from_str(
///     r#"{ "visit": "late", "on": "2027-02-08", "pressure_mmhg": 17, "bother_before": 8, "bother_after": 2, "change": "much_better" }"#,
/// ).unwrap();
/// assert_eq!(seen.change, Change::MuchBetter);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Outcome {
    /// Id of the visit in the practice profile, "event" for the one because of what happened during the laser, or "other".
    #[schemars(length(min = 1, max = 40))]
    pub visit: String,
    /// Day of the visit, or the day on which nobody could be found any longer.
    pub on: Date,
    /// Pressure, mmHg.
    #[serde(default)]
    #[schemars(range(min = 1, max = 80))]
    pub pressure_mmhg: Known<f64>,
    /// Best corrected acuity.
    #[serde(default)]
    pub acuity: Known<Acuity>,
    /// How much the floaters bothered before the treatment, 0 (not at all) to 10, as the patient marked it then; what somebody thinks
    /// back to is not it.
    #[serde(default)]
    #[schemars(range(min = 0, max = 10))]
    pub bother_before: Known<u8>,
    /// How much they bother now, 0 to 10, on the same line.
    #[serde(default)]
    #[schemars(range(min = 0, max = 10))]
    pub bother_after: Known<u8>,
    /// A questionnaire that the practice uses; none comes with the program.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub questionnaire: Option<Questionnaire>,
    /// What the patient says has become of the floaters.
    #[serde(default)]
    pub change: Change,
    /// Whether this eye had further laser treatment of floaters since the last visit.
    #[serde(default)]
    pub further_laser: Answer,
    /// Whether this eye had surgery inside it since the last visit.
    #[serde(default)]
    pub surgery: Answer,
    /// Whether nobody knows what became of this eye.
    #[serde(default)]
    pub lost: bool,
    /// What happened that was not meant to, whenever it was: tears came years after the laser.
    #[serde(default)]
    #[schemars(length(max = 10))]
    pub events: Vec<Event>,
}

/// The result of a questionnaire: which one, in which version, and its score.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Questionnaire {
    /// Its name.
    #[schemars(length(min = 1, max = 60))]
    pub name: String,
    /// Its version.
    #[schemars(length(min = 1, max = 60))]
    pub version: String,
    /// The score, in the units of its author.
    pub score: f64,
}

/// What has become of the floaters, in five steps.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// They are gone.
    Gone,
    /// Much better.
    MuchBetter,
    /// A little better.
    LittleBetter,
    /// The same.
    Same,
    /// Worse.
    Worse,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Something that happened to the eye.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// Of which kind.
    pub kind: EventKind,
    /// When it was found.
    pub on: Date,
    /// How heavy.
    #[serde(default)]
    pub severity: Severity,
    /// What was done, for the practice alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub done: Option<String>,
}

/// Kinds of event after the treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// A tear of the retina.
    Tear,
    /// A detachment of the retina.
    Detachment,
    /// The natural lens or its capsule was hit.
    CapsuleOrLens,
    /// A mark on the implant.
    ImplantMarked,
    /// A pressure that stays high.
    LastingPressure,
    /// Bleeding in the vitreous.
    VitreousBleeding,
    /// A burn or bleeding of the retina.
    Retina,
    /// A cataract that came or grew.
    Cataract,
    /// Inflammation.
    Inflammation,
    /// Anything else.
    Other,
}

/// How heavy an event is. Common practice, no source.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// It was watched.
    Mild,
    /// It was treated.
    Moderate,
    /// It needed an operation, or sight was lost for good.
    Severe,
    /// Not recorded.
    #[default]
    Unknown,
}

impl Outcome {
    /// An outcome in which nothing is recorded yet.
    #[must_use]
    pub fn at(visit: &str, on: NaiveDate) -> Self {
        Self {
            visit: visit.to_owned(),
            on: Date(on),
            pressure_mmhg: Known::Unknown,
            acuity: Known::Unknown,
            bother_before: Known::Unknown,
            bother_after: Known::Unknown,
            questionnaire: None,
            change: Change::Unknown,
            further_laser: Answer::Unknown,
            surgery: Answer::Unknown,
            lost: false,
            events: Vec::new(),
        }
    }

    /// All that cannot be, given the day of the treatment, today and the visits of the practice.
    #[must_use]
    pub fn wrong(&self, treated: NaiveDate, today: NaiveDate, visits: &[VisitRule]) -> Vec<WrongOutcome> {
        let mut wrong = Vec::new();
        let mut add = |pointer: &str, why: Option<Wrong>| wrong.extend(why.map(|why| WrongOutcome::at(pointer, why)));
        let own = visits.iter().any(|rule| rule.id == self.visit);
        add("/visit", (!own && self.visit != EVENT_VISIT && self.visit != OTHER_VISIT).then_some(Wrong::NoSuchVisit));
        add("/on", outside(self.on.0, treated, today));
        add("/pressure_mmhg", beyond(self.pressure_mmhg.value(), 1, 80));
        add("/bother_before", beyond(self.bother_before.value().map(f64::from), 0, 10));
        add("/bother_after", beyond(self.bother_after.value().map(f64::from), 0, 10));
        if let Some(questionnaire) = &self.questionnaire {
            add("/questionnaire/name", text(&questionnaire.name, SHORT));
            add("/questionnaire/version", text(&questionnaire.version, SHORT));
            add("/questionnaire/score", (!questionnaire.score.is_finite()).then_some(Wrong::NoNumber));
        }
        add("/events", (self.events.len() > EVENTS).then_some(Wrong::TooMany(EVENTS)));
        for (at, event) in self.events.iter().enumerate() {
            let late = (event.on.0 > self.on.0).then_some(Wrong::AfterVisit);
            add(&format!("/events/{at}/on"), outside(event.on.0, treated, today).or(late));
            add(&format!("/events/{at}/done"), event.done.as_deref().and_then(|done| text(done, LONG)));
        }
        add("/lost", (self.lost && self.says_something()).then_some(Wrong::LostAndSeen));
        add("", (!self.lost && !self.says_something()).then_some(Wrong::Nothing));
        wrong
    }

    /// Whether anything was recorded.
    fn says_something(&self) -> bool {
        self.pressure_mmhg != Known::Unknown
            || self.acuity != Known::Unknown
            || self.bother_before != Known::Unknown
            || self.bother_after != Known::Unknown
            || self.questionnaire.is_some()
            || self.change != Change::Unknown
            || self.further_laser != Answer::Unknown
            || self.surgery != Answer::Unknown
            || !self.events.is_empty()
    }
}

fn outside(day: NaiveDate, treated: NaiveDate, today: NaiveDate) -> Option<Wrong> {
    match day {
        day if day < treated => Some(Wrong::BeforeTreatment),
        day if day > today => Some(Wrong::InFuture),
        _ => None,
    }
}

fn beyond(value: Option<f64>, lowest: u32, highest: u32) -> Option<Wrong> {
    let fits = |value: f64| (f64::from(lowest)..=f64::from(highest)).contains(&value);
    value.is_some_and(|value| !fits(value)).then_some(Wrong::Range { lowest, highest })
}

fn text(text: &str, longest: usize) -> Option<Wrong> {
    if text.trim().is_empty() || text.chars().count() > longest {
        return Some(Wrong::Length(longest));
    }
    (text.starts_with(['=', '+', '-', '@']) || text.contains(char::is_control)).then_some(Wrong::Formula)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse::<Date>().unwrap().0
    }

    fn seen() -> Outcome {
        Outcome { change: Change::Same, ..Outcome::at(OTHER_VISIT, day("2026-09-07")) }
    }

    fn wrong(outcome: &Outcome) -> Vec<(String, Wrong)> {
        let wrong = outcome.wrong(day("2026-08-07"), day("2026-09-07"), &[]);
        wrong.into_iter().map(|wrong| (wrong.pointer, wrong.why)).collect()
    }

    #[test]
    fn a_limit_holds_at_itself_and_not_beside_it() {
        let range = |lowest, highest| Wrong::Range { lowest, highest };
        for (mmhg, why) in [(0.9, true), (1.0, false), (80.0, false), (80.1, true), (f64::NAN, true)] {
            let outcome = Outcome { pressure_mmhg: Known::Value(mmhg), ..seen() };
            assert_eq!(wrong(&outcome).contains(&("/pressure_mmhg".into(), range(1, 80))), why, "{mmhg}");
        }
        for (bother, why) in [(0, false), (10, false), (11, true)] {
            let outcome = Outcome { bother_after: Known::Value(bother), ..seen() };
            assert_eq!(!wrong(&outcome).is_empty(), why, "{bother}");
        }
        for (on, why) in [
            ("2026-08-06", Some(Wrong::BeforeTreatment)),
            ("2026-08-07", None),
            ("2026-09-07", None),
            ("2026-09-08", Some(Wrong::InFuture)),
        ] {
            let outcome = Outcome { on: Date(day(on)), ..seen() };
            assert_eq!(wrong(&outcome), why.map(|why| ("/on".to_owned(), why)).into_iter().collect::<Vec<_>>(), "{on}");
        }
    }

    #[test]
    fn an_event_is_told_at_a_visit_after_it() {
        let event = |on: &str, done: Option<&str>| Outcome {
            events: vec![Event {
                kind: EventKind::Tear,
                on: Date(day(on)),
                severity: Severity::Moderate,
                done: done.map(str::to_owned),
            }],
            on: Date(day("2026-09-01")),
            ..seen()
        };
        assert_eq!(wrong(&event("2026-09-01", Some("laser around it"))), []);
        assert_eq!(wrong(&event("2026-09-02", None)), [("/events/0/on".into(), Wrong::AfterVisit)]);
        assert_eq!(wrong(&event("2026-08-06", None)), [("/events/0/on".into(), Wrong::BeforeTreatment)]);
        for (done, why) in [("", Wrong::Length(200)), ("=1+1", Wrong::Formula), ("a\nb", Wrong::Formula)] {
            assert_eq!(wrong(&event("2026-09-01", Some(done))), [("/events/0/done".into(), why)], "{done}");
        }
    }

    #[test]
    fn lost_and_seen_exclude_each_other_and_nothing_is_no_outcome() {
        assert_eq!(wrong(&Outcome { lost: true, ..seen() }), [("/lost".into(), Wrong::LostAndSeen)]);
        let nothing = Outcome { change: Change::Unknown, ..seen() };
        assert_eq!(wrong(&nothing), [(String::new(), Wrong::Nothing)]);
        assert_eq!(wrong(&Outcome { lost: true, ..nothing }), []);
        assert_eq!(wrong(&Outcome { visit: "week".into(), ..seen() }), [("/visit".into(), Wrong::NoSuchVisit)]);
    }
}

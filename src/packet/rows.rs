//! The parts of a case as data for other programs: facts, findings, doses, visits, the recheck.

use std::collections::BTreeMap;

use chrono::{DateTime, SubsecRound, Utc};
use schemars::JsonSchema;
use serde::Serialize;

use super::Case;
use crate::content::ComposeError;
use crate::facts::recheck::Recheck;
use crate::facts::{Moment, Value};
use crate::findings::Level;
use crate::plan::Period;
use crate::record::date::{Clock, Date, LocalTime};

/// The facts by name, as `vitreoleaf facts` lists them.
pub type FactValues = BTreeMap<&'static str, FactValue>;

/// The value of a fact, in the unit that `vitreoleaf facts` names for it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum FactValue {
    /// An enumerated word, or a text of the record or the profile.
    Text(String),
    /// A number.
    Number(f64),
    /// Whole minutes.
    Minutes(u32),
    /// Words.
    Texts(Vec<String>),
    /// Numbers.
    Numbers(Vec<f64>),
    /// A date.
    Date(Date),
    /// A local time.
    Time(LocalTime),
    /// Not recorded, or it does not apply.
    Absent,
}

impl From<&Value> for FactValue {
    fn from(value: &Value) -> Self {
        match value {
            Value::Choice(word) | Value::Text(word) => Self::Text(word.clone()),
            Value::Word(key) => Self::Text((*key).to_owned()),
            Value::Named(name, _) => Self::Text(name.clone()),
            Value::Number(number) => Self::Number(*number),
            Value::Numbers(numbers) => Self::Numbers(numbers.clone()),
            Value::Minutes(minutes) => Self::Minutes(*minutes),
            Value::Words(keys) => Self::Texts(keys.iter().map(|key| (*key).to_owned()).collect()),
            Value::List(items) => Self::Texts(items.clone()),
            Value::Date(date) => Self::Date(Date(*date)),
            Value::Time(time) => Self::Time(LocalTime(*time)),
            Value::Absent => Self::Absent,
        }
    }
}

/// The facts of a case.
#[must_use]
pub fn facts(case: &Case) -> FactValues {
    case.facts.iter().map(|(name, value)| (name, FactValue::from(value))).collect()
}

/// Which case a value speaks of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CaseHead {
    /// Code of the case.
    pub case: String,
    /// Revision of the record, from 1.
    pub revision: u32,
    /// Before or after the treatment.
    pub moment: Moment,
}

impl CaseHead {
    /// The head of a case.
    #[must_use]
    pub fn of(case: &Case) -> Self {
        let head = &case.record().case;
        Self { case: head.code.clone(), revision: head.revision, moment: case.moment() }
    }
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FindingRow {
    /// Id; an answer in the record names it.
    pub id: String,
    /// How much it weighs.
    pub level: Level,
    /// Key of the planned drug it speaks of, if it is about the drops.
    pub drug: Option<String>,
    /// Facts that were not recorded and on which it hangs.
    pub unrecorded: Vec<String>,
    /// Keys of drugs that could take the place of the one withheld: no rule objects to them, for what was recorded.
    pub alternatives: Vec<String>,
    /// Whether an answer in the record settles it: made for these values, and not older than what it rests on.
    pub answered: bool,
    /// Who gave the answer that settles it.
    pub answered_by: Option<String>,
    /// When.
    pub answered_on: Option<Date>,
    /// Whether it is a stop that the answer releases.
    pub released: bool,
    /// The values it follows from, as an answer has to name them.
    pub fingerprint: String,
}

/// The findings of a case, heaviest first.
#[must_use]
pub fn findings(case: &Case) -> Vec<FindingRow> {
    let rows = case.findings.0.iter().map(|finding| FindingRow {
        id: finding.id.clone(),
        level: finding.level,
        drug: finding.drug.clone(),
        unrecorded: finding.unrecorded.clone(),
        alternatives: finding.alternatives.clone(),
        answered: finding.settled_by().is_some(),
        answered_by: finding.settled_by().map(|answer| answer.by.clone()),
        answered_on: finding.settled_by().map(|answer| answer.on),
        released: finding.released(),
        fingerprint: finding.fingerprint(),
    });
    rows.collect()
}

/// One drop of one drug.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DoseRow {
    /// Which course of the regimen, from 1.
    pub course: usize,
    /// Which step of the course, from 1.
    pub step: usize,
    /// Key of the drug in the formulary.
    pub drug: String,
    /// Name and strength of the drug.
    pub name: String,
    /// Local time of the practice.
    pub at: LocalTime,
    /// The same in UTC.
    pub utc: DateTime<Utc>,
    /// Part of the day.
    pub period: Period,
    /// Whether the record says that it was given in the clinic.
    pub given: bool,
}

/// The doses of a case in order of time.
///
/// # Errors
/// A drug of the plan that the formulary does not have.
pub fn doses(case: &Case) -> Result<Vec<DoseRow>, ComposeError> {
    let rows = case.plan.doses.iter().map(|dose| {
        Ok(DoseRow {
            course: dose.course + 1,
            step: dose.step + 1,
            drug: dose.drug.clone(),
            name: name(case, &dose.drug)?,
            at: LocalTime(dose.at),
            utc: dose.instant.to_utc().trunc_subsecs(0),
            period: dose.period,
            given: dose.given(),
        })
    });
    rows.collect()
}

/// A drug that is used only when it is needed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct AsNeededRow {
    /// Key of the drug in the formulary.
    pub drug: String,
    /// Name and strength of the drug.
    pub name: String,
    /// First date.
    pub first: Date,
    /// Last date; where the drug goes on, the last one that the calendar shows.
    pub last: Date,
    /// Most doses on one date.
    pub per_day: u32,
    /// Most doses in all, if there is such a limit.
    pub doses: Option<u32>,
}

/// The drugs of a case that have a limit and no times, in the order of the regimen.
///
/// # Errors
/// As [`doses`].
pub fn as_needed(case: &Case) -> Result<Vec<AsNeededRow>, ComposeError> {
    let limited = case.plan.uses.iter().filter_map(|used| Some((used, used.as_needed?)));
    let rows = limited.map(|(used, limit)| {
        Ok(AsNeededRow {
            drug: used.drug.clone(),
            name: name(case, &used.drug)?,
            first: Date(used.first),
            last: Date(used.last),
            per_day: limit.per_day,
            doses: limit.doses,
        })
    });
    rows.collect()
}

/// Name and strength of a drug.
fn name(case: &Case, key: &str) -> Result<String, ComposeError> {
    let drug = case.practice().formulary.get(key).ok_or_else(|| ComposeError::UnknownDrug { key: key.to_owned() })?;
    Ok(format!("{} {}", drug.shown_name(), drug.strength))
}

/// A visit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct VisitRow {
    /// Ids of the practice's rules that fall on this date.
    pub ids: Vec<String>,
    /// Date.
    pub date: Date,
    /// Local time; null: the desk books it.
    pub at: Option<Clock>,
    /// Whether the record holds its booked time.
    pub booked: bool,
    /// Whether it is only kept free in case the pressure is raised.
    pub if_raised: bool,
    /// Whether the practice is closed then, and the patient is seen at its out-of-hours place.
    pub out_of_hours: bool,
}

/// The visits of a case in order of date.
#[must_use]
pub fn visits(case: &Case) -> Vec<VisitRow> {
    let rows = case.plan.visits.iter().map(|visit| VisitRow {
        ids: visit.ids.clone(),
        date: Date(visit.date),
        at: visit.at.map(Clock),
        booked: visit.booked,
        if_raised: visit.if_raised,
        out_of_hours: visit.out_of_hours,
    });
    rows.collect()
}

/// The recheck of the pressure on the day of the laser.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RecheckRow {
    /// Local time.
    pub at: LocalTime,
    /// Where: a word of the fact `recheck_place`.
    pub place: String,
    /// How much it is wanted: a word of the fact `recheck_need`.
    pub need: String,
}

/// The same-day recheck of a case; none when it is not wanted.
#[must_use]
pub fn recheck(case: &Case) -> Option<RecheckRow> {
    let at = case.plan.recheck.and_then(Recheck::at)?;
    let word = |fact| case.facts.choice(fact).to_owned();
    Some(RecheckRow { at: LocalTime(at), place: word("recheck_place"), need: word("recheck_need") })
}

//! What became of an eye, as a page sends it: read field by field, checked by the library, kept in the register.

use std::collections::BTreeMap;
use std::str::FromStr;

use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde_json::json;

use super::change::Sent;
use super::error::DeskError;
use super::form::save::Fields;
use super::room::Room;
use crate::record::acuity::Acuity;
use crate::record::date::Date;
use crate::record::form::Format;
use crate::record::known::Known;
use crate::record::measure;
use crate::record::typed::{self, Reading};
use crate::register::{NewOutcome, OutcomeId, RegisterError};
use crate::results::{Event, OTHER_VISIT, Outcome, Questionnaire, Wrong};

/// Events that one page takes; further ones come with the next visit or correction.
pub(super) const EVENTS: usize = 2;

/// What is wrong, by the name of its field.
pub(super) type Faults = BTreeMap<String, String>;

/// Keeps or withdraws an outcome; what is wrong with what was sent, if anything is.
pub(super) fn keep(room: &mut Room, sent: &Sent) -> Result<Option<Faults>, DeskError> {
    let replaces: Option<OutcomeId> = sent.field("replaces").parse().ok();
    let outcome = match sent.field("do") {
        "withdraw" => None,
        _ => match read(room, sent)? {
            Ok(outcome) => Some(outcome),
            Err(faults) => return Ok(Some(faults)),
        },
    };
    let new = NewOutcome { case: sent.case, outcome, replaces, by: sent.who.name.clone(), at: room.now() };
    match room.register.put_outcomes(&[new]) {
        Ok(_) => Ok(None),
        Err(RegisterError::OutcomeThere) => Ok(Some(one_fault("/visit", room.words.word("outcome.there")?))),
        Err(RegisterError::Changed) => Ok(Some(one_fault("/visit", room.words.word("outcome.changed")?))),
        Err(error) => Err(error.into()),
    }
}

fn one_fault(name: &str, says: String) -> Faults {
    Faults::from([(name.to_owned(), says)])
}

/// Reads what was sent; all that is wrong with it, in words.
fn read(room: &Room, sent: &Sent) -> Result<Result<Outcome, Faults>, DeskError> {
    let treated = room.register.session(sent.case)?.map(|session| session.on).ok_or(RegisterError::NoCase)?;
    let mut reader = Reader { room, fields: sent.fields, wrong: Vec::new() };
    let outcome = reader.outcome();
    let mut wrong = reader.wrong;
    if wrong.is_empty() {
        let found = outcome.wrong(treated, room.today(), &room.practice.profile.visits);
        wrong.extend(found.into_iter().map(|wrong| (wrong.pointer, wrong.why)));
    }
    if wrong.is_empty() {
        return Ok(Ok(outcome));
    }
    let said =
        |(name, why): (String, Wrong)| Ok((if name.is_empty() { "/change".into() } else { name }, says(room, why)?));
    Ok(Err(wrong.into_iter().map(said).collect::<Result<_, DeskError>>()?))
}

/// What is wrong, in the words of the desk.
fn says(room: &Room, why: Wrong) -> Result<String, DeskError> {
    let key = match why {
        Wrong::NoSuchVisit | Wrong::NoSuchWord(_) => "outcome.wrong.choose",
        Wrong::BeforeTreatment => "outcome.wrong.before",
        Wrong::InFuture => "outcome.wrong.future",
        Wrong::AfterVisit => "outcome.wrong.after_visit",
        Wrong::Range { .. } => "outcome.wrong.range",
        Wrong::Length(_) | Wrong::TooMany(_) => "outcome.wrong.length",
        Wrong::Formula => "outcome.wrong.formula",
        Wrong::LostAndSeen => "outcome.wrong.lost",
        Wrong::Nothing => "outcome.wrong.nothing",
        Wrong::NoNumber => "field.unreadable_number",
        Wrong::NoDate => "field.unreadable_date",
        Wrong::NoAcuity => "outcome.wrong.acuity",
    };
    let (lowest, highest) = match why {
        Wrong::Range { lowest, highest } => (lowest.to_string(), highest.to_string()),
        Wrong::Length(most) | Wrong::TooMany(most) => (String::new(), most.to_string()),
        _ => (String::new(), String::new()),
    };
    room.words.say(key, &[("lowest", &lowest), ("highest", &highest)])
}

/// Reads fields and remembers what is wrong with them.
struct Reader<'a> {
    room: &'a Room,
    fields: &'a Fields,
    wrong: Vec<(String, Wrong)>,
}

impl Reader<'_> {
    fn outcome(&mut self) -> Outcome {
        let on = self.date("/on").unwrap_or_else(|| self.room.today());
        let visit = self.text("/visit").unwrap_or_else(|| OTHER_VISIT.into());
        let mut outcome = Outcome::at(&visit, on);
        outcome.pressure_mmhg = known(self.number("/pressure_mmhg", "mmhg"));
        outcome.acuity = known(self.acuity());
        outcome.bother_before = known(self.word("/bother_before"));
        outcome.bother_after = known(self.word("/bother_after"));
        outcome.questionnaire = self.questionnaire();
        outcome.change = self.word("/change").unwrap_or_default();
        outcome.further_laser = self.word("/further_laser").unwrap_or_default();
        outcome.surgery = self.word("/surgery").unwrap_or_default();
        outcome.lost = self.text("/lost").is_some();
        outcome.events = (0..EVENTS).filter_map(|at| self.event(at, on)).collect();
        outcome
    }

    fn text(&self, name: &str) -> Option<String> {
        self.fields.get(name).map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
    }

    fn fault(&mut self, name: &str, why: Wrong) {
        self.wrong.push((name.to_owned(), why));
    }

    fn date(&mut self, name: &str) -> Option<NaiveDate> {
        let text = self.text(name)?;
        match typed::read(Format::Date, &text, self.room.around()) {
            Reading::One(day) => day.parse::<Date>().ok().map(|day| day.0),
            Reading::Several(_) | Reading::None(_) => {
                self.fault(name, Wrong::NoDate);
                None
            }
        }
    }

    fn number(&mut self, name: &str, unit: &str) -> Option<f64> {
        let text = self.text(name)?;
        let read = measure::of(&text).filter(|read| read.unit.is_empty() || read.unit == unit);
        let number = read.and_then(|read| read.number.parse().ok());
        if number.is_none() {
            self.fault(name, Wrong::NoNumber);
        }
        number
    }

    fn acuity(&mut self) -> Option<Acuity> {
        let text = self.text("/acuity")?;
        let acuity = Acuity::from_str(&text).ok().filter(Acuity::is_written_as_the_record_wants);
        if acuity.is_none() {
            self.fault("/acuity", Wrong::NoAcuity);
        }
        acuity
    }

    /// A word of a closed list, or a step of a line.
    fn word<T: DeserializeOwned>(&mut self, name: &str) -> Option<T> {
        let text = self.text(name)?;
        let value = text.parse::<u8>().map_or_else(|_| json!(text), |step| json!(step));
        let word = serde_json::from_value(value).ok();
        if word.is_none() {
            self.fault(name, Wrong::NoSuchWord(""));
        }
        word
    }

    fn questionnaire(&mut self) -> Option<Questionnaire> {
        let [name, version] =
            ["/questionnaire/name", "/questionnaire/version"].map(|name| self.text(name).unwrap_or_default());
        let score = self.number("/questionnaire/score", "");
        if name.is_empty() && version.is_empty() && score.is_none() {
            return None;
        }
        if score.is_none() {
            self.fault("/questionnaire/score", Wrong::NoNumber);
        }
        Some(Questionnaire { name, version, score: score? })
    }

    fn event(&mut self, at: usize, visit: NaiveDate) -> Option<Event> {
        let name = |key: &str| format!("/events/{at}/{key}");
        let kind = self.word(&name("kind"))?;
        let on = Date(self.date(&name("on")).unwrap_or(visit));
        let severity = self.word(&name("severity")).unwrap_or_default();
        Some(Event { kind, on, severity, done: self.text(&name("done")) })
    }
}

fn known<T>(value: Option<T>) -> Known<T> {
    value.map_or(Known::Unknown, Known::Value)
}

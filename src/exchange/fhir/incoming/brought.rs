//! The answer: what was taken, what is asked, what was not taken.

use std::fmt;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::packet::version::Version;

/// What files of another system bring to a case record.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Incoming {
    /// Version of this format.
    pub version: Version<1>,
    /// The values as a case record that may lack keys: a draft. The eye that was chosen stands in it too.
    pub record: Value,
    /// Each value of the draft with where it comes from.
    pub taken: Vec<Taken>,
    /// What a person must answer: nothing of it stands in the draft.
    pub asked: Vec<Asked>,
    /// What was not taken, and why.
    pub not_taken: Vec<NotTaken>,
}

/// A value of the draft.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Taken {
    /// Key of the case record, as a JSON pointer.
    pub key: String,
    /// The value.
    pub value: Value,
    /// Where it comes from: several where they agree.
    pub origins: Vec<Origin>,
}

/// Something that a person must answer.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Asked {
    /// Key of the case record, as a JSON pointer, if one is meant.
    pub key: Option<String>,
    /// Why it is asked.
    pub why: Why,
    /// What the sources say, each with its origin.
    pub candidates: Vec<Candidate>,
}

/// One of the answers that sources give.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Candidate {
    /// As the record would hold it; nothing where the source gives no such value.
    pub value: Option<Value>,
    /// Where it comes from.
    pub origin: Origin,
}

/// Something that was not taken.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct NotTaken {
    /// Why.
    pub why: Why,
    /// Where it stands.
    pub origin: Origin,
}

/// Where something comes from.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct Origin {
    /// Name of the file.
    pub file: String,
    /// The resource: its kind and id, and its place in a bundle, from 1.
    pub resource: String,
    /// The element within the resource.
    pub element: String,
    /// Its code with the name of the code system.
    pub code: Option<String>,
    /// The day, month or year it speaks of, as written there.
    pub on: Option<String>,
    /// What it says in words.
    pub says: Option<String>,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.file, self.resource)?;
        if !self.element.is_empty() {
            write!(f, " {}", self.element)?;
        }
        let more = [&self.says, &self.code, &self.on].into_iter().flatten().map(String::as_str);
        let more = more.collect::<Vec<_>>().join("; ");
        if more.is_empty() { Ok(()) } else { write!(f, " ({more})") }
    }
}

/// Why files were not read at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotRead {
    /// A file that is no JSON.
    #[error("{0} cannot be read as JSON: export it again as FHIR R4 in JSON, not in XML")]
    NotJson(String),
    /// A file that ends before its JSON does, or holds nothing.
    #[error("{0} ends too early: it is empty or was cut off; export or copy it again")]
    CutOff(String),
    /// Letters in another encoding.
    #[error("{0} holds letters that are no UTF-8: export it again as FHIR R4 in JSON, in UTF-8")]
    NotUtf8(String),
    /// A file without a resource.
    #[error("{0} holds no resource of FHIR: export a Bundle, or one resource, with its `resourceType`")]
    NoResource(String),
    /// Resources of more than one patient.
    #[error("these files are of several patients, or do not say whose they are: give the files of one patient")]
    SeveralPatients,
}

/// Why something is asked about, or was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema, thiserror::Error)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Two sources do not agree.
    #[error("the sources do not agree: ask which is right")]
    Disagree,
    /// An eye is meant, and it is not said which.
    #[error("it does not say which eye: ask")]
    WhichEye,
    /// It says which eye, and nobody has said which eye is treated.
    #[error("it is of one eye, and nobody has said which eye is treated")]
    EyeNotChosen,
    /// It is not certain: provisional, differential, not confirmed, preliminary.
    #[error("it is not certain there: ask")]
    Uncertain,
    /// It was so; whether it is so now is not said.
    #[error("it was so; ask whether it still is")]
    Past,
    /// Its state contradicts itself or is not said.
    #[error("its state is not clear there: ask")]
    State,
    /// A day is needed, and only a month or year is known.
    #[error("only a part of the date is known: ask for the day")]
    PartialDate,
    /// There are several, and nothing says which is meant.
    #[error("there are several: choose")]
    Which,
    /// A list of a file is not known to be whole.
    #[error("these are what the files hold: ask whether there are others")]
    Whole,
    /// One entry of a list could not be placed, so the list is left open.
    #[error("not every entry could be placed, so the list is left open: ask")]
    ListOpen,
    /// By mouth or into the eye is not said.
    #[error("by mouth or into the eye is not said: ask")]
    Route,
    /// An appointment may be the treatment or any other visit.
    #[error("this may be the treatment or another visit: ask")]
    WhichVisit,
    /// The patient is recorded as dead.
    #[error("the patient is recorded as dead there: ask")]
    Dead,
    /// The practice, or the form of the record, does not take this value.
    #[error("the record does not take this value")]
    DoesNotFit,
    /// Somebody entered it in error.
    #[error("it was entered in error")]
    EnteredInError,
    /// Somebody says that it is not so. That is no answer to a question of the record.
    #[error("it was refuted there; that alone is no \"no\"")]
    Refuted,
    /// It was not taken, not done, or must not be.
    #[error("it was not taken or not done; that alone is no \"no\"")]
    NotDone,
    /// It has ended or was called off.
    #[error("it has ended or was called off")]
    Ended,
    /// It is planned or wanted and not yet so.
    #[error("it is planned, and not yet so")]
    Planned,
    /// It carries an element that may turn its meaning round and that is not known here.
    #[error("it carries a modifier that is not known here")]
    Modifier,
    /// It is about another patient, a group or a thing.
    #[error("it is about somebody else")]
    SomebodyElse,
    /// It does not say whom it is about.
    #[error("it does not say whom it is about")]
    NoSubject,
    /// It is of the eye that is not treated.
    #[error("it is of the other eye")]
    OtherEye,
    /// Resources of this kind are not read.
    #[error("resources of this kind are not read")]
    Kind,
    /// The record has no place for it.
    #[error("the record has no place for it")]
    NoPlace,
    /// No table knows its code.
    #[error("no table knows its code")]
    UnknownCode,
    /// It has no code.
    #[error("it has no code")]
    NoCode,
    /// It says that nothing is known.
    #[error("it says that nothing is known")]
    NoInformation,
    /// It denies less than the record asks about.
    #[error("it denies less than the record asks about")]
    Narrower,
    /// It has no value, or says why there is none.
    #[error("it has no value")]
    NoValue,
    /// The value has another form than its key needs.
    #[error("its value has another form than is needed")]
    Form,
    /// The value is a limit, not a measure.
    #[error("it is a limit such as \"less than\", not a measure")]
    Limit,
    /// The unit is none of UCUM that can be converted.
    #[error("its unit is not one of UCUM that can be converted")]
    Unit,
    /// A newer one was taken.
    #[error("a newer one counts")]
    Older,
}

impl Why {
    /// The word by which it is known in outputs and translations.
    #[must_use]
    pub fn word(self) -> String {
        serde_json::to_value(self).ok().and_then(|word| word.as_str().map(str::to_owned)).unwrap_or_default()
    }
}

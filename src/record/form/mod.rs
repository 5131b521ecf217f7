//! The form of a file: every key with what may stand there, what it is for, who knows it and when it applies.
//!
//! The types of the record are the one source. Their JSON Schema judges a file, the words of a refusal come from it, and
//! [`describe`] gives it to whoever draws a form. Which keys apply when is said once, in [`RULES`].

mod applies;
mod order;
pub(in crate::record) mod schema;
mod tables;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::locate::child;
use super::measure;
pub use applies::{Condition, RULES, Refusal, Rule};
use schema::{Field, Form};
pub use schema::{Format, Kind};

/// Version of a [`Description`]: a key that is taken out or changes its meaning raises it.
pub const VERSION: u32 = 1;

/// Every key of a form.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Description {
    /// Version of this form of description.
    #[schemars(extend("const" = VERSION))]
    pub version: u32,
    /// The keys, a table before what it holds, in the order in which they are written.
    pub keys: Vec<Key>,
}

/// One key of a form, or the entries of a list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Key {
    /// JSON pointer, with `*` for any entry of a list: `/earlier_sessions/*/date`.
    pub pointer: String,
    /// What kind of value it takes.
    pub kind: Kind,
    /// How its text is written, if it means a date, a time or a zone.
    pub format: Option<Format>,
    /// Regular expression of its text.
    pub pattern: Option<String>,
    /// Unit of its number, as it is printed.
    pub unit: Option<&'static str>,
    /// The words it may say.
    pub words: Vec<Word>,
    /// Lowest number.
    pub lowest: Option<f64>,
    /// Highest number.
    pub highest: Option<f64>,
    /// Fewest characters of its text or entries of its list.
    pub shortest: Option<u64>,
    /// Most characters of its text or entries of its list.
    pub longest: Option<u64>,
    /// What it is for; of an entry, what its list is for.
    pub help: String,
    /// Whether its table cannot do without it.
    pub required: bool,
    /// Whether it may say `unknown`, which is the same as leaving it out.
    pub may_be_unknown: bool,
    /// Who knows it.
    pub known_by: Option<KnownBy>,
    /// What its text is the name of.
    pub names: Option<Names>,
    /// Whether it tells who the patient is, or is free text of the patient's record: no message quotes it.
    pub private: bool,
    /// When it applies: all of these must hold, and those of the tables it lies in.
    pub applies: Vec<Condition>,
}

/// One word of a closed list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Word {
    /// As it is written.
    pub word: String,
    /// What it means.
    pub means: String,
}

/// Who in a practice knows what a key asks for (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum KnownBy {
    /// The front desk.
    Desk,
    /// The nurse or technician who asks and measures.
    Nurse,
    /// The surgeon.
    Surgeon,
}

impl KnownBy {
    /// In the order in which a record goes through a practice.
    pub const ALL: [Self; 3] = [Self::Desk, Self::Nurse, Self::Surgeon];
}

/// What a text is the name of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Names {
    /// A surgeon of the profile.
    Surgeon,
    /// A regimen of the profile.
    Regimen,
    /// A visit of the profile.
    Visit,
    /// A drug of the formulary.
    Drug,
    /// A finding.
    Finding,
    /// A statement.
    Statement,
    /// A language the practice prints in.
    Language,
    /// A jurisdiction.
    Jurisdiction,
}

impl Key {
    /// The last part of the pointer: the key as it is written, or `*`.
    #[must_use]
    pub fn name(&self) -> &str {
        self.pointer.rsplit('/').next().unwrap_or_default()
    }

    /// The pointer of the table or list it lies in.
    #[must_use]
    pub fn parent(&self) -> &str {
        super::locate::parent(&self.pointer).unwrap_or_default()
    }
}

/// The form of a case record or a practice profile.
///
/// ```
/// use vitreoleaf::record::{Record, form};
///
/// let form = form::describe::<Record>();
/// let length = form.keys.iter().find(|key| key.pointer == "/eye/axial_length_mm").unwrap();
/// assert_eq!((length.unit, length.lowest, length.highest), (Some("mm"), Some(15.0), Some(40.0)));
/// assert!(length.may_be_unknown && !length.required);
/// let capsule = form.keys.iter().find(|key| key.pointer == "/eye/capsule").unwrap();
/// assert_eq!(capsule.applies[0].words, ["implant"]);
/// ```
#[must_use]
pub fn describe<T: JsonSchema>() -> Description {
    let form = Form::of::<T>();
    let mut keys = Vec::new();
    let of_a_patient = form.is_of_a_patient();
    let around = Around { known_by: None, names: None, help: "", of_a_patient };
    gather("", form.root(), around, &mut keys);
    Description { version: VERSION, keys }
}

/// What a key takes over from the table or list it lies in.
#[derive(Clone, Copy)]
struct Around<'a> {
    known_by: Option<KnownBy>,
    names: Option<Names>,
    help: &'a str,
    of_a_patient: bool,
}

fn gather<'a>(pointer: &str, table: Field<'a>, around: Around<'a>, keys: &mut Vec<Key>) {
    let required = table.required();
    let written = tables::in_order(table).into_iter().chain((table.kind() == Kind::List).then_some("*"));
    for name in written {
        let Some(field) = table.child(if name == "*" { "0" } else { name }) else { continue };
        let known_by = noted(field, "x-known-by").or(around.known_by);
        let names = noted(field, "x-names").or(around.names.filter(|_| name == "*"));
        let help = field.keyword("description").and_then(Value::as_str).unwrap_or(around.help);
        let around = Around { known_by, names, help, ..around };
        let below = child(pointer, name);
        keys.push(key(&below, field, required.contains(&name), around));
        gather(&below, field, around, keys);
    }
}

fn noted<T: for<'de> Deserialize<'de>>(field: Field<'_>, keyword: &str) -> Option<T> {
    field.keyword(keyword).and_then(|note| T::deserialize(note).ok())
}

fn key(pointer: &str, field: Field<'_>, required: bool, around: Around<'_>) -> Key {
    let number = |limit: Option<&Value>| limit.and_then(Value::as_f64);
    let count = |least, most| field.keyword(least).or_else(|| field.keyword(most)).and_then(Value::as_u64);
    let text = |keyword| field.keyword(keyword).and_then(Value::as_str).map(str::to_owned);
    let kind = field.kind();
    let says_unknown = field.format() == Some(Format::PartialDate) || field.words().contains(&"unknown");
    let is_number = matches!(kind, Kind::Number | Kind::Whole);
    Key {
        pointer: pointer.to_owned(),
        kind,
        format: field.format(),
        pattern: text("pattern"),
        unit: measure::unit_at(pointer).filter(|_| is_number),
        words: field
            .meanings()
            .into_iter()
            .map(|(word, means)| Word { word: word.into(), means: means.into() })
            .collect(),
        lowest: number(field.range().0).filter(|_| is_number),
        highest: number(field.range().1).filter(|_| is_number),
        shortest: count("minLength", "minItems"),
        longest: count("maxLength", "maxItems"),
        help: around.help.to_owned(),
        required: required || field.required_unless().is_some(),
        may_be_unknown: field.may_be_unknown() || says_unknown,
        known_by: around.known_by,
        names: around.names,
        private: around.of_a_patient && is_private(field, around.names),
        applies: RULES.iter().filter(|rule| around.of_a_patient && rule.key == pointer).map(|rule| rule.when).collect(),
    }
}

/// A text is free unless it is written in a form of its own or names something; a date may be marked.
fn is_private(field: Field<'_>, names: Option<Names>) -> bool {
    field.is_free_text() && names.is_none() || field.keyword("x-private").is_some()
}

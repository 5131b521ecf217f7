//! The form a file must have, read from the JSON Schema of its type.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use jsonschema::Validator;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};

/// The JSON Schema of one type, ready to validate.
pub(in crate::record) struct Form {
    schema: Value,
    pub(in crate::record) validator: Validator,
}

/// What is worked out once for each type, and kept.
pub(in crate::record) struct PerType<V>(Mutex<BTreeMap<Cow<'static, str>, Arc<V>>>);

impl<V> PerType<V> {
    pub(in crate::record) const fn new() -> Self {
        Self(Mutex::new(BTreeMap::new()))
    }

    pub(in crate::record) fn of<T: JsonSchema>(&self, make: impl FnOnce() -> V) -> Arc<V> {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(known.entry(T::schema_id()).or_insert_with(|| Arc::new(make())))
    }
}

impl Form {
    /// The form of a type. Building a validator costs more than using it.
    pub(in crate::record) fn of<T: JsonSchema>() -> Arc<Self> {
        static FORMS: PerType<Form> = PerType::new();
        FORMS.of::<T>(Self::build::<T>)
    }

    fn build<T: JsonSchema>() -> Self {
        let schema = Value::from(schemars::schema_for!(T));
        let validator = jsonschema::validator_for(&schema).expect("the schema of our own types is a valid schema");
        Self { schema, validator }
    }

    /// The whole file as a field.
    pub(in crate::record) fn root(&self) -> Field<'_> {
        Field { form: self, node: &self.schema }
    }

    /// What may stand at a pointer; none where no key of the form leads.
    pub(in crate::record) fn field(&self, pointer: &str) -> Option<Field<'_>> {
        let tokens = pointer.split('/').skip(1);
        tokens
            .map(|token| token.replace("~1", "/").replace("~0", "~"))
            .try_fold(self.root(), |field, token| field.child(&token))
    }

    /// The types behind the tables, the whole file first.
    #[cfg(test)]
    pub(super) fn types(&self) -> Vec<(&str, Field<'_>)> {
        let whole = (self.root().type_name().unwrap_or_default(), self.root());
        let definitions = self.schema.get("$defs").and_then(Value::as_object).into_iter().flatten();
        let fields = definitions.map(|(name, node)| (name.as_str(), self.root().with(node)));
        [whole].into_iter().chain(fields.filter(|(_, field)| !field.keys().is_empty())).collect()
    }

    /// Every key of a table outside lists, each once.
    pub(in crate::record) fn names(&self) -> Vec<&str> {
        let mut names = BTreeSet::new();
        find_names(self.root(), &mut names);
        names.into_iter().collect()
    }

    /// Whether what it describes tells of a patient.
    pub(in crate::record) fn is_of_a_patient(&self) -> bool {
        self.root().keyword("x-of-a-patient").is_some()
    }

    /// The tables in which a key exists, as pointers; entries of lists are left out.
    pub(in crate::record) fn tables_with(&self, key: &str) -> Vec<String> {
        let mut tables = Vec::new();
        find_tables(self.root(), "", key, &mut tables);
        tables
    }
}

fn find_names<'a>(table: Field<'a>, names: &mut BTreeSet<&'a str>) {
    for name in table.keys() {
        names.insert(name);
        if let Some(below) = table.child(name).filter(|below| below.kind() == Kind::Table) {
            find_names(below, names);
        }
    }
}

fn find_tables(table: Field<'_>, pointer: &str, key: &str, tables: &mut Vec<String>) {
    for name in table.keys() {
        if name == key {
            tables.push(pointer.to_owned());
        }
        if let Some(below) = table.child(name).filter(|below| below.kind() == Kind::Table) {
            find_tables(below, &format!("{pointer}/{name}"), key, tables);
        }
    }
}

/// One place of the form: what may stand there.
#[derive(Clone, Copy)]
pub(in crate::record) struct Field<'a> {
    form: &'a Form,
    node: &'a Value,
}

/// What kind of value a key takes, leaving aside `unknown`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// One word of a closed list.
    Word,
    /// A table with exactly one of its keys.
    OneKey,
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// Text.
    Text,
    /// True or false.
    Flag,
    /// A list.
    List,
    /// A table.
    Table,
}

/// How a text is written that means a date, a time or a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// A day.
    Date,
    /// A day, a month or a year.
    PartialDate,
    /// A local date and time.
    LocalTime,
    /// A time of day.
    Clock,
    /// An IANA time zone.
    Zone,
}

impl<'a> Field<'a> {
    fn with(self, node: &'a Value) -> Self {
        Self { node, ..self }
    }

    /// The definition a reference leads to; the field itself when it is none.
    fn target(self) -> Self {
        let definition = self.reference().and_then(|name| self.form.schema["$defs"].get(name));
        definition.map_or(self, |node| self.with(node))
    }

    fn reference(self) -> Option<&'a str> {
        self.node.get("$ref").and_then(Value::as_str)?.strip_prefix("#/$defs/")
    }

    fn branches(self, of: &str) -> impl Iterator<Item = Self> {
        self.node.get(of).and_then(Value::as_array).into_iter().flatten().map(move |node| self.with(node))
    }

    /// The field without the alternatives `unknown` and nothing.
    fn core(self) -> Self {
        let target = self.target();
        let is_value = |branch: &Self| branch.node.get("const").is_none() && branch.node["type"] != "null";
        target.branches("anyOf").find(is_value).map_or(target, Self::target)
    }

    /// How a text of a type of its own is written.
    pub(in crate::record) fn format(self) -> Option<Format> {
        Some(match self.type_name()? {
            "Date" => Format::Date,
            "PartialDate" => Format::PartialDate,
            "LocalTime" => Format::LocalTime,
            "Clock" => Format::Clock,
            "Zone" => Format::Zone,
            _ => return None,
        })
    }

    /// The name of the type behind the field, for example `PartialDate`.
    pub(super) fn type_name(self) -> Option<&'a str> {
        let title = || self.node.get("title").and_then(Value::as_str);
        self.reference().or_else(|| self.branches("anyOf").find_map(Self::reference)).or_else(title)
    }

    /// The field one step down.
    pub(in crate::record) fn child(self, token: &str) -> Option<Self> {
        let core = self.core();
        let listed = core.node.get("properties").and_then(|properties| properties.get(token));
        let entry = || self.keyword("items").filter(|_| token.parse::<usize>().is_ok());
        listed
            .or_else(entry)
            .map(|node| self.with(node))
            .or_else(|| core.branches("oneOf").find_map(|branch| branch.child(token)))
    }

    /// The keys of a table.
    pub(in crate::record) fn keys(self) -> Vec<&'a str> {
        self.properties().map(|properties| properties.keys().map(String::as_str).collect()).unwrap_or_default()
    }

    fn properties(self) -> Option<&'a Map<String, Value>> {
        self.core().node.get("properties").and_then(Value::as_object)
    }

    /// The keys a table must have.
    pub(in crate::record) fn required(self) -> Vec<&'a str> {
        let required = self.core().node.get("required").and_then(Value::as_array);
        required.into_iter().flatten().filter_map(Value::as_str).collect()
    }

    /// The key without which a table must have this one, if there is such a key beside it.
    pub(in crate::record) fn required_unless(self) -> Option<&'a str> {
        self.keyword("x-required-unless").and_then(Value::as_str)
    }

    /// The keys that a table must have because of what it does not hold.
    pub(in crate::record) fn required_beside(self, table: &Map<String, Value>) -> Vec<&'a str> {
        let lacks = |key: &str| table.get(key).is_none_or(|value| value == "");
        let unless = |key: &&str| self.child(key).and_then(Field::required_unless).is_some_and(lacks);
        self.keys().into_iter().filter(unless).collect()
    }

    /// What kind of value it takes.
    pub(in crate::record) fn kind(self) -> Kind {
        let core = self.core();
        if !core.words().is_empty() {
            return Kind::Word;
        }
        if !core.either_key().is_empty() {
            return Kind::OneKey;
        }
        match core.node["type"].as_str() {
            Some("number") => Kind::Number,
            Some("integer") => Kind::Whole,
            Some("boolean") => Kind::Flag,
            Some("array") => Kind::List,
            Some("object") => Kind::Table,
            _ => Kind::Text,
        }
    }

    /// The keys of a table that holds exactly one of them.
    pub(in crate::record) fn either_key(self) -> Vec<&'a str> {
        self.core().branches("oneOf").flat_map(Self::keys).collect()
    }

    /// The words of a choice.
    pub(in crate::record) fn words(self) -> Vec<&'a str> {
        self.meanings().into_iter().map(|(word, _)| word).collect()
    }

    /// The words of a choice with what each means: written as one list, or one by one with a description each.
    pub(super) fn meanings(self) -> Vec<(&'a str, &'a str)> {
        let core = self.core();
        let branches = core.branches("oneOf").chain([core]).flat_map(|branch| {
            let list = branch.node.get("enum").and_then(Value::as_array).into_iter().flatten();
            let words = branch.node.get("const").into_iter().chain(list).filter_map(Value::as_str);
            words.map(move |word| (word, branch.purpose().unwrap_or_default()))
        });
        branches.collect()
    }

    /// True when `unknown` may be written beside the values of its kind.
    pub(in crate::record) fn may_be_unknown(self) -> bool {
        self.target().branches("anyOf").any(|branch| branch.node["const"] == "unknown")
    }

    /// Lowest and highest allowed number.
    pub(in crate::record) fn range(self) -> (Option<&'a Value>, Option<&'a Value>) {
        (self.keyword("minimum"), self.keyword("maximum"))
    }

    /// What a keyword of the schema says of the field itself or of the type behind it.
    pub(in crate::record) fn keyword(self, keyword: &str) -> Option<&'a Value> {
        self.node.get(keyword).or_else(|| self.core().node.get(keyword))
    }

    /// What the field is for: the first sentence written beside it.
    pub(in crate::record) fn purpose(self) -> Option<&'a str> {
        self.node.get("description").and_then(Value::as_str)
    }

    /// Whether any text may stand here.
    pub(in crate::record) fn is_free_text(self) -> bool {
        self.kind() == Kind::Text && self.keyword("pattern").is_none()
    }

    /// How a text with a form of its own is written: the description beside its pattern.
    pub(in crate::record) fn how_to_write(self) -> Option<&'a str> {
        let core = self.core();
        core.node.get("pattern").and_then(|_| core.purpose())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Record, profile::Profile};

    #[test]
    fn the_form_knows_every_kind_of_field() {
        let form = Form::of::<Record>();
        let kind = |pointer: &str| form.field(pointer).expect(pointer).kind();
        assert_eq!(kind("/eye/side"), Kind::Word);
        assert_eq!(form.field("/eye/side").unwrap().words(), ["right", "left"]);
        assert_eq!(kind("/eye/axial_length_mm"), Kind::Number);
        assert_eq!(kind("/eye/implant/adds_d"), Kind::List);
        assert_eq!(kind("/eye/implant/adds_d/3"), Kind::Number);
        assert_eq!(kind("/case/revision"), Kind::Whole);
        assert_eq!(kind("/patient/birth_date"), Kind::Text);
        assert_eq!(kind("/treatment"), Kind::Table);
        assert!(form.field("/eye/axial_length_cm").is_none());
        assert!(form.field("/eye/axial_length_mm").unwrap().may_be_unknown());
        assert_eq!(form.tables_with("lens"), ["/eye"]);
        assert_eq!(form.tables_with("glaucoma"), ["/history"]);
        let form = Form::of::<Profile>();
        let length = form.field("/regimens/0/drops/0/steps/0/length").unwrap();
        assert_eq!(length.kind(), Kind::OneKey);
        assert_eq!(length.either_key(), ["dates", "doses", "goes_on"]);
        assert_eq!(form.field("/hours").unwrap().keys().len(), 7);
    }

    /// A limit that the derive cannot place is silently left out of the schema; this finds it.
    #[test]
    fn every_number_has_a_range_and_every_text_a_limit() {
        for form in [Form::of::<Record>(), Form::of::<Profile>()] {
            let mut open = Vec::new();
            without_limit(form.root(), "", &mut open);
            assert_eq!(open, Vec::<String>::new());
        }
    }

    fn without_limit(field: Field<'_>, pointer: &str, open: &mut Vec<String>) {
        let missing = match field.kind() {
            Kind::Number | Kind::Whole => field.keyword("minimum").is_none() || field.keyword("maximum").is_none(),
            Kind::Text => field.keyword("maxLength").is_none() && field.how_to_write().is_none(),
            Kind::List => field.keyword("maxItems").is_none(),
            _ => false,
        };
        if missing {
            open.push(pointer.to_owned());
        }
        for key in field.keys().into_iter().chain(["0", "dates", "doses", "goes_on"]) {
            if let Some(below) = field.child(key) {
                without_limit(below, &format!("{pointer}/{key}"), open);
            }
        }
    }
}

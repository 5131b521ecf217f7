//! The form as a page shows it: sections, fields, what stands in them and what is said beside them.

use chrono::TimeZone;
use serde::Serialize;
use serde_json::Value;

use super::raw::{self, ELSEWHERE, Entered, Raw, Wrong};
use super::{Form, Section, Step, completes, is_within};
use crate::desk::error::DeskError;
use crate::desk::judge::Judged;
use crate::desk::words::Words;
use crate::findings::Level;
use crate::practice::Practice;
use crate::record::course::EVENT_VISIT;
use crate::record::form::{Format, Key, Kind, Names};
use crate::record::formulary::Group;
use crate::record::typed::{Around, Misread, shown};
use crate::register::{self, CaseFile};

/// Longest text that stands in a field of one line, characters.
const LINE: u64 = 120;

/// Most choices that stand open side by side; more are a list to choose from.
const OPEN_CHOICES: usize = 7;

/// One section as it is shown.
#[derive(Debug, Serialize)]
pub(in crate::desk) struct SectionView {
    id: String,
    title: String,
    /// How it can be answered as a whole, if it can.
    whole: Option<Whole>,
    /// Keys that nobody was asked about yet.
    open: usize,
    fields: Vec<FieldView>,
}

/// A section that may be answered as a whole.
#[derive(Debug, Serialize)]
struct Whole {
    state: WholeState,
    /// Everything it asks, read in full before it is answered.
    asks: String,
    /// Who answered it so, and when.
    by: Option<String>,
}

/// How far a section is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum WholeState {
    /// Nothing of it.
    Open,
    /// All of it with no.
    None,
    /// Part of it, or not all with no.
    Some,
    /// All of it.
    Done,
}

/// How a field takes its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum Control {
    Choice,
    Select,
    Text,
    Long,
    Rows,
    /// Ticks only: the value stands in the fields below.
    Ticks,
}

/// One field as it is shown.
#[derive(Debug, Serialize)]
struct FieldView {
    name: String,
    id: String,
    label: String,
    control: Control,
    unit: Option<&'static str>,
    number: bool,
    raw: RawView,
    options: Vec<Choice>,
    /// Whether *not recorded* and *asked: none* can be ticked.
    may_be_unknown: bool,
    may_be_none: bool,
    completes: bool,
    required: bool,
    /// Whether nothing stands in it.
    empty: bool,
    /// What was understood.
    reads: Option<String>,
    errors: Vec<String>,
    ways: Vec<Choice>,
    findings: Vec<SaidHere>,
    take_out: bool,
    /// Whether one press fills in the time.
    now: bool,
    columns: Vec<String>,
    rows: Vec<Vec<FieldView>>,
}

#[derive(Debug, Serialize)]
struct RawView {
    text: String,
    unknown: bool,
    none: bool,
}

/// One of several values.
#[derive(Debug, Clone, Serialize)]
struct Choice {
    value: String,
    label: String,
}

/// A finding at the field it is about.
#[derive(Debug, Clone, Serialize)]
pub(super) struct SaidHere {
    pub(super) level: Level,
    pub(super) says: String,
    /// Whose answer settles it.
    pub(super) answered_by: Option<String>,
}

/// One thing that is wrong, for the summary.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(in crate::desk) struct FieldError {
    /// JSON pointer of the key.
    pub(in crate::desk) pointer: String,
    /// Where a link leads.
    pub(in crate::desk) id: String,
    /// Label of the field.
    pub(in crate::desk) label: String,
    /// What is wrong and the way out.
    pub(in crate::desk) says: String,
}

/// Everything a form is shown from.
pub(in crate::desk) struct Viewer<'a> {
    pub(in crate::desk) form: &'a Form,
    pub(in crate::desk) words: &'a Words,
    pub(in crate::desk) practice: &'a Practice,
    pub(in crate::desk) file: &'a CaseFile,
    pub(in crate::desk) judged: &'a Judged,
    pub(in crate::desk) around: Around<'a>,
}

impl Viewer<'_> {
    /// The sections of a step, with the fields that apply.
    pub(in crate::desk) fn sections(&self, step: Step) -> Result<Vec<SectionView>, DeskError> {
        let errors = self.errors()?;
        let sections = self.form.sections_of(step).map(|section| self.section(section, &errors));
        let sections: Result<Vec<_>, DeskError> = sections.collect();
        Ok(sections?.into_iter().filter(|section| !section.fields.is_empty()).collect())
    }

    /// Everything that is wrong, in the order of the form.
    pub(in crate::desk) fn errors(&self) -> Result<Vec<FieldError>, DeskError> {
        let mut errors = Vec::new();
        for name in self.file.typed.keys() {
            let pointer = name.trim_start_matches([raw::UNKNOWN, raw::NONE]);
            if let Some(says) = self.wrong_at(name, pointer)? {
                errors.push(self.error(pointer.trim_start_matches(ELSEWHERE), says)?);
            }
        }
        for item in &self.judged.errors {
            let says = match &item.help {
                Some(help) => format!("{}: {help}", sentence(&item.message)),
                None => sentence(&item.message),
            };
            errors.push(self.error(item.pointer.as_deref().unwrap_or_default(), says)?);
        }
        errors.dedup();
        Ok(errors)
    }

    fn error(&self, pointer: &str, says: String) -> Result<FieldError, DeskError> {
        let id = id(self.form.field_of(pointer).unwrap_or(pointer));
        Ok(FieldError { id, label: self.name_of(pointer)?, pointer: pointer.to_owned(), says })
    }

    /// What is wrong with something typed, if it still is.
    fn wrong_at(&self, name: &str, pointer: &str) -> Result<Option<String>, DeskError> {
        if let Some(typed) = name.strip_prefix(ELSEWHERE).and_then(|_| self.file.typed.get(name)) {
            return Ok(Some(format!("{} \u{201C}{typed}\u{201D}", self.words.word("field.elsewhere")?)));
        }
        if name != pointer && self.file.typed.contains_key(pointer) {
            return Ok(None); // its text says it
        }
        let Some(key) = self.form.key(pointer) else { return Ok(None) };
        match raw::read(key, &raw::of(self.form, self.file, pointer, self.around.names), self.around_of(pointer)) {
            Entered::Wrong(wrong) => Ok(Some(self.wrong(&wrong, key, pointer)?)),
            _ if matches!(key.kind, Kind::List | Kind::Table) => Ok(Some(self.words.word("field.both")?)),
            _ => Ok(None),
        }
    }

    fn wrong(&self, wrong: &Wrong, key: &Key, pointer: &str) -> Result<String, DeskError> {
        match wrong {
            Wrong::Both => self.words.word("field.both"),
            Wrong::Several(_) => {
                let typed = self.file.typed.get(pointer).map_or("", String::as_str);
                self.words.say("field.which_says", &[("typed", typed)])
            }
            Wrong::Misread(Misread::NoSuchDay) => self.words.word("field.no_such_day"),
            Wrong::Misread(Misread::NoSuchTime) => self.words.word("field.no_such_time"),
            Wrong::Misread(Misread::TimeLacks) => self.words.word("field.time_lacks"),
            Wrong::Misread(Misread::DayLacks) => self.words.word("field.day_lacks"),
            Wrong::Misread(Misread::Unreadable) if key.format == Some(Format::Clock) => {
                self.words.word("field.unreadable_time")
            }
            Wrong::Misread(Misread::Unreadable) => self.words.word("field.unreadable_date"),
            Wrong::NoNumber => self.words.word("field.unreadable_number"),
            Wrong::OtherUnit(unit) => self.words.say("field.other_unit", &[("unit", unit)]),
        }
    }

    fn around_of(&self, pointer: &str) -> Around<'_> {
        let day = self.file.starts().map(|start| start.date());
        Around { day: day.filter(|_| is_within(pointer, "/treatment")), ..self.around }
    }

    /// What a key is called: its label, or for a column its head.
    pub(in crate::desk) fn name_of(&self, pointer: &str) -> Result<String, DeskError> {
        match (self.words.name(pointer), self.form.section_of(pointer)) {
            (Some(name), _) => Ok(name.to_owned()),
            (None, Some(section)) => self.words.word(&format!("section.{}", section.id)),
            (None, None) => Ok(pointer.rsplit('/').next().unwrap_or_default().to_owned()),
        }
    }

    fn section(&self, section: &Section, errors: &[FieldError]) -> Result<SectionView, DeskError> {
        let shown = |pointer: &&String| self.is_shown(pointer);
        let mut fields = Vec::new();
        for pointer in section.keys.iter().filter(shown) {
            self.fields_of(pointer, errors, &mut fields)?;
        }
        Ok(SectionView {
            id: section.id.clone(),
            title: self.words.word(&format!("section.{}", section.id))?,
            whole: section.none.then(|| self.whole(section)).transpose()?,
            open: self.form.not_asked(section, &self.file.record).count(),
            fields,
        })
    }

    /// A key that applies, or that says something although it does not: somebody must take it out.
    fn is_shown(&self, pointer: &str) -> bool {
        self.form.applies(pointer, &self.file.record) || self.file.record.pointer(pointer).is_some()
    }

    fn whole(&self, section: &Section) -> Result<Whole, DeskError> {
        let keys: Vec<&String> = section.keys.iter().filter(|pointer| self.is_shown(pointer)).collect();
        let says = |pointer: &&String| self.file.record.pointer(pointer).and_then(Value::as_str);
        let quiet = keys.iter().filter(|key| says(key).is_some_and(|word| matches!(word, "no" | "none"))).count();
        let said = keys.iter().filter(|key| says(key).is_some()).count();
        let state = match (quiet, said) {
            _ if quiet == keys.len() => WholeState::None,
            _ if said == keys.len() => WholeState::Done,
            (_, 0) => WholeState::Open,
            _ => WholeState::Some,
        };
        let labels = keys.iter().map(|key| self.words.label(key)).collect::<Result<Vec<_>, _>>()?;
        let by = self.file.whole.get(&section.id).filter(|_| state != WholeState::Open);
        Ok(Whole { state, asks: labels.join(", "), by: by.map(|whole| self.act(whole)).transpose()? })
    }

    /// Whose act it was, and when.
    fn act(&self, whole: &register::Whole) -> Result<String, DeskError> {
        let zone = self.practice.profile.practice.time_zone.0;
        let at = self.words.moment(zone.from_utc_datetime(&whole.at).naive_local())?;
        self.words.say("field.whole_by", &[("name", &whole.by), ("when", &at)])
    }

    /// The fields of a key: a table is those of its keys.
    fn fields_of(&self, pointer: &str, errors: &[FieldError], fields: &mut Vec<FieldView>) -> Result<(), DeskError> {
        let Some(key) = self.form.key(pointer) else { return Ok(()) };
        if key.kind != Kind::Table {
            fields.push(self.field(key, pointer, errors)?);
            return Ok(());
        }
        let parts = self.form.below(pointer).map(|below| self.field(below, &below.pointer, errors));
        let columns = self.form.below(pointer).map(|below| self.name_of(&below.pointer));
        let field = self.field(key, pointer, errors)?;
        fields.push(FieldView {
            rows: vec![parts.collect::<Result<_, _>>()?],
            columns: columns.collect::<Result<_, _>>()?,
            ..field
        });
        Ok(())
    }

    fn field(&self, key: &Key, pointer: &str, errors: &[FieldError]) -> Result<FieldView, DeskError> {
        let Raw { text, unknown, none } = raw::of(self.form, self.file, pointer, self.around.names);
        let options = self.options(key, pointer, &text)?;
        let value = self.file.record.pointer(pointer);
        let reads = match (key.format, value.and_then(Value::as_str)) {
            (Some(format), Some(value)) => self.words.read_back(format, value)?,
            _ => None,
        };
        let (columns, rows) =
            if key.kind == Kind::List { self.rows(key, pointer, errors)? } else { Default::default() };
        let here = |error: &&FieldError| error.pointer == pointer;
        let is_list = key.kind == Kind::List;
        Ok(FieldView {
            name: pointer.to_owned(),
            id: id(pointer),
            label: self.name_of(pointer)?,
            control: control(key, options.len()),
            unit: key.unit,
            number: matches!(key.kind, Kind::Number | Kind::Whole),
            may_be_unknown: key.may_be_unknown && key.kind != Kind::Word,
            may_be_none: is_list && key.may_be_unknown,
            completes: completes(pointer),
            required: key.required,
            empty: value.is_none() && text.is_empty(),
            reads,
            errors: errors.iter().filter(here).map(|error| error.says.clone()).collect(),
            ways: self.ways(key, pointer)?,
            findings: self.findings(pointer),
            take_out: value.is_some() && !self.form.applies(pointer, &self.file.record),
            now: key.format == Some(Format::LocalTime) && is_within(pointer, "/treatment") && !is_entry(pointer),
            raw: RawView { text, unknown, none },
            options,
            columns,
            rows,
        })
    }

    /// The entries of a list and one more to fill in.
    fn rows(
        &self,
        key: &Key,
        pointer: &str,
        errors: &[FieldError],
    ) -> Result<(Vec<String>, Vec<Vec<FieldView>>), DeskError> {
        let entries = self.file.record.pointer(pointer).and_then(Value::as_array).map_or(0, Vec::len);
        let most = key.longest.and_then(|most| usize::try_from(most).ok()).unwrap_or(usize::MAX);
        let any = format!("{pointer}/*");
        let columns: Vec<&Key> = self.form.below(&any).collect();
        let heads = columns.iter().map(|column| self.name_of(&column.pointer)).collect::<Result<_, _>>()?;
        let row = |at: usize| -> Result<Vec<FieldView>, DeskError> {
            let entry = format!("{pointer}/{at}");
            match (&columns[..], self.form.key(&entry)) {
                ([], Some(key)) => Ok(vec![self.field(key, &entry, errors)?]),
                (columns, _) => columns
                    .iter()
                    .map(|column| self.field(column, &format!("{entry}/{}", column.name()), errors))
                    .collect(),
            }
        };
        Ok((heads, (0..(entries + 1).min(most)).map(row).collect::<Result<_, _>>()?))
    }

    /// The values to choose from; one that stands there and is none of them is among them.
    fn options(&self, key: &Key, pointer: &str, text: &str) -> Result<Vec<Choice>, DeskError> {
        let mut options = match key.names {
            Some(names) => self.named(names, key)?,
            None => {
                let words = key.words.iter().filter(|word| word.word != "unknown");
                let choice =
                    |word: &str| Ok(Choice { value: word.to_owned(), label: self.words.choice(pointer, word)? });
                words.map(|word| choice(&word.word)).collect::<Result<Vec<_>, DeskError>>()?
            }
        };
        if !options.is_empty()
            && !text.is_empty()
            && text != "unknown"
            && options.iter().all(|option| option.value != text)
        {
            options.push(Choice { value: text.to_owned(), label: text.to_owned() });
        }
        if key.kind == Kind::Word && key.may_be_unknown {
            options.push(Choice { value: "unknown".into(), label: self.words.word("field.unknown")? });
        }
        Ok(options)
    }

    /// What the practice has under these names.
    fn named(&self, names: Names, key: &Key) -> Result<Vec<Choice>, DeskError> {
        let (profile, formulary) = (&self.practice.profile, &self.practice.formulary);
        let choice = |value: &str, label: String| Choice { value: value.to_owned(), label };
        let word = |key: String| self.words.locale.word(&key).map(str::to_owned);
        Ok(match names {
            Names::Surgeon => profile.surgeons.iter().map(|one| choice(&one.id, one.name.clone())).collect(),
            Names::Regimen => profile.regimens.iter().map(|one| choice(&one.id, one.name.clone())).collect(),
            Names::Visit => {
                let ids = profile.visits.iter().map(|visit| visit.id.as_str()).chain([EVENT_VISIT]);
                let named = |id: &str| word(format!("visit.{id}")).unwrap_or_else(|_| id.to_owned());
                ids.map(|id| choice(id, named(id))).collect()
            }
            Names::Language => {
                let tags = profile.practice.languages.iter();
                tags.map(|tag| Ok(choice(tag, word(format!("language.{tag}"))?))).collect::<Result<_, DeskError>>()?
            }
            Names::Drug => {
                let group = match key.pointer.as_str() {
                    "/plan/dilating/*" => Some(Group::Mydriatic),
                    "/plan/numbing/*" => Some(Group::Anaesthetic),
                    _ => None,
                };
                let planned =
                    |drug: &str| profile.regimens.iter().any(|it| it.drops.iter().any(|course| course.drug == drug));
                let meant = formulary
                    .drugs()
                    .filter(|drug| group.map_or_else(|| planned(&drug.key), |group| drug.is_in(group)));
                meant.map(|drug| choice(&drug.key, drug.shown_name())).collect()
            }
            Names::Finding | Names::Statement | Names::Jurisdiction => Vec::new(),
        })
    }

    /// The ways in which something typed can be read: a date, or a name that nobody knows.
    fn ways(&self, key: &Key, pointer: &str) -> Result<Vec<Choice>, DeskError> {
        if completes(pointer) {
            let entry = self.file.record.pointer(pointer).and_then(Value::as_str).unwrap_or_default();
            let names = self.practice.formulary.near_names(entry).into_iter();
            return Ok(names.map(|name| Choice { value: name.clone(), label: name }).collect());
        }
        let Some(format) = key.format.filter(|_| self.file.typed.contains_key(pointer)) else { return Ok(Vec::new()) };
        let raw = raw::of(self.form, self.file, pointer, self.around.names);
        let Entered::Wrong(Wrong::Several(ways)) = raw::read(key, &raw, self.around_of(pointer)) else {
            return Ok(Vec::new());
        };
        let way = |value: String| {
            let label =
                self.words.read_back(format, &value)?.unwrap_or_else(|| shown(format, &value, self.around.names));
            Ok(Choice { value, label })
        };
        ways.into_iter().map(way).collect()
    }
}

fn control(key: &Key, options: usize) -> Control {
    match key.kind {
        Kind::List => Control::Rows,
        Kind::Table | Kind::OneKey => Control::Ticks,
        _ if options > 0 && key.pointer.contains('*') => Control::Select,
        _ if options > OPEN_CHOICES && key.kind != Kind::Word => Control::Select,
        _ if options > 0 => Control::Choice,
        Kind::Text if key.longest.is_some_and(|most| most > LINE) => Control::Long,
        _ => Control::Text,
    }
}

fn is_entry(pointer: &str) -> bool {
    pointer.split('/').any(|token| token.parse::<usize>().is_ok())
}

/// The place of a key on its page.
pub(in crate::desk) fn id(pointer: &str) -> String {
    format!("f{}", pointer.replace('/', "-"))
}

fn sentence(phrase: &str) -> String {
    let mut letters = phrase.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// How many keys of a step say nothing yet.
pub(in crate::desk) fn left(form: &Form, step: Step, record: &Value) -> usize {
    form.sections_of(step).map(|section| form.not_asked(section, record).count()).sum()
}

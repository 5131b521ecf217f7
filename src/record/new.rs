//! A record to fill in: every key of the form with what it is for and what may be written, section by section for who
//! knows it.
//!
//! What must be written stands open; everything else stands behind a `#` and says *unknown* until somebody writes it.

use std::fmt::Write;

use super::Record;
use super::form::{self, Format, Key, Kind, KnownBy, Names};
use super::formulary::{Formulary, Group};
use super::profile::Profile;

/// Longest line of the comments, in characters.
const WIDTH: usize = 110;

const HEAD: &str = "\
A case record to fill in. Keys that must be written stand open. Every other one stands behind a #: take the # away and write what is known. What is left out stays unknown, and unknown never means no.
Dates are written 2026-08-07, times 07:30, both 2026-08-07T10:30. Text and words stand in quotes, numbers do not.";

/// The names a practice has.
#[derive(Debug, Clone, Copy)]
pub struct Practice<'a> {
    /// Its surgeons, regimens, visits and languages.
    pub profile: &'a Profile,
    /// Its drugs.
    pub formulary: &'a Formulary,
}

/// The record as TOML; with the names of a practice as comments if one is given.
///
/// ```
/// use vitreoleaf::record::new;
///
/// let text = new::commented(None);
/// assert!(text.contains("\n#glaucoma = \"unknown\"\n"));
/// assert!(text.contains("\nside = \"\"\n"));
/// ```
#[must_use]
pub fn commented(practice: Option<Practice<'_>>) -> String {
    let form = form::describe::<Record>();
    let page = Page { keys: &form.keys, practice };
    let mut text = String::new();
    HEAD.lines().for_each(|line| comment(&mut text, "", line));
    // TOML wants keys of no table in front of all tables.
    text.push_str("\n# ===== Above all tables =====\n");
    page.below("").filter(|key| key.kind != Kind::Table).for_each(|key| page.key(&mut text, key, None));
    for by in KnownBy::ALL {
        let _ = write!(text, "\n# ===== {} =====\n", title(by));
        let tables = page.below("").filter(|key| key.kind == Kind::Table && key.known_by == Some(by));
        tables.for_each(|table| page.table(&mut text, table));
    }
    text
}

fn title(by: KnownBy) -> &'static str {
    match by {
        KnownBy::Desk => "The front desk",
        KnownBy::Nurse => "The nurse",
        KnownBy::Surgeon => "The surgeon",
    }
}

struct Page<'a> {
    keys: &'a [Key],
    practice: Option<Practice<'a>>,
}

impl<'a> Page<'a> {
    fn below(&self, pointer: &str) -> impl Iterator<Item = &'a Key> {
        self.keys.iter().filter(move |key| key.parent() == pointer)
    }

    /// A table with its keys. One that cannot be empty stays behind a `#` with all of them, unless the record needs it.
    fn table(&self, text: &mut String, table: &Key) {
        let is_open = table.required || self.below(&table.pointer).all(|key| !key.required);
        text.push('\n');
        comment(text, "", &table.help);
        let _ = writeln!(text, "{}[{}]", if is_open { "" } else { "#" }, table.name());
        self.below(&table.pointer).for_each(|key| self.key(text, key, Some((table, is_open))));
    }

    /// A key on a line of its own below what is said of it.
    fn key(&self, text: &mut String, key: &Key, table: Option<(&Key, bool)>) {
        let is_open = key.required && table.is_none_or(|(_, is_open)| is_open);
        let other = key.known_by.filter(|by| table.is_some_and(|(table, _)| table.known_by != Some(*by)));
        let by = other.map(|by| format!("{}: ", title(by))).unwrap_or_default();
        text.push('\n');
        comment(text, "", &format!("{by}{}", key.help));
        comment(text, "", &self.may_say(key));
        self.explain_below(text, key, "  ");
        let _ = writeln!(text, "{}{} = {}", if is_open { "" } else { "#" }, key.name(), self.value(key));
    }

    /// What is said of the keys that stand on the line of another.
    fn explain_below(&self, text: &mut String, key: &Key, indent: &str) {
        for below in self.below(&key.pointer).filter(|below| below.name() != "*") {
            comment(text, indent, &format!("{}: {} {}", below.name(), below.help, self.may_say(below)));
            self.explain_below(text, below, &format!("{indent}  "));
        }
        if let Some(entry) = self.below(&key.pointer).find(|below| below.name() == "*") {
            self.explain_below(text, entry, indent);
        }
    }

    /// What stands for the value until it is written: `unknown` where that may be said, else nothing, which is refused.
    fn value(&self, key: &Key) -> String {
        let below: Vec<String> = self.below(&key.pointer).map(|below| self.below_value(below)).collect();
        match key.kind {
            Kind::Table => format!("{{ {} }}", below.join(", ")),
            _ if key.may_be_unknown => "\"unknown\"".into(),
            Kind::List => format!("[{}]", below.concat()),
            Kind::Flag => "false".into(),
            _ if key.name() == "revision" => "1".into(),
            _ => "\"\"".into(),
        }
    }

    fn below_value(&self, key: &Key) -> String {
        if key.name() == "*" { self.value(key) } else { format!("{} = {}", key.name(), self.value(key)) }
    }

    /// What may be written, in a few words.
    fn may_say(&self, key: &Key) -> String {
        let range = |key: &Key| match (key.lowest, key.highest, key.unit) {
            (Some(lowest), Some(highest), unit) => {
                format!(" from {lowest} to {highest}{}", unit.map(|unit| format!(" {unit}")).unwrap_or_default())
            }
            _ => String::new(),
        };
        let says = match key.kind {
            Kind::Word => key.words.iter().map(|word| format!("\"{}\"", word.word)).collect::<Vec<_>>().join(", "),
            Kind::Number => format!("a number{}", range(key)),
            Kind::Whole => format!("a whole number{}", range(key)),
            Kind::Text => self.names(key).unwrap_or_else(|| form_of(key.format).into()),
            Kind::List => self.names(key).map_or("a list".into(), |names| format!("a list of {names}")),
            Kind::Flag => "true or false".into(),
            Kind::Table | Kind::OneKey => return String::new(),
        };
        let unknown = if key.may_be_unknown && key.kind != Kind::Word { ", or \"unknown\"" } else { "" };
        format!("({says}{unknown})")
    }

    /// The names the practice has for a key.
    fn names(&self, key: &Key) -> Option<String> {
        let Practice { profile, formulary } = self.practice?;
        let named = |id: &str, name: &str| format!("\"{id}\" ({name})");
        let names: Vec<String> = match key.names? {
            Names::Surgeon => profile.surgeons.iter().map(|surgeon| named(&surgeon.id, &surgeon.name)).collect(),
            Names::Regimen => profile.regimens.iter().map(|regimen| named(&regimen.id, &regimen.name)).collect(),
            Names::Visit => profile.visits.iter().map(|visit| format!("\"{}\"", visit.id)).collect(),
            Names::Language => profile.practice.languages.iter().map(|tag| format!("\"{tag}\"")).collect(),
            Names::Drug => drugs(key.name(), profile, formulary),
            Names::Finding | Names::Statement | Names::Jurisdiction => return None,
        };
        (!names.is_empty()).then(|| names.join(", "))
    }
}

/// Drugs that may be meant: of the dilating and numbing ones all, else those of the regimens.
fn drugs(key: &str, profile: &Profile, formulary: &Formulary) -> Vec<String> {
    let group = match key {
        "dilating" => Some(Group::Mydriatic),
        "numbing" => Some(Group::Anaesthetic),
        _ => None,
    };
    let planned = |drug: &str| profile.regimens.iter().any(|it| it.drops.iter().any(|course| course.drug == drug));
    let is_meant = |drug: &&super::formulary::Drug| group.map_or_else(|| planned(&drug.key), |group| drug.is_in(group));
    formulary.drugs().filter(is_meant).map(|drug| format!("\"{}\"", drug.key)).collect()
}

fn form_of(format: Option<Format>) -> &'static str {
    match format {
        None => "text",
        Some(Format::Date) => "a date",
        Some(Format::PartialDate) => "a day, a month or a year",
        Some(Format::LocalTime) => "a date and a time",
        Some(Format::Clock) => "a time",
        Some(Format::Zone) => "a time zone",
    }
}

/// A comment in as many lines as it needs.
fn comment(text: &mut String, indent: &str, says: &str) {
    let mut line = String::new();
    for word in says.split_whitespace() {
        if !line.is_empty() && line.chars().count() + word.chars().count() >= WIDTH {
            let _ = writeln!(text, "# {indent}{line}");
            line.clear();
        }
        line.push_str(if line.is_empty() { "" } else { " " });
        line.push_str(word);
    }
    if !line.is_empty() {
        let _ = writeln!(text, "# {indent}{line}");
    }
}

//! `explain`: why a patient reads what they read, statement by statement, and where it stands.

use std::collections::BTreeMap;
use std::fmt::Write;

use serde_json::{Map, Value, json};

use super::args::{Explain, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::content::catalog::Statement;
use crate::content::fill::facts_of;
use crate::content::tailor::{self, Chosen};
use crate::content::{Library, Said};
use crate::document::reading::{self, Passage};
use crate::packet::{Case, json as packet};

/// Explains every statement of the page of this moment, chosen or not.
pub(super) fn run(args: &Explain) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let values = case::each(&args.case, &practice, |case| Ok(statements(case)?))?;
    let text = match args.format {
        Format::Json => format!("{:#}\n", Value::Array(values)),
        Format::Human => values.iter().map(text).collect::<Result<String, _>>().map_err(|error| error.to_string())?,
    };
    io::stdout(text.as_bytes())
}

/// A case with its page laid out, and what was chosen for it.
struct Explained<'a> {
    library: &'a Library,
    chosen: Chosen<'a>,
    said: Vec<Said>,
    passages: Vec<Passage>,
    pages: BTreeMap<String, usize>,
    facts: Value,
    case: &'a Case<'a>,
}

/// The statements of the patient's page of this moment.
fn statements(case: &Case) -> Result<Value, String> {
    let library = case.practice().library(&case.record().patient.language)?;
    let document = case.unissued()?;
    let explained = Explained {
        library,
        chosen: tailor::choose(library, &case.facts, case.page(), &case.record().tailoring)?,
        said: case.said()?,
        passages: reading::read(&document),
        pages: case.practice().typesetter().places(&document).map_err(|error| error.to_string())?,
        facts: packet::facts(case),
        case,
    };
    let statements = library.statements.iter().filter(|statement| statement.row.page == case.page());
    let rows: Vec<Value> = statements.map(|statement| explained.row(statement)).collect();
    let parts = explained.pages.iter().filter(|(id, _)| id.starts_with("part/"));
    let parts: Map<String, Value> = parts.map(|(id, page)| (id.clone(), json!(page))).collect();
    Ok(json!({
        "case": case.record().case.code,
        "moment": case.moment(),
        "withheld": case.withheld().is_some(),
        "statements": rows,
        "parts": parts,
    }))
}

impl Explained<'_> {
    /// A statement with its condition, the values the condition saw, what was done by hand, where it stands, and the home
    /// of each number it prints.
    fn row(&self, statement: &Statement) -> Value {
        let row = &statement.row;
        let facts = &self.case.facts;
        let seen = statement.when.names().into_iter().map(|name| (name.to_owned(), json!(facts.choice(name))));
        let said = self.said.iter().find(|said| said.id == row.id);
        json!({
            "id": row.id,
            "section": row.section,
            "core": row.core,
            "chosen": statement.when.holds(facts),
            "said": said.is_some(),
            "by_hand": self.by_hand(statement),
            "when": row.when,
            "saw": Map::from_iter(seen),
            "evidence": self.evidence(statement),
            "stands": said.and_then(|said| self.stands(&said.id)),
            "numbers": said.map(|said| self.numbers(said)).unwrap_or_default(),
            "facts": said.map(|said| self.facts_of(&said.id)).unwrap_or_default(),
        })
    }

    fn by_hand(&self, statement: &Statement) -> Option<Value> {
        let said = self.chosen.said.iter().filter_map(|choice| Some((choice.statement, choice.by_hand?)));
        let mut all = said.chain(self.chosen.left_out.iter().copied());
        let (_, entry) = all.find(|(changed, _)| changed.row.id == statement.row.id)?;
        Some(json!({ "change": entry.change, "by": entry.by, "on": entry.on, "reason": entry.reason }))
    }

    fn evidence(&self, statement: &Statement) -> Vec<Value> {
        let entries = statement.row.evidence.iter().filter_map(|id| self.library.evidence.get(id));
        let written = entries.map(|entry| {
            json!({
                "id": entry.id,
                "outcome": entry.outcome,
                "population": entry.population,
                "grade": entry.grade,
                "indirect": entry.indirect,
                "from_memory": entry.from_memory(),
            })
        });
        written.collect()
    }

    /// Page, section and block of a statement.
    fn stands(&self, id: &str) -> Option<Value> {
        let passage = self.passages.iter().find(|passage| passage.id == id)?;
        Some(json!({ "page": self.pages.get(id), "under": passage.section, "block": passage.block }))
    }

    /// Each number of the evidence that is printed, with its entry.
    fn numbers(&self, said: &Said) -> Vec<Value> {
        let written = said
            .numbers
            .iter()
            .map(|number| json!({ "text": number.text, "function": number.function, "evidence": number.evidence }));
        written.collect()
    }

    /// The facts the text prints or looks at.
    fn facts_of(&self, id: &str) -> Map<String, Value> {
        let used = self.library.text(id).map(facts_of).unwrap_or_default();
        used.into_iter().map(|name| (name.to_owned(), self.facts[name].clone())).collect()
    }
}

fn text(case: &Value) -> Result<String, std::fmt::Error> {
    let word = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let rows = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let mut text = format!("{}, {} the treatment\n", word(&case["case"]), word(&case["moment"]));
    for row in rows(&case["statements"]) {
        let said = if row["said"] == true { "says" } else { "leaves out" };
        let core = if row["core"] == true { " (core)" } else { "" };
        let stands = &row["stands"];
        let place = match stands["page"].as_u64() {
            Some(page) => format!("page {page}, {} under \"{}\"", word(&stands["block"]), word(&stands["under"])),
            None => format!("section {}", word(&row["section"])),
        };
        writeln!(text, "  {said:11}{}{core}, {place}", word(&row["id"]))?;
        match row["when"].as_str() {
            None => writeln!(text, "             for every eye")?,
            Some(when) => {
                let saw = row["saw"].as_object().into_iter().flatten();
                let saw: Vec<String> = saw.map(|(name, value)| format!("{name} = {}", word(value))).collect();
                writeln!(text, "             when {when}\n             saw {}", saw.join(", "))?;
            }
        }
        let by_hand = &row["by_hand"];
        if by_hand.is_object() {
            let (change, by, on) = (word(&by_hand["change"]), word(&by_hand["by"]), word(&by_hand["on"]));
            writeln!(text, "             by hand: {change}, {by}, {on}: {}", word(&by_hand["reason"]))?;
        }
        for entry in rows(&row["evidence"]) {
            let indirect = if entry["indirect"] == true { ", indirect" } else { "" };
            writeln!(text, "             rests on {} ({}{indirect})", word(&entry["id"]), word(&entry["grade"]))?;
        }
        for number in rows(&row["numbers"]) {
            let (text_of, function) = (word(&number["text"]), word(&number["function"]));
            writeln!(text, "             prints \"{text_of}\" ({function} of {})", word(&number["evidence"]))?;
        }
    }
    for (part, page) in case["parts"].as_object().into_iter().flatten() {
        writeln!(text, "  {part}, page {page}")?;
    }
    Ok(text)
}

//! `explain`: why a patient reads what they read, statement by statement.

use std::fmt::Write;

use serde_json::{Value, json};

use super::args::{Explain, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::content::Library;
use crate::content::catalog::{PatientPage, Statement};
use crate::facts::{Facts, Moment};
use crate::packet::Case;

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

/// The statements of the patient's page of this moment.
fn statements(case: &Case) -> Result<Value, String> {
    let library = case.practice().library(&case.record().patient.language)?;
    let page = match case.moment() {
        Moment::Before => PatientPage::Consent,
        Moment::After => PatientPage::Aftercare,
    };
    let statements = library.statements.iter().filter(|statement| statement.row.page == page);
    let rows: Vec<Value> = statements.map(|statement| row(statement, library, &case.facts)).collect();
    Ok(json!({ "case": case.record().case.code, "moment": case.moment(), "statements": rows }))
}

/// A statement with its condition, the values the condition saw, and the evidence of its numbers.
fn row(statement: &Statement, library: &Library, facts: &Facts) -> Value {
    let seen = statement.when.names().into_iter().map(|name| (name.to_owned(), json!(facts.choice(name))));
    let evidence = statement.row.evidence.iter().filter_map(|id| library.evidence.get(id)).map(|entry| {
        json!({
            "id": entry.id,
            "outcome": entry.outcome,
            "population": entry.population,
            "grade": entry.grade,
            "indirect": entry.indirect,
            "from_memory": entry.from_memory(),
        })
    });
    json!({
        "id": statement.row.id,
        "section": statement.row.section,
        "core": statement.row.core,
        "chosen": statement.when.holds(facts),
        "when": statement.row.when,
        "saw": serde_json::Map::from_iter(seen),
        "evidence": evidence.collect::<Vec<_>>(),
    })
}

fn text(case: &Value) -> Result<String, std::fmt::Error> {
    let word = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let mut text = format!("{}, {} the treatment\n", word(&case["case"]), word(&case["moment"]));
    for row in case["statements"].as_array().into_iter().flatten() {
        let chosen = if row["chosen"] == true { "says" } else { "leaves out" };
        let core = if row["core"] == true { " (core)" } else { "" };
        writeln!(text, "  {chosen:11}{}{core}, section {}", word(&row["id"]), word(&row["section"]))?;
        match row["when"].as_str() {
            None => writeln!(text, "             for every eye")?,
            Some(when) => {
                let saw = row["saw"].as_object().into_iter().flatten();
                let saw: Vec<String> = saw.map(|(name, value)| format!("{name} = {}", word(value))).collect();
                writeln!(text, "             when {when}\n             saw {}", saw.join(", "))?;
            }
        }
        for entry in row["evidence"].as_array().into_iter().flatten() {
            let indirect = if entry["indirect"] == true { ", indirect" } else { "" };
            writeln!(text, "             rests on {} ({}{indirect})", word(&entry["id"]), word(&entry["grade"]))?;
        }
    }
    Ok(text)
}

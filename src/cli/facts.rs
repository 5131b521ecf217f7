//! `facts`: the vocabulary, or its values for a case.

use super::args::{Facts, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::facts::{Definition, Kind, definitions};
use crate::packet::Case;
use crate::packet::json as packet;
use serde_json::json;

/// Lists the facts.
pub(super) fn run(args: &Facts) -> Result<Status, Failure> {
    match (&args.case, &args.practice) {
        (Some(path), Some(folder)) => {
            let practice = practice::open(folder)?;
            case::one(path, args.moment, &practice, |case| values(args.format, case))
        }
        _ => list(args.format),
    }
}

fn values(format: Format, case: &Case) -> Result<Status, Failure> {
    let values = packet::facts(case);
    let text = match (format, &values) {
        (Format::Human, serde_json::Value::Object(values)) => {
            let line = |(name, value): (&String, &serde_json::Value)| format!("{name:32}{value}\n");
            values.iter().map(line).collect()
        }
        _ => format!("{values:#}\n"),
    };
    io::stdout(text.as_bytes())
}

fn list(format: Format) -> Result<Status, Failure> {
    let text = match format {
        Format::Human => definitions().map(line).collect(),
        Format::Json => {
            let rows: Vec<_> = definitions()
                .map(|fact| json!({ "name": fact.name, "type": kind(fact.kind), "meaning": fact.meaning }))
                .collect();
            format!("{:#}\n", serde_json::Value::Array(rows))
        }
    };
    io::stdout(text.as_bytes())
}

fn line(fact: &Definition) -> String {
    format!("{}\n    {}\n    {}\n", fact.name, fact.meaning, kind(fact.kind))
}

fn kind(kind: Kind) -> String {
    match kind {
        Kind::Choice(words) => format!("one of {}", words.join(", ")),
        Kind::Number(unit, _) => format!("a number, {unit}"),
        Kind::Minutes => "a length of time, printed in words".into(),
        Kind::Text => "text".into(),
        Kind::List => "a list".into(),
        Kind::Date => "a date, printed with its weekday".into(),
        Kind::Time => "a time of day".into(),
    }
}

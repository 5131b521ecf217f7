//! `facts`: the vocabulary, or its values for a case.

use super::args::{Facts, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::review::facts::{self, CaseFacts, FactRow};

/// Lists the facts.
pub(super) fn run(args: &Facts) -> Result<Status, Failure> {
    match (&args.case, &args.practice) {
        (Some(path), Some(folder)) => {
            let practice = practice::open(folder)?;
            let facts = case::one(path, args.moment, &practice, |case| Ok(facts::facts(case)))?;
            values(args.format, &facts)
        }
        _ => list(args.format),
    }
}

fn values(format: Format, case: &CaseFacts) -> Result<Status, Failure> {
    match format {
        Format::Json => io::json(case),
        Format::Human => {
            let line = |(name, value)| serde_json::to_string(value).map(|value| format!("{name:32}{value}\n"));
            io::text(case.facts.iter().map(line))
        }
    }
}

fn list(format: Format) -> Result<Status, Failure> {
    let vocabulary = facts::vocabulary();
    match format {
        Format::Json => io::json(&vocabulary),
        Format::Human => io::stdout(vocabulary.facts.iter().map(line).collect::<String>().as_bytes()),
    }
}

fn line(fact: &FactRow) -> String {
    format!("{}\n    {}\n    {}\n", fact.name, fact.meaning, fact.kind)
}

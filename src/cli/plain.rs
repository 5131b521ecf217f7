//! `plain`: how plain the language of a patient's pages is, statement by statement and page by page.

use std::fmt::Write;

use serde_json::json;

use super::args::{Format, Plain};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::plain::formulas::{Formula, inflesz_band};
use crate::plain::score::{self, PageScore, Scored};

/// Scores the patient's page of each case. Fails when a gate is not reached.
pub(super) fn run(args: &Plain) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let pages = case::each(&args.case, &practice, |case| Ok(score::page(case)?))?;
    let text = match args.format {
        Format::Json => format!("{:#}\n", json!(pages)),
        Format::Human => pages.iter().map(text).collect::<Result<String, _>>().map_err(|error| error.to_string())?,
    };
    let done = io::stdout(text.as_bytes())?;
    Ok(if pages.iter().all(PageScore::passes) { done } else { Status::Withheld })
}

/// The page first, then its statements from the hardest to the easiest.
fn text(page: &PageScore) -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    writeln!(text, "{}, {}", page.case, page.page.word())?;
    row(&mut text, "whole page", &page.whole)?;
    let mut statements: Vec<(&String, &Scored)> = page.statements.iter().collect();
    statements.sort_by(|(_, a), (_, b)| hardness(b).total_cmp(&hardness(a)));
    for (id, scored) in statements {
        row(&mut text, id, scored)?;
    }
    Ok(text)
}

/// By the first formula, the one with the gate.
fn hardness(scored: &Scored) -> f64 {
    let first = scored.scores.first();
    first.map_or(0.0, |score| {
        let value = score.value.unwrap_or_default();
        if score.formula.higher_is_easier() { -value } else { value }
    })
}

fn row(text: &mut String, name: &str, scored: &Scored) -> std::fmt::Result {
    let state = match scored.passes() {
        false => "FAILS",
        true if scored.scores.iter().all(|score| score.meets_goal) => "goal",
        true => "passes",
    };
    let counts = &scored.counts;
    write!(text, "  {state:7} {name}: ")?;
    write!(text, "{} words, {} sentences", counts.words, counts.sentences)?;
    // LIX asks for long words; its languages have no counter of syllables.
    match counts.syllables {
        0 => write!(text, ", {} words of more than 6 letters", counts.over_six_letters)?,
        syllables => write!(text, ", {syllables} syllables")?,
    }
    for score in &scored.scores {
        let name = score.formula.name();
        match score.value {
            Some(value) if score.formula == Formula::SzigrisztPazos => {
                write!(text, "; {name} {value:.1} ({})", inflesz_band(value))?;
            }
            Some(value) => write!(text, "; {name} {value:.1}")?,
            None => {}
        }
    }
    writeln!(text)?;
    for sentence in &scored.long_sentences {
        writeln!(text, "          too long: {sentence}")?;
    }
    if !scored.unknown_words.is_empty() {
        let words: Vec<&str> = scored.unknown_words.iter().map(String::as_str).collect();
        writeln!(text, "          counted by rule, list them in plain.toml: {}", words.join(", "))?;
    }
    Ok(())
}

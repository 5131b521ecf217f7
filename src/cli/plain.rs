//! `plain`: how plain the language of a patient's pages is, statement by statement and page by page.

use std::fmt::Write;

use super::args::{Format, Plain};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::plain::formulas::{Formula, inflesz_band};
use crate::plain::score::Scored;
use crate::review::plain::{self, Plainness};

/// Scores the patient's page of each case. Fails when a gate is not reached.
pub(super) fn run(args: &Plain) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let pages = case::each(&args.case, &practice, |case| Ok(plain::plain(case)?))?;
    let done = match args.format {
        Format::Json => io::json(&pages)?,
        Format::Human => io::text(pages.iter().map(text))?,
    };
    Ok(if pages.iter().all(|page| page.passes) { done } else { Status::Withheld })
}

/// The page first, then its statements from the hardest to the easiest.
fn text(page: &Plainness) -> Result<String, std::fmt::Error> {
    let mut text = format!("{}, {}\n", page.score.case, page.score.page.word());
    row(&mut text, "whole page", &page.score.whole)?;
    for (id, scored) in page.hardest_first() {
        row(&mut text, id, scored)?;
    }
    Ok(text)
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

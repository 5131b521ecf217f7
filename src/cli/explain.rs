//! `explain`: why a patient reads what they read, statement by statement, and where it stands.

use std::fmt::{self, Write};

use super::args::{Explain, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::record::course::Change;
use crate::review::explain::{self, Explanation, StatementRow};

/// Explains every statement of the page of this moment, chosen or not.
pub(super) fn run(args: &Explain) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let cases = case::each(&args.case, &practice, |case| Ok(explain::explain(case)?))?;
    match args.format {
        Format::Json => io::json(&cases),
        Format::Human => io::text(cases.iter().map(text)),
    }
}

fn text(case: &Explanation) -> Result<String, fmt::Error> {
    let mut text = format!("{}, {} the treatment\n", case.head.case, case.head.moment.word());
    for row in &case.statements {
        statement(&mut text, row)?;
    }
    for own in &case.own_words {
        writeln!(
            text,
            "  says       the surgeon's own words\n             by hand: {}, {}: {}",
            own.by, own.on, own.reason
        )?;
    }
    for (part, page) in &case.parts {
        writeln!(text, "  {part}, page {page}")?;
    }
    Ok(text)
}

fn statement(text: &mut String, row: &StatementRow) -> fmt::Result {
    let said = if row.said { "says" } else { "leaves out" };
    let core = if row.core { " (core)" } else { "" };
    writeln!(text, "  {said:11}{}{core}, {}", row.id, place(row))?;
    match &row.when {
        None => writeln!(text, "             for every eye")?,
        Some(when) => {
            let saw: Vec<String> = row.saw.iter().map(|(name, word)| format!("{name} = {word}")).collect();
            writeln!(text, "             when {when}\n             saw {}", saw.join(", "))?;
        }
    }
    if let Some(hand) = &row.by_hand {
        let (change, by, on, reason) = (word(hand.change), &hand.by, hand.on, &hand.reason);
        writeln!(text, "             by hand: {change}, {by}, {on}: {reason}")?;
    }
    for entry in &row.evidence {
        let indirect = if entry.indirect { ", indirect" } else { "" };
        writeln!(text, "             rests on {} ({}{indirect})", entry.id, entry.grade)?;
    }
    for number in &row.numbers {
        writeln!(text, "             prints \"{}\" ({} of {})", number.text, number.function, number.evidence)?;
    }
    Ok(())
}

fn place(row: &StatementRow) -> String {
    let stands = row.stands.as_ref().and_then(|stands| Some((stands, stands.page?)));
    match stands {
        Some((stands, page)) => format!("page {page}, {} under \"{}\"", stands.block, stands.under),
        None => format!("section {}", row.section),
    }
}

/// The word of the record.
fn word(change: Change) -> &'static str {
    match change {
        Change::Add => "add",
        Change::LeaveOut => "leave_out",
        Change::MoveUp => "move_up",
    }
}

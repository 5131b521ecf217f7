//! Which statements of a page are said: chosen by the facts, then added, left out or moved up by hand, on the record.

use super::Library;
use super::catalog::{Kind, PatientPage, Statement};
use super::error::{ComposeError, TailoringError};
use crate::facts::Facts;
use crate::record::course::{Change, Tailoring};

/// A statement that is said, and who brought it in or moved it if that was done by hand.
#[derive(Debug, Clone, Copy)]
pub struct Choice<'a> {
    /// The statement.
    pub statement: &'a Statement,
    /// The entry of the record that added it or moved it up.
    pub by_hand: Option<&'a Tailoring>,
}

/// The statements of one page.
#[derive(Debug, Clone)]
pub struct Chosen<'a> {
    /// What is said, in reading order.
    pub said: Vec<Choice<'a>>,
    /// What the facts chose and a clinician left out.
    pub left_out: Vec<(&'a Statement, &'a Tailoring)>,
}

/// Chooses the statements of a page.
///
/// # Errors
/// An entry of the record that cannot be done: a statement that does not exist, a core statement left out, a statement
/// added that cannot be true of this eye, or a part of the page that is not chosen by hand.
pub fn choose<'a>(
    library: &'a Library,
    facts: &Facts,
    page: PatientPage,
    tailoring: &'a [Tailoring],
) -> Result<Chosen<'a>, ComposeError> {
    for (at, entry) in tailoring.iter().enumerate() {
        check(library, facts, at, entry)?;
    }
    let by_hand = |statement: &Statement, change: Change| {
        tailoring.iter().find(|entry| entry.statement == statement.row.id && entry.change == change)
    };
    let mut chosen = Chosen { said: Vec::new(), left_out: Vec::new() };
    for statement in library.statements.iter().filter(|statement| statement.row.page == page) {
        let added = by_hand(statement, Change::Add);
        let holds = statement.when.holds(facts);
        match by_hand(statement, Change::LeaveOut) {
            Some(entry) if holds => chosen.left_out.push((statement, entry)),
            _ if holds => chosen.said.push(Choice { statement, by_hand: by_hand(statement, Change::MoveUp) }),
            _ if added.is_some() => chosen.said.push(Choice { statement, by_hand: added }),
            _ => {}
        }
    }
    let sections = page.sections();
    chosen.said.sort_by_key(|choice| {
        let row = &choice.statement.row;
        let section = sections.iter().position(|section| *section == row.section);
        let up = choice.by_hand.is_none_or(|entry| entry.change != Change::MoveUp);
        (section, up, row.order)
    });
    Ok(chosen)
}

/// Whether a clinician may add, leave out or move a statement of this kind: not the message, the ways to choose from,
/// the warning signs, the numbered steps or the sentence that is signed.
fn by_hand(kind: Kind) -> bool {
    matches!(kind, Kind::Point | Kind::Text | Kind::Item | Kind::Risk)
}

fn check(library: &Library, facts: &Facts, at: usize, entry: &Tailoring) -> Result<(), TailoringError> {
    let id = &entry.statement;
    let statement = library.statements.iter().find(|statement| statement.row.id == *id);
    let statement = statement.ok_or(TailoringError::Unknown { entry: at + 1 })?;
    match entry.change {
        _ if !by_hand(statement.row.kind) => Err(TailoringError::NotByHand(id.clone())),
        Change::LeaveOut if statement.row.core => Err(TailoringError::Core(id.clone())),
        Change::Add if !statement.possible.holds(facts) => Err(TailoringError::Impossible(id.clone())),
        _ => Ok(()),
    }
}

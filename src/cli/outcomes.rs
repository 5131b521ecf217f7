//! `outcomes`: what became of the eyes, from the command line.

use std::fmt::Write;
use std::path::Path;

use chrono::{NaiveDate, TimeZone};

use super::args::{ExportOutcomes, Format, ImportOutcomes, ListOutcomes, Outcomes as Args, Register as OfPractice};
use super::report::{self, Failure};
use super::{Status, clock, io, practice, register};
use crate::files::{create, read};
use crate::practice::Practice;
use crate::register::{Register, TakenIn, take_in};
use crate::results;
use crate::review::due::{self, DueVisits};

/// Later than every day that is entered.
const LAST_DAY: NaiveDate = NaiveDate::from_ymd_opt(9999, 12, 31).expect("a day");

/// Does one of them.
pub(super) fn run(args: &Args) -> Result<Status, Failure> {
    match args {
        Args::Import(args) => import(args),
        Args::Export(args) => export(args),
        Args::List(args) => list(args),
    }
}

fn open(args: &OfPractice) -> Result<(Practice, Register), Failure> {
    let practice = practice::open(&args.practice)?;
    let place = register::place(&args.practice, &practice, args.register.as_deref())?;
    Ok((practice, Register::open(&place)?))
}

/// The day it is at the practice.
fn today(practice: &Practice) -> Result<NaiveDate, Failure> {
    Ok(practice.profile.practice.time_zone.0.from_utc_datetime(&clock::now()?).date_naive())
}

fn import(args: &ImportOutcomes) -> Result<Status, Failure> {
    let (practice, mut register) = open(&args.register)?;
    if !register.people()?.iter().any(|person| person.name == args.by) {
        return Err("nobody of this name is among the people of the register: `vitreoleaf people` lists them".into());
    }
    let table = results::read(&read::table(&args.table)?)?;
    let by = (args.by.as_str(), clock::now()?);
    let TakenIn { taken, there, wrong } =
        take_in(&mut register, table, &practice.profile.visits, today(&practice)?, by)?;
    for wrong in &wrong {
        let column = wrong.column.map(|column| format!("{column}: ")).unwrap_or_default();
        report::line(&format!("error: {}:{}: {column}{}", args.table.display(), wrong.line, wrong.why));
    }
    report::line(&format!("outcomes taken in: {taken}; there already: {there}; lines not taken: {}", wrong.len()));
    Ok(if wrong.is_empty() { Status::Done } else { Status::Failed })
}

fn export(args: &ExportOutcomes) -> Result<Status, Failure> {
    let (_, register) = open(&args.register)?;
    let outcomes = register.all_outcomes(LAST_DAY)?;
    let codes: Vec<Option<String>> = outcomes
        .iter()
        .map(|(case, _)| Ok(register.session(*case)?.and_then(|session| session.code)))
        .collect::<Result<_, Failure>>()?;
    let named = codes.iter().zip(&outcomes).filter_map(|(code, (_, outcome))| Some((code.as_deref()?, outcome)));
    let table = results::write(named);
    if args.out == Path::new("-") {
        return io::stdout(table.as_bytes());
    }
    create::create(&args.out, table.as_bytes())?;
    report::line(&format!("made {}", args.out.display()));
    Ok(Status::Done)
}

fn list(args: &ListOutcomes) -> Result<Status, Failure> {
    let (practice, register) = open(&args.register)?;
    let today = today(&practice)?;
    let found = due::visits(&register.sessions(today)?, &register.all_outcomes(today)?, &practice.profile, today);
    match args.format {
        Format::Json => io::json(&found),
        Format::Human => io::stdout(text(&found)?.as_bytes()),
    }
}

fn text(found: &DueVisits) -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    for due in &found.visits {
        let missed = if due.missed { "missed" } else { "due   " };
        writeln!(text, "{missed}  {}  {}  {}", due.on, due.case.as_deref().unwrap_or_default(), due.visit)?;
    }
    Ok(text)
}

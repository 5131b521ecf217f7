//! The edge: the only part that touches files, streams, the environment and the clock.

mod apart;
pub mod args;
mod audit;
mod blocks;
mod case;
mod check;
mod clock;
mod compare;
mod coverage;
mod demo;
#[cfg(feature = "desk")]
mod desk;
mod explain;
mod facts;
mod fhir;
mod interrupt;
mod io;
#[cfg(feature = "desk")]
mod keeping;
mod manual;
mod new;
#[cfg(feature = "desk")]
mod outcomes;
mod plain;
mod plan;
mod practice;
mod print;
mod proofread;
#[cfg(feature = "desk")]
mod register;
pub mod report;
mod suitability;
mod translations;
#[cfg(feature = "desk")]
mod verify;

use std::process::ExitCode;

use crate::review::schema;
use args::{Cli, Command, Schema};
use report::Failure;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Everything was made.
    Done,
    /// Pages for the patient were withheld.
    Withheld,
    /// Something was refused.
    Failed,
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        match status {
            Status::Done => Self::SUCCESS,
            Status::Withheld => Self::from(1),
            Status::Failed => Self::from(2),
        }
    }
}

/// Runs one command and reports on standard error what went wrong.
#[must_use]
pub fn run(cli: &Cli) -> Status {
    if cli.show_values {
        report::show_values();
    }
    match dispatch(&cli.command) {
        Ok(status) => status,
        Err(Failure::Closed) => Status::Done,
        Err(failure) => {
            report::failure(&failure);
            Status::Failed
        }
    }
}

fn dispatch(command: &Command) -> Result<Status, Failure> {
    match command {
        Command::Print(args) => print::run(args),
        Command::Check(args) => check::run(args),
        Command::Practice(args) => practice::check(args),
        Command::Facts(args) => facts::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Blocks(args) => blocks::run(args),
        Command::Explain(args) => explain::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Coverage(args) => coverage::run(args),
        Command::Proofread(args) => proofread::run(args),
        Command::Plain(args) => plain::run(args),
        Command::Audit(args) => audit::run(args),
        Command::Translations(args) => translations::run(args),
        Command::Confirm(args) => practice::confirm(args),
        Command::New(args) => new::run(args),
        Command::Fhir(args) => fhir::run(args),
        Command::Demo(args) => demo::run(args),
        #[cfg(feature = "desk")]
        Command::Desk(args) => desk::run(args),
        #[cfg(feature = "desk")]
        Command::People(args) => register::people(args),
        #[cfg(feature = "desk")]
        Command::Import(args) => register::import(args),
        #[cfg(feature = "desk")]
        Command::Export(args) => register::export(args),
        #[cfg(feature = "desk")]
        Command::Outcomes(args) => outcomes::run(args),
        #[cfg(feature = "desk")]
        Command::Register { command } => keeping::run(command),
        #[cfg(feature = "desk")]
        Command::Verify(args) => verify::run(args),
        Command::Schema(args) => schema(args),
        Command::Completions { shell } => io::stdout(&manual::completions(*shell)),
        Command::LayOutApart => apart::run(),
        Command::Manual { folder } => manual::run(folder),
        Command::Man { command } => manual::print(command.as_deref()),
    }
}

fn schema(args: &Schema) -> Result<Status, Failure> {
    let described = schema::of(&args.of).ok_or_else(|| format!("there is no schema of {}", args.of))?;
    io::json(&(described.schema)())
}

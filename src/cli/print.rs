//! `print`: the pages of one or more cases.

use std::io::IsTerminal;
use std::path::Path;
use std::sync::Mutex;
use std::time::Duration;

use chrono::NaiveDateTime;
use indicatif::{ProgressBar, ProgressStyle};

use super::args::{Format, PageArg, Print};
use super::report::{self, Failure};
use super::{Status, case, clock, interrupt, io, practice, suitability};
use crate::batch::folder::Folder;
#[cfg(feature = "desk")]
use crate::batch::issuing::{Issuer, Issuing};
use crate::batch::report::{BatchReport, State};
use crate::batch::{Fault, Made, Outcome, Printer, Read, Refusal, Target, Watch};
use crate::facts::Moment;
use crate::files::read::ReadError;
use crate::packet::{File, Form, Output, Packet};
use crate::practice::Practice;
use crate::record::Record;
#[cfg(feature = "desk")]
use crate::record::locate;
#[cfg(feature = "desk")]
use crate::register::Register;

/// Makes the pages.
pub(super) fn run(args: &Print) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    if args.page == Some(PageArg::Suitability) {
        return suitability::run(args, &practice);
    }
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    let wanted = |output: Output| match args.page {
        Some(page) => page.is(output),
        None => args.papers || !output.is_paper(),
    };
    if args.out.as_os_str() == "-" {
        #[cfg(feature = "desk")]
        if args.register.is_some() {
            return Err("what is issued into a register is written into a folder: choose it with --out".into());
        }
        let pages = Pages { wanted: &wanted, files: Mutex::default() };
        let outcomes = print(args, &practice, issued, &pages)?;
        return stream(args, &pages.files.into_inner().unwrap_or_default(), &outcomes);
    }
    let folder = Folder { path: args.out.clone(), wanted: &wanted };
    #[cfg(feature = "desk")]
    if let (Some(register), Some(by)) = (&args.register, &args.by) {
        let issuer = Issuer { by: by.trim().to_owned(), at: issued };
        let register = Register::open(&super::register::named(register)?)?;
        return into_register(args, &practice, register, folder, issuer);
    }
    let outcomes = print(args, &practice, issued, &folder)?;
    tell(args, &outcomes)
}

/// Makes all cases.
fn print(
    args: &Print,
    practice: &Practice,
    issued: NaiveDateTime,
    target: &dyn Target,
) -> Result<Vec<Outcome>, Failure> {
    let sources = case::Sources::new(&args.case, practice)?;
    print_all(args, args.case.cases.len(), &|at| sources.read(at), issued, target)
}

fn print_all(
    args: &Print,
    count: usize,
    read: &Read,
    issued: NaiveDateTime,
    target: &dyn Target,
) -> Result<Vec<Outcome>, Failure> {
    let mut forms: Vec<Form> = Vec::new();
    for form in args.forms.iter().map(|form| form.form()) {
        if !forms.contains(&form) {
            forms.push(form); // named twice, it is made once
        }
    }
    let issued = |_: &Record, _: Moment| issued;
    let printer = Printer { forms: &forms, issued: &issued, issued_anyway: args.issued_anyway };
    watched(count, |watch| printer.print(count, read, target, watch))
}

/// Makes all cases, issues them into a register, and says what became of those that were asked for.
#[cfg(feature = "desk")]
fn into_register(
    args: &Print,
    practice: &Practice,
    register: Register,
    folder: Folder,
    issuer: Issuer,
) -> Result<Status, Failure> {
    let sources = case::Sources::new(&args.case, practice)?;
    // What cannot be read is told when its turn comes.
    let record = |at: usize| {
        let (record, moment) = sources.read(at).ok()?;
        Some((record, moment, locate::read(&sources.file(at).ok()?).0.value))
    };
    let records = (0..args.case.cases.len()).map(record).collect();
    let issued = issuer.at;
    let issuing = Issuing::new(register, folder, practice, issuer, records)?;
    let (count, own) = issuing.counts();
    let read = |at: usize| match issuing.wanted(at) {
        Some(wanted) => Ok((wanted.record.clone(), wanted.moment)),
        None => sources.read(at).and(Err(Refusal::Changed)),
    };
    let mut outcomes = print_all(args, count, &read, issued, &issuing)?;
    outcomes.truncate(own);
    let status = tell(args, &outcomes)?;
    for name in issuing.along() {
        report::line(&format!("made {} with it", args.out.join(name).display()));
    }
    Ok(status)
}

/// Runs a batch with a bar, until it is done or a person stops it.
pub(super) fn watched<T>(count: usize, run: impl FnOnce(Watch) -> T) -> Result<T, Failure> {
    let stop = interrupt::asked()?;
    let bar = progress(count);
    let made = run(Watch { stop: &stop, done: &|| bar.inc(1) });
    bar.finish_and_clear();
    Ok(made)
}

/// The one page that goes to standard output.
struct Pages<'a> {
    wanted: &'a (dyn Fn(Output) -> bool + Sync),
    files: Mutex<Vec<File>>,
}

impl Target for Pages<'_> {
    fn choose(&self, outputs: &mut Vec<Output>) {
        outputs.retain(|output| (self.wanted)(*output));
    }

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        if let Ok(mut files) = self.files.lock() {
            files.extend(packets.iter().flat_map(|(_, packet)| packet.files.clone()));
        }
        Ok(())
    }
}

/// A bar that shows only when the work takes over a second.
fn progress(count: usize) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden(); // no thread that ticks for nobody
    }
    let bar = ProgressBar::new(count as u64);
    bar.enable_steady_tick(Duration::from_secs(1));
    bar.set_style(
        ProgressStyle::with_template("{pos} of {len} packets {wide_bar}")
            .unwrap_or_else(|_| ProgressStyle::default_bar()),
    );
    bar
}

/// Standard output takes one page, and nothing else is said than why there is none.
fn stream(args: &Print, files: &[File], outcomes: &[Outcome]) -> Result<Status, Failure> {
    outcomes.iter().zip(&args.case.cases).for_each(|(outcome, path)| refused(path, outcome));
    match files {
        _ if status(outcomes) == Status::Failed => Ok(Status::Failed),
        [file] => io::stdout(&file.bytes).map(|_| status(outcomes)),
        [] if no_such_page(outcomes) => Err(NO_SUCH_PAGE.into()),
        [] => Err("this page was not made; see the surgeon sheet for the reason".into()),
        _ => Err("standard output takes one page: choose it with --page".into()),
    }
}

const NO_SUCH_PAGE: &str = "this moment has no such page: choose another --page or --moment";

/// Whether no case has the page that was asked for.
fn no_such_page(outcomes: &[Outcome]) -> bool {
    outcomes
        .iter()
        .all(|outcome| matches!(outcome, Outcome::Made(made) if made.files.is_empty() && made.withheld.is_none()))
}

/// Says what became of the cases, in their order.
fn tell(args: &Print, outcomes: &[Outcome]) -> Result<Status, Failure> {
    if no_such_page(outcomes) {
        return Err(NO_SUCH_PAGE.into());
    }
    let report = BatchReport::new(&args.out, &args.case.cases, outcomes);
    if args.format == Format::Json {
        io::json(&report)?;
    }
    for (path, outcome) in args.case.cases.iter().zip(outcomes) {
        refused(path, outcome);
        if let Outcome::Made(made) = outcome {
            made.warnings.iter().for_each(report::remarks);
            made_files(args, made);
        }
    }
    if outcomes.len() > 1 {
        report::line(&report.table());
    }
    Ok(status(outcomes))
}

/// Says why a case was refused, if it was.
fn refused(path: &Path, outcome: &Outcome) {
    match outcome {
        Outcome::Refused(_, Refusal::Read(ReadError::Refused(record))) => {
            report::remarks(record);
        }
        Outcome::Refused(_, why) => report::line(&format!("error: {}: {why}", path.display())),
        _ => {}
    }
}

fn made_files(args: &Print, made: &Made) {
    if args.format == Format::Human {
        for name in &made.files {
            report::line(&format!("made {}", args.out.join(name).display()));
        }
    }
    if let Some(withheld) = &made.withheld {
        report::line(&withheld.says);
    }
    made.refused_pages.iter().for_each(|page| report::line(&format!("warning: {}: {}", made.code, page.says())));
    // A page that is withheld now but was issued earlier still lies in the folder: somebody must take it out of use.
    let earlier = made.not_made.iter().map(|name| args.out.join(name));
    for path in earlier.filter(|path| path.exists()) {
        let path = path.display();
        report::line(&format!("warning: {path} was issued earlier and is withheld now: take it out of use"));
    }
}

/// The worst that became of a case.
pub(super) fn status(outcomes: &[Outcome]) -> Status {
    let status = |outcome: &Outcome| match State::from(outcome) {
        State::Made => Status::Done,
        State::Withheld => Status::Withheld,
        State::Refused | State::NotBegun => Status::Failed,
    };
    outcomes.iter().map(status).max().unwrap_or(Status::Done)
}

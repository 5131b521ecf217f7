//! `fhir`: from and to other systems.

use chrono::NaiveDateTime;

use super::args::{Fhir, FhirIn, FhirOut, Format, SideArg};
use super::report::{self, Failure};
use super::{Status, case, clock, io, practice};
use crate::assets::Assets;
use crate::diag::SourceFile;
use crate::document::Page;
use crate::exchange::fhir::incoming::{self, Incoming, JsonFile, Reader, Tables};
use crate::exchange::fhir::outgoing::{self, Types};
use crate::facts::Moment;
use crate::files::create::create;
use crate::files::read;
use crate::packet::{Case, File, Form, Output, json, suitability};
use crate::practice::Draft;
use crate::record::formulary::Formulary;
#[cfg(feature = "desk")]
use crate::register::{Issued, Register};

/// Does one of them.
pub(super) fn run(args: &Fhir) -> Result<Status, Failure> {
    match args {
        Fhir::In(args) => come_in(args),
        Fhir::Out(args) => go_out(args),
    }
}

/// Writes the draft, and says how much was taken, is asked and was not taken.
fn come_in(args: &FhirIn) -> Result<Status, Failure> {
    let found = found(args)?;
    let text = match args.format {
        Format::Json => json::text(&found)?,
        Format::Human => incoming::commented(&found)?,
    };
    let counts = (found.taken.len(), found.asked.len(), found.not_taken.len());
    let done = match &args.out {
        None => io::stdout(text.as_bytes())?,
        Some(path) => {
            create(path, text.as_bytes())?;
            report::line(&format!("made {}", path.display()));
            Status::Done
        }
    };
    report::line(&format!("values taken: {}; to be asked: {}; not taken: {}", counts.0, counts.1, counts.2));
    Ok(done)
}

fn found(args: &FhirIn) -> Result<Incoming, Failure> {
    let practice = args.practice.as_deref().map(practice::open).transpose()?;
    let assets = practice.as_ref().map(|practice| practice.assets.clone()).unwrap_or_default();
    let tables = Tables::load(&assets)?;
    let formulary = match &practice {
        Some(practice) => practice.formulary.clone(),
        None => Formulary::load(&Assets::default())?,
    };
    let files: Vec<(String, Vec<u8>)> = args
        .files
        .iter()
        .map(|path| Ok((path.display().to_string(), read::table(path)?)))
        .collect::<Result<_, Failure>>()?;
    let files: Vec<JsonFile> = files.iter().map(|(name, bytes)| JsonFile { name, bytes }).collect();
    let side = args.side.map(SideArg::side);
    let today = clock::now()?.date();
    let reader = Reader { tables: &tables, formulary: &formulary, practice: practice.as_ref(), side, today };
    Ok(reader.read(&files)?)
}

/// The files of a case, and when they were issued.
struct Issue {
    files: Vec<File>,
    at: NaiveDateTime,
}

/// Writes the bundle of a case. Its files are those of a register, or are made as `print` makes them and not kept.
fn go_out(args: &FhirOut) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let types = Types::load(&practice.assets)?;
    let source = read::source(&args.case)?;
    let made = case::of(&source, args.moment, &practice, |case| {
        let issue = match registered(args, case)? {
            Some(issue) => issue,
            None => printed(args, case, &source)?,
        };
        io::json(&outgoing::bundle(case, &issue.files, &types, issue.at)?)?;
        let withheld = case.withholding();
        if let Some(withheld) = &withheld {
            report::line(&withheld.says);
        }
        Ok(if withheld.is_some() { Status::Withheld } else { Status::Done })
    });
    made.map_err(|failure| case::in_file(&args.case, failure))
}

/// What `print` would make now.
fn printed(args: &FhirOut, case: &Case, source: &SourceFile) -> Result<Issue, Failure> {
    let at = args.issued.map_or_else(clock::now, Ok)?;
    let mut outputs = case.outputs(&[Form::Pdf])?;
    if args.papers {
        outputs.extend(case.papers_as(&[Form::Pdf]));
    }
    let mut files = case.packet_of(&[Form::Pdf], &outputs, at)?.files;
    if args.papers && case.moment() == Moment::Before {
        // It is made of a draft and so stands beside the packet.
        let (name, bytes) = suitability::file(&Draft::read(source, case.practice())?, Form::Pdf, at)?;
        files.push(File { output: Output::Page(Page::Suitability, Form::Pdf), name, bytes });
    }
    Ok(Issue { files, at })
}

/// What a register holds of this moment and revision, of each file the newest, if one is asked.
#[cfg(feature = "desk")]
fn registered(args: &FhirOut, case: &Case) -> Result<Option<Issue>, Failure> {
    let Some(place) = &args.register else { return Ok(None) };
    let register = Register::open(&super::register::named(place)?)?;
    let written = &case.record().case;
    let issues = register.by_code(&written.code)?.map(|id| register.issues(id)).transpose()?.unwrap_or_default();
    let of_these = |one: &Issued| (one.issue.moment, one.issue.revision) == (case.moment(), written.revision);
    let mut found: Option<Issue> = None;
    for one in issues.into_iter().filter(of_these) {
        let issue = found.get_or_insert(Issue { files: Vec::new(), at: one.issue.at });
        for place in 0..one.files.len() {
            let Some((name, bytes)) = register.issued_file(one.id, place)? else { continue };
            let is_new = issue.files.iter().all(|file| file.name != name);
            if let Some(output) = Output::named(&name).filter(|_| is_new) {
                issue.files.push(File { output, name, bytes });
            }
        }
    }
    found.map(Some).ok_or_else(|| "the register holds nothing that was issued of this moment and revision".into())
}

/// There is no register without the desk.
#[cfg(not(feature = "desk"))]
fn registered(_: &FhirOut, _: &Case) -> Result<Option<Issue>, Failure> {
    Ok(None)
}

//! `fhir`: from and to other systems.

use chrono::NaiveDateTime;

use super::args::{Fhir, FhirIn, FhirOut, Format, SideArg};
use super::report::{self, Failure};
use super::{Status, case, clock, io, practice};
use crate::assets::Assets;
use crate::document::Page;
use crate::exchange::fhir::incoming::{self, Incoming, JsonFile, Reader, Tables};
use crate::exchange::fhir::outgoing::{self, Types};
use crate::facts::Moment;
use crate::files::create::create;
use crate::files::read;
use crate::packet::{self, Case, File, Form, Output, Packet, json};
use crate::practice::Draft;
use crate::record::formulary::Formulary;

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

/// The files of a case on paper.
fn files(case: &Case, papers: bool, issued: NaiveDateTime) -> Result<Packet, Failure> {
    let mut outputs = case.outputs(&[Form::Pdf])?;
    if papers {
        outputs.extend(case.papers_as(&[Form::Pdf]));
    }
    Ok(case.packet_of(&[Form::Pdf], &outputs, issued)?)
}

/// The suitability sheet, which is made of a draft and so stands beside the packet.
fn suitability(draft: &Draft, issued: NaiveDateTime) -> Result<File, Failure> {
    let (name, bytes) = packet::suitability::file(draft, Form::Pdf, issued)?;
    Ok(File { output: Output::Page(Page::Suitability, Form::Pdf), name, bytes })
}

/// Writes the bundle of a case; its files are made as `print` makes them, and not kept.
fn go_out(args: &FhirOut) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    let types = Types::load(&practice.assets)?;
    let source = read::source(&args.case)?;
    let made = case::of(&source, args.moment, &practice, |case| {
        let mut packet = files(case, args.papers, issued)?;
        if args.papers && case.moment() == Moment::Before {
            packet.files.push(suitability(&Draft::read(&source, &practice)?, issued)?);
        }
        io::json(&outgoing::bundle(case, &packet.files, &types, issued)?)?;
        if let Some(withheld) = &packet.withheld {
            report::line(&withheld.says);
        }
        Ok(if packet.withheld.is_some() { Status::Withheld } else { Status::Done })
    });
    made.map_err(|failure| case::in_file(&args.case, failure))
}

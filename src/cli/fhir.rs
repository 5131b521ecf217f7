//! `fhir`: from and to other systems.

use super::args::{Fhir, FhirIn, FhirOut, Format, SideArg};
use super::report::{self, Failure};
use super::{Status, case, clock, io, practice};
use crate::assets::Assets;
use crate::exchange::fhir::incoming::{self, Incoming, JsonFile, Reader, Tables};
use crate::exchange::fhir::outgoing;
use crate::files::create::create;
use crate::files::read;
use crate::packet::json;
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

/// Writes the bundle of a case; its files are made as `print` makes them, and not kept.
fn go_out(args: &FhirOut) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    case::one(&args.case, args.moment, &practice, |case| {
        let packet = case.packet(issued)?;
        io::json(&outgoing::bundle(case, &packet.files, issued)?)?;
        if let Some(withheld) = &packet.withheld {
            report::line(&withheld.says);
        }
        Ok(if packet.withheld.is_some() { Status::Withheld } else { Status::Done })
    })
}

//! `print`: the pages of one or more cases.

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use chrono::{DateTime, NaiveDateTime};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;

use super::args::{Format, Print};
use super::report::{self, Failure};
use super::{Status, case, io, practice};
use crate::document::sheet::Withheld;
use crate::packet::{File, Packet, both_eyes};

/// Makes the pages.
pub(super) fn run(args: &Print) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let issued = args.issued.map_or_else(now, Ok)?;
    let forms: Vec<_> = args.forms.iter().map(|form| form.form()).collect();
    let bar = progress(args.case.cases.len());
    // Everything is made before anything is written: an error leaves no half packet behind.
    let records = case::records(&args.case, &practice)?;
    let mut cases = case::all(&args.case, &records)?;
    let both_eyes = both_eyes::join(&mut cases, &forms, |_| issued)?;
    let packets = args.case.cases.iter().zip(&cases).map(|(path, case)| {
        let packet = case.packet_as(&forms, issued).map_err(|text| case::in_file(path, Failure::Told(text)));
        bar.inc(1);
        packet
    });
    let packets = packets.collect::<Result<Vec<Packet>, _>>()?;
    bar.finish_and_clear();
    let chosen = |file: &&File| args.page.is_none_or(|page| page.is(file.output));
    let files = packets.iter().flat_map(|packet| &packet.files).chain(both_eyes.iter().map(|(_, file)| file));
    let files: Vec<&File> = files.filter(chosen).collect();
    if files.is_empty() && packets.iter().all(|packet| packet.withheld.is_none()) {
        return Err("this moment has no such page: choose another --page or --moment".into());
    }
    if args.out.as_os_str() == "-" {
        return stream(&files, &packets);
    }
    distinct(&files)?;
    let named: Vec<(String, &[u8])> = files.iter().map(|file| (file.name.clone(), file.bytes.as_slice())).collect();
    io::write_all(&args.out, &named)?;
    earlier_issues(&args.out, &packets);
    tell(args, &files, &packets)
}

/// Two cases with one code would overwrite each other; a disk may not tell upper from lower case.
fn distinct(files: &[&File]) -> Result<(), Failure> {
    let mut seen = BTreeSet::new();
    match files.iter().find(|file| !seen.insert(file.name.to_lowercase())) {
        Some(file) => {
            Err(format!("two cases would both write {}: give each its own code or revision", file.name).into())
        }
        None => Ok(()),
    }
}

/// A page that is withheld now but was issued earlier still lies in the folder: somebody must take it out of use.
fn earlier_issues(folder: &Path, packets: &[Packet]) {
    let earlier = packets.iter().flat_map(|packet| &packet.not_made).map(|name| folder.join(name));
    for path in earlier.filter(|path| path.exists()) {
        report::line(&format!(
            "warning: {} was issued earlier and is withheld now: take it out of use",
            path.display()
        ));
    }
}

/// Now, in UTC, to the second. The one place where the clock is read.
#[expect(clippy::disallowed_methods, reason = "time enters here and nowhere else")]
pub(super) fn now() -> Result<NaiveDateTime, Failure> {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let seconds = since.ok().and_then(|since| i64::try_from(since.as_secs()).ok());
    let now = seconds.and_then(|seconds| DateTime::from_timestamp(seconds, 0));
    now.map(|now| now.naive_utc()).ok_or_else(|| "the clock of this machine is not set".into())
}

/// A bar that shows only when the work takes over a second.
pub(super) fn progress(count: usize) -> ProgressBar {
    let bar = ProgressBar::new(count as u64);
    bar.set_style(
        ProgressStyle::with_template("{pos} of {len} packets {wide_bar}")
            .unwrap_or_else(|_| ProgressStyle::default_bar()),
    );
    bar.enable_steady_tick(Duration::from_secs(1));
    bar
}

fn stream(files: &[&File], packets: &[Packet]) -> Result<Status, Failure> {
    match files {
        [file] => io::stdout(&file.bytes).map(|_| status(packets)),
        [] => Err("this page was not made; see the surgeon sheet for the reason".into()),
        _ => Err("standard output takes one page: choose it with --page".into()),
    }
}

/// Withheld if any packet was.
pub(super) fn status(packets: &[Packet]) -> Status {
    let withheld = packets.iter().any(|packet| packet.withheld.is_some());
    if withheld { Status::Withheld } else { Status::Done }
}

fn tell(args: &Print, files: &[&File], packets: &[Packet]) -> Result<Status, Failure> {
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    match args.format {
        Format::Json => {
            let withheld = packets.iter().filter(|packet| packet.withheld.is_some()).count();
            let value = json!({ "folder": args.out, "files": names, "withheld": withheld });
            io::stdout(format!("{value:#}\n").as_bytes())?;
        }
        Format::Human => {
            for name in names {
                report::line(&format!("made {}", args.out.join(name).display()));
            }
        }
    }
    for packet in packets {
        if let Some(reason) = packet.withheld {
            report::line(&withheld(reason, &packet.withheld_by));
        }
    }
    Ok(status(packets))
}

/// Why pages were withheld, in one line.
pub(super) fn withheld(reason: Withheld, by: &[String]) -> String {
    match reason {
        Withheld::Findings => {
            format!("withheld: a clinician must first answer {} in the record ([[answers]])", by.join(", "))
        }
        Withheld::Incomplete => {
            format!("withheld: the consent lacks {} (vitreoleaf coverage says what that is)", by.join(", "))
        }
        Withheld::Undated => "withheld: the drops cannot be dated; the surgeon sheet says why".into(),
        Withheld::Unconfirmed => {
            "withheld: no clinician has confirmed the clinical values of this practice (vitreoleaf confirm)".into()
        }
        Withheld::Stale => {
            "withheld: the clinical values changed since they were confirmed (vitreoleaf confirm)".into()
        }
    }
}

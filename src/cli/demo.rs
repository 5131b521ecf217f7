//! `demo`: the invented practice, its invented cases and all their pages.

use std::collections::BTreeMap;

use super::args::Demo;
use super::report::{self, Failure};
use super::{Status, io, print};
use crate::assets::{Assets, samples};
use crate::diag::SourceFile;
use crate::facts::Moment;
use crate::packet::{Case, Form, Packet, both_eyes};
use crate::practice::Practice;
use crate::record::profile::Profile;
use crate::record::{Record, load};

/// Writes the demo: the same bytes every time, so its date of issue is fixed.
pub fn run(args: &Demo) -> Result<Status, Failure> {
    let samples = samples();
    let practice = practice(&samples)?;
    let records = records(&samples)?;
    let bar = print::progress(records.iter().map(|(_, record)| moments(record).len()).sum());
    let moments =
        records.iter().flat_map(|(name, record)| moments(record).into_iter().map(move |at| (name, record, at)));
    let (names, mut cases): (Vec<&String>, Vec<Case>) = moments
        .map(|(name, record, moment)| Ok((name, Case::new(&practice, record, moment)?)))
        .collect::<Result<Vec<_>, Failure>>()?
        .into_iter()
        .unzip();
    let both_eyes = both_eyes::join(&mut cases, &[Form::Pdf], |case| issued(case.record(), case.moment()))?;
    let mut packets: Vec<(String, Packet)> = Vec::new();
    for (name, case) in names.iter().zip(&cases) {
        let mut packet = case.packet(issued(case.record(), case.moment()))?;
        let joined = both_eyes.iter().filter(|(at, _)| *at == packets.len()).map(|(_, file)| file.clone());
        packet.files.extend(joined);
        packets.push(((*name).clone(), packet));
        bar.inc(1);
    }
    bar.finish_and_clear();
    let made = packets.iter().flat_map(|(name, packet)| {
        packet.files.iter().map(move |file| (format!("{name}/{}", file.name), file.bytes.as_slice()))
    });
    let sources = samples.iter().map(|(path, text)| (path.clone(), text.as_bytes()));
    let files: Vec<(String, &[u8])> = sources.chain(made).collect();
    io::write_all(&args.out, &files)?;
    tell(args, &packets, files.len());
    Ok(Status::Done)
}

fn tell(args: &Demo, packets: &[(String, Packet)], count: usize) {
    report::line(&format!("{count} files in {} (invented people, not for use):", args.out.display()));
    for (name, packet) in packets {
        for file in &packet.files {
            report::line(&format!("  {}", args.out.join(name).join(&file.name).display()));
        }
        if let Some(reason) = packet.withheld {
            report::line(&format!("    {}", print::withheld(reason, &packet.withheld_by)));
        }
    }
}

/// Before for every case; after where the record holds the treatment.
pub fn moments(record: &Record) -> Vec<Moment> {
    match record.treatment {
        Some(_) => vec![Moment::Before, Moment::After],
        None => vec![Moment::Before],
    }
}

/// Consent pages are issued three days before the treatment, aftercare when the patient leaves; the zone is left aside.
pub fn issued(record: &Record, moment: Moment) -> chrono::NaiveDateTime {
    let start = record.plan.start.0;
    match (moment, &record.treatment) {
        (Moment::After, Some(done)) => done.leaves.0,
        _ => start.checked_sub_days(chrono::Days::new(3)).unwrap_or(start),
    }
}

/// The invented practice.
pub fn practice(samples: &BTreeMap<String, String>) -> Result<Practice, Failure> {
    let profile: Profile = read(samples, "practice/profile.toml")?;
    Ok(Practice::assemble(profile, Assets::default())?)
}

/// The invented cases by folder.
pub fn records(samples: &BTreeMap<String, String>) -> Result<Vec<(String, Record)>, Failure> {
    let cases = samples.keys().filter_map(|path| path.strip_suffix("/case.toml"));
    cases.map(|name| Ok((name.to_owned(), read(samples, &format!("{name}/case.toml"))?))).collect()
}

fn read<T: serde::de::DeserializeOwned + schemars::JsonSchema>(
    samples: &BTreeMap<String, String>,
    path: &str,
) -> Result<T, Failure> {
    let text = samples.get(path).ok_or_else(|| format!("the sample {path} is missing"))?;
    let file = SourceFile { name: path.to_owned(), text: text.clone() };
    match load::load::<T>(&file) {
        Ok(loaded) => Ok(loaded.value),
        Err(report) => Err(Failure::Refused(Box::new((report, file)))),
    }
}

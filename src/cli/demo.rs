//! `demo`: the invented practice, its invented cases and all their pages.

use super::args::Demo;
use super::report::{self, Failure};
use super::{Status, io, print};
use crate::assets::samples;
use crate::demo::{checked, issued, moments, practice};
use crate::packet::{Case, Form, Packet, both_eyes};

/// Writes the demo: the same bytes every time, so its date of issue is fixed.
pub fn run(args: &Demo) -> Result<Status, Failure> {
    let samples = samples();
    let records = checked(&practice(&samples)?, &samples)?;
    let bar = print::progress(records.iter().map(|(_, record)| moments(record).len()).sum());
    let moments =
        records.iter().flat_map(|(name, record)| moments(record).into_iter().map(move |at| (name, record, at)));
    let (names, mut cases): (Vec<&String>, Vec<Case>) = moments
        .map(|(name, record, moment)| Ok((name, Case::new(record, moment)?)))
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

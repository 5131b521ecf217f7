//! A folder as the target of a batch. What stands there is not replaced by pages of another person, another eye, or, at
//! an unraised revision, of another content.

use std::path::PathBuf;

use serde_json::Value;

use super::{Fault, Refusal, Target};
use crate::facts::Moment;
use crate::files::write::{Locked, WriteError};
use crate::packet::{File, Output, Packet};

/// A folder that packets are written into. Beside any page stands the packet as data, which says whose it is.
pub struct Folder<'a> {
    /// The folder; it is made when the first packet comes.
    pub path: PathBuf,
    /// Which files are wanted.
    pub wanted: &'a (dyn Fn(Output) -> bool + Sync),
}

/// Why pages may not be replaced.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Taken {
    /// They say something else.
    #[error("{file} stands there with another {}: {help}", .differs.join(", "))]
    Differs {
        /// The packet that stands there.
        file: String,
        /// Keys that differ.
        differs: Vec<&'static str>,
        /// What to do.
        help: &'static str,
    },
    /// Nothing says whose they are.
    #[error("{0} stands there, and no packet.json beside it says whose it is: move it away")]
    Unknown(String),
    /// What should say whose they are cannot be read.
    #[error("{0} stands there and is not the data of a packet: move it away")]
    Unreadable(String),
}

/// Whose the pages are: the same before and after the treatment. Where the value stands in the data, and what the record
/// calls it.
const WHOSE: [(&str, &str); 5] = [
    ("/case", "case.code"),
    ("/patient/name", "patient.name"),
    ("/patient/birth_date", "patient.birth_date"),
    ("/patient/record_number", "patient.record_number"),
    ("/eye", "eye.side"),
];

/// What the pages of one revision and one moment say, as far as the record decides it.
const CONTENT: [(&str, &str); 4] = [
    ("/starts", "plan.start"),
    ("/treatment", "treatment.last_pulse"),
    ("/language", "patient.language"),
    ("/print", "patient.print"),
];

impl Target for Folder<'_> {
    fn choose(&self, files: &mut Vec<File>) {
        let wanted = |file: &File| (self.wanted)(file.output);
        let any = files.iter().any(wanted);
        files.retain(|file| wanted(file) || any && file.output == Output::Data);
    }

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        if packets.iter().all(|(_, packet)| packet.files.is_empty()) {
            return Ok(());
        }
        let together = |error: WriteError| Fault { at: None, why: error.into() };
        let folder = Locked::wait(&self.path).map_err(together)?;
        for (at, packet) in packets {
            free(&folder, packet).map_err(|why| Fault { at: Some(*at), why })?;
        }
        let files = packets.iter().flat_map(|(_, packet)| &packet.files);
        let files: Vec<(&str, &[u8])> = files.map(|file| (file.name.as_str(), file.bytes.as_slice())).collect();
        folder.swap_in(&files).map_err(together)
    }
}

/// Refuses a packet whose place is taken by other pages.
fn free(folder: &Locked, packet: &Packet) -> Result<(), Refusal> {
    let Some(data) = packet.files.iter().find(|file| file.output == Output::Data) else {
        return Ok(());
    };
    let now = serde_json::from_slice(&data.bytes).map_err(|_| Taken::Unreadable(data.name.clone()))?;
    for (name, same_moment) in [(data.name.clone(), true), (of_other_moment(&data.name), false)] {
        if let Some(earlier) = earlier(folder, &name)? {
            let mut differs = differing(&WHOSE, &earlier, &now);
            let mut help = "give each patient and each eye a code of its own, or print into another folder";
            if differs.is_empty() && same_moment {
                differs = differing(&CONTENT, &earlier, &now);
                help = "raise case.revision, so that the pages say what they replace";
            }
            if !differs.is_empty() {
                return Err(Taken::Differs { file: name, differs, help }.into());
            }
        } else if same_moment {
            unclaimed(folder, packet)?;
        }
    }
    Ok(())
}

/// The name of the data of the same revision at the other moment.
fn of_other_moment(name: &str) -> String {
    let [before, after] = [Moment::Before, Moment::After].map(|moment| format!("-{}-packet.json", moment.word()));
    match name.strip_suffix(&before) {
        Some(stem) => stem.to_owned() + &after,
        None => name.strip_suffix(&after).unwrap_or(name).to_owned() + &before,
    }
}

/// The data of a packet that stands in the folder, if one does.
fn earlier(folder: &Locked, name: &str) -> Result<Option<Value>, Refusal> {
    let bytes = folder.read(name)?;
    let value = bytes.map(|bytes| serde_json::from_slice::<Value>(&bytes)).transpose();
    match value.map_err(|_| Taken::Unreadable(name.to_owned()))? {
        Some(value) if !value.is_object() => Err(Taken::Unreadable(name.to_owned()).into()),
        value => Ok(value),
    }
}

/// Refuses to replace pages that have no data beside them.
fn unclaimed(folder: &Locked, packet: &Packet) -> Result<(), Refusal> {
    match packet.files.iter().find(|file| folder.has(&file.name)) {
        Some(file) => Err(Taken::Unknown(file.name.clone()).into()),
        None => Ok(()),
    }
}

/// What the record calls the keys that differ.
fn differing(keys: &[(&str, &'static str)], earlier: &Value, now: &Value) -> Vec<&'static str> {
    let differ = |pointer: &str| earlier.pointer(pointer) != now.pointer(pointer);
    keys.iter().filter(|(pointer, _)| differ(pointer)).map(|(_, name)| *name).collect()
}

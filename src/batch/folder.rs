//! A folder as the target of a batch. What stands there is not replaced by pages of another person, another eye, or, at
//! an unraised revision, of another content.

use std::path::PathBuf;

use serde_json::Value;

use super::{Fault, Refusal, Target};
use crate::facts::Moment;
use crate::files::write::{Locked, WriteError};
use crate::packet::{CaseError, Output, Packet, json};

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

/// The hash of the record: it changes with any value of it.
const HASH: &str = "record_hash";

/// The lists of the files of a packet.
const LISTS: [&str; 2] = ["documents", "calendars"];

impl Target for Folder<'_> {
    fn choose(&self, outputs: &mut Vec<Output>) {
        let any = outputs.iter().any(|output| (self.wanted)(*output));
        outputs.retain(|output| (self.wanted)(*output) || any && *output == Output::Data);
    }

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        if packets.iter().all(|(_, packet)| packet.files.is_empty()) {
            return Ok(());
        }
        let together = |error: WriteError| Fault { at: None, why: error.into() };
        let folder = Locked::wait(&self.path).map_err(together)?;
        let mut data = Vec::new();
        for (at, packet) in packets {
            data.extend(self::data(&folder, packet).map_err(|why| Fault { at: Some(*at), why })?);
        }
        let made = packets.iter().flat_map(|(_, packet)| &packet.files);
        let made = made.filter(|file| file.output != Output::Data).map(|file| (file.name.as_str(), &file.bytes[..]));
        let files: Vec<_> = made.chain(data.iter().map(|(name, text)| (*name, text.as_bytes()))).collect();
        folder.swap_in(&files).map_err(together)
    }
}

/// The data of a packet, under its name, with the pages that earlier runs made of the same record and that lie there still.
/// Refuses a packet whose place is taken by other pages.
fn data<'p>(folder: &Locked, packet: &'p Packet) -> Result<Option<(&'p str, String)>, Refusal> {
    let Some(data) = packet.files.iter().find(|file| file.output == Output::Data) else {
        return Ok(None);
    };
    let mut now = serde_json::from_slice(&data.bytes).map_err(|_| Taken::Unreadable(data.name.clone()))?;
    if let Some(other) = earlier(folder, &of_other_moment(&data.name))? {
        refuse(&of_other_moment(&data.name), &other, &now, false)?;
    }
    match earlier(folder, &data.name)? {
        Some(earlier) => {
            refuse(&data.name, &earlier, &now, true)?;
            keep(folder, &earlier, &mut now, &packet.not_made);
        }
        None => unclaimed(folder, packet)?,
    }
    Ok(Some((&data.name, json::text(&now).map_err(CaseError::from)?)))
}

/// Refuses to write beside or over the data of a packet that says something else.
fn refuse(file: &str, earlier: &Value, now: &Value, same_moment: bool) -> Result<(), Taken> {
    match difference(earlier, now, same_moment) {
        Some((differs, help)) => Err(Taken::Differs { file: file.to_owned(), differs, help }),
        None => Ok(()),
    }
}

/// Puts the files of an earlier run in front of those of this one: those it did not make anew, that lie there still, and that
/// are not withheld by now. What an earlier version of the program made without a hash may be of another content.
fn keep(folder: &Locked, earlier: &Value, now: &mut Value, withheld: &[String]) {
    if earlier.get(HASH) != now.get(HASH) {
        return;
    }
    for list in LISTS {
        if let (Some(earlier), Some(files)) = (earlier[list].as_array(), now[list].as_array_mut()) {
            keep_files(folder, earlier, files, withheld);
        }
    }
}

fn keep_files(folder: &Locked, earlier: &[Value], files: &mut Vec<Value>, withheld: &[String]) {
    let name = |page: &Value| page["file"].as_str().unwrap_or_default().to_owned();
    let made: Vec<String> = files.iter().map(name).collect();
    let stands = |page: &&Value| {
        let name = name(page);
        !made.contains(&name) && !withheld.contains(&name) && folder.has(&name)
    };
    files.splice(..0, earlier.iter().filter(stands).cloned());
}

const OTHERS: &str =
    "give each patient and each eye a code of its own, or raise case.revision if the record was corrected";
const RAISE: &str = "raise case.revision, so that the pages say what they replace";

/// What the record calls what differs between the data of two packets of one code and revision, and what to do. At another
/// moment the record may say more, but it is of the same eye.
fn difference(earlier: &Value, now: &Value, same_moment: bool) -> Option<(Vec<&'static str>, &'static str)> {
    let whose = differing(&WHOSE, earlier, now);
    if !whose.is_empty() {
        return Some((whose, OTHERS));
    }
    let mut content = differing(&CONTENT, earlier, now);
    // Data of an earlier version of the program has no hash.
    if content.is_empty() && earlier.get(HASH).is_some_and(|hash| Some(hash) != now.get(HASH)) {
        content.push("content");
    }
    (same_moment && !content.is_empty()).then_some((content, RAISE))
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

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn data() -> Value {
        json!({
            "case": "A-1", "eye": "right", "starts": "2026-08-07T10:00", "treatment": "2026-08-07T10:40",
            "language": "en-US", "print": "standard", "record_hash": "1",
            "patient": { "name": "Ana", "birth_date": "1951-06-14", "record_number": "1" },
        })
    }

    fn with(pointer: &str, value: Value) -> Value {
        let mut data = data();
        *data.pointer_mut(pointer).unwrap() = value;
        data
    }

    #[test]
    fn another_person_or_eye_differs_at_any_moment_another_content_at_the_same() {
        for (pointer, name) in WHOSE {
            for same_moment in [true, false] {
                let found = difference(&data(), &with(pointer, json!("other")), same_moment);
                assert_eq!(found, Some((vec![name], OTHERS)), "{pointer}");
            }
        }
        for (pointer, name) in CONTENT.into_iter().chain([("/record_hash", "content")]) {
            let other = with(pointer, json!("other"));
            assert_eq!(difference(&data(), &other, true), Some((vec![name], RAISE)), "{pointer}");
            assert_eq!(difference(&data(), &other, false), None, "{pointer}");
        }
        assert_eq!(difference(&data(), &data(), true), None);
    }

    #[test]
    fn data_that_says_nothing_is_of_somebody_else_and_data_without_a_hash_is_compared_without() {
        assert!(difference(&json!({}), &data(), true).is_some());
        let mut unhashed = data();
        unhashed.as_object_mut().unwrap().remove(HASH);
        assert_eq!(difference(&unhashed, &data(), true), None);
    }

    #[test]
    fn the_other_moment_has_the_name_of_its_own() {
        assert_eq!(of_other_moment("A-1-r1-before-packet.json"), "A-1-r1-after-packet.json");
        assert_eq!(of_other_moment("A-1-r1-after-packet.json"), "A-1-r1-before-packet.json");
    }
}

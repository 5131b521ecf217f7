//! The invented practice and its invented cases, which come with the program: from the samples to all their pages.

mod history;

use std::collections::BTreeMap;
use std::path::Path;

use chrono::{Days, NaiveDateTime};
use chrono_tz::Tz;

use crate::assets::{Assets, LoadError, samples};
use crate::batch::{Fault, Outcome, Printer, Target, Watch};
use crate::diag::SourceFile;
use crate::facts::{Moment, hours};
use crate::files::write::{Locked, WriteError};
use crate::packet::{Form, Output, Packet};
use crate::practice::{Checked, Files, Practice, PracticeError};
use crate::record::Record;

pub use history::{Treated, history};

/// The invented cases with their files.
#[derive(Debug)]
pub struct Demo {
    sources: BTreeMap<String, String>,
    records: Vec<(String, Checked<Record>)>,
}

impl Demo {
    /// Reads the samples.
    ///
    /// # Errors
    /// A sample that is refused.
    pub fn read() -> Result<Self, PracticeError> {
        let sources = samples();
        let practice = practice(&sources)?;
        Ok(Self { records: records(&practice, &sources)?, sources })
    }

    /// The packets it is made of: the name of the folder, the record, the moment.
    #[must_use]
    pub fn packets(&self) -> Vec<(&str, &Checked<Record>, Moment)> {
        let rows = self.records.iter().map(|(name, record)| (name.as_str(), record));
        rows.flat_map(|(name, record)| moments(record).into_iter().map(move |at| (name, record, at))).collect()
    }

    /// Writes samples and pages, in these forms, into a folder, each case into its own within it, and says what became of
    /// each packet. The bytes are the same every time, so the dates of issue are fixed; what lies there is replaced.
    ///
    /// # Errors
    /// A sample that cannot be written.
    pub fn write(&self, folder: &Path, forms: &[Form], watch: Watch) -> Result<Vec<Outcome>, WriteError> {
        for (path, text) in &self.sources {
            let (inner, name) = path.rsplit_once('/').unwrap_or(("", path));
            Locked::wait(&folder.join(inner))?.swap_in(&[(name, text.as_bytes())])?;
        }
        let packets = self.packets();
        let printer = Printer { forms, issued: &issued, issued_anyway: false };
        let read = |at: usize| Ok((packets[at].1.clone(), packets[at].2));
        let target = Folders { top: folder, names: packets.iter().map(|(name, ..)| *name).collect() };
        Ok(printer.print(packets.len(), &read, &target, watch))
    }

    /// How many samples there are beside the pages.
    #[must_use]
    pub fn samples(&self) -> usize {
        self.sources.len()
    }
}

/// A folder for each case.
struct Folders<'a> {
    top: &'a Path,
    names: Vec<&'a str>,
}

impl Target for Folders<'_> {
    /// All of them: the demo shows every paper too.
    fn choose(&self, _: &mut Vec<Output>) {}

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        packets.iter().try_for_each(|(at, packet)| {
            let files: Vec<_> = packet.files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect();
            let folder = Locked::wait(&self.top.join(self.names[*at]));
            let put = folder.and_then(|folder| folder.swap_in(&files));
            put.map_err(|error| Fault { at: Some(*at), why: error.into() })
        })
    }
}

/// The moments a case is shown at: before for every case; after where the record holds the treatment.
#[must_use]
pub fn moments(record: &Record) -> Vec<Moment> {
    match record.treatment {
        Some(_) => vec![Moment::Before, Moment::After],
        None => vec![Moment::Before],
    }
}

/// Where the invented practice is.
const ZONE: Tz = chrono_tz::America::New_York;

/// Consent pages are issued three days before the treatment, aftercare when the patient leaves. UTC.
#[must_use]
pub fn issued(record: &Record, moment: Moment) -> NaiveDateTime {
    let start = record.plan.start.0;
    match (moment, &record.treatment) {
        (Moment::After, Some(done)) => hours::instant(ZONE, done.leaves.0).naive_utc(),
        _ => start.checked_sub_days(Days::new(3)).unwrap_or(start),
    }
}

/// The invented practice, from the files of [`crate::assets::samples`].
///
/// # Errors
/// What is wrong with its profile.
pub fn practice(samples: &BTreeMap<String, String>) -> Result<Practice, PracticeError> {
    let file = file(samples, "practice/profile.toml")?;
    Practice::assemble(Checked::read(&file, Files::of(Assets::default())?)?)
}

/// The invented cases by folder, from the files of [`crate::assets::samples`], checked for a practice.
///
/// # Errors
/// What is wrong with one of them.
pub fn records(
    practice: &Practice,
    samples: &BTreeMap<String, String>,
) -> Result<Vec<(String, Checked<Record>)>, PracticeError> {
    let cases = samples.keys().filter_map(|path| path.strip_suffix("/case.toml"));
    let checked = |name: &str| {
        let file = file(samples, &format!("{name}/case.toml"))?;
        Ok((name.to_owned(), Checked::read(&file, practice.clone())?))
    };
    cases.map(checked).collect()
}

fn file(samples: &BTreeMap<String, String>, path: &str) -> Result<SourceFile, PracticeError> {
    let text = samples.get(path).ok_or_else(|| LoadError::no_file(path, "it comes with the program"))?;
    Ok(SourceFile { name: path.to_owned(), text: text.clone() })
}

//! Whether a file is what a register issued: whole, with something appended, changed, or unknown to it; and which version
//! replaced it.
//!
//! What is asked is a file from anywhere: it is read with limits, and nothing in it is believed but its hash.

mod carried;
mod pdf;
mod update;

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use crate::document::source::Source;
use crate::document::{Document, changes, reading};
use crate::packet::version::Version;
use crate::record::hash::hexadecimal;
use crate::register::{Issued, Register, RegisterError};
use crate::review::verify::{Appended, Claims, IssuedAs, Replaced, Verdict, Verification};

pub use carried::Carried;
pub use pdf::{LARGEST, Refused};

/// Most places at which a file is looked at as if it had ended there.
const MOST_ENDS: usize = 64;

/// How a PDF ends, each time something was appended to it.
const END: &[u8] = b"%%EOF";

/// A file to be verified, read.
#[derive(Debug)]
pub struct Received {
    bytes: Vec<u8>,
    /// SHA-256 of its beginning up to each place where it may have ended before, the whole last.
    ends: Vec<(usize, String)>,
    pdf: Result<lopdf::Document, Refused>,
}

impl Received {
    /// Reads a file. What is no PDF may still be known by its bytes.
    ///
    /// # Errors
    /// A file that is larger than any that is issued.
    pub fn read(bytes: Vec<u8>) -> Result<Self, Refused> {
        if bytes.len() > LARGEST {
            return Err(Refused::TooLarge);
        }
        Ok(Self { ends: ends(&bytes), pdf: pdf::load(&bytes), bytes })
    }

    fn sha256(&self) -> &str {
        self.ends.last().map_or("", |(_, hash)| hash)
    }
}

/// The places where a file may have ended, with the hash of what is in front of each: after each mark of an end, with and
/// without the end of its line.
fn ends(bytes: &[u8]) -> Vec<(usize, String)> {
    let marks = bytes.windows(END.len()).enumerate().filter(|(_, window)| *window == END).map(|(at, _)| at + END.len());
    let mut places: Vec<usize> = marks
        .take(MOST_ENDS)
        .flat_map(|end| {
            let line = bytes[end..].iter().take(2).take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
            end..=end + line
        })
        .chain([bytes.len()])
        .collect();
    places.dedup();
    let (mut hash, mut from) = (Sha256::new(), 0);
    let hashed = places.into_iter().map(|place| {
        hash.update(&bytes[from..place]);
        from = place;
        (place, hexadecimal(&hash.clone().finalize()))
    });
    hashed.collect()
}

/// What a register knows of a file; without one, what the file says of itself.
///
/// # Errors
/// A file that is no PDF and that the register does not know, or a register that does not answer.
pub fn verify(file: &Received, register: Option<&Register>) -> Result<Verification, VerifyError> {
    let known = register.map(|register| known(file, register)).transpose()?.flatten();
    if let (Some(register), Some((issued, place, length))) = (register, known) {
        return found(file, register, &issued, place, length);
    }
    let pdf = file.pdf.as_ref().map_err(|why| *why)?;
    let carried = Carried::of(pdf).ok();
    let mut verification = Verification {
        version: Version,
        verdict: match (&carried, register) {
            (None, _) => Verdict::NotOurs,
            (_, None) => Verdict::NotAsked,
            (_, Some(_)) => Verdict::Unknown,
        },
        sha256: file.sha256().to_owned(),
        claims: carried.as_ref().map(claims),
        issued: None,
        appended: None,
        altered: None,
        replaced: None,
    };
    if let (Some(register), Some(carried)) = (register, &carried)
        && let Some((issued, place)) = claimed(register, &carried.source.document)?
    {
        let own = issued_page(register, &issued, place)?;
        verification.verdict = Verdict::Changed;
        verification.altered = own.map(|own| differences(&own.source, &carried.source));
        verification.replaced = replaced(register, &issued, place, Some(&carried.source))?;
        verification.issued = Some(as_what(&issued, place));
    }
    Ok(verification)
}

/// Why a file is not verified.
#[derive(Debug, thiserror::Error)]
pub enum VerifyError {
    /// It cannot be read.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// The register does not answer.
    #[error(transparent)]
    Register(#[from] RegisterError),
}

/// What was issued with the bytes of a file or of its beginning: the issue, the place of the file in it, and how many bytes.
fn known(file: &Received, register: &Register) -> Result<Option<(Issued, usize, usize)>, VerifyError> {
    let lengths: BTreeMap<&str, usize> = file.ends.iter().map(|(length, hash)| (hash.as_str(), *length)).collect();
    let found = register.issued_with(|_, file| lengths.contains_key(file.sha256.as_str()))?;
    Ok(found.map(|(issued, place)| {
        let length = lengths[issued.files[place].sha256.as_str()];
        (issued, place, length)
    }))
}

/// A file that begins with what was issued.
fn found(
    file: &Received,
    register: &Register,
    issued: &Issued,
    place: usize,
    length: usize,
) -> Result<Verification, VerifyError> {
    let carried = issued_page(register, issued, place)?;
    let appended = file.bytes.len() - length;
    let appended = (appended > 0).then(|| {
        let (redraws, over_pages) = match (pdf::load(&file.bytes[..length]), &file.pdf) {
            (Ok(before), Ok(after)) => (update::redraws(&before, after), update::over_pages(&before, after)),
            _ => (true, 0),
        };
        Appended { bytes: appended, redraws, over_pages }
    });
    Ok(Verification {
        version: Version,
        verdict: if appended.is_some() { Verdict::Appended } else { Verdict::Whole },
        sha256: file.sha256().to_owned(),
        claims: carried.as_ref().map(claims),
        issued: Some(as_what(issued, place)),
        appended,
        altered: None,
        replaced: replaced(register, issued, place, carried.as_ref().map(|carried| &carried.source))?,
    })
}

fn claims(carried: &Carried) -> Claims {
    let Source { program, document } = &carried.source;
    Claims {
        id: document.id.clone(),
        revision: document.revision,
        language: document.language.clone(),
        program: program.clone(),
        code: carried.source.says(&carried.fingerprint),
    }
}

fn as_what(issued: &Issued, place: usize) -> IssuedAs {
    IssuedAs {
        file: issued.files[place].name.clone(),
        moment: issued.issue.moment,
        revision: issued.issue.revision,
        at: issued.issue.at.and_utc(),
        by: issued.issue.by.clone(),
    }
}

/// What goes along in a file that was issued; none where it is no PDF or was made before anything went along.
fn issued_page(register: &Register, issued: &Issued, place: usize) -> Result<Option<Carried>, RegisterError> {
    let file = register.issued_file(issued.id, place)?;
    Ok(file.and_then(|(_, bytes)| Carried::of(&pdf::load(&bytes).ok()?).ok()))
}

/// What was issued under the id and version that a document claims.
fn claimed(register: &Register, document: &Document) -> Result<Option<(Issued, usize)>, RegisterError> {
    let name = format!("{}{}.pdf", document.id, if document.second { "-clinic" } else { "" });
    register.issued_with(|issued, file| {
        issued.issue.revision == document.revision && unversioned(&file.name, document.revision) == name
    })
}

/// The name of a file without the version in it: that of the next version is the same.
fn unversioned(name: &str, revision: u32) -> String {
    name.replacen(&format!("-r{revision}-"), "-", 1)
}

/// The newest version of the same page set, if there is a newer one.
fn replaced(
    register: &Register,
    issued: &Issued,
    place: usize,
    source: Option<&Source>,
) -> Result<Option<Replaced>, RegisterError> {
    let name = unversioned(&issued.files[place].name, issued.issue.revision);
    let newer = register.issued_with(|other, file| {
        other.issue.case == issued.issue.case
            && other.issue.moment == issued.issue.moment
            && other.issue.revision > issued.issue.revision
            && unversioned(&file.name, other.issue.revision) == name
    })?;
    let Some((newer, at)) = newer else { return Ok(None) };
    let page = issued_page(register, &newer, at)?;
    let changes = source.zip(page.as_ref()).map(|(old, new)| differences(old, &new.source));
    Ok(Some(Replaced { by: as_what(&newer, at), changes }))
}

fn differences(old: &Source, new: &Source) -> Vec<changes::Change> {
    changes::between(&reading::read(&old.document), &reading::read(&new.document))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_may_have_ended_at_each_mark_with_and_without_the_end_of_its_line() {
        let places = |text: &str| ends(text.as_bytes()).into_iter().map(|(place, _)| place).collect::<Vec<_>>();
        assert_eq!(places("a%%EOF"), [6]);
        assert_eq!(places("a%%EOF\r\nb%%EOF\n"), [6, 7, 8, 14, 15]);
        assert_eq!(places("none"), [4]);
        assert_eq!(ends(b"a%%EOFb")[0].1, crate::register::sha256(b"a%%EOF"));
    }

    #[test]
    fn no_more_than_so_many_ends_are_looked_at() {
        assert_eq!(ends("%%EOF".repeat(MOST_ENDS + 9).as_bytes()).len(), MOST_ENDS + 1);
    }

    #[test]
    fn the_name_of_the_next_version_differs_in_the_version_alone() {
        assert_eq!(unversioned("EX-01-r2-before-consent.pdf", 2), "EX-01-before-consent.pdf");
        assert_eq!(unversioned("A-r1_B-both-eyes.pdf", 2), "A-r1_B-both-eyes.pdf");
    }

    #[test]
    fn a_file_that_is_too_large_is_refused() {
        assert!(Received::read(vec![0; LARGEST]).is_ok());
        assert_eq!(Received::read(vec![0; LARGEST + 1]).map(|_| ()), Err(Refused::TooLarge));
    }
}

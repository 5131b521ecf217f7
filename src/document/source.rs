//! What a patient's page set was made from, as it goes along in its PDF: the document that its layout received and nothing
//! else of the record, as canonical JSON (RFC 8785), with the hash that names it.

use std::fmt;

use qrcode::EcLevel;
use serde::Deserialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::code;

/// Name of the file that goes along in a PDF.
pub const NAME: &str = "vitreoleaf-page.json";

/// Version of its format. It is raised when a key goes away or means something else.
const VERSION: u32 = 1;

/// Octets of SHA-256 that name it: 160 bits, so that the code on the page stays small.
const OCTETS: usize = 20;

/// Why what goes along in a file cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SourceError {
    /// It is another version of the format.
    #[error("it was made by another version of this program")]
    Version,
    /// It is no page set.
    #[error("it is no page set of this program")]
    Form,
}

/// The first 160 bits of SHA-256 of the canonical JSON, in capital hexadecimal digits, which make a small code.
///
/// ```
/// use vitreoleaf::document::source::Fingerprint;
///
/// let of = Fingerprint::of(b"abc"); // the example of FIPS 180-2, B.1
/// assert_eq!(of.to_string(), "BA7816BF8F01CFEA414140DE5DAE2223B00361A3");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fingerprint(String);

impl Fingerprint {
    /// That of some canonical JSON.
    #[must_use]
    pub fn of(canonical: &[u8]) -> Self {
        Self(Sha256::digest(canonical).iter().take(OCTETS).map(|byte| format!("{byte:02X}")).collect())
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A page set that was read back from a file.
#[derive(Debug, Clone, Deserialize)]
pub struct Source {
    /// Version of the program that made it.
    pub program: String,
    /// What its layout received.
    pub document: super::Document,
}

#[derive(Deserialize)]
struct Head {
    version: u32,
}

impl Source {
    /// Reads what goes along in a file.
    ///
    /// # Errors
    /// Another version of the format, or anything else.
    pub fn read(bytes: &[u8]) -> Result<Self, SourceError> {
        let value: Value = serde_json::from_slice(bytes).map_err(|_| SourceError::Form)?;
        let head = Head::deserialize(&value).map_err(|_| SourceError::Form)?;
        if head.version != VERSION {
            return Err(SourceError::Version);
        }
        Self::deserialize(value).map_err(|_| SourceError::Form)
    }

    /// What the code on its first page says.
    #[must_use]
    pub fn says(&self, fingerprint: &Fingerprint) -> String {
        says(&self.document.id, self.document.revision, fingerprint)
    }
}

/// The data of a page set as they go along in its PDF.
#[must_use]
pub fn written(data: &Value) -> String {
    let source = json!({ "version": VERSION, "program": env!("CARGO_PKG_VERSION"), "document": data });
    serde_json_canonicalizer::to_string(&source).expect("a value of JSON has a canonical form")
}

fn says(id: &str, revision: u32, fingerprint: &Fingerprint) -> String {
    format!("{id} r{revision} {fingerprint}")
}

/// Side and outline of the code on the first page: document id, revision and fingerprint. None for an id that no code holds.
#[must_use]
pub fn drawn(document: &super::Document, fingerprint: &Fingerprint) -> Option<(usize, String)> {
    code::drawn(&says(&document.id, document.revision, fingerprint), EcLevel::M)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_page_set_is_refused_with_its_reason() {
        let written = |text: &str| Source::read(text.as_bytes()).map(|_| ()).unwrap_err();
        assert_eq!(written("{"), SourceError::Form);
        assert_eq!(written("[]"), SourceError::Form);
        assert_eq!(written(r#"{"document":{},"program":"1","version":2}"#), SourceError::Version);
        assert_eq!(written(r#"{"document":{},"program":"1","version":1}"#), SourceError::Form);
    }

    /// The longest id there can be, of a calendar for both eyes, still has a code of 45 modules, 0.22 mm each.
    #[test]
    fn the_code_stays_small() {
        let fingerprint = Fingerprint::of(b"");
        let side = |id: &str| code::drawn(&says(id, 1, &fingerprint), EcLevel::M).map(|(side, _)| side);
        assert_eq!(side("EX-01-before-consent"), Some(33));
        let code = "A".repeat(32);
        assert!(side(&format!("{code}_{code}-both-eyes")).is_some_and(|side| side <= 45));
    }
}

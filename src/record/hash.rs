//! What tells one content of a record from another.

use sha2::{Digest, Sha256};

use super::Record;

impl Record {
    /// The record in its one canonical form: JSON by RFC 8785 with every key there is. What was left out stands there as
    /// unknown, so that order, comments, TOML or JSON make no difference.
    ///
    /// # Errors
    /// A number that JSON cannot hold; a record that was loaded has none.
    pub fn canonical(&self) -> Result<Vec<u8>, serde_json::Error> {
        serde_json_canonicalizer::to_vec(self)
    }

    /// SHA-256 of the canonical form, hexadecimal. It is that of the values as this version of the program reads them: a
    /// version that knows further keys has another hash for the same file.
    ///
    /// # Errors
    /// As [`Record::canonical`].
    pub fn hash(&self) -> Result<String, serde_json::Error> {
        let hash = Sha256::digest(self.canonical()?);
        Ok(hash.iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

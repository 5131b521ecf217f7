//! Hashes as they are kept.

use sha2::{Digest, Sha256};

use crate::record::hash::hexadecimal;

/// SHA-256 of some bytes, hexadecimal.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    sha256_of(&[bytes])
}

/// SHA-256 of parts that follow each other, hexadecimal.
pub(super) fn sha256_of(parts: &[&[u8]]) -> String {
    let hash = parts.iter().fold(Sha256::new(), |hash, part| hash.chain_update(part)).finalize();
    hexadecimal(&hash)
}

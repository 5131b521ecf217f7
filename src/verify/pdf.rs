//! A PDF from anywhere, opened with limits.

use lopdf::{Document, LoadOptions};

/// Largest file that is looked at, bytes: a page set holds some hundred thousand, with a signature somewhat more.
pub const LARGEST: usize = 8 << 20;

/// Largest stream of it once unpacked, bytes.
pub(super) const LARGEST_STREAM: usize = 16 << 20;

/// Most of its first bytes in which it must call itself a PDF (ISO 32000-1, annex H).
const HEAD: usize = 1024;

/// Why a file is not looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// It is larger than any that is issued.
    #[error("the file is larger than {} MB: choose one that this program made", LARGEST >> 20)]
    TooLarge,
    /// It is no PDF, or damaged so that it cannot be read.
    #[error(
        "the file cannot be read as PDF, or a part of it is missing: choose one that this program made, as it was kept"
    )]
    NotPdf,
}

/// Opens a PDF.
///
/// # Errors
/// What is none, or is encrypted: nothing is issued so.
pub(super) fn load(bytes: &[u8]) -> Result<Document, Refused> {
    let head = &bytes[..bytes.len().min(HEAD)];
    if !head.windows(5).any(|window| window == b"%PDF-") {
        return Err(Refused::NotPdf);
    }
    let options = LoadOptions::with_max_decompressed_size(LARGEST_STREAM);
    let document = Document::load_mem_with_options(bytes, options).map_err(|_| Refused::NotPdf)?;
    if document.trailer.has(b"Encrypt") || document.catalog().is_err() { Err(Refused::NotPdf) } else { Ok(document) }
}

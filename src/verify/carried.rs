//! What goes along in a PDF, found by the tree of names of its embedded files (ISO 32000-1, 7.7.4 and 7.11.4).

use lopdf::{Dictionary, Document, Object};

use super::pdf::LARGEST_STREAM;
use crate::document::source::{Fingerprint, NAME, Source, SourceError};

/// Deepest tree of names, and most names, that are looked through; ours holds one name.
const DEEPEST: usize = 8;
const MOST: usize = 64;

/// The page set that goes along in a file.
#[derive(Debug)]
pub struct Carried {
    /// What its layout received.
    pub source: Source,
    /// The hash that its code must name.
    pub fingerprint: Fingerprint,
}

impl Carried {
    /// Reads what goes along in a PDF.
    ///
    /// # Errors
    /// Nothing goes along, or it cannot be read.
    pub fn of(pdf: &Document) -> Result<Self, SourceError> {
        let bytes = file(pdf, NAME).ok_or(SourceError::Form)?;
        Ok(Self { source: Source::read(&bytes)?, fingerprint: Fingerprint::of(&bytes) })
    }
}

/// An embedded file by its name.
fn file(pdf: &Document, name: &str) -> Option<Vec<u8>> {
    let names = dictionary(pdf, pdf.catalog().ok()?, b"Names")?;
    let tree = dictionary(pdf, names, b"EmbeddedFiles")?;
    let described = find(pdf, tree, name.as_bytes(), DEEPEST, &mut { MOST })?;
    let embedded = dictionary(pdf, described, b"EF")?;
    let stream = embedded.get_deref(b"F", pdf).ok()?.as_stream().ok()?;
    stream.get_plain_content_with_limit(LARGEST_STREAM).ok()
}

fn dictionary<'a>(pdf: &'a Document, within: &'a Dictionary, key: &[u8]) -> Option<&'a Dictionary> {
    within.get_deref(key, pdf).ok()?.as_dict().ok()
}

fn find<'a>(
    pdf: &'a Document,
    node: &'a Dictionary,
    name: &[u8],
    depth: usize,
    left: &mut usize,
) -> Option<&'a Dictionary> {
    let array = |key: &[u8]| node.get_deref(key, pdf).ok().and_then(|array| array.as_array().ok());
    for pair in array(b"Names").into_iter().flat_map(|names| names.chunks_exact(2)) {
        *left = left.checked_sub(1)?;
        if pair[0].as_str().is_ok_and(|found| found == name) {
            return followed(pdf, &pair[1]);
        }
    }
    let kids = array(b"Kids").filter(|_| depth > 0)?;
    for kid in kids {
        *left = left.checked_sub(1)?;
        let found = followed(pdf, kid).and_then(|kid| find(pdf, kid, name, depth - 1, left));
        if found.is_some() {
            return found;
        }
    }
    None
}

fn followed<'a>(pdf: &'a Document, object: &'a Object) -> Option<&'a Dictionary> {
    pdf.dereference(object).ok()?.1.as_dict().ok()
}

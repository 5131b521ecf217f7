//! The seal of a patient's page set: the data it is made from go along in its PDF, and a code on its first page names their
//! hash. A hash of the data cannot vouch for what the page shows; the register keeps that of the file too.

use serde_json::{Value, json};

use crate::document::Document;
use crate::document::source::{self, Fingerprint, NAME};

/// Adds to the data of a page set, as they are to be laid out, what goes along in its file and the outline of its code.
pub(super) fn add(document: &Document, data: &mut Value) {
    let Some(seal) = &document.seal else { return };
    let written = source::written(data);
    // The code of a case has a greatest length, so a code always holds its id: this is for documents made elsewhere.
    let drawn = source::drawn(document, &Fingerprint::of(written.as_bytes()));
    data["seal"] = drawn.map_or(Value::Null, |(side, path)| {
        json!({ "alt": seal.alt, "file": seal.file, "name": NAME, "json": written, "side": side, "path": path })
    });
}

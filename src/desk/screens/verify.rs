//! A file that somebody brings back: whether it is what was issued here.

use serde::Serialize;
use serde_json::json;

use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::document::changes::Change;
use crate::review::verify::{IssuedAs, Verification};
use crate::verify::{LARGEST, Received, Refused, VerifyError, verify};

/// What was issued, as the page tells it.
#[derive(Debug, Serialize)]
struct Issued {
    file: String,
    revision: u32,
    when: String,
    by: String,
}

/// The page before a file is chosen.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who) -> Result<Answer, DeskError> {
    page(room, cookie, who, None, None)
}

/// What was found out about a file.
pub(in crate::desk) fn found(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    read: Result<Received, Refused>,
) -> Result<Answer, DeskError> {
    match read.map_err(VerifyError::from).and_then(|file| verify(&file, Some(&room.register))) {
        Ok(found) => page(room, cookie, who, Some(found), None),
        Err(VerifyError::Refused(why)) => page(room, cookie, who, None, Some(why)),
        Err(VerifyError::Register(error)) => Err(error.into()),
    }
}

fn page(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    found: Option<Verification>,
    refused: Option<Refused>,
) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "practice")?;
    let refused = refused.map(|why| match why {
        Refused::TooLarge => "too_large",
        Refused::NotPdf => "not_pdf",
    });
    let shown = json!({
        "frame": frame,
        "largest": LARGEST >> 20,
        "refused": refused,
        "found": found.map(|found| view(room, found)).transpose()?,
    });
    room.page("verify", shown)
}

fn view(room: &Room, found: Verification) -> Result<serde_json::Value, DeskError> {
    let replaced = found.replaced.as_ref();
    let changes: Option<&Vec<Change>> = replaced.and_then(|replaced| replaced.changes.as_ref());
    Ok(json!({
        "verdict": found.verdict,
        "holds": found.holds(),
        "claims": found.claims,
        "sha256": found.sha256,
        "appended": found.appended,
        "altered": found.altered,
        "issued": found.issued.as_ref().map(|issued| issued_as(room, issued)).transpose()?,
        "replaced": replaced.map(|replaced| issued_as(room, &replaced.by)).transpose()?,
        "changes": changes,
    }))
}

fn issued_as(room: &Room, issued: &IssuedAs) -> Result<Issued, DeskError> {
    Ok(Issued {
        file: issued.file.clone(),
        revision: issued.revision,
        when: room.words.moment(room.local(issued.at.naive_utc()))?,
        by: issued.by.clone(),
    })
}

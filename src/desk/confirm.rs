//! The practice is confirmed at the desk: by a surgeon, with the passphrase, who is told what changed since the last time.

use std::collections::BTreeMap;

use super::error::DeskError;
use super::gate::Who;
use super::room::Room;
use super::sign::not_their_passphrase;
use crate::files::read;
use crate::files::write::Locked;
use crate::practice::{self, Confirmed, with_confirmation};
use crate::record::date::Date;
use crate::review;
use crate::review::practice::Changed;

/// Under which name the register remembers what was confirmed last, word by word.
const COVERED: &str = "confirmed";

/// The profile of a practice.
const PROFILE: &str = "profile.toml";

/// What changed since it was confirmed at a desk with this register; nothing if that never was.
pub(super) fn changed(room: &Room) -> Result<Option<Vec<Changed>>, DeskError> {
    if room.practice.confirmed() == Confirmed::Current {
        return Ok(None);
    }
    let Some(before) = room.register.setting(COVERED)? else { return Ok(None) };
    let before: BTreeMap<String, String> = serde_json::from_str(&before).unwrap_or_default();
    Ok(Some(review::practice::changed(&before, &review::practice::covered(&room.practice))))
}

/// Confirms the clinical values as they stand. A sentence if they are not confirmed.
pub(super) fn confirm(room: &mut Room, who: &Who, passphrase: &str) -> Result<Option<String>, DeskError> {
    let Some(folder) = room.folder.clone() else {
        return Ok(Some(room.words.word("profile.example")?));
    };
    if let Some(says) = not_their_passphrase(room, who, passphrase)? {
        return Ok(Some(says));
    }
    // What is confirmed is what lies in the folder now.
    let stands = practice::open(&folder)?;
    if stands.clinical_hash() != room.practice.clinical_hash() {
        room.take_over(stands)?;
        return Ok(Some(room.words.word("profile.changed_now")?));
    }
    let text = read::source(&folder.join(PROFILE)).map_err(practice::PracticeError::from)?.text;
    let confirmed = with_confirmation(&text, &who.name, Date(room.today()), stands.clinical_hash());
    Locked::wait(&folder)?.swap_in(&[(PROFILE, confirmed.as_bytes())])?;
    let covered = serde_json::to_string(&review::practice::covered(&stands)).unwrap_or_default();
    room.register.set(COVERED, &covered)?;
    room.take_over(practice::open(&folder)?)?;
    Ok(None)
}

//! The ledger: what is kept for good, each row bound to the one before it.
//!
//! A row holds a commitment, SHA-256 of a salt and what is kept, and its hash, SHA-256 of these lines without a last line
//! end: the hash before (64 zeros at first), number, kind, case, what it is part of (both empty if there is none), time,
//! commitment. Whoever holds the hash of the last row, the head, holds an anchor for every row before it. Salt and what is
//! kept can be erased and leave the chain whole; without the salt a guess at what was kept proves nothing.

use chrono::NaiveDateTime;

use super::database::{Database, Value, row, values};
use super::hash::{sha256, sha256_of};
use super::{RegisterError, time};

/// Number of a row of the ledger, from 1 without a gap.
pub type Number = i64;

/// Hash before the first row.
pub(super) const BEGINNING: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// Something to be kept for good.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry<'a> {
    /// What it is, in one word.
    pub(super) kind: &'a str,
    /// Of which case.
    pub(super) case: Option<i64>,
    /// Of which earlier row it is a part.
    pub(super) part_of: Option<Number>,
    /// When, UTC.
    pub(super) at: NaiveDateTime,
    /// What is kept.
    pub(super) body: &'a [u8],
}

/// A row as the chain sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Link {
    pub(super) number: Number,
    pub(super) kind: String,
    pub(super) case: Option<i64>,
    pub(super) part_of: Option<Number>,
    pub(super) at: String,
    pub(super) commitment: String,
}

impl Link {
    /// Its hash after that of the row before.
    pub(super) fn hash(&self, before: &str) -> String {
        let or_nothing = |number: Option<i64>| number.map(|number| number.to_string()).unwrap_or_default();
        let lines = [
            before,
            &self.number.to_string(),
            &self.kind,
            &or_nothing(self.case),
            &or_nothing(self.part_of),
            &self.at,
            &self.commitment,
        ];
        sha256(lines.join("\n").as_bytes())
    }
}

/// What the ledger says of something without saying it.
pub(super) fn commitment(salt: &[u8], body: &[u8]) -> String {
    sha256_of(&[salt, body])
}

/// Adds a row within a change that is open.
pub(super) fn append(database: &dyn Database, entry: Entry) -> Result<Number, RegisterError> {
    let last = row(database, "SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1", &[])?;
    let (last, before) = match last {
        Some([number, hash]) => (number.number()?, hash.text()?),
        None => (0, BEGINNING.to_owned()),
    };
    let mut salt = [0; 32];
    getrandom::fill(&mut salt).map_err(|_| RegisterError::NoRandom)?;
    let link = Link {
        number: last + 1,
        kind: entry.kind.to_owned(),
        case: entry.case,
        part_of: entry.part_of,
        at: time::text(entry.at),
        commitment: commitment(&salt, entry.body),
    };
    let hash = link.hash(&before);
    database.rows(
        "INSERT INTO ledger (number, kind, case_id, part_of, at, commitment, hash) VALUES ($1, $2, $3, $4, $5, $6, $7)",
        &values![link.number, link.kind, link.case, link.part_of, link.at, link.commitment, hash],
    )?;
    let payload = values![link.number, &salt[..], entry.body];
    database.rows("INSERT INTO payload (number, salt, body) VALUES ($1, $2, $3)", &payload)?;
    Ok(link.number)
}

/// A row as the chain sees it, from its columns.
pub(super) fn link([number, kind, case, part_of, at, commitment]: [Value; 6]) -> Result<Link, RegisterError> {
    Ok(Link {
        number: number.number()?,
        kind: kind.text()?,
        case: case.maybe(Value::number)?,
        part_of: part_of.maybe(Value::number)?,
        at: at.text()?,
        commitment: commitment.text()?,
    })
}

/// What is kept, as canonical JSON (RFC 8785).
pub(super) fn json(kept: &impl serde::Serialize) -> Result<Vec<u8>, RegisterError> {
    serde_json_canonicalizer::to_vec(kept).map_err(|error| unreadable(&error))
}

/// Reads what was kept as JSON.
pub(super) fn read<T: serde::de::DeserializeOwned>(body: &[u8]) -> Result<T, RegisterError> {
    serde_json::from_slice(body).map_err(|error| unreadable(&error))
}

/// A message of serde quotes what it read; only its place is told.
pub(super) fn unreadable(error: &serde_json::Error) -> RegisterError {
    RegisterError::Unreadable(format!("line {}, column {}", error.line(), error.column()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link() -> Link {
        Link {
            number: 1,
            kind: "issue".into(),
            case: Some(7),
            part_of: None,
            at: "2026-08-07T14:00:00".into(),
            commitment: commitment(b"salt", b"body"),
        }
    }

    #[test]
    fn the_hash_is_that_of_the_lines_as_they_are_documented() {
        let lines = format!("{BEGINNING}\n1\nissue\n7\n\n2026-08-07T14:00:00\n{}", sha256(b"saltbody"));
        assert_eq!(link().hash(BEGINNING), sha256(lines.as_bytes()));
    }

    #[test]
    fn every_value_of_a_row_changes_its_hash() {
        let hash = link().hash(BEGINNING);
        let others = [
            Link { number: 2, ..link() },
            Link { kind: "file".into(), ..link() },
            Link { case: None, ..link() },
            Link { case: None, part_of: Some(7), ..link() },
            Link { at: "2026-08-07T14:00:01".into(), ..link() },
            Link { commitment: commitment(b"salt", b"bodY"), ..link() },
        ];
        for other in others {
            assert_ne!(other.hash(BEGINNING), hash, "{other:?}");
        }
        assert_ne!(link().hash(&hash), hash);
    }
}

//! The numbers a text prints: functions over the evidence, and the ledger of what they printed.

use std::sync::{Mutex, MutexGuard, PoisonError};

use minijinja::value::Object;

use super::error::{ComposeError, EvidenceError};
use super::evidence::{Evidence, Share};
use super::locale::Locale;

/// A number of the evidence as a text printed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Number {
    /// Id of the evidence entry.
    pub evidence: String,
    /// The function of the text: `about`, `rest`, `upper`, `size`, `count` or `span`.
    pub function: &'static str,
    /// What was printed.
    pub text: String,
    /// What it was counted in: 100 or 1,000; none for a size, a count or a span.
    pub of: Option<u32>,
}

/// The numbers printed since it was last emptied, and what they are counted in where one table holds several. It travels
/// with the values of one case, so that all cases share the texts.
#[derive(Debug, Default)]
pub(super) struct Ledger(Mutex<Entries>);

#[derive(Debug, Default)]
struct Entries {
    used: Vec<Number>,
    of: Option<u32>,
}

impl Object for Ledger {}

impl Ledger {
    /// The numbers printed since the last call.
    pub(super) fn take(&self) -> Vec<Number> {
        std::mem::take(&mut self.open().used)
    }

    /// From now on counts all shares in so many; none: each in 100, or in 1,000 below one in a hundred.
    pub(super) fn count_in(&self, of: Option<u32>) {
        self.open().of = of;
    }

    /// Prints a number of an entry and writes it down.
    pub(super) fn print(
        &self,
        (function, print): (&'static str, Print),
        locale: &Locale,
        id: String,
        entry: &Evidence,
    ) -> Result<String, ComposeError> {
        let mut entries = self.open();
        let (text, of) = print(locale, entry, entries.of)?;
        entries.used.push(Number { evidence: id, function, text: text.clone(), of });
        Ok(text)
    }

    /// A panic elsewhere leaves whole entries behind.
    fn open(&self) -> MutexGuard<'_, Entries> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The text of a number, and what it is counted in.
type Printed = Result<(String, Option<u32>), ComposeError>;

/// Prints a number of an entry, counted in so many where a table asks for it.
pub(super) type Print = fn(&Locale, &Evidence, Option<u32>) -> Printed;

/// The only ways a number of the evidence reaches a text.
pub(super) const NUMBERS: &[(&str, Print)] = &[
    ("about", |locale, entry, of| written_share(locale, "number.about", share(entry, of)?)),
    ("rest", |locale, entry, of| written_share(locale, "number.rest", share(entry, of)?.others())),
    ("upper", |locale, entry, of| written_share(locale, "number.up_to", entry.upper(of.unwrap_or(100))?)),
    ("size", |locale, entry, _| Ok((locale.number(f64::from(entry.size()?), 0), None))),
    ("count", |locale, entry, _| Ok((locale.number(f64::from(entry.count()?), 0), None))),
    ("span", |locale, entry, _| {
        let (amount, unit) = entry.span()?;
        Ok((locale.count(unit, amount)?, None))
    }),
];

/// The functions that name an evidence entry.
pub(super) fn functions() -> impl Iterator<Item = &'static str> {
    NUMBERS.iter().map(|(name, _)| *name).chain(["source"])
}

fn share(entry: &Evidence, of: Option<u32>) -> Result<Share, EvidenceError> {
    let proportion = entry.proportion()?;
    Ok(of.map_or_else(|| Share::of(proportion), |of| Share::out_of(proportion, of)))
}

fn written_share(locale: &Locale, key: &str, share: Share) -> Printed {
    let pattern = locale.word(key)?;
    let k = locale.number(f64::from(share.k), 0);
    let of = locale.number(f64::from(share.of), 0);
    // The three stay on one line.
    let pattern = pattern.replace("{k} ", "{k}\u{a0}").replace(" {of}", "\u{a0}{of}");
    Ok((pattern.replace("{k}", &k).replace("{of}", &of), Some(share.of)))
}

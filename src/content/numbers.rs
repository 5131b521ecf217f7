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
    /// The function of the text: `about`, `counted`, `rest`, `range`, `group`, `size`, `count` or `span`.
    pub function: &'static str,
    /// What was printed.
    pub text: String,
    /// What it was counted in: 100, 1,000 or 10,000; none for what is printed as it was counted, and for a span.
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

    /// From now on counts all shares in so many; none: each in 100, in 1,000 or in 10,000, as its size needs.
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
    ("about", |locale, entry, of| match entry.is_small() {
        true => counted(locale, entry),
        false => written_share(locale, "number.about", entry, share(entry, of)?),
    }),
    ("counted", |locale, entry, _| counted(locale, entry)),
    ("rest", |locale, entry, of| match entry.is_small() {
        true => Ok((locale.number(f64::from(entry.size()? - entry.count()?), 0), None)),
        false => written_share(locale, "number.rest", entry, share(entry, of)?.others()),
    }),
    ("range", |locale, entry, _| range(locale, entry)),
    ("group", |locale, entry, _| Ok((group(locale, entry, entry.size()?)?, None))),
    ("size", |locale, entry, _| Ok((locale.number(f64::from(entry.size()?), 0), None))),
    ("count", |locale, entry, _| Ok((locale.number(f64::from(entry.count()?), 0), None))),
    ("span", |locale, entry, _| {
        let (amount, unit) = entry.span()?;
        Ok((locale.count(unit, amount)?, None))
    }),
];

/// What a function prints of an entry outside a text, counted in so many where a table asks for it.
pub(super) fn written(
    function: &str,
    locale: &Locale,
    entry: &Evidence,
    of: Option<u32>,
) -> Result<String, ComposeError> {
    let known = NUMBERS.iter().find(|(name, _)| *name == function);
    let (_, print) = known.expect("a function of the list");
    Ok(print(locale, entry, of)?.0)
}

/// The functions that name an evidence entry.
pub(super) fn functions() -> impl Iterator<Item = &'static str> {
    NUMBERS.iter().map(|(name, _)| *name).chain(["source"])
}

fn share(entry: &Evidence, of: Option<u32>) -> Result<Share, EvidenceError> {
    let proportion = entry.proportion()?;
    Ok(of.map_or_else(|| Share::of(proportion), |of| Share::out_of(proportion, of)))
}

fn written_share(locale: &Locale, key: &str, entry: &Evidence, share: Share) -> Printed {
    Ok((pattern(locale, key, entry, share)?, Some(share.of)))
}

/// As it was counted: "19 of 36 people".
fn counted(locale: &Locale, entry: &Evidence) -> Printed {
    let share = Share { k: entry.count()?, of: entry.size()? };
    Ok((pattern(locale, "number.counted", entry, share)?, None))
}

/// What the true share may be, in 100: "35 to 70 in 100"; where it may be none, its upper limit alone.
fn range(locale: &Locale, entry: &Evidence) -> Printed {
    let (low, high) = entry.range(100)?;
    if low.k == 0 {
        return Ok((pattern(locale, "number.up_to", entry, high)?, None));
    }
    let between = pattern(locale, "number.between", entry, high)?;
    Ok((between.replace("{low}", &locale.number(f64::from(low.k), 0)), None))
}

/// So many with the noun of what the entry counts: "36 people".
fn group(locale: &Locale, entry: &Evidence, number: u32) -> Result<String, ComposeError> {
    locale.count(entry.unit.word(), f64::from(number))
}

/// The numbers stay on one line, of a range both ends; their noun, and what a range is counted in, may go to the next.
fn glued(pattern: &str) -> String {
    let pattern = pattern.replace(" {of}", "\u{a0}{of}").replace(" {group}", "\u{a0}{group}");
    if pattern.contains("{low}") {
        pattern.replace("{low} ", "{low}\u{a0}").replace(" {k}", "\u{a0}{k}")
    } else {
        pattern.replace("{k} ", "{k}\u{a0}")
    }
}

/// A pattern of the language with a share in it: bare numbers `{k}` and `{of}`, and with their noun `{some}` and
/// `{group}`, since languages count either the affected or the whole.
fn pattern(locale: &Locale, key: &str, entry: &Evidence, share: Share) -> Result<String, ComposeError> {
    let pattern = glued(locale.word(key)?);
    let number = |value: u32| locale.number(f64::from(value), 0);
    let group = |value: u32| group(locale, entry, value).map(|group| group.replace('\u{a0}', " "));
    let filled = pattern.replace("{k}", &number(share.k)).replace("{of}", &number(share.of));
    Ok(filled.replace("{some}", &group(share.k)?).replace("{group}", &group(share.of)?))
}

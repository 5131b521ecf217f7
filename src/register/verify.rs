//! Whether the ledger is as it was written: the chain from its first row to its head, what is kept against its commitment, the
//! columns of every outcome and every person against what is kept, and every erasure against who asked for it.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use super::database::{Value, all, row, values};
use super::erasure::{ERASURE, Erasure};
use super::ledger::{self, BEGINNING, Link, Number, commitment};
use super::outcomes::{self, Entered, OUTCOME};
use super::people::{self, May, PERSON, Told};
use super::{CaseId, Register, RegisterError};

/// Most rows that are held at once: files may be large.
const AT_ONCE: i64 = 64;

/// The last row of the ledger: an anchor for every row before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Its number; 0 while there is none.
    pub number: Number,
    /// Its hash, hexadecimal.
    pub hash: String,
}

impl Default for Head {
    fn default() -> Self {
        Self { number: 0, hash: BEGINNING.to_owned() }
    }
}

/// `12-9f86...`: number and hash.
impl fmt::Display for Head {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.number, self.hash)
    }
}

/// A text that is no head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write the head as `register head` gave it: a number, a dash, 64 letters and digits")]
pub struct NoHead;

impl FromStr for Head {
    type Err = NoHead;

    fn from_str(text: &str) -> Result<Self, NoHead> {
        let (number, hash) = text.trim().split_once('-').ok_or(NoHead)?;
        let number = number.parse().ok().filter(|number| *number >= 0).ok_or(NoHead)?;
        let fits = hash.len() == BEGINNING.len() && hash.chars().all(|c| matches!(c, '0'..='9' | 'a'..='f'));
        if fits { Ok(Self { number, hash: hash.to_owned() }) } else { Err(NoHead) }
    }
}

/// What was found when the ledger was walked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verified {
    /// Its head.
    pub head: Head,
    /// How many rows were erased by a named person.
    pub erased: usize,
    /// Rows that are dated before the row in front of them: the clock was set back.
    pub set_back: Vec<Number>,
}

/// The first row at which the ledger is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// Number of the row.
    pub number: Number,
    /// What is wrong with it.
    pub what: Fault,
}

/// What is wrong with a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// It is missing.
    Missing,
    /// It cannot be read.
    Unreadable,
    /// Its hash is not that of what it says after the row before.
    Hash,
    /// What is kept is not what the row commits to.
    Content,
    /// What was kept is gone, and no erasure says why.
    Gone,
    /// The outcome in its columns is another one than the ledger keeps, or one of both is not there.
    Outcome,
    /// What it tells of a person is not what the register goes by.
    Person,
    /// It is told to be erased, by no erasure that names it.
    Erased,
    /// The head that was written down elsewhere is another one.
    Anchor,
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.what {
            Fault::Missing => "is missing",
            Fault::Unreadable => "cannot be read",
            Fault::Hash => "or the row before it was changed",
            Fault::Content => "holds something else than what was kept",
            Fault::Gone => "lost what was kept, and no erasure says why",
            Fault::Outcome => "keeps another outcome than is counted",
            Fault::Person => "tells otherwise of a person than the register goes by",
            Fault::Erased => "lost what was kept by an erasure that does not name it",
            Fault::Anchor => "is not the one whose head was given out",
        };
        write!(f, "row {} of the ledger {what}", self.number)
    }
}

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// The head of the ledger.
    pub fn head(&self) -> Result<Head, RegisterError> {
        let head = row(self.database(), "SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1", &[])?;
        let head = head.map(|[number, hash]| Ok(Head { number: number.number()?, hash: hash.text()? }));
        head.transpose().map(Option::unwrap_or_default)
    }

    /// Walks the ledger from its first row: what was found, or the first row that is broken. With a head that was written
    /// down elsewhere it is also seen that the ledger still leads through it.
    pub fn verify(&self, anchor: Option<&Head>) -> Result<Result<Verified, Broken>, RegisterError> {
        let (people, until) = self.people_and_head()?;
        let (mut walk, mut at_once) = (Walk { until, ..Walk::default() }, AT_ONCE);
        loop {
            let rows = match self.rows_after(walk.head.number, at_once) {
                Ok(rows) if rows.is_empty() => break,
                Ok(rows) => rows,
                // One of them: which, is seen one by one.
                Err(RegisterError::Damaged | RegisterError::Unreadable(_)) if at_once > 1 => {
                    at_once = 1;
                    continue;
                }
                Err(RegisterError::Damaged | RegisterError::Unreadable(_)) => {
                    return Ok(Err(Broken { number: walk.head.number + 1, what: Fault::Unreadable }));
                }
                Err(error) => return Err(error),
            };
            for row in rows {
                if let Err(broken) = walk.step(row, anchor) {
                    return Ok(Err(broken));
                }
            }
        }
        self.database().check()?;
        let beside = "SELECT id FROM outcome WHERE id < 1 OR id > $1 ORDER BY id LIMIT 1";
        match row(self.database(), beside, &values![walk.head.number])? {
            Some([number]) => Ok(Err(Broken { number: number.number()?, what: Fault::Missing })),
            None => Ok(walk.end(anchor, &people)),
        }
    }

    /// Who is in the register with what they may do, and the last row of the ledger at that moment: a change that comes while the
    /// ledger is walked is no fault.
    fn people_and_head(&self) -> Result<(People, Number), RegisterError> {
        let sql = "SELECT head.number, name, role, passphrase, person.number \
                   FROM (SELECT coalesce(max(number), 0) AS number FROM ledger) AS head LEFT JOIN person ON 1 = 1";
        let (mut people, mut until) = (People::new(), 0);
        for [head, name, role, passphrase, number] in all(self.database(), sql, &[], Ok)? {
            until = head.number()?;
            if name != Value::Nothing {
                let person = people::person([name, role, passphrase])?;
                people.insert(person.name.clone(), (number.number()?, people::may(&person)));
            }
        }
        Ok((people, until))
    }

    fn rows_after(&self, number: Number, at_once: i64) -> Result<Vec<Walked>, RegisterError> {
        // At one moment: an erasure takes away from several tables.
        let sql = format!(
            "SELECT ledger.number, kind, ledger.case_id, part_of, ledger.at, commitment, hash, salt, body, erasure, {} \
             FROM ledger LEFT JOIN payload ON payload.number = ledger.number \
             LEFT JOIN erased ON erased.number = ledger.number LEFT JOIN outcome ON outcome.id = ledger.number \
             WHERE ledger.number > $1 ORDER BY ledger.number LIMIT $2",
            outcomes::columns()
        );
        let read = |row: [Value; 28]| {
            let [number, kind, case, part_of, at, commitment, hash, salt, body, erasure, outcome @ ..] = row;
            let outcome = if outcome[0] == Value::Nothing { None } else { Some(outcomes::entered(outcome)?) };
            Ok(Walked {
                link: ledger::link([number, kind, case, part_of, at, commitment])?,
                hash: hash.text()?,
                kept: salt.maybe(Value::bytes)?.zip(body.maybe(Value::bytes)?),
                erasure: erasure.maybe(Value::number)?,
                outcome: outcome.map(|(_, case, entered)| (case, entered)),
            })
        };
        all(self.database(), &sql, &values![number, at_once], read)
    }
}

/// People by name: the row that tells of them, and what they may do.
type People = BTreeMap<String, (Number, May)>;

/// A row with all that belongs to it.
struct Walked {
    link: Link,
    hash: String,
    kept: Option<(Vec<u8>, Vec<u8>)>,
    erasure: Option<Number>,
    /// What the columns of an outcome say.
    outcome: Option<(CaseId, Entered)>,
}

impl Walked {
    /// The outcome that is kept; nothing of a row of another kind, or of one that was erased.
    fn kept_outcome(&self) -> Result<Option<(CaseId, Entered)>, RegisterError> {
        match (&self.kept, self.link.case) {
            (Some((_, body)), Some(case)) if self.link.kind == OUTCOME => Ok(Some((case, ledger::read(body)?))),
            _ => Ok(None),
        }
    }
}

/// How far the walk is.
#[derive(Default)]
struct Walk {
    head: Head,
    last_at: String,
    set_back: Vec<Number>,
    /// Rows that are told to be erased, with the row that should name them.
    erased: BTreeMap<Number, Number>,
    named: BTreeMap<Number, Number>,
    /// What was told last of each person who was not taken out, up to the row `until`.
    people: People,
    until: Number,
}

impl Walk {
    fn step(&mut self, row: Walked, anchor: Option<&Head>) -> Result<(), Broken> {
        let number = self.head.number + 1;
        let broken = |what| Err(Broken { number, what });
        let counted_as_kept = row.kept_outcome().is_ok_and(|kept| kept == row.outcome);
        let Walked { link, hash, kept, erasure, .. } = row;
        if link.number != number {
            return broken(Fault::Missing);
        }
        if link.hash(&self.head.hash) != hash {
            return broken(Fault::Hash);
        }
        if anchor.is_some_and(|anchor| anchor.number == number && anchor.hash != hash) {
            return broken(Fault::Anchor);
        }
        match (kept, erasure) {
            (Some((salt, body)), _) if commitment(&salt, &body) != link.commitment => return broken(Fault::Content),
            (Some((_, body)), _) if link.kind == ERASURE => self.names(&body, number)?,
            (Some((_, body)), _) if link.kind == PERSON && number <= self.until => self.tells(&body, number)?,
            (Some(_), _) => {}
            (None, Some(erasure)) => _ = self.erased.insert(number, erasure),
            (None, None) => return broken(Fault::Gone),
        }
        if !counted_as_kept {
            return broken(Fault::Outcome);
        }
        if link.at < self.last_at {
            self.set_back.push(number);
        }
        self.last_at = link.at;
        self.head = Head { number, hash };
        Ok(())
    }

    fn names(&mut self, body: &[u8], number: Number) -> Result<(), Broken> {
        let erasure: Erasure = ledger::read(body).map_err(|_| Broken { number, what: Fault::Content })?;
        self.named.extend(erasure.rows.into_iter().map(|row| (row, number)));
        Ok(())
    }

    fn tells(&mut self, body: &[u8], number: Number) -> Result<(), Broken> {
        let Told { name, may, .. } = ledger::read(body).map_err(|_| Broken { number, what: Fault::Content })?;
        match may {
            Some(may) => self.people.insert(name, (number, may)),
            None => self.people.remove(&name),
        };
        Ok(())
    }

    fn end(self, anchor: Option<&Head>, people: &People) -> Result<Verified, Broken> {
        if let Some(anchor) = anchor.filter(|anchor| anchor.number > self.head.number) {
            return Err(Broken { number: anchor.number, what: Fault::Missing });
        }
        if let Some((number, _)) = self.erased.iter().find(|(number, by)| self.named.get(number) != Some(by)) {
            return Err(Broken { number: *number, what: Fault::Erased });
        }
        let otherwise = |one: &People, other: &People| {
            let differ = one.iter().find(|(name, told)| other.get(*name) != Some(told));
            differ.map(|(_, (number, _))| *number)
        };
        if let Some(number) = otherwise(&self.people, people).or_else(|| otherwise(people, &self.people)) {
            return Err(Broken { number, what: Fault::Person });
        }
        Ok(Verified { head: self.head, erased: self.erased.len(), set_back: self.set_back })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_is_read_as_it_is_written() {
        let head = Head { number: 12, hash: "ab".repeat(32) };
        assert_eq!(head.to_string().parse(), Ok(head));
        for other in ["", "12", "12-ab", &format!("-1-{BEGINNING}"), &format!("x-{BEGINNING}")] {
            assert_eq!(other.parse::<Head>(), Err(NoHead), "{other}");
        }
    }
}

//! Numbered steps that bring an older store to the form this program knows, each with a checksum.

use super::RegisterError;
use super::adopted;
use super::database::{Database, all, change, values};
use super::hash::sha256;
use super::own_words;

/// One step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Migration {
    /// Its number, from 1.
    pub(super) number: u32,
    /// Its statements. They never change once a release has them.
    pub(super) sql: &'static str,
    /// What no statement can do, afterwards.
    pub(super) then: fn(&dyn Database) -> Result<(), RegisterError>,
}

/// The steps of the SQLite store.
pub(super) const SQLITE: &[Migration] = &[
    Migration { number: 1, sql: include_str!("migrations/sqlite/0001-cases.sql"), then: nothing },
    Migration { number: 2, sql: include_str!("migrations/sqlite/0002-asked.sql"), then: nothing },
    Migration { number: 3, sql: include_str!("migrations/sqlite/0003-outcomes.sql"), then: nothing },
    Migration { number: 4, sql: include_str!("migrations/sqlite/0004-own-words.sql"), then: nothing },
    Migration { number: 5, sql: include_str!("migrations/sqlite/0005-ledger.sql"), then: adopted::into_ledger },
    Migration { number: 6, sql: include_str!("migrations/sqlite/0006-namesakes.sql"), then: own_words::carry_reasons },
    Migration { number: 7, sql: include_str!("migrations/sqlite/0007-sessions.sql"), then: nothing },
    Migration {
        number: 8,
        sql: include_str!("migrations/sqlite/0008-outcomes.sql"),
        then: adopted::outcomes_into_ledger,
    },
    Migration { number: 9, sql: include_str!("migrations/sqlite/0009-people.sql"), then: adopted::people_into_ledger },
];

/// The steps of the store on a PostgreSQL server.
pub(super) const POSTGRES: &[Migration] = &[
    Migration { number: 1, sql: include_str!("migrations/postgres/0001-register.sql"), then: nothing },
    Migration {
        number: 2,
        sql: include_str!("migrations/postgres/0002-outcomes.sql"),
        then: adopted::outcomes_into_ledger,
    },
    Migration {
        number: 3,
        sql: include_str!("migrations/postgres/0003-people.sql"),
        then: adopted::people_into_ledger,
    },
];

fn nothing(_: &dyn Database) -> Result<(), RegisterError> {
    Ok(())
}

impl Migration {
    /// Tells this step from another one of the same number; ends of lines do not count.
    pub(super) fn checksum(&self) -> String {
        sha256(self.sql.replace("\r\n", "\n").as_bytes())
    }
}

/// Applies what a store lacks, all of it or nothing.
///
/// # Errors
/// As [`lacking`], or a database that refuses.
pub(super) fn apply(database: &dyn Database, known: &[Migration]) -> Result<(), RegisterError> {
    change(database, || {
        if database.is_new()? {
            database.found()?;
        }
        let done =
            all(database, "SELECT number, checksum FROM migration ORDER BY number", &[], |[number, checksum]| {
                let number = u32::try_from(number.number()?);
                Ok((number.map_err(|_| RegisterError::Unreadable("a migration".into()))?, checksum.text()?))
            })?;
        for step in lacking(known, &done)? {
            database.script(step.sql)?;
            (step.then)(database)?;
            database.rows("INSERT INTO migration VALUES ($1, $2)", &values![step.number, step.checksum()])?;
        }
        Ok(())
    })
}

/// The steps that a store still lacks, given those it has by number and checksum.
///
/// # Errors
/// A store that a newer program has changed, or whose steps are not those of this program.
fn lacking<'m>(known: &'m [Migration], done: &[(u32, String)]) -> Result<&'m [Migration], RegisterError> {
    let last = |numbers: Option<u32>| numbers.unwrap_or_default();
    let (has, knows) = (last(done.last().map(|done| done.0)), last(known.last().map(|step| step.number)));
    if has > knows {
        return Err(RegisterError::Newer { has, knows });
    }
    let altered = done.iter().zip(known).find(|(done, known)| **done != (known.number, known.checksum()));
    match altered {
        Some((_, known)) => Err(RegisterError::Altered(known.number)),
        None => Ok(&known[done.len()..]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: [Migration; 2] =
        [Migration { number: 1, sql: "one", then: nothing }, Migration { number: 2, sql: "two", then: nothing }];

    fn done(count: usize) -> Vec<(u32, String)> {
        KNOWN[..count].iter().map(|step| (step.number, step.checksum())).collect()
    }

    #[test]
    fn a_store_gets_what_it_lacks() {
        for count in 0..=2 {
            assert_eq!(lacking(&KNOWN, &done(count)).unwrap().len(), 2 - count);
        }
    }

    #[test]
    fn a_newer_store_and_another_step_are_refused() {
        let newer = [done(2), vec![(3, "three".into())]].concat();
        assert!(matches!(lacking(&KNOWN, &newer), Err(RegisterError::Newer { has: 3, knows: 2 })));
        let altered = [(1, "another".into())];
        assert!(matches!(lacking(&KNOWN, &altered), Err(RegisterError::Altered(1))));
    }

    #[test]
    fn the_steps_are_numbered_in_order() {
        for steps in [SQLITE, POSTGRES] {
            assert!(steps.iter().zip(1..).all(|(step, number)| step.number == number));
        }
    }
}

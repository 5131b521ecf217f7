//! Several programs at once: nothing is lost and no number is given twice.

use std::path::Path;

use vitreoleaf::register::{Register, RegisterError};

use super::{file, issue, open};

/// How many issues each writer makes; 10,000 of both in the full run.
fn each() -> usize {
    if std::env::var_os("VITREOLEAF_EVERY").is_some() { 5_000 } else { 100 }
}

/// Tries until no other program holds the register.
fn insist<T>(mut what: impl FnMut() -> Result<T, RegisterError>) -> T {
    loop {
        match what() {
            Ok(done) => return done,
            Err(RegisterError::Busy) => {}
            Err(error) => panic!("{error}"),
        }
    }
}

/// Issues of a writer, ten of each case.
fn write(path: &Path, writer: &str, count: usize) -> Vec<i64> {
    let mut store: Register = insist(|| open(path));
    let mut case = 0;
    let mut issue = |at: usize| {
        if at.is_multiple_of(10) {
            case = insist(|| store.add(&file(&format!("{writer}-{at}"), "Rosa", None)));
        }
        insist(|| store.issue(&issue(case), &[("a.pdf", &at.to_le_bytes())]))
    };
    (0..count).map(&mut issue).collect()
}

#[test]
fn two_writers_lose_no_issue_and_no_number_is_given_twice() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let count = each();
    let mut numbers: Vec<i64> = std::thread::scope(|scope| {
        let writers = ["A", "B"].map(|writer| scope.spawn(|| write(&path, writer, count)));
        writers.into_iter().flat_map(|writer| writer.join().unwrap()).collect()
    });
    numbers.sort_unstable();
    numbers.dedup();
    assert_eq!(numbers.len(), 2 * count);
    let store = open(&path).unwrap();
    let kept = store.all().unwrap().iter().map(|case| store.issues(*case).unwrap().len()).sum::<usize>();
    assert_eq!(kept, 2 * count);
    let found = store.verify(None).unwrap().unwrap();
    assert_eq!(found.head.number, i64::try_from(numbers.len() * 3).unwrap(), "an issue, its file, the case as it was");
}

#[test]
fn several_programs_that_make_the_register_at_once_find_one_form() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    std::thread::scope(|scope| {
        let opened: Vec<_> = (0..8).map(|_| scope.spawn(|| drop(insist(|| open(&path))))).collect();
        opened.into_iter().for_each(|one| one.join().unwrap());
    });
    let steps = "SELECT count(*), count(DISTINCT number) FROM migration";
    let connection = rusqlite::Connection::open(&path).unwrap();
    let (all, distinct): (i64, i64) = connection.query_row(steps, [], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    assert!(all > 0 && all == distinct);
}

//! How the embedded store finds what the desk asks for most: by an index, whatever the number of cases.

use std::path::Path;
use std::sync::{Arc, Mutex};

use super::database::{Database, Row, Value};
use super::sqlite::Sqlite;
use super::{Register, RegisterError, migrations};

/// Statements with what SQLite says of how it looks (`EXPLAIN QUERY PLAN`), one line a table.
type Plans = Arc<Mutex<Vec<(String, Vec<String>)>>>;

/// A store that notes how each statement is looked for.
struct Explained(Sqlite, Plans);

impl Database for Explained {
    fn rows(&self, sql: &str, with: &[Value]) -> Result<Vec<Row>, RegisterError> {
        let plan = self.0.rows(&format!("EXPLAIN QUERY PLAN {sql}"), with)?;
        let lines = plan.into_iter().filter_map(|mut row| row.pop()?.text().ok());
        self.1.lock().unwrap().push((sql.to_owned(), lines.collect()));
        self.0.rows(sql, with)
    }

    fn script(&self, sql: &str) -> Result<(), RegisterError> {
        self.0.script(sql)
    }

    fn check(&self) -> Result<(), RegisterError> {
        self.0.check()
    }

    fn copy_into(&self, path: &Path) -> Result<(), RegisterError> {
        self.0.copy_into(path)
    }

    fn overwrite_deleted(&self) -> Result<(), RegisterError> {
        self.0.overwrite_deleted()
    }

    fn begin(&self) -> Result<(), RegisterError> {
        self.0.begin()
    }

    fn commit(&self) -> Result<(), RegisterError> {
        self.0.commit()
    }

    fn roll_back(&self) {
        self.0.roll_back();
    }

    fn is_new(&self) -> Result<bool, RegisterError> {
        self.0.is_new()
    }

    fn found(&self) -> Result<(), RegisterError> {
        self.0.found()
    }

    fn count_on(&self) -> Result<(), RegisterError> {
        self.0.count_on()
    }
}

/// The plans of what somebody asks of a register.
fn plans(ask: impl Fn(&Register) -> Result<(), RegisterError>) -> Vec<(String, Vec<String>)> {
    let store = Sqlite::copy(Path::new(":memory:")).unwrap();
    migrations::apply(&store, migrations::SQLITE).unwrap();
    let plans = Plans::default();
    ask(&Register::of(Box::new(Explained(store, Arc::clone(&plans))))).unwrap();
    let plans = std::mem::take(&mut *plans.lock().unwrap());
    assert!(!plans.is_empty());
    plans
}

#[test]
fn the_day_and_a_case_are_found_by_an_index() {
    let day = chrono::NaiveDate::from_ymd_opt(2026, 8, 12).unwrap();
    let asked = plans(|register| {
        register.day(day)?;
        register.undated(50)?;
        register.asked()?;
        register.of_patient("Rosa Beispiel", "000-101")?;
        register.case(1)?;
        register.by_code("A-1")?;
        register.at_version(1, 1)?;
        register.last_change(1)?;
        register.issues(1)?;
        register.issued_file(1, 0)?;
        register.revisions(1)?;
        register.outcomes(1)?;
        register.session(1)?;
        register.last_backup()?;
        register.head().map(|_| ())
    });
    for (sql, plan) in asked {
        let whole = plan.iter().find(|line| line.starts_with("SCAN") && !line.contains("USING INDEX"));
        // The head is the last row by number: the first one that is met.
        let is_head = sql.contains("FROM ledger ORDER BY number DESC LIMIT 1");
        assert!(whole.is_none() || is_head, "{sql}\n{plan:#?}");
    }
}

#[test]
fn a_search_looks_through_an_index_and_not_through_files() {
    let searched = plans(|register| register.find("rosa 000-101", 50).map(|_| ()));
    for (sql, plan) in searched {
        let through = plan.iter().filter(|line| line.starts_with("SCAN")).collect::<Vec<_>>();
        assert!(matches!(through[..], [line] if line.contains("COVERING INDEX kept_case_sought")), "{sql}\n{plan:#?}");
        assert!(plan.iter().any(|line| line.starts_with("SEARCH kept_case USING INTEGER PRIMARY KEY")), "{plan:#?}");
    }
}

#[test]
fn what_is_counted_and_who_is_due_come_in_one_look_each() {
    let day = chrono::NaiveDate::from_ymd_opt(2026, 8, 12).unwrap();
    let counted = plans(|register| {
        register.counted(day)?;
        register.counted(day).map(|_| ())
    });
    let read = |table: &str| counted.iter().filter(|(sql, _)| sql.contains(&format!("FROM {table}"))).count();
    assert_eq!((read("session"), read("outcome_now")), (1, 1), "the second time nothing is read again");
}

//! What became of a batch, for people and for other programs.

use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::Serialize;

use super::Outcome;
use crate::packet::version::Version;
use crate::packet::{RefusedPage, Withholding};

/// What became of a batch. Names files, codes and keys; nothing of what a record holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct BatchReport {
    /// Version of this format.
    pub version: Version<1>,
    /// Where the pages are.
    pub folder: PathBuf,
    /// Names of all files that were written.
    pub files: Vec<String>,
    /// How many cases were made with pages withheld.
    pub withheld: usize,
    /// How many cases were refused.
    pub refused: usize,
    /// The cases in their order.
    pub cases: Vec<CaseRow>,
}

/// What became of a case.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CaseRow {
    /// The file of the record.
    pub record: PathBuf,
    /// Its code; none for a record that was not read.
    pub case: Option<String>,
    /// What became of it.
    pub state: State,
    /// Names of its files.
    pub files: Vec<String>,
    /// Why the consent (before) or the drop plan (after) was withheld.
    pub withheld_because: Option<Withholding>,
    /// The page sets that are not printed as they should be, and what is printed instead.
    pub refused_pages: Vec<RefusedPage>,
    /// Why it was refused.
    pub why: Option<String>,
}

/// What may become of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// All of it was made.
    Made,
    /// It was made; the consent or the drop plan was withheld.
    Withheld,
    /// Nothing of it was made.
    Refused,
    /// The batch was stopped before its turn.
    NotBegun,
}

impl State {
    /// In words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Withheld => "withheld",
            Self::Refused => "refused",
            Self::NotBegun => "not begun",
        }
    }
}

impl From<&Outcome> for State {
    fn from(outcome: &Outcome) -> Self {
        match outcome {
            Outcome::Made(made) if made.withheld.is_some() => Self::Withheld,
            Outcome::Made(_) => Self::Made,
            Outcome::Refused(..) => Self::Refused,
            Outcome::Stopped => Self::NotBegun,
        }
    }
}

impl BatchReport {
    /// Gathers what became of the records in these files.
    #[must_use]
    pub fn new(folder: &Path, records: &[PathBuf], outcomes: &[Outcome]) -> Self {
        let cases: Vec<CaseRow> = records.iter().zip(outcomes).map(|(record, outcome)| row(record, outcome)).collect();
        let count = |state| cases.iter().filter(|case| case.state == state).count();
        Self {
            version: Version,
            folder: folder.to_owned(),
            files: cases.iter().flat_map(|case| case.files.clone()).collect(),
            withheld: count(State::Withheld),
            refused: count(State::Refused),
            cases,
        }
    }

    /// One line a case, then how many there are of each.
    #[must_use]
    pub fn table(&self) -> String {
        let code = |case: &CaseRow| case.case.clone().unwrap_or_else(|| "-".into());
        let width = self.cases.iter().map(|case| code(case).len()).max().unwrap_or_default();
        let line =
            |case: &CaseRow| format!("{:9}  {:width$}  {}\n", case.state.word(), code(case), case.record.display());
        let states = [State::Made, State::Withheld, State::Refused, State::NotBegun];
        let count = |state: &State| self.cases.iter().filter(|case| case.state == *state).count();
        let counts = states.iter().filter(|state| count(state) > 0);
        let counts: Vec<String> = counts.map(|state| format!("{} {}", count(state), state.word())).collect();
        let lines: String = self.cases.iter().map(line).collect();
        format!("{lines}{} cases: {}", self.cases.len(), counts.join(", "))
    }
}

fn row(record: &Path, outcome: &Outcome) -> CaseRow {
    let row = CaseRow {
        record: record.to_owned(),
        case: None,
        state: outcome.into(),
        files: Vec::new(),
        withheld_because: None,
        refused_pages: Vec::new(),
        why: None,
    };
    match outcome {
        Outcome::Made(made) => CaseRow {
            case: Some(made.code.clone()),
            files: made.files.clone(),
            withheld_because: made.withheld.clone(),
            refused_pages: made.refused_pages.clone(),
            ..row
        },
        Outcome::Refused(code, why) => CaseRow { case: code.clone(), why: Some(why.to_string()), ..row },
        Outcome::Stopped => row,
    }
}

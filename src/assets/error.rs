//! What is wrong with a file that a clinic edits: where it stands, and what to do.

use std::fmt;
use std::ops::Range;

/// Everything that is wrong with one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoadError {
    /// The file; one of the practice's own begins with `practice/`.
    pub file: String,
    /// What is wrong: one thing at least.
    pub problems: Vec<Problem>,
}

/// One thing that is wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What kind of thing.
    pub kind: Kind,
    /// Line, counted from 1, where it is known.
    pub line: Option<usize>,
    /// Id of the row, or key, that it is about.
    pub id: Option<String>,
    /// What is wrong and what to do, for a person.
    pub what: String,
}

/// The kinds of problems.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// There is no such file.
    NoFile,
    /// TOML, a template or CommonMark that cannot be read.
    Syntax,
    /// A row, key or text that has to be there is not.
    Missing,
    /// It names a fact, drug, section, word or language that does not exist.
    UnknownName,
    /// It names an evidence entry that does not exist.
    UnknownEvidence,
    /// An id that stands twice.
    Twice,
    /// A value that cannot be.
    Value,
    /// It changes what no practice may change.
    Fixed,
    /// It is nested too deep, or too long.
    Limit,
}

impl Problem {
    /// A problem whose place in the file is not known.
    #[must_use]
    pub fn new(kind: Kind, what: impl Into<String>) -> Self {
        Self { kind, line: None, id: None, what: what.into() }
    }

    /// A problem of the row with this id.
    #[must_use]
    pub fn of(self, id: &str) -> Self {
        Self { id: Some(id.to_owned()), ..self }
    }

    /// A problem at a line, counted from 1.
    #[must_use]
    pub fn on_line(self, line: usize) -> Self {
        Self { line: Some(line), ..self }
    }

    /// A problem at a place of a text, in bytes; where it knows its line already, that stays.
    #[must_use]
    pub fn at(self, text: &str, span: &Range<usize>) -> Self {
        let before = text.get(..span.start).unwrap_or(text);
        Self { line: self.line.or(Some(before.matches('\n').count() + 1)), ..self }
    }

    /// The problem in this file.
    #[must_use]
    pub fn in_file(self, file: &str) -> LoadError {
        LoadError { file: file.to_owned(), problems: vec![self] }
    }
}

impl LoadError {
    /// That there is no such file, and what that means; may be empty.
    #[must_use]
    pub fn no_file(file: &str, what: &str) -> Self {
        Problem::new(Kind::NoFile, what).in_file(file)
    }
}

impl From<Problem> for Vec<Problem> {
    fn from(problem: Problem) -> Self {
        vec![problem]
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.kind, self.line) {
            // What TOML says names the line itself, and shows it.
            (Kind::Syntax, _) | (_, None) => f.write_str(&self.what),
            (_, Some(line)) => write!(f, "line {line}: {}", self.what),
        }
    }
}

impl fmt::Display for LoadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let file = &self.file;
        for (at, problem) in self.problems.iter().enumerate() {
            let end = if at == 0 { "" } else { "\n" };
            match problem.kind {
                Kind::NoFile if problem.what.is_empty() => write!(f, "{end}{file} is missing")?,
                Kind::NoFile => write!(f, "{end}{file} is missing: {}", problem.what)?,
                _ if at == 0 => write!(f, "{file}: {problem}")?,
                _ => write!(f, "\n{problem}")?,
            }
        }
        Ok(())
    }
}

impl std::error::Error for LoadError {}

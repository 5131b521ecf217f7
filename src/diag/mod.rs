//! Diagnostics: what is wrong with something a person wrote, where it stands, and what to write instead.
//!
//! A diagnostic is data about the input. That the program itself failed is an error of another type.

pub mod emit;
mod remarks;
mod shown;
mod source;

pub use remarks::{Refused, Remarks};
pub(crate) use shown::is_layout_control;
pub use shown::shown;
pub use source::{Position, SourceFile, Span};

/// How much a diagnostic weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Nothing is made until it is mended.
    Error,
    /// Pages are made; a person should look.
    Warning,
}

/// A place in the source with a few words beside it. Empty words mark the place only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// Bytes of the source.
    pub span: Span,
    /// What stands there.
    pub text: String,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// A lasting name for this kind of problem, for example `unknown-key`.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// One lowercase phrase that stands alone.
    pub message: String,
    /// Where. The first is the main place.
    pub labels: Vec<Label>,
    /// What to write instead.
    pub help: Option<String>,
    /// Which field of the file it is about, as a JSON pointer; none when no field can be named.
    pub pointer: Option<String>,
}

impl Diagnostic {
    /// An error without a place yet.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, severity: Severity::Error, message: message.into(), labels: Vec::new(), help: None, pointer: None }
    }

    /// A warning without a place yet.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, message) }
    }

    /// Adds a place; the first one added is the main place.
    #[must_use]
    pub fn at(mut self, span: Span, text: impl Into<String>) -> Self {
        self.labels.push(Label { span, text: text.into() });
        self
    }

    /// Says which field it is about, as a JSON pointer.
    #[must_use]
    pub fn pointer(mut self, pointer: impl Into<String>) -> Self {
        self.pointer = Some(pointer.into());
        self
    }

    /// Says what to write instead.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }

    /// Where it stands in the order of the file: what has no place comes first.
    fn place(&self) -> (Option<usize>, &str) {
        (self.labels.first().map(|label| label.span.start), self.code)
    }
}

/// All that is wrong with one source.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    diagnostics: Vec<Diagnostic>,
}

impl Report {
    /// Adds one diagnostic.
    pub fn add(&mut self, diagnostic: Diagnostic) {
        self.diagnostics.push(diagnostic);
    }

    /// Adds everything of another report about the same source.
    pub fn append(&mut self, other: Self) {
        self.diagnostics.extend(other.diagnostics);
    }

    /// True when nothing is wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.diagnostics.is_empty()
    }

    /// True when something must be mended first.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }

    /// True when a diagnostic has its main place here.
    #[must_use]
    pub fn marks(&self, span: &Span) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.labels.first().is_some_and(|label| label.span == *span))
    }

    /// How many diagnostics there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.diagnostics.len()
    }

    /// All diagnostics in the order of the file.
    #[must_use]
    pub fn sorted(&self) -> Vec<&Diagnostic> {
        let mut sorted: Vec<_> = self.diagnostics.iter().collect();
        sorted.sort_by(|a, b| a.place().cmp(&b.place()));
        sorted
    }

    /// The value with the warnings that do not hold it back, unless something must be mended first.
    ///
    /// # Errors
    /// The report itself when it has errors.
    pub fn or_value<T>(self, value: T) -> Result<(T, Self), Self> {
        if self.has_errors() { Err(self) } else { Ok((value, self)) }
    }
}

impl From<Diagnostic> for Report {
    fn from(diagnostic: Diagnostic) -> Self {
        Self { diagnostics: vec![diagnostic] }
    }
}

impl FromIterator<Diagnostic> for Report {
    fn from_iter<I: IntoIterator<Item = Diagnostic>>(diagnostics: I) -> Self {
        Self { diagnostics: diagnostics.into_iter().collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_is_that_of_the_file() {
        let mut report = Report::default();
        report.add(Diagnostic::error("b", "second").at(20..21, ""));
        report.add(Diagnostic::warning("a", "first").at(3..4, "").at(30..31, ""));
        report.add(Diagnostic::error("c", "no place"));
        let codes: Vec<_> = report.sorted().iter().map(|diagnostic| diagnostic.code).collect();
        assert_eq!(codes, ["c", "a", "b"]);
    }

    #[test]
    fn only_errors_hold_the_value_back() {
        assert_eq!(Report::default().or_value(1), Ok((1, Report::default())));
        let warned = Report::from(Diagnostic::warning("w", "look"));
        assert_eq!(warned.clone().or_value(1), Ok((1, warned)), "a warning is not lost");
        assert!(Report::from(Diagnostic::error("e", "mend")).or_value(1).is_err());
    }
}

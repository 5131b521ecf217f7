//! A report as text for a person, or as data for a program. Pure: the caller writes it.

use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Diagnostic, Label, Report, Severity, SourceFile, Span};

/// Longest line of a report, in columns.
const WIDTH: usize = 120;

/// With colour or without.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Colour {
    /// Plain text.
    #[default]
    Never,
    /// With terminal colours.
    Always,
}

/// One diagnostic as data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Item {
    /// Name of the file.
    pub file: String,
    /// Line from 1; none when the whole file is meant.
    pub line: Option<usize>,
    /// Column from 1, one for each character; none when the whole file is meant.
    pub column: Option<usize>,
    /// JSON pointer of the field that is meant, which need not be written; empty for the whole file, none when no field can be
    /// named.
    pub pointer: Option<String>,
    /// Lasting name of this kind of problem.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub help: Option<String>,
}

/// The report for a person: each diagnostic with the line it points at. Ends with a newline unless it is empty.
///
/// ```
/// use vitreoleaf::diag::{Diagnostic, Report, SourceFile, emit};
///
/// let file = SourceFile { name: "case.toml".into(), text: "side = \"both\"\n".into() };
/// let wrong = Diagnostic::error("wrong-word", "`side` cannot be `both`").at(7..13, "").help("write `right` or `left`");
/// let text = emit::human(&Report::from(wrong), &file, emit::Colour::Never);
/// assert!(text.starts_with("error[wrong-word]: `side` cannot be `both`\n --> case.toml:1:8\n"));
/// ```
#[must_use]
pub fn human(report: &Report, file: &SourceFile, colour: Colour) -> String {
    let renderer = match colour {
        Colour::Never => Renderer::plain(),
        Colour::Always => Renderer::styled(),
    }
    .term_width(WIDTH);
    report.sorted().into_iter().map(|diagnostic| one(&renderer, diagnostic, file) + "\n").collect::<Vec<_>>().join("\n")
}

/// The report as data, in the order of the file.
#[must_use]
pub fn items(report: &Report, file: &SourceFile) -> Vec<Item> {
    report.sorted().into_iter().map(|diagnostic| item(diagnostic, file)).collect()
}

fn item(diagnostic: &Diagnostic, file: &SourceFile) -> Item {
    let position = diagnostic.labels.first().map(|label| file.position(label.span.start));
    Item {
        file: file.name.clone(),
        line: position.map(|position| position.line),
        column: position.map(|position| position.column),
        pointer: diagnostic.pointer.clone(),
        code: diagnostic.code,
        severity: diagnostic.severity,
        message: diagnostic.message.clone(),
        help: diagnostic.help.clone(),
    }
}

fn one(renderer: &Renderer, diagnostic: &Diagnostic, file: &SourceFile) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = level.primary_title(diagnostic.message.as_str()).id(diagnostic.code);
    let mut group = if diagnostic.labels.is_empty() {
        title.element(Origin::path(file.name.as_str()))
    } else {
        title.element(snippet(&diagnostic.labels, file))
    };
    group = with_help(group, diagnostic.help.as_deref());
    renderer.render(&[group])
}

fn with_help<'a>(group: Group<'a>, help: Option<&'a str>) -> Group<'a> {
    match help {
        Some(help) => group.element(Level::HELP.message(help)),
        None => group,
    }
}

/// Only the lines that are marked reach the renderer: a file may be large.
fn snippet<'a>(labels: &'a [Label], file: &'a SourceFile) -> Snippet<'a, Annotation<'a>> {
    let spans: Vec<Span> = labels.iter().map(|label| file.clip(&label.span)).collect();
    let (lines, first_line) = file.lines_around(&spans);
    let offset = file.line_start(spans.iter().map(|span| span.start).min().unwrap_or(0));
    let annotations = labels.iter().zip(&spans).enumerate().map(|(index, (label, span))| {
        let kind = if index == 0 { AnnotationKind::Primary } else { AnnotationKind::Context };
        let words = (!label.text.is_empty()).then_some(label.text.as_str());
        kind.span(span.start - offset..span.end - offset).label(words)
    });
    Snippet::source(lines).path(file.name.as_str()).line_start(first_line).annotations(annotations)
}

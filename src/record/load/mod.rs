//! A file becomes a typed value, or a report of everything that is wrong with it.

mod lacking;
mod mask;
mod nothing;
mod refuse;
mod written;

use schemars::JsonSchema;
use serde::de::DeserializeOwned;

pub use mask::masked;

use super::form::schema::Form;
use super::locate::{self, Spans, Tree};
use crate::diag::{Diagnostic, Report, SourceFile};

/// Largest file that is read, in bytes: a full record has about 6 KiB.
const LARGEST: usize = 256 * 1024;

/// More problems than this are not listed.
const MOST_LISTED: usize = 100;

/// What a file holds, and where each value of it stands.
#[derive(Debug, Clone)]
pub struct Loaded<T> {
    /// The value.
    pub value: T,
    /// Where its parts stand, by JSON pointer.
    pub spans: Spans,
    /// What a person should look at, although it holds nothing back.
    pub warnings: Report,
}

/// Takes the bytes of a file as text. A byte order mark at the start is left out.
///
/// # Errors
/// A report when the file is too large, not UTF-8, or empty.
pub fn source(name: &str, bytes: &[u8]) -> Result<SourceFile, Report> {
    if bytes.len() > LARGEST {
        let message = format!("the file is larger than {} KiB", LARGEST / 1024);
        return Err(Diagnostic::error("too-large", message).help("give one record or one profile a file").into());
    }
    let text = std::str::from_utf8(bytes).map_err(|error| not_utf8(bytes, error.valid_up_to()))?;
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Diagnostic::error("empty-file", "the file is empty").help("write a record or a profile").into());
    }
    Ok(SourceFile { name: name.into(), text: text.into() })
}

fn not_utf8(bytes: &[u8], valid: usize) -> Report {
    let line = bytes[..valid].iter().filter(|byte| **byte == b'\n').count() + 1;
    Diagnostic::error("not-utf8", format!("the text is not UTF-8 from line {line} on"))
        .help("save the file again with the encoding UTF-8")
        .into()
}

/// Reads a record or a profile strictly: TOML, or JSON when the name ends in `.json` or the text begins with `{`.
///
/// ```
/// use vitreoleaf::record::{Record, load};
///
/// let file = load::source("case.toml", b"[case]\ncode = 'X-1'\nrevison = 1\n").unwrap();
/// let report = load::load::<Record>(&file).unwrap_err();
/// let first = report.sorted()[0].clone();
/// assert_eq!(first.code, "missing-key");
/// assert!(report.sorted().iter().any(|wrong| wrong.message == "unknown key `revison` in `case`"));
/// ```
///
/// # Errors
/// A report with one diagnostic for each problem; of more than a hundred only the first, and that there are more.
pub fn load<T: DeserializeOwned + JsonSchema>(file: &SourceFile) -> Result<Loaded<T>, Report> {
    let (tree, report) = locate::read(file);
    judged(&Form::of::<T>(), tree, report)
}

/// Reads a record or a profile that may still lack required keys, as a form that is half filled in: [`Spans::lacking`]
/// names them. What is written is read as strictly as by [`load`].
///
/// ```
/// use vitreoleaf::record::{Record, load};
///
/// let file = load::source("case.toml", b"[eye]\nside = 'right'\n").unwrap();
/// let draft = load::incomplete::<Record>(&file).unwrap();
/// assert!(draft.spans.lacks("/plan/start") && !draft.spans.lacks("/eye/side"));
/// ```
///
/// # Errors
/// As [`load`], for what is written.
pub fn incomplete<T: DeserializeOwned + JsonSchema>(file: &SourceFile) -> Result<Loaded<T>, Report> {
    let (mut tree, report) = locate::read(file);
    let form = Form::of::<T>();
    lacking::fill(&form, &mut tree);
    judged(&form, tree, report)
}

fn judged<T: DeserializeOwned>(form: &Form, tree: Tree, mut report: Report) -> Result<Loaded<T>, Report> {
    report.append(refuse::form(form, &tree, 2 * MOST_LISTED));
    let unreal = written::check(form, &tree, &report);
    report.append(unreal);
    let (tree, warnings) = shortened(report).or_value(tree)?;
    let value = T::deserialize(tree.value).map_err(|_| unreadable())?;
    Ok(Loaded { value, spans: tree.spans, warnings })
}

/// A file that differs from its form in a way nobody can explain: never seen, kept so that it cannot pass.
fn unreadable() -> Diagnostic {
    Diagnostic::error("unreadable", "the file does not have the form of a record or a profile")
        .help("compare it with the list of keys, table by table")
}

/// The first hundred problems, and that there are more.
fn shortened(report: Report) -> Report {
    if report.len() <= MOST_LISTED {
        return report;
    }
    let mut short: Report = report.sorted().into_iter().take(MOST_LISTED).cloned().collect();
    short.add(
        Diagnostic::error("more", format!("there are more problems than the {MOST_LISTED} listed"))
            .help("mend those listed, then read the file again"),
    );
    short
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;

    fn code(report: &Report) -> &'static str {
        report.sorted()[0].code
    }

    #[test]
    fn what_is_no_text_is_refused() {
        assert_eq!(code(&source("a", b"\xFF\xFE[\0").unwrap_err()), "not-utf8");
        assert_eq!(code(&source("a", b" \n\t\n").unwrap_err()), "empty-file");
        assert_eq!(code(&source("a", &[b'#'; LARGEST + 1]).unwrap_err()), "too-large");
        assert!(source("a", &[b'#'; LARGEST]).is_ok());
        assert_eq!(source("a", b"\xEF\xBB\xBFx = 1").unwrap().text, "x = 1");
    }

    #[test]
    fn of_endless_problems_a_hundred_are_listed() {
        let text: String = (0..150).map(|number| format!("x{number} = 1\n")).collect();
        let report = load::<Record>(&SourceFile { name: "a.toml".into(), text }).unwrap_err();
        assert_eq!(report.len(), MOST_LISTED + 1);
        assert_eq!(report.sorted()[0].message, "there are more problems than the 100 listed");
    }
}

//! A source text, and where a byte of it stands for a reader.

use std::ops::Range;

/// Bytes of a source text, from the first to the one after the last.
pub type Span = Range<usize>;

/// A text somebody wrote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Name as it is shown, for example `case.toml`.
    pub name: String,
    /// The text.
    pub text: String,
}

/// Line and column as an editor counts them, both from 1. A column is one character.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Position {
    /// Line.
    pub line: usize,
    /// Column.
    pub column: usize,
}

impl SourceFile {
    /// Where a byte stands. A byte past the end or inside a character counts as the nearest one before it.
    #[must_use]
    pub fn position(&self, byte: usize) -> Position {
        let before = &self.text[..self.text.floor_char_boundary(byte)];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Position { line: before.matches('\n').count() + 1, column: before[line_start..].chars().count() + 1 }
    }

    /// The part of a span that can be shown: inside the text, whole characters, its first line only.
    #[must_use]
    pub fn clip(&self, span: &Span) -> Span {
        let start = self.text.floor_char_boundary(span.start);
        let end = self.text.floor_char_boundary(span.end).max(start);
        let line_end = self.text[start..end].find(['\n', '\r']).map_or(end, |at| start + at);
        start..line_end
    }

    /// The whole lines that spans stand on, and the number of the first.
    pub(super) fn lines_around(&self, spans: &[Span]) -> (&str, usize) {
        let start = spans.iter().map(|span| span.start).min().unwrap_or(0);
        let end = spans.iter().map(|span| span.end).max().unwrap_or(0);
        let from = self.line_start(start);
        let to = self.text[end..].find('\n').map_or(self.text.len(), |at| end + at);
        (&self.text[from..to], self.position(from).line)
    }

    /// The first byte of the line a byte stands on.
    pub(super) fn line_start(&self, byte: usize) -> usize {
        self.text[..byte].rfind('\n').map_or(0, |newline| newline + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(text: &str) -> SourceFile {
        SourceFile { name: "case.toml".into(), text: text.into() }
    }

    #[test]
    fn a_column_is_one_character() {
        let file = file("name = \"é\"\nage = 1\n");
        assert_eq!(file.position(10), Position { line: 1, column: 10 });
        assert_eq!(file.position(12), Position { line: 2, column: 1 });
        assert_eq!(file.position(999), Position { line: 3, column: 1 });
    }

    #[test]
    fn a_clipped_span_is_whole_and_on_one_line() {
        let file = file("é\nab\n");
        assert_eq!(file.clip(&(1..2)), 0..2);
        assert_eq!(file.clip(&(3..99)), 3..5);
        assert_eq!(file.clip(&(50..60)), 6..6);
        assert_eq!(file.clip(&Span { start: 5, end: 4 }), 5..5);
    }
}

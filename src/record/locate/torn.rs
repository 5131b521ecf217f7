//! Lines that are no TOML: which field they were meant for, and the text without them.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::{DeTable, Error};

use super::{child, mistake};
use crate::diag::Span;

/// More readings than this are not tried.
const MOST_READINGS: usize = 64;

/// One line of a text, and the field that its beginning names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::record) struct Line {
    /// Its bytes, without the line break.
    pub(in crate::record) span: Span,
    /// Pointer of the table it stands in.
    pub(in crate::record) table: String,
    /// Pointer and place of its key, if it begins with one.
    pub(in crate::record) key: Option<(String, Span)>,
    /// Whether it begins that table.
    pub(in crate::record) is_header: bool,
    /// Whether it says anything.
    is_blank: bool,
}

impl Line {
    /// The field that is meant: the key, else the table.
    pub(super) fn field(&self) -> &str {
        self.key.as_ref().map_or(&self.table, |(pointer, _)| pointer)
    }

    /// Pointer of what may be written here: the field; one that ends in a slash stands for any key of its table.
    pub(super) fn may_hold(&self) -> String {
        if self.key.is_none() && !self.is_header { child(&self.table, "") } else { self.field().to_owned() }
    }
}

/// The lines of a text, read by their beginnings alone.
pub(in crate::record) fn lines(text: &str) -> Vec<Line> {
    let (mut lines, mut tables, mut start) = (Vec::new(), Tables::default(), 0);
    for written in text.split_inclusive('\n') {
        let span = start..start + written.trim_end_matches(['\n', '\r']).len();
        start += written.len();
        let is_header = tables.enter(&text[span.clone()]);
        let key = if is_header { None } else { key(text, &span, &tables.current) };
        let is_blank = matches!(written.trim_start().chars().next(), None | Some('#'));
        lines.push(Line { span, table: tables.current.clone(), key, is_header, is_blank });
    }
    lines
}

/// The table that lines stand in, and how many entries each list of tables has so far.
#[derive(Default)]
struct Tables {
    current: String,
    entries: BTreeMap<String, usize>,
}

impl Tables {
    /// Goes on to the table whose header a line is; false when it is none.
    fn enter(&mut self, line: &str) -> bool {
        let line = line.trim_start();
        // A name alone on its line is a table whose brackets were forgotten.
        let name = line.strip_prefix('[').or_else(|| mistake::is_name(line).then_some(line));
        let Some(name) = name else { return false };
        let is_list = name.starts_with('[');
        let name = name.trim_start_matches('[').split(']').next().unwrap_or_default();
        let Some((last, above)) = path(name).and_then(|path| path.split_last().map(|(l, a)| (l.clone(), a.to_vec())))
        else {
            return false;
        };
        let table = above.iter().fold(String::new(), |table, key| self.last_entry(child(&table, key)));
        let table = child(&table, &last);
        if is_list {
            *self.entries.entry(table.clone()).or_default() += 1;
        }
        self.current = self.last_entry(table);
        true
    }

    fn last_entry(&self, pointer: String) -> String {
        match self.entries.get(&pointer) {
            Some(count) => child(&pointer, &(count - 1).to_string()),
            None => pointer,
        }
    }
}

/// The key a line begins with: before an equals sign, or a word in front of something else.
fn key(text: &str, span: &Span, table: &str) -> Option<(String, Span)> {
    let line = &text[span.clone()];
    let written = match line.split_once('=') {
        Some((key, _)) => key,
        None => line.trim_start().split([' ', '\t', ':']).next().filter(|word| word.chars().all(is_small))?,
    };
    let written = written.trim();
    let path = path(written)?;
    let start = span.start + line.find(written)?;
    Some((path.iter().fold(table.to_owned(), |table, key| child(&table, key)), start..start + written.len()))
}

/// The parts of a dotted key, if they are plain ones.
fn path(written: &str) -> Option<Vec<String>> {
    let parts = written.split('.').map(|part| part.trim().trim_matches(['"', '\'']));
    let is_plain = |part: &str| {
        !part.is_empty() && part.chars().all(|character| is_small(character) || character.is_ascii_uppercase())
    };
    parts.map(|part| is_plain(part).then(|| part.to_owned())).collect()
}

fn is_small(character: char) -> bool {
    matches!(character, 'a'..='z' | '0'..='9' | '_' | '-')
}

/// A text without the lines that cannot be read: blanks stand in their place, so that all others stay where they are.
pub(super) struct Mended {
    /// What is left.
    pub(super) text: String,
    /// The lines left out.
    pub(super) torn: Vec<Line>,
}

impl Mended {
    /// Takes lines out until the rest can be read; none when that does not lead to an end.
    pub(super) fn of(text: &str, lines: &[Line], errors: &[Error]) -> Option<Self> {
        let mut out = BTreeSet::new();
        let mut found: Vec<usize> = errors.iter().map(start).collect();
        for _ in 0..MOST_READINGS {
            for byte in found {
                take_out(lines, byte, &mut out)?;
            }
            let rest = without(text, out.iter().map(|line| &lines[*line].span));
            let (_, errors) = DeTable::parse_recoverable(&rest);
            if errors.is_empty() {
                let torn = out.iter().map(|line| lines[*line].clone()).collect();
                return Some(Self { text: rest, torn });
            }
            found = errors.iter().map(start).collect();
        }
        None
    }
}

/// The first byte of what is wrong.
pub(super) fn start(error: &Error) -> usize {
    error.span().unwrap_or_default().start
}

/// The line a byte stands on.
pub(super) fn line_at(lines: &[Line], byte: usize) -> Option<&Line> {
    lines.iter().rev().find(|line| line.span.start <= byte)
}

/// Takes out the line a byte stands on, or the nearest above that is left; with the head of a table all of the table.
fn take_out(lines: &[Line], byte: usize, out: &mut BTreeSet<usize>) -> Option<()> {
    let is_left = |(at, line): &(usize, &Line)| line.span.start <= byte && !line.is_blank && !out.contains(at);
    let (torn, line) = lines.iter().enumerate().rev().find(is_left)?;
    out.insert(torn);
    if line.is_header {
        let below = lines.iter().enumerate().skip(torn + 1).take_while(|(_, line)| !line.is_header);
        out.extend(below.filter(|(_, line)| !line.is_blank).map(|(at, _)| at));
    }
    Some(())
}

fn without<'a>(text: &str, spans: impl Iterator<Item = &'a Span>) -> String {
    let mut rest = text.to_owned();
    for span in spans {
        rest.replace_range(span.clone(), &" ".repeat(span.len()));
    }
    rest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Vec<String> {
        lines(text).iter().map(|line| line.field().to_owned()).collect()
    }

    #[test]
    fn a_line_names_its_field_by_its_beginning() {
        let text = "a = 1\n[eye]\nside right\n  lens: x\n[[s]]\n[[s]]\nday = 1\n[s.x]\n\"b\" = 2\n[\"a\",\n";
        let expected =
            ["/a", "/eye", "/eye/side", "/eye/lens", "/s/0", "/s/1", "/s/1/day", "/s/1/x", "/s/1/x/b", "/s/1/x"];
        assert_eq!(fields(text), expected);
    }

    #[test]
    fn what_can_be_read_is_left_in_its_place() {
        let text = "[eye]\nside = no\nlens = 'none'\n[eye]\nx = 1\n[b]\ny = 2\n";
        let (_, errors) = DeTable::parse_recoverable(text);
        let mended = Mended::of(text, &lines(text), &errors).unwrap();
        assert_eq!(mended.text, "[eye]\n         \nlens = 'none'\n     \n     \n[b]\ny = 2\n");
        let torn: Vec<String> = mended.torn.iter().map(Line::may_hold).collect();
        assert_eq!(torn, ["/eye/side", "/eye", "/eye/x"]);
    }
}

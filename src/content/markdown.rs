//! CommonMark as a surgeon writes it, turned into our blocks. Raw HTML, pictures and anything we cannot lay out are
//! refused.

use pulldown_cmark::{Event, HeadingLevel, Parser, Tag, TagEnd};

use super::error::MarkdownError;
use super::inline::{Inline, Inlines};
use crate::assets::DEPTH;

/// A piece of a statement's text.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Piece {
    /// A heading of level 3 or 4.
    Heading(u8, String),
    /// A paragraph.
    Paragraph(Inlines),
    /// A list: numbered or not, and its items.
    List(bool, Vec<Inlines>),
}

/// Reads a text. A link to `#source` is the mark of a note: its text is the evidence id, which `cite` numbers.
///
/// # Errors
/// What the text holds that cannot be printed.
pub fn parse(text: &str, cite: &mut dyn FnMut(&str) -> u32) -> Result<Vec<Piece>, MarkdownError> {
    let mut reader = Reader { pieces: Vec::new(), runs: vec![Vec::new()], lists: Vec::new(), note: None };
    for (event, place) in Parser::new(text).into_offset_iter() {
        reader.event(event, cite)?;
        if reader.runs.len() > DEPTH + 1 {
            let line = text[..place.start].matches('\n').count() + 1;
            return Err(MarkdownError::TooDeep { line, depth: DEPTH });
        }
    }
    Ok(reader.pieces)
}

/// Inline text only: one paragraph.
///
/// # Errors
/// As [`parse`], and when the text is more than one paragraph.
pub fn inline(text: &str, cite: &mut dyn FnMut(&str) -> u32) -> Result<Inlines, MarkdownError> {
    let mut pieces = parse(text, cite)?;
    match (pieces.pop(), pieces.is_empty()) {
        (None, _) => Ok(Vec::new()),
        (Some(Piece::Paragraph(text)), true) => Ok(text),
        _ => Err(MarkdownError::NotOneParagraph),
    }
}

struct Reader {
    pieces: Vec<Piece>,
    /// Open runs of text: the paragraph and, inside it, each bold run.
    runs: Vec<Inlines>,
    /// Open lists; only one level is laid out.
    lists: Vec<(bool, Vec<Inlines>)>,
    note: Option<String>,
}

impl Reader {
    fn event(&mut self, event: Event, cite: &mut dyn FnMut(&str) -> u32) -> Result<(), MarkdownError> {
        match event {
            Event::Start(tag) => self.start(&tag),
            Event::End(tag) => self.end(tag, cite),
            Event::Text(text) => self.text(&text),
            Event::SoftBreak | Event::HardBreak => self.text(" "),
            _ => Err(MarkdownError::Odd),
        }
    }

    fn start(&mut self, tag: &Tag) -> Result<(), MarkdownError> {
        match tag {
            Tag::Paragraph => {
                let started = self.runs.last().is_some_and(|run| !run.is_empty());
                if !self.lists.is_empty() && started {
                    return Err(MarkdownError::LongItem);
                }
            }
            Tag::Heading { level: HeadingLevel::H3 | HeadingLevel::H4, .. } if self.lists.is_empty() => {}
            Tag::Strong => self.runs.push(Vec::new()),
            Tag::List(None | Some(1)) if self.lists.is_empty() => {
                self.lists.push((matches!(tag, Tag::List(Some(_))), Vec::new()));
            }
            Tag::Item => self.runs = vec![Vec::new()],
            Tag::Link { dest_url, .. } if dest_url.as_ref() == "#source" => {
                self.note = Some(String::new());
            }
            _ => return Err(MarkdownError::Odd),
        }
        Ok(())
    }

    fn end(&mut self, tag: TagEnd, cite: &mut dyn FnMut(&str) -> u32) -> Result<(), MarkdownError> {
        match tag {
            TagEnd::Paragraph if self.lists.is_empty() => {
                let text = self.take();
                self.pieces.push(Piece::Paragraph(text));
            }
            TagEnd::Heading(level) => {
                let text = plain(&self.take());
                self.pieces.push(Piece::Heading(level as u8, text));
            }
            TagEnd::Strong => {
                let run = self.runs.pop().unwrap_or_default();
                self.push(Inline::Strong(run));
            }
            TagEnd::Item => {
                let text = self.take();
                if let Some((_, items)) = self.lists.last_mut() {
                    items.push(text);
                }
            }
            TagEnd::List(_) => {
                let (ordered, items) = self.lists.pop().unwrap_or_default();
                self.pieces.push(Piece::List(ordered, items));
            }
            TagEnd::Link => {
                let id = self.note.take().unwrap_or_default();
                self.push(Inline::Note(cite(&id)));
            }
            _ => {}
        }
        Ok(())
    }

    fn text(&mut self, text: &str) -> Result<(), MarkdownError> {
        match &mut self.note {
            Some(id) => id.push_str(text),
            None => self.push(Inline::Text(text.to_owned())),
        }
        Ok(())
    }

    /// Adjacent texts join, so that a line break in the file is a space and nothing else; two results of one source have one
    /// note.
    fn push(&mut self, inline: Inline) {
        let Some(run) = self.runs.last_mut() else { return };
        match (run.last_mut(), inline) {
            (Some(Inline::Text(before)), Inline::Text(text)) => before.push_str(&text),
            (Some(Inline::Note(before)), Inline::Note(note)) if *before == note => {}
            (_, inline) => run.push(inline),
        }
    }

    fn take(&mut self) -> Inlines {
        let run = self.runs.pop().unwrap_or_default();
        self.runs = vec![Vec::new()];
        run
    }
}

/// The text of a run without emphasis and notes.
#[must_use]
pub fn plain(inlines: &[Inline]) -> String {
    inlines
        .iter()
        .map(|inline| match inline {
            Inline::Text(text) | Inline::Id(text) => text.clone(),
            Inline::Strong(run) => plain(run),
            Inline::Note(_) | Inline::Mark(_) => String::new(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(text: &str) -> Inline {
        Inline::Text(text.into())
    }

    #[test]
    fn reads_what_a_surgeon_writes() {
        let mut cited = Vec::new();
        let pieces = parse("### Name\n\nOne **two**\nthree.[ev-1](#source)\n\n- a\n- b\n", &mut |id| {
            cited.push(id.to_owned());
            1
        })
        .unwrap();
        assert_eq!(
            pieces,
            [
                Piece::Heading(3, "Name".into()),
                Piece::Paragraph(vec![
                    text("One "),
                    Inline::Strong(vec![text("two")]),
                    text(" three."),
                    Inline::Note(1)
                ]),
                Piece::List(false, vec![vec![text("a")], vec![text("b")]]),
            ]
        );
        assert_eq!(cited, ["ev-1"]);
    }

    #[test]
    fn two_results_of_one_source_have_one_note() {
        let numbers = |text: &str| {
            let pieces = parse(text, &mut |id| if id == "other" { 2 } else { 1 }).unwrap();
            let [Piece::Paragraph(inlines)] = &pieces[..] else { panic!("{pieces:?}") };
            let note = |inline: &Inline| if let Inline::Note(number) = inline { Some(*number) } else { None };
            inlines.iter().filter_map(note).collect::<Vec<_>>()
        };
        assert_eq!(numbers("It.[one](#source)[same](#source)"), [1]);
        assert_eq!(numbers("It.[one](#source)[other](#source)[same](#source)"), [1, 2, 1]);
        assert_eq!(numbers("It.[one](#source) And it.[same](#source)"), [1, 1]);
    }

    /// A text of the usual length, deep to the limit and far beyond, in a thread with the usual stack.
    #[test]
    fn bold_nests_to_a_limit() {
        let bold = |n: usize| format!("one\n{}x{}", "**a ".repeat(n), " b**".repeat(n));
        assert!(parse(&bold(DEPTH), &mut |_| 1).is_ok());
        for n in [DEPTH + 1, 8_000] {
            assert_eq!(parse(&bold(n), &mut |_| 1), Err(MarkdownError::TooDeep { line: 2, depth: DEPTH }), "{n}");
        }
    }

    #[test]
    fn what_cannot_be_printed_is_refused() {
        for wrong in
            ["<b>x</b>", "![x](y.png)", "[x](elsewhere)", "*x*", "`x`", "> x", "---", "# x", "3. x", "- a\n\n  b"]
        {
            assert!(parse(wrong, &mut |_| 1).is_err(), "{wrong}");
        }
    }
}

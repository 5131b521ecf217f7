//! The ways to choose from side by side: the same questions of each, like beside like.

use super::super::part::Part;
use super::super::sheet::{Built, Sheet};
use super::super::{Block, Figure, Inline, Inlines, WayCell, WayRow, Ways};
use crate::content::markdown::Piece;
use crate::content::{ComposeError, Said};

pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let ways = sheet.content.section("options").map(Way::of).collect::<Built<Vec<_>>>()?;
    let Some(first) = ways.first() else {
        return Err(ComposeError::Page("the consent page has no options to choose from"));
    };
    let rows = first.answers.iter().enumerate().map(|(at, (question, _))| {
        // What each involves and may bring comes first, then the harms.
        let harm = at > 1;
        let cells = ways.iter().map(|way| way.cell(sheet, at, question, harm)).collect::<Built<_>>()?;
        Ok(WayRow { head: (*question).to_owned(), harm, cells })
    });
    let rows = rows.collect::<Built<Vec<_>>>()?;
    Ok(vec![
        sheet.heading("consent.options")?,
        Part::Comparison.block(),
        Block::Ways(Ways {
            caption: sheet.text("consent.options_caption", &[])?,
            names: ways.iter().map(|way| way.name.to_owned()).collect(),
            rows,
        }),
    ])
}

/// One way to choose, cut at its subheadings.
struct Way<'a> {
    said: &'a Said,
    name: &'a str,
    answers: Vec<(&'a str, Inlines)>,
}

impl<'a> Way<'a> {
    /// Its answer to the question at this place, which every way must answer; marked as part of this way.
    fn cell(&self, sheet: &Sheet, at: usize, question: &str, harm: bool) -> Built<WayCell> {
        let Some((_, answer)) = self.answers.get(at).filter(|(asked, _)| *asked == question) else {
            return Err(ComposeError::statement(&self.said.id, "every option has the same subheadings"));
        };
        let title = format!("{}, {question}", self.name);
        let mark = Inline::Mark(self.said.id.clone());
        let words = answer.iter().filter(|inline| !matches!(inline, Inline::Mark(_))).cloned();
        let text = std::iter::once(mark).chain(words).collect();
        Ok(WayCell { figure: self.figure(sheet, answer, title, harm)?, text })
    }

    /// The first of its evidence to be drawn that this answer cites and of which its text prints a number.
    fn figure(&self, sheet: &Sheet, answer: &[Inline], title: String, harm: bool) -> Built<Option<Figure>> {
        let cited: Vec<String> = answer.iter().flat_map(|inline| sheet.content.cited(inline)).collect();
        let printed = |id: &String| self.said.numbers.iter().any(|number| number.evidence == *id);
        match self.said.figures.iter().find(|id| cited.contains(id) && printed(id)) {
            Some(id) => sheet.figure(sheet.content.drawn(id, true)?, title, harm).map(Some),
            None => Ok(None),
        }
    }

    fn of(said: &'a Said) -> Built<Self> {
        let [Piece::Heading(3, name), rest @ ..] = said.pieces.as_slice() else {
            return Err(ComposeError::statement(&said.id, "an option begins with its name"));
        };
        let mut answers: Vec<(&str, Inlines)> = Vec::new();
        for piece in rest {
            match (piece, answers.last_mut()) {
                (Piece::Heading(_, head), _) => answers.push((head, Vec::new())),
                (Piece::Paragraph(text), Some((_, answer))) => answer.extend(text.clone()),
                _ => {
                    return Err(ComposeError::statement(&said.id, "an option holds paragraphs under its subheadings"));
                }
            }
        }
        Ok(Self { said, name, answers })
    }
}

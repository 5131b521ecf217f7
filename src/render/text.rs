//! A page set as plain text, for screen readers and email: one paragraph a line, tables and calendar told row by row.

use crate::document::{Block, Calendar, CalendarLine, Card, Check, Document, Figure, Inline, Inlines, Risks, Ways};

/// A box to tick, and one that is ticked.
const BOXES: [&str; 2] = ["[ ]", "[x]"];
/// Room to write.
const BLANK: &str = "____________";

/// The document as plain text, UTF-8, lines ended by a line feed. Long lines are not wrapped: whoever reads it does that.
#[must_use]
pub fn text(document: &Document) -> String {
    let mut out = Text(String::new());
    for line in &document.banner {
        out.paragraph(&line.text);
    }
    let header = &document.header;
    out.paragraph(&format!("{}\n{}\n{}", header.name, header.identifiers, header.eye));
    out.paragraph(&document.title);
    document.blocks.iter().for_each(|block| out.block(block));
    out.paragraph(&format!("{}\n{}", document.footer.document, document.footer.practice));
    out.0.trim_start().to_owned()
}

/// One block as plain text.
pub(super) fn block(block: &Block) -> String {
    let mut out = Text(String::new());
    out.block(block);
    out.0
}

struct Text(String);

impl Text {
    fn paragraph(&mut self, text: &str) {
        self.0.push('\n');
        self.line(text);
    }

    fn line(&mut self, text: &str) {
        self.0.push_str(text.trim());
        self.0.push('\n');
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading { text, .. } => self.paragraph(text),
            Block::Paragraph { text } | Block::Lead { text } => self.paragraph(&plain(text)),
            Block::List { ordered, items } => {
                self.list(items, |at| if *ordered { format!("{at}.") } else { "-".into() })
            }
            Block::References { items } => self.list(items, |at| format!("[{at}]")),
            Block::Pairs { items } => {
                self.0.push('\n');
                items.iter().for_each(|pair| self.line(&format!("{}: {}", pair.label, plain(&pair.value))));
            }
            Block::Warning { title, signs, action, phones } => {
                self.paragraph(title);
                self.list(signs, |_| "-".into());
                self.paragraph(&plain(action));
                phones.iter().for_each(|phone| self.line(&format!("{}, {}: {}", phone.hours, phone.who, phone.number)));
            }
            Block::Call { text, numbers } => self.paragraph(&format!("{} {}", plain(text), numbers.join(", "))),
            Block::Notice { title, text, .. } => self.paragraph(&format!("{title}\n{}", plain(text))),
            Block::Choices { items } => self.list(items, |_| "-".into()),
            Block::Ways(ways) => self.ways(ways),
            Block::Risks(risks) => self.risks(risks),
            Block::Figures { caption, items } => {
                self.paragraph(caption);
                items.iter().for_each(|figure| self.figure(figure));
            }
            Block::Table { caption, columns, rows, .. } => self.table(caption, columns, rows),
            Block::Appointment { title, when, place, text } => {
                self.paragraph(&format!("{title}\n{when}\n{place}\n{}", plain(text)));
            }
            Block::Calendar(calendar) => self.calendar(calendar),
            Block::Clearances(drawing) => self.paragraph(&drawing.alt),
            Block::EyeSection(eye) => {
                let texts = [&eye.section.alt, &eye.note, &eye.shadow.alt, &eye.shadow_note];
                texts.into_iter().for_each(|text| self.paragraph(text));
                eye.section.labels.iter().for_each(|label| self.line(&format!("- {}", label.text)));
                eye.beside.iter().chain(&eye.about).for_each(|text| self.paragraph(&plain(text)));
            }
            Block::Chart(chart) => self.paragraph(&format!("{}\n{}", chart.alt, chart.note)),
            Block::Eyes { alt, .. } => self.paragraph(alt),
            Block::Checklist { items } => {
                self.0.push('\n');
                items.iter().for_each(|item| self.check(item));
            }
            Block::Choice { question, options, blank } => {
                let options: Vec<String> = options.iter().map(|option| format!("{} {option}", BOXES[0])).collect();
                self.paragraph(&format!("{} {}, {blank}: {BLANK}", plain(question), options.join(" ")));
            }
            Block::Scale { question, steps, lowest, highest } => {
                self.paragraph(&plain(question));
                let (last, boxes) = (steps.len().saturating_sub(1), steps.iter().enumerate());
                let meaning = |at: usize| match at {
                    0 => format!(" {lowest}"),
                    at if at == last => format!(" {highest}"),
                    _ => String::new(),
                };
                boxes.for_each(|(at, step)| self.line(format!("{} {step}{}", BOXES[0], meaning(at)).trim_end()));
            }
            Block::Lines { items } => {
                for item in items {
                    self.paragraph(&item.label);
                    (0..item.count).for_each(|_| self.line(BLANK));
                }
            }
            Block::Signatures { title, answers, sentence, signers } => {
                self.paragraph(title);
                answers.iter().for_each(|answer| self.line(&format!("{} {}", BOXES[0], plain(answer))));
                sentence.iter().for_each(|paragraph| self.paragraph(&plain(paragraph)));
                for signer in signers {
                    self.paragraph(&signer.role);
                    signer.blanks.iter().for_each(|blank| self.line(&format!("{blank}: {BLANK}")));
                }
            }
            Block::Card(card) => self.card(card),
            Block::Code(code) => {
                code.text.iter().for_each(|text| self.paragraph(&plain(text)));
                self.paragraph(&code.hint);
            }
            Block::PageBreak | Block::Annex | Block::Mark { .. } => {}
        }
    }

    /// The alternative text holds the number; the title stands before it.
    fn figure(&mut self, figure: &Figure) {
        self.line(&format!("- {}: {}. {}", figure.title, figure.number, figure.alt));
    }

    /// Question by question, what each way answers.
    fn ways(&mut self, ways: &Ways) {
        self.paragraph(&ways.caption);
        for row in &ways.rows {
            self.paragraph(&row.head);
            for (name, cell) in ways.names.iter().zip(&row.cells) {
                cell.figure.iter().for_each(|figure| self.figure(figure));
                self.line(&format!("{name}: {}", plain(&cell.text)));
            }
        }
    }

    fn risks(&mut self, risks: &Risks) {
        self.paragraph(&risks.caption);
        let [what, often, then] = &risks.heads;
        for risk in &risks.rows {
            self.paragraph(&format!("{what}: {}", risk.name));
            risk.higher.iter().for_each(|text| self.line(&format!("{}: {}", risks.mark, plain(text))));
            self.line(&format!("{often}: {}", plain(&risk.often)));
            self.line(&format!("{then}: {}", plain(&risk.then)));
        }
    }

    fn card(&mut self, card: &Card) {
        self.paragraph(&plain(&card.how));
        self.paragraph(&format!("{}, {}", card.title, card.eye));
        card.items.iter().for_each(|pair| self.line(&format!("{}: {}", pair.label, plain(&pair.value))));
        self.line(&format!("{}: {BLANK}", card.name));
        self.paragraph(&format!("{}: {}", card.signs_title, plain(&card.signs)));
        card.phones.iter().for_each(|phone| self.line(&format!("{}, {}: {}", phone.hours, phone.who, phone.number)));
    }

    fn list(&mut self, items: &[Inlines], mark: impl Fn(usize) -> String) {
        self.0.push('\n');
        items.iter().enumerate().for_each(|(at, item)| self.line(&format!("{} {}", mark(at + 1), plain(item))));
    }

    fn table(&mut self, caption: &str, columns: &[String], rows: &[Vec<Inlines>]) {
        self.paragraph(caption);
        for row in rows {
            self.0.push('\n');
            columns.iter().zip(row).for_each(|(head, cell)| self.line(&format!("{head}: {}", plain(cell))));
        }
    }

    fn calendar(&mut self, calendar: &Calendar) {
        self.paragraph(&plain(&calendar.how));
        self.paragraph(&calendar.date_head);
        for drug in &calendar.drugs {
            self.line(&format!("{}, {}: {} {}", drug.name, drug.eye, drug.purpose, drug.note));
        }
        let say = |line: &CalendarLine| format!("{}: {}", calendar.drugs[line.drug].name, line.text);
        for day in &calendar.days {
            let mark = if day.mark.is_empty() { String::new() } else { format!(" ({})", day.mark) };
            self.paragraph(&format!("{}, {}{mark}", day.weekday, day.date));
            day.changes.iter().for_each(|change| self.line(&say(change)));
            for (column, dose) in
                day.doses.iter().enumerate().flat_map(|(at, cell)| cell.iter().map(move |dose| (at, dose)))
            {
                let (tick, drug) = (BOXES[usize::from(dose.given)], &calendar.drugs[dose.drug]);
                self.line(&format!("{tick} {}: {}, {}", calendar.when(column, dose), drug.name, drug.eye));
            }
            day.stops.iter().for_each(|stop| self.line(&say(stop)));
            day.visits.iter().for_each(|visit| self.check(visit));
        }
        self.0.push('\n');
        calendar.later.iter().for_each(|visit| self.check(visit));
    }

    fn check(&mut self, check: &Check) {
        let blanks: String = check.blanks.iter().map(|blank| format!(", {blank}: {BLANK}")).collect();
        self.line(&format!("{} {}{blanks}", BOXES[0], plain(&check.text)));
    }
}

/// The words of inlines, with the numbers of their sources.
fn plain(inlines: &[Inline]) -> String {
    let words = inlines.iter().map(|inline| match inline {
        Inline::Text(text) => text.clone(),
        Inline::Id(id) => format!("({id})"),
        Inline::Strong(inner) => plain(inner),
        Inline::Note(number) => format!(" [{number}]"),
        Inline::Mark(_) => String::new(),
    });
    words.collect()
}

//! A document as it is read aloud: its words in order, without the numbers of notes, cut where a statement or a part
//! begins.

use super::eye::EyeSection;
use super::{Block, Calendar, CalendarLine, Card, Check, Document, Figure, Inline, Lined, Pair, Risks, Ways};

/// A run of words that belongs to one statement, one part, or neither.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Passage {
    /// Id of the statement or part; empty for words of the page itself.
    pub id: String,
    /// The section heading above it.
    pub section: String,
    /// Kind of the block it stands in, for example `risks`.
    pub block: &'static str,
    /// The words.
    pub text: String,
    /// Those of the words that are running text, one entry for each paragraph, list item or cell: no heading, label, name,
    /// date, phone, calendar or source.
    pub running: Vec<String>,
}

/// Reads a document. A mark holds to the end of its block.
#[must_use]
pub fn read(document: &Document) -> Vec<Passage> {
    let mut reader = Reader { passages: Vec::new(), section: document.title.clone(), next: String::new(), block: "" };
    for block in &document.blocks {
        reader.block(block);
    }
    reader.passages.retain(|passage| !(passage.id.is_empty() && passage.text.trim().is_empty()));
    for passage in &mut reader.passages {
        // Nobody hears that a space keeps two words on one line.
        passage.text = spaced(&passage.text);
        passage.running.retain(|text| !text.trim().is_empty());
        passage.running.iter_mut().for_each(|text| *text = spaced(text));
    }
    reader.passages
}

/// A text as it is read aloud and as people write it.
pub(crate) fn spaced(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

struct Reader {
    passages: Vec<Passage>,
    section: String,
    /// Id that a mark block gave to the block that follows.
    next: String,
    block: &'static str,
}

impl Reader {
    fn block(&mut self, block: &Block) {
        if let Block::Mark { id } = block {
            self.next.clone_from(id);
            return;
        }
        self.block = kind(block);
        let id = std::mem::take(&mut self.next);
        self.open(id);
        match block {
            Block::Heading { level, text } => {
                if *level == 2 {
                    self.section.clone_from(text);
                }
                self.line(text);
            }
            Block::Paragraph { text } | Block::Lead { text } => self.run(text),
            Block::List { items, .. } | Block::References { items } => self.runs(items),
            Block::Pairs { items } => self.pairs(items),
            Block::Warning { title, signs, action, phones } => {
                self.line(title);
                self.runs(signs);
                self.run(action);
                phones.iter().for_each(|phone| self.line(&format!("{} {} {}", phone.hours, phone.who, phone.number)));
            }
            Block::Call { text, numbers } => {
                self.run(text);
                numbers.iter().for_each(|number| self.line(number));
            }
            Block::Notice { title, text, .. } => {
                self.line(title);
                self.run(text);
            }
            Block::Choices { items } => self.runs(items),
            Block::Ways(ways) => self.ways(ways),
            Block::Risks(risks) => self.risks(risks),
            Block::Figures { caption, items } => {
                self.line(caption);
                items.iter().for_each(|figure| self.figure(figure));
            }
            Block::Table { caption, columns, rows, .. } => {
                self.line(caption);
                self.line(&columns.join(" "));
                rows.iter().for_each(|row| self.runs(row));
            }
            Block::Appointment { title, when, place, text } => {
                [title, when, place].into_iter().for_each(|line| self.line(line));
                self.run(text);
            }
            Block::Calendar(calendar) => self.calendar(calendar),
            Block::Clearances(drawing) => self.line(&drawing.alt),
            Block::EyeSection(eye) => self.eye(eye),
            Block::Chart(chart) => [&chart.alt, &chart.note].into_iter().for_each(|line| self.line(line)),
            Block::Eyes { alt, .. } => self.line(alt),
            Block::Checklist { items } => items.iter().for_each(|item| self.check(item)),
            Block::Choice { question, options, blank } => self.answers(question, options, &[blank]),
            Block::Scale { question, steps, lowest, highest } => self.answers(question, steps, &[lowest, highest]),
            Block::Lines { items } => items.iter().for_each(|item| self.lined(item)),
            Block::Signatures { title, answers, sentence, signers } => {
                self.line(title);
                self.runs(answers);
                self.open(String::new());
                self.runs(sentence);
                for signer in signers {
                    self.open(signer.mark.clone());
                    self.line(&signer.role);
                    signer.blanks.iter().for_each(|blank| self.line(blank));
                }
            }
            Block::Card(card) => self.card(card),
            Block::Code(code) => {
                self.runs(&code.text);
                self.line(&code.hint);
            }
            Block::PageBreak | Block::Annex | Block::Mark { .. } => {}
        }
    }

    fn card(&mut self, card: &Card) {
        self.run(&card.how);
        [&card.title, &card.eye].into_iter().for_each(|line| self.line(line));
        self.pairs(&card.items);
        [&card.name, &card.signs_title].into_iter().for_each(|line| self.line(line));
        self.run(&card.signs);
        card.phones.iter().for_each(|phone| self.line(&format!("{} {} {}", phone.hours, phone.who, phone.number)));
    }

    fn lined(&mut self, item: &Lined) {
        self.open(item.mark.clone());
        self.line(&item.label);
    }

    fn eye(&mut self, eye: &EyeSection) {
        let labels = eye.section.labels.iter().map(|label| label.text.as_str());
        let texts = [&eye.section.alt, &eye.note, &eye.shadow.alt, &eye.shadow_note];
        texts.into_iter().map(String::as_str).chain(labels).for_each(|text| self.line(text));
        eye.beside.iter().chain(&eye.about).for_each(|text| self.run(text));
    }

    fn figure(&mut self, figure: &Figure) {
        [&figure.title, &figure.number, &figure.alt].into_iter().for_each(|line| self.line(line));
    }

    fn ways(&mut self, ways: &Ways) {
        self.line(&ways.caption);
        self.line(&ways.names.join(" "));
        for row in &ways.rows {
            self.open(String::new());
            self.line(&row.head);
            for cell in &row.cells {
                if let Some(figure) = &cell.figure {
                    self.open(marked(&cell.text));
                    self.figure(figure);
                }
                self.run(&cell.text);
            }
        }
    }

    /// The name of a risk and its mark belong to its statement.
    fn risks(&mut self, risks: &Risks) {
        self.line(&risks.caption);
        self.line(&risks.heads.join(" "));
        for risk in &risks.rows {
            self.open(marked(&risk.often));
            self.line(&risk.name);
            if !risk.higher.is_empty() {
                self.line(&risks.mark);
            }
            for text in [&risk.often, &risk.then].into_iter().chain(&risk.higher) {
                let unmarked: Vec<Inline> =
                    text.iter().filter(|inline| !matches!(inline, Inline::Mark(_))).cloned().collect();
                self.run(&unmarked);
            }
        }
    }

    fn pairs(&mut self, items: &[Pair]) {
        for pair in items {
            self.open(String::new());
            self.line(&pair.label);
            self.run(&pair.value);
        }
    }

    fn calendar(&mut self, calendar: &Calendar) {
        self.run(&calendar.how);
        for drug in &calendar.drugs {
            self.line(&format!("{} {} {} {}", drug.name, drug.eye, drug.purpose, drug.note));
        }
        let line = |line: &CalendarLine| format!("{}: {}", calendar.drugs[line.drug].name, line.text);
        for day in &calendar.days {
            day.changes.iter().for_each(|change| self.line(&line(change)));
            let boxes = day.doses.iter().enumerate().flat_map(|(column, doses)| {
                doses
                    .iter()
                    .map(move |dose| format!("{}: {}", calendar.when(column, dose), calendar.drugs[dose.drug].name))
            });
            self.line(&format!("{} {} {} {}", day.weekday, day.date, day.mark, boxes.collect::<Vec<_>>().join(", ")));
            day.stops.iter().for_each(|stop| self.line(&line(stop)));
            day.visits.iter().for_each(|visit| self.check(visit));
        }
        calendar.later.iter().for_each(|visit| self.check(visit));
    }

    fn check(&mut self, check: &Check) {
        self.run(&check.text);
        check.blanks.iter().for_each(|blank| self.line(blank));
    }

    fn runs(&mut self, runs: &[Vec<Inline>]) {
        for run in runs {
            self.run(run);
        }
    }

    /// A question, its answers, and what stands beside them.
    fn answers(&mut self, question: &[Inline], answers: &[String], beside: &[&String]) {
        self.run(question);
        answers.iter().chain(beside.iter().copied()).for_each(|text| self.line(text));
    }

    fn run(&mut self, run: &[Inline]) {
        self.begin();
        for inline in run {
            match inline {
                Inline::Mark(id) => {
                    self.open(id.clone());
                    self.begin();
                }
                Inline::Text(text) | Inline::Id(text) => self.say(text),
                Inline::Strong(run) => self.run_on(run),
                Inline::Note(_) => {}
            }
        }
        self.add("\n");
    }

    /// Opens a running text, where the block holds any.
    fn begin(&mut self) {
        let sentences = !matches!(self.block, "pairs" | "references" | "calendar");
        if let Some(passage) = self.passages.last_mut().filter(|_| sentences) {
            passage.running.push(String::new());
        }
    }

    /// Words of a running text.
    fn say(&mut self, text: &str) {
        self.add(text);
        if let Some(running) = self.passages.last_mut().and_then(|passage| passage.running.last_mut()) {
            running.push_str(text);
        }
    }

    fn run_on(&mut self, run: &[Inline]) {
        for inline in run {
            match inline {
                Inline::Text(text) | Inline::Id(text) => self.say(text),
                Inline::Strong(run) => self.run_on(run),
                Inline::Note(_) | Inline::Mark(_) => {}
            }
        }
    }

    fn line(&mut self, text: &str) {
        if !text.is_empty() {
            self.add(text);
            self.add("\n");
        }
    }

    fn add(&mut self, text: &str) {
        if let Some(passage) = self.passages.last_mut() {
            passage.text.push_str(text);
        }
    }

    fn open(&mut self, id: String) {
        let section = self.section.clone();
        self.passages.push(Passage { id, section, block: self.block, ..Passage::default() });
    }
}

/// The statement that a text belongs to.
fn marked(text: &[Inline]) -> String {
    let id = text.iter().find_map(|inline| if let Inline::Mark(id) = inline { Some(id.clone()) } else { None });
    id.unwrap_or_default()
}

/// The kind of a block as its layout calls it.
fn kind(block: &Block) -> &'static str {
    match block {
        Block::Heading { .. } => "heading",
        Block::Paragraph { .. } => "paragraph",
        Block::Lead { .. } => "lead",
        Block::List { .. } => "list",
        Block::Pairs { .. } => "pairs",
        Block::Warning { .. } => "warning",
        Block::Call { .. } => "call",
        Block::Notice { .. } => "notice",
        Block::Choices { .. } => "choices",
        Block::Ways(_) => "ways",
        Block::Risks(_) => "risks",
        Block::Figures { .. } => "figures",
        Block::Table { .. } => "table",
        Block::Appointment { .. } => "appointment",
        Block::Calendar(_) => "calendar",
        Block::Clearances(_) => "clearances",
        Block::EyeSection(_) => "eye-section",
        Block::Chart(_) => "chart",
        Block::Eyes { .. } => "eyes",
        Block::Checklist { .. } => "checklist",
        Block::Choice { .. } => "choice",
        Block::Scale { .. } => "scale",
        Block::Lines { .. } => "lines",
        Block::Signatures { .. } => "signatures",
        Block::References { .. } => "references",
        Block::Card(_) => "card",
        Block::Code(_) => "code",
        Block::PageBreak => "page-break",
        Block::Annex => "annex",
        Block::Mark { .. } => "mark",
    }
}

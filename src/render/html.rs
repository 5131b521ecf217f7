//! A page set as one HTML file that needs nothing else: no script, no picture file, no font. For screen readers, email and
//! whoever enlarges what they read (WCAG 2.2: headings, lists, table heads with scope, language of the page and its
//! parts, contrast 21:1).

use std::fmt::Write;

use super::drawing::{self, escape};
use super::shapes::shape;
use super::share;
use crate::document::eye::EyeSection;
use crate::document::{
    Block, Calendar, CalendarDay, CalendarLine, Card, Check, Code, Document, DoseBox, Figure, Inline, Inlines, Lined,
    Phone, Print, Risks, Ways,
};

/// Sizes in `rem`: whoever sets a larger print in the browser gets it. Black on white; lines of at most 70 characters.
const STYLE: &str = "
html { color-scheme: light; background: #fff; color: #000; font: 112.5%/1.5 sans-serif; }
html.large { font-size: 150%; }
body { max-width: 70ch; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.3rem; } h3 { font-size: 1.1rem; }
a { color: inherit; }
table { border-collapse: collapse; width: 100%; }
caption { font-weight: bold; text-align: start; padding-block: .5rem; }
th, td { border: 1px solid #555; padding: .4rem; text-align: start; vertical-align: top; overflow-wrap: break-word; }
td ul { list-style: none; margin: 0; padding: 0; }
dt { font-weight: bold; } dd { margin-inline-start: 1.5rem; }
.frame { border: .2rem solid #000; padding: .2rem 1rem; margin-block: 1rem; }
.lead { border-inline-start: .3rem solid #000; padding-inline-start: 1rem; font-size: 1.1rem; }
.boxes { list-style: none; padding: 0; }
.rule { display: inline-block; min-width: 12rem; border-bottom: 1px solid #000; height: 1.5rem; }
.line { border-bottom: 1px solid #000; height: 2rem; }
svg { width: 10rem; height: 10rem; display: block; }
svg.box { width: 1.3rem; height: 1.3rem; display: inline-block; vertical-align: middle; }
svg.code { width: 16rem; height: 16rem; }
svg.eye { width: 100%; height: auto; }
svg.share { width: 100%; max-width: 16rem; height: auto; }
figure { margin: 0; }
";

/// Empty modules around a code, on each side (ISO/IEC 18004).
const QUIET: usize = 4;

/// The document as HTML.
#[must_use]
pub fn html(document: &Document) -> String {
    let mut page = Page(String::new(), document.right_to_left);
    let direction = if document.right_to_left { "rtl" } else { "ltr" };
    let size = if document.print == Print::Large { " class=\"large\"" } else { "" };
    page.raw(&format!("<!DOCTYPE html>\n<html lang=\"{}\" dir=\"{direction}\"{size}>\n", escape(&document.language)));
    page.raw(
        "<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n",
    );
    page.element("title", &escape(&document.title));
    page.raw(&format!("<style>{STYLE}</style>\n</head>\n<body>\n<header>\n"));
    for line in &document.banner {
        let (language, text) = (escape(&line.language), escape(&line.text));
        page.raw(&format!("<p lang=\"{language}\" dir=\"auto\"><strong>{text}</strong></p>\n"));
    }
    let header = &document.header;
    let about = [&header.name, &header.identifiers, &header.eye].map(|text| escape(text)).join("<br>");
    page.element("p", &about);
    page.raw("</header>\n<main>\n");
    page.element("h1", &escape(&document.title));
    document.blocks.iter().for_each(|block| page.block(block));
    page.raw("</main>\n<footer>\n");
    page.element("p", &[&document.footer.document, &document.footer.practice].map(|text| escape(text)).join("<br>"));
    page.raw("</footer>\n</body>\n</html>\n");
    page.0
}

/// What a document says, as HTML to stand in a page of another: without its head and foot, and without a style.
#[must_use]
pub fn content(document: &Document) -> String {
    let mut page = Page(String::new(), document.right_to_left);
    document.blocks.iter().for_each(|block| page.block(block));
    page.0
}

/// What was written, and whether it is read from right to left.
struct Page(String, bool);

impl Page {
    fn raw(&mut self, html: &str) {
        self.0.push_str(html);
    }

    fn element(&mut self, tag: &str, inner: &str) {
        let name = tag.split(' ').next().unwrap_or(tag);
        let _ = writeln!(self.0, "<{tag}>{inner}</{name}>");
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading { level, text } => self.element(if *level == 2 { "h2" } else { "h3" }, &escape(text)),
            Block::Paragraph { text } => self.element("p", &inlines(text)),
            Block::Lead { text } => self.element("p class=\"lead\"", &inlines(text)),
            Block::List { ordered, items } => self.element(if *ordered { "ol" } else { "ul" }, &list(items)),
            Block::References { items } => {
                let items = items.iter().enumerate();
                let items = items.map(|(at, item)| format!("<li id=\"source-{}\">{}</li>", at + 1, inlines(item)));
                self.element("ol", &items.collect::<String>());
            }
            Block::Pairs { items } => {
                let pairs = items.iter().map(|pair| pair_of(&escape(&pair.label), &inlines(&pair.value)));
                self.element("dl", &pairs.collect::<String>());
            }
            Block::Warning { title, signs, action, phones } => {
                self.raw("<div class=\"frame\">\n");
                self.element("h2", &escape(title));
                self.element("ul", &list(signs));
                self.element("p", &format!("<strong>{}</strong>", inlines(action)));
                self.element("dl", &phones.iter().map(phone_of).collect::<String>());
                self.raw("</div>\n");
            }
            Block::Call { text, numbers } => {
                let numbers = numbers.iter().map(|number| format!("<bdi dir=\"ltr\">{}</bdi>", escape(number)));
                let numbers = numbers.collect::<Vec<_>>().join(", ");
                let numbers = if numbers.is_empty() { numbers } else { format!(" <strong>{numbers}</strong>") };
                self.element("p class=\"frame\"", &format!("{}{numbers}", inlines(text)));
            }
            Block::Notice { title, text, .. } => self.frame(title, &[inlines(text)]),
            Block::Choices { items } => self.element("ul", &list(items)),
            Block::Ways(ways) => self.ways(ways),
            Block::Risks(risks) => self.risks(risks),
            Block::Figures { caption, items } => {
                self.element("p", &escape(caption));
                items.iter().for_each(|one| self.raw(&figure(one, self.1)));
            }
            Block::Table { caption, columns, rows, row_heads, .. } => self.table(caption, columns, rows, *row_heads),
            Block::Appointment { title, when, place, text } => {
                self.frame(title, &[format!("<strong>{}</strong>", escape(when)), escape(place), inlines(text)]);
            }
            Block::Calendar(calendar) => self.calendar(calendar),
            Block::Clearances(drawing) => self.element("p", &escape(&drawing.alt)),
            Block::EyeSection(eye) => self.eye(eye),
            Block::Chart(chart) => {
                self.raw("<figure>\n");
                self.raw(&chart.svg);
                self.element("figcaption", &escape(&chart.note));
                self.raw("</figure>\n");
            }
            Block::Eyes { alt, .. } => self.element("p", &escape(alt)),
            Block::Checklist { items } => {
                let items: String = items.iter().map(|item| format!("<li>{}</li>", check(item))).collect();
                self.element("ul class=\"boxes\"", &items);
            }
            Block::Choice { question, options, blank } => {
                self.element("p", &inlines(question));
                let options = options.iter().map(|option| format!("<li>{}{}</li>", tick(false), escape(option)));
                let options = options.collect::<String>() + &format!("<li>{}</li>", blank_of(blank));
                self.element("ul class=\"boxes\"", &options);
            }
            Block::Scale { question, steps, lowest, highest } => self.scale(question, steps, [lowest, highest]),
            Block::Lines { items } => items.iter().for_each(|item| self.lined(item)),
            Block::Signatures { title, answers, sentence, signers } => {
                self.element("h2", &escape(title));
                let answers = answers.iter().map(|answer| format!("<li>{}{}</li>", tick(false), inlines(answer)));
                let answers = answers.collect::<String>();
                if !answers.is_empty() {
                    self.element("ul class=\"boxes\"", &answers);
                }
                sentence.iter().for_each(|paragraph| self.element("p", &inlines(paragraph)));
                for signer in signers {
                    self.element("h3", &escape(&signer.role));
                    signer.blanks.iter().for_each(|blank| self.element("p", &blank_of(blank)));
                }
            }
            Block::Card(card) => self.card(card),
            Block::Code(code) => self.code(code),
            Block::PageBreak | Block::Annex | Block::Mark { .. } => {}
        }
    }

    /// A question with its numbered boxes, and what the first and the last of them mean.
    fn scale(&mut self, question: &[Inline], steps: &[String], ends: [&String; 2]) {
        self.element("p", &inlines(question));
        let steps: String = steps.iter().map(|step| format!("<li>{}{}</li>", tick(false), escape(step))).collect();
        self.element("ul class=\"boxes\"", &steps);
        if ends.iter().any(|end| !end.is_empty()) {
            self.element("p", &escape(&ends.map(String::as_str).join(" – ")));
        }
    }

    fn lined(&mut self, item: &Lined) {
        self.element("p", &escape(&item.label));
        (0..item.count).for_each(|_| self.element("div class=\"line\"", ""));
    }

    fn frame(&mut self, title: &str, paragraphs: &[String]) {
        self.raw("<div class=\"frame\">\n");
        self.element("p", &format!("<strong>{}</strong>", escape(title)));
        paragraphs.iter().for_each(|paragraph| self.element("p", paragraph));
        self.raw("</div>\n");
    }

    fn card(&mut self, card: &Card) {
        self.element("p", &inlines(&card.how));
        self.raw("<div class=\"frame\">\n");
        self.element("p", &format!("<strong>{}, {}</strong>", escape(&card.title), escape(&card.eye)));
        let pairs = card.items.iter().map(|pair| pair_of(&escape(&pair.label), &inlines(&pair.value)));
        self.element("dl", &pairs.collect::<String>());
        self.element("p", &blank_of(&card.name));
        self.element("p", &format!("<strong>{}:</strong> {}", escape(&card.signs_title), inlines(&card.signs)));
        self.element("dl", &card.phones.iter().map(phone_of).collect::<String>());
        self.raw("</div>\n");
    }

    fn code(&mut self, code: &Code) {
        code.text.iter().for_each(|text| self.element("p", &inlines(text)));
        self.element("p", &escape(&code.hint));
        let (margin, side) = (QUIET, code.side + 2 * QUIET);
        let drawing = format!(
            "svg role=\"img\" aria-label=\"{}\" viewBox=\"-{margin} -{margin} {side} {side}\" class=\"code\"",
            escape(&code.alt)
        );
        self.element(&drawing, &format!("<path d=\"{}\" fill=\"#000\"/>", code.path));
    }

    /// Both pictures of this eye, each over what it shows and what is said beside it.
    fn eye(&mut self, eye: &EyeSection) {
        let pictures = [(&eye.section, &eye.note, &eye.beside), (&eye.shadow, &eye.shadow_note, &eye.about)];
        for (drawing, note, beside) in pictures {
            self.raw("<figure>\n");
            self.raw(&drawing::svg(drawing));
            self.element("figcaption", &escape(note));
            self.raw("</figure>\n");
            beside.iter().for_each(|text| self.element("p", &inlines(text)));
        }
    }

    /// The same questions of each way; a question is the head of its row.
    fn ways(&mut self, ways: &Ways) {
        self.raw("<table>\n");
        self.element("caption", &escape(&ways.caption));
        let heads: String = ways.names.iter().map(|name| format!("<th scope=\"col\">{}</th>", escape(name))).collect();
        self.element("thead", &format!("<tr><td></td>{heads}</tr>"));
        self.raw("<tbody>\n");
        for row in &ways.rows {
            let cells = row.cells.iter().map(|cell| {
                let drawn = cell.figure.as_ref().map(|one| figure(one, self.1)).unwrap_or_default();
                format!("<td>{drawn}{}</td>", inlines(&cell.text))
            });
            let cells = cells.collect::<String>();
            self.element("tr", &format!("<th scope=\"row\">{}</th>{cells}", escape(&row.head)));
        }
        self.raw("</tbody>\n</table>\n");
    }

    fn risks(&mut self, risks: &Risks) {
        self.raw("<table>\n");
        self.element("caption", &escape(&risks.caption));
        let heads: String = risks.heads.iter().map(|head| format!("<th scope=\"col\">{}</th>", escape(head))).collect();
        self.element("thead", &format!("<tr>{heads}</tr>"));
        self.raw("<tbody>\n");
        for risk in &risks.rows {
            let higher: String = risk.higher.iter().map(|text| format!("<p>{}</p>", inlines(text))).collect();
            let mark = match higher.is_empty() {
                true => String::new(),
                false => format!("<br><span aria-hidden=\"true\">▲ </span>{}", escape(&risks.mark)),
            };
            let row = format!(
                "<th scope=\"row\">{}{mark}</th><td>{}{higher}</td><td>{}</td>",
                escape(&risk.name),
                inlines(&risk.often),
                inlines(&risk.then)
            );
            self.element("tr", &row);
        }
        self.raw("</tbody>\n</table>\n");
    }

    fn table(&mut self, caption: &str, columns: &[String], rows: &[Vec<Inlines>], row_heads: bool) {
        self.raw("<table>\n");
        self.element("caption", &escape(caption));
        let heads: String = columns.iter().map(|head| format!("<th scope=\"col\">{}</th>", escape(head))).collect();
        self.element("thead", &format!("<tr>{heads}</tr>"));
        self.raw("<tbody>\n");
        for row in rows {
            let cells = row.iter().enumerate().map(|(at, cell)| match at == 0 && row_heads {
                true => format!("<th scope=\"row\">{}</th>", inlines(cell)),
                false => format!("<td>{}</td>", inlines(cell)),
            });
            self.element("tr", &cells.collect::<String>());
        }
        self.raw("</tbody>\n</table>\n");
    }

    /// Dates down, times across; each box says its drug, since a reader in a cell does not see the legend.
    fn calendar(&mut self, calendar: &Calendar) {
        self.element("p", &inlines(&calendar.how));
        let drugs = calendar.drugs.iter().map(|drug| {
            let about = [drug.purpose.as_str(), drug.note.as_str()].map(escape).join(" ");
            let name = format!("{}{}, {}", shape(drug.shape, false), escape(&drug.name), escape(&drug.eye));
            pair_of(&name, about.trim())
        });
        self.element("dl", &drugs.collect::<String>());
        self.raw("<table>\n");
        let heads = calendar.times.iter().map(|time| {
            let lines = [&time.period, &time.at].into_iter().filter(|line| !line.is_empty());
            format!("<th scope=\"col\">{}</th>", lines.map(|line| escape(line)).collect::<Vec<_>>().join("<br>"))
        });
        let first = format!("<th scope=\"col\">{}</th>", escape(&calendar.date_head));
        self.element("thead", &format!("<tr>{first}{}</tr>", heads.collect::<String>()));
        self.raw("<tbody>\n");
        calendar.days.iter().for_each(|day| self.day(calendar, day));
        self.raw("</tbody>\n</table>\n");
        let later: String = calendar.later.iter().map(|visit| format!("<li>{}</li>", check(visit))).collect();
        if !later.is_empty() {
            self.element("ul class=\"boxes\"", &later);
        }
    }

    /// A row for the date; what changes with it stands in a row before, what ends with it and its visits in rows after.
    fn day(&mut self, calendar: &Calendar, day: &CalendarDay) {
        let whole = |html: &str| format!("<td colspan=\"{}\">{html}</td>", calendar.times.len() + 1);
        let say = |line: &CalendarLine| {
            let said = format!("{}: {}", calendar.drugs[line.drug].name, line.text);
            whole(&format!("<strong>{}</strong>", escape(&said)))
        };
        day.changes.iter().for_each(|line| self.element("tr", &say(line)));
        let head = [&day.weekday, &day.date, &day.mark].into_iter().filter(|line| !line.is_empty());
        let head = head.map(|line| escape(line)).collect::<Vec<_>>().join("<br>");
        let cells = day.doses.iter().zip(&calendar.times).map(|(doses, time)| {
            let doses = doses.iter().map(|dose| dose_in(calendar, &time.at, dose)).collect::<String>();
            if doses.is_empty() { "<td></td>".into() } else { format!("<td><ul>{doses}</ul></td>") }
        });
        self.element("tr", &format!("<th scope=\"row\">{head}</th>{}", cells.collect::<String>()));
        day.stops.iter().for_each(|line| self.element("tr", &say(line)));
        day.visits.iter().for_each(|visit| self.element("tr", &whole(&check(visit))));
    }
}

/// A share as a picture with its title and number; the alternative text says the same.
fn figure(figure: &Figure, mirrored: bool) -> String {
    let title = format!("<strong>{}</strong><br>{}", escape(&figure.title), escape(&figure.number));
    format!("<figure>\n<figcaption>{title}</figcaption>\n{}</figure>\n", share::html(figure, mirrored))
}

/// A box with its drug; its clock time where that is not the one of the column.
fn dose_in(calendar: &Calendar, column: &str, dose: &DoseBox) -> String {
    let drug = &calendar.drugs[dose.drug];
    let own = if dose.at == column { "" } else { dose.at.as_str() };
    let words =
        [drug.name.as_str(), drug.eye.as_str(), own, dose.note.as_str()].into_iter().filter(|word| !word.is_empty());
    format!("<li>{}{}</li>", shape(drug.shape, dose.given), words.map(escape).collect::<Vec<_>>().join(", "))
}

fn list(items: &[Inlines]) -> String {
    items.iter().map(|item| format!("<li>{}</li>", inlines(item))).collect()
}

/// Hours, who answers, and the number, which reads from left to right in every language.
fn phone_of(phone: &Phone) -> String {
    let who = format!("{}, {}", escape(&phone.hours), escape(&phone.who));
    pair_of(&who, &format!("<bdi dir=\"ltr\">{}</bdi>", escape(&phone.number)))
}

fn pair_of(label: &str, value: &str) -> String {
    format!("<dt>{label}</dt><dd>{value}</dd>")
}

/// A box to tick by hand on a printed copy; what it stands for is said beside it.
fn tick(ticked: bool) -> &'static str {
    if ticked { "<span aria-hidden=\"true\">☑ </span>" } else { "<span aria-hidden=\"true\">☐ </span>" }
}

fn blank_of(label: &str) -> String {
    format!("{}: <span class=\"rule\"></span>", escape(label))
}

fn check(check: &Check) -> String {
    let blanks: String = check.blanks.iter().map(|blank| format!("<br>{}", blank_of(blank))).collect();
    format!("{}{}{blanks}", tick(false), inlines(&check.text))
}

fn inlines(items: &[Inline]) -> String {
    let html = items.iter().map(|inline| match inline {
        Inline::Text(text) => escape(text),
        Inline::Id(id) => format!("<small>{}</small>", escape(id)),
        Inline::Strong(inner) => format!("<strong>{}</strong>", inlines(inner)),
        Inline::Note(number) => format!(" <a href=\"#source-{number}\">[{number}]</a>"),
        Inline::Mark(_) => String::new(),
    });
    html.collect()
}

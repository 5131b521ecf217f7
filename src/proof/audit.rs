//! Self-audit of a patient's page against published instruments: `templates/self-audit.toml`, item by item.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::wording::{Voice, Weekdays, Wording};
use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::content::catalog::PatientPage;
use crate::content::markdown;
use crate::document::reading::{self, Passage};
use crate::document::{Block, Document, Inlines};
use crate::packet::Case;
use crate::plain::measure::Measure;
use crate::plain::{JudgeError, names, score, split};

const FILE: &str = "templates/self-audit.toml";

/// Most words of a paragraph, items of a list and words of a column head: limits of this project, no source.
const LONGEST: (usize, usize, usize) = (80, 12, 4);

/// How an item stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Everything the program can see of it holds.
    Passed,
    /// Something does not hold.
    Failed,
    /// The program sees nothing of it.
    Human,
}

/// An item with its outcome.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct Outcome {
    /// Id of the item.
    pub id: String,
    /// The item in our words.
    pub what: String,
    /// How it stands.
    pub state: State,
    /// What does not hold.
    pub lacking: Vec<String>,
    /// What only a person can judge.
    pub left_to_people: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    item: Vec<Item>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Item {
    id: String,
    what: String,
    #[serde(default)]
    page: Option<PatientPage>,
    #[serde(default)]
    met_by: Vec<String>,
    #[serde(default)]
    left_to_people: Option<String>,
}

/// Audits the page that the patient of a case reads, whether it may be printed or not.
///
/// # Errors
/// A page that cannot be built, a list of items that cannot be read or asks for something the program does not know.
pub fn audit(case: &Case) -> Result<Vec<Outcome>, JudgeError> {
    let seen = Seen::new(case)?;
    let items = items(&case.practice().assets)?;
    let here = items.into_iter().filter(|item| item.page.is_none_or(|wanted| wanted == case.page()));
    Ok(here.map(|item| seen.judge(item)).collect::<Result<_, _>>()?)
}

fn items(assets: &Assets) -> Result<Vec<Item>, LoadError> {
    let text = assets.get(FILE).ok_or_else(|| LoadError::no_file(FILE, ""))?;
    let file: File = layers::table(&text).map_err(|problem| problem.in_file(FILE))?;
    match file.item.iter().find(|item| item.met_by.is_empty() && item.left_to_people.is_none()) {
        Some(item) => {
            let what = format!("{} says neither what meets it nor what is left to people", item.id);
            Err(Problem::new(Kind::Missing, what).of(&item.id).in_file(FILE))
        }
        None => Ok(file.item),
    }
}

/// What the program sees of a page.
struct Seen {
    document: Document,
    passages: Vec<Passage>,
    sections: BTreeSet<String>,
    plain: bool,
    /// Ids of the wording rules that are broken.
    broken: BTreeSet<String>,
    explained: bool,
    active: bool,
    weekdays: bool,
}

impl Seen {
    fn new(case: &Case) -> Result<Self, JudgeError> {
        let record = case.record();
        let (assets, library) = (&case.practice().assets, case.practice().library(&record.patient.language)?);
        let (wording, measure) = (Wording::load(assets, library.lineage())?, Measure::load(assets, library.lineage())?);
        let document = case.unissued()?;
        let passages = reading::read(&document);
        let names = names::of(case);
        let mut weekdays = Weekdays::new(&library.locale);
        let own = || passages.iter().filter(|passage| passage.block != "references");
        let lines = own().flat_map(|passage| wording.lines(&names::left_out(&passage.text, &names)));
        let voices: Vec<Voice> =
            own().flat_map(|passage| &passage.running).map(|text| wording.voice(text, &measure.stops)).collect();
        let wrong_days = own().any(|passage| !weekdays.wrong(&passage.text).is_empty());
        Ok(Self {
            sections: case.said()?.into_iter().map(|said| said.section).collect(),
            plain: score::page(case)?.passes(),
            broken: lines.map(|hit| hit.rule).collect(),
            explained: wording.unexplained(&passages).is_empty(),
            active: wording.passive(&voices).is_none(),
            weekdays: !wrong_days && weekdays.wrong_in_calendars(&document).is_empty(),
            document,
            passages,
        })
    }

    fn judge(&self, item: Item) -> Result<Outcome, LoadError> {
        let mut lacking = Vec::new();
        for wanted in &item.met_by {
            let unknown = || Problem::new(Kind::UnknownName, format!("{}: there is no {wanted}", item.id)).of(&item.id);
            if !self.holds(wanted).ok_or_else(|| unknown().in_file(FILE))? {
                lacking.push(wanted.clone());
            }
        }
        let state = match (item.met_by.is_empty(), lacking.is_empty()) {
            (true, _) => State::Human,
            (false, true) => State::Passed,
            (false, false) => State::Failed,
        };
        Ok(Outcome { id: item.id, what: item.what, state, lacking, left_to_people: item.left_to_people })
    }

    /// Whether a condition of an item holds; none when there is no such condition.
    fn holds(&self, wanted: &str) -> Option<bool> {
        let stands = |id: &str| self.passages.iter().any(|passage| passage.id == id);
        Some(match wanted.split_once('/') {
            Some(("block", kind)) => self.passages.iter().any(|passage| passage.block == kind),
            Some(("section", name)) => self.sections.contains(name),
            Some(("statement", id)) => stands(id),
            Some(("part", _)) => stands(wanted),
            Some(("wording", rule)) => !self.broken.iter().any(|broken| broken.starts_with(rule)),
            None => match wanted {
                "plain" => self.plain,
                "explained" => self.explained,
                "active" => self.active,
                "weekdays" => self.weekdays,
                "short-passages" => self.document.blocks.iter().all(is_short),
                "short-heads" => self.document.blocks.iter().all(has_short_heads),
                "captions" => self.document.blocks.iter().all(has_caption),
                "dated" => self.document.blocks.iter().all(is_dated),
                _ => return None,
            },
            _ => return None,
        })
    }
}

fn is_short(block: &Block) -> bool {
    let short = |text: &Inlines| split::words(&markdown::plain(text)).len() <= LONGEST.0;
    match block {
        Block::Paragraph { text } | Block::Lead { text } => short(text),
        Block::Choices { items } => items.iter().all(short),
        Block::EyeSection(eye) => eye.beside.iter().chain(&eye.about).all(short),
        Block::Risks(risks) => {
            risks.rows.iter().all(|row| [&row.often, &row.then].into_iter().chain(&row.higher).all(short))
        }
        Block::Ways(ways) => ways.rows.iter().flat_map(|row| &row.cells).all(|cell| short(&cell.text)),
        Block::List { items, .. } => items.len() <= LONGEST.1 && items.iter().all(short),
        _ => true,
    }
}

fn has_short_heads(block: &Block) -> bool {
    match block {
        Block::Table { columns, .. } => columns.iter().all(|head| split::words(head).len() <= LONGEST.2),
        Block::Ways(ways) => ways.names.iter().all(|head| split::words(head).len() <= LONGEST.2),
        Block::Risks(risks) => risks.heads.iter().all(|head| split::words(head).len() <= LONGEST.2),
        _ => true,
    }
}

fn has_caption(block: &Block) -> bool {
    let texts: Vec<&String> = match block {
        Block::Table { caption, .. } => vec![caption],
        Block::Risks(risks) => vec![&risks.caption],
        Block::Ways(ways) => {
            let drawn = ways.rows.iter().flat_map(|row| &row.cells).filter_map(|cell| cell.figure.as_ref());
            std::iter::once(&ways.caption).chain(drawn.map(|figure| &figure.alt)).collect()
        }
        Block::Figures { caption, items } => {
            std::iter::once(caption).chain(items.iter().map(|item| &item.alt)).collect()
        }
        Block::Eyes { alt, .. } => vec![alt],
        _ => Vec::new(),
    };
    texts.iter().all(|text| !text.trim().is_empty())
}

fn is_dated(block: &Block) -> bool {
    match block {
        Block::Calendar(calendar) => calendar.days.iter().all(|day| !day.weekday.is_empty() && !day.date.is_empty()),
        _ => true,
    }
}

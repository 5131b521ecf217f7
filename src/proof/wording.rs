//! The wording of a language: what may not stand there, medical words explained where they first stand, active voice,
//! weekdays that are right. The rules are data: `locales/<tag>/wording.toml` and `glossary.toml`.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use regex::Regex;
use serde::Deserialize;

use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::content::lineage::layers_of;
use crate::content::locale::Locale;
use crate::document::reading::{Passage, spaced};
use crate::document::{Block, Calendar, Document};
use crate::plain::split::{self, Stops};

/// What is wrong with a text: the rule, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hit {
    /// Id of the rule.
    pub rule: String,
    /// What is wrong, with the words.
    pub what: String,
}

/// How a text speaks.
#[derive(Debug, Clone)]
pub struct Voice {
    /// Its sentences.
    pub sentences: usize,
    /// Those of them that are likely passive.
    pub passive: Vec<String>,
}

/// The rules of a language.
#[derive(Debug)]
pub struct Wording {
    rules: Vec<Rule>,
    terms: Vec<Term>,
    passive: Option<Passive>,
}

#[derive(Debug)]
struct Rule {
    id: String,
    what: String,
    pattern: Regex,
    unless: Option<Regex>,
}

#[derive(Debug)]
struct Term {
    word: Regex,
    explained: Vec<String>,
    on_page: bool,
}

impl Term {
    fn is_explained(&self, text: &str) -> bool {
        let text = text.to_lowercase();
        self.explained.iter().any(|words| text.contains(&words.to_lowercase()))
    }
}

#[derive(Debug)]
struct Passive {
    pattern: Regex,
    states: Vec<String>,
    most_in_100: usize,
}

impl Passive {
    /// Whether something is done in a sentence; what ends in a word for a state is not.
    fn is_in(&self, sentence: &str) -> bool {
        let is_state = |found: &str| self.states.iter().any(|state| found.to_lowercase().ends_with(state.as_str()));
        self.pattern.find_iter(sentence).any(|found| !is_state(found.as_str()))
    }
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WordingFile {
    #[serde(default)]
    rule: Vec<RuleRow>,
    passive: Option<PassiveRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleRow {
    id: String,
    what: String,
    pattern: String,
    unless: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PassiveRow {
    pattern: String,
    states: Vec<String>,
    most_in_100: usize,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GlossaryFile {
    #[serde(default)]
    term: Vec<TermRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TermRow {
    word: String,
    explained: Vec<String>,
    #[serde(default)]
    on_page: bool,
}

impl Wording {
    /// Loads the rules and the glossary of a language, given with those it was made from
    /// ([`crate::content::Library::lineage`]).
    ///
    /// # Errors
    /// The file and what is wrong with it; a language without rules, since its texts would pass unread.
    pub fn load(assets: &Assets, lineage: &[String]) -> Result<Self, LoadError> {
        let mut wording = Self { rules: Vec::new(), terms: Vec::new(), passive: None };
        for (path, text) in layers_of(assets, lineage, "wording.toml") {
            wording.add_rules(&text).map_err(|problem| problem.in_file(&path))?;
        }
        for (path, text) in layers_of(assets, lineage, "glossary.toml") {
            wording.add_terms(&text).map_err(|problem| problem.in_file(&path))?;
        }
        if wording.rules.is_empty() {
            let file = format!("locales/{}/wording.toml", lineage.first().map_or("", String::as_str));
            return Err(LoadError::no_file(&file, "no rule would read its texts"));
        }
        Ok(wording)
    }

    fn add_rules(&mut self, text: &str) -> Result<(), Problem> {
        let file: WordingFile = layers::table(text)?;
        for row in file.rule {
            let read = |pattern: &str| regex(pattern).map_err(|problem| problem.of(&row.id));
            let (pattern, unless) = (read(&row.pattern)?, row.unless.as_deref().map(read).transpose()?);
            self.rules.push(Rule { id: row.id, what: row.what, pattern, unless });
        }
        if let Some(row) = file.passive {
            let pattern = regex(&row.pattern)?;
            self.passive = Some(Passive { pattern, states: row.states, most_in_100: row.most_in_100 });
        }
        Ok(())
    }

    fn add_terms(&mut self, text: &str) -> Result<(), Problem> {
        let file: GlossaryFile = layers::table(text)?;
        for row in file.term {
            let word = regex(&format!("(?i)\\b(?:{})\\b", row.word)).map_err(|problem| problem.of(&row.word))?;
            self.terms.push(Term { word, explained: row.explained, on_page: row.on_page });
        }
        Ok(())
    }

    /// What may not stand in a text, line by line.
    #[must_use]
    pub fn lines(&self, text: &str) -> Vec<Hit> {
        text.lines().flat_map(|line| self.rules.iter().filter_map(move |rule| rule.hit(line))).collect()
    }

    /// Medical words that are not explained: in the passage of running text where they first stand or the one after it, or,
    /// for words that the patient brings along, anywhere on the page.
    #[must_use]
    pub fn unexplained(&self, page: &[Passage]) -> Vec<Hit> {
        let running: Vec<&Passage> = page.iter().filter(|passage| !passage.running.is_empty()).collect();
        let hits = self.terms.iter().filter_map(|term| {
            let holds = |passage: &&Passage| passage.running.iter().any(|text| term.word.is_match(text));
            let first = running.iter().position(holds)?;
            let beside = if term.on_page { &running[..] } else { &running[first..running.len().min(first + 2)] };
            let word = term.word.find(&running[first].text)?.as_str();
            (!beside.iter().any(|passage| term.is_explained(&passage.text))).then(|| Hit {
                rule: "PEM-4".into(),
                what: format!("\"{word}\" is not explained where it first stands, {}", place(running[first])),
            })
        });
        hits.collect()
    }

    /// The passive sentences of a text.
    #[must_use]
    pub fn voice(&self, text: &str, stops: &Stops) -> Voice {
        let sentences = split::sentences(text, stops);
        let is_passive = |sentence: &str| self.passive.as_ref().is_some_and(|passive| passive.is_in(sentence));
        let passive = sentences.iter().filter(|sentence| is_passive(sentence)).map(|sentence| (*sentence).to_owned());
        Voice { sentences: sentences.len(), passive: passive.collect() }
    }

    /// That a page has too many passive sentences.
    #[must_use]
    pub fn passive(&self, voices: &[Voice]) -> Option<Hit> {
        let most = self.passive.as_ref()?.most_in_100;
        let sentences: usize = voices.iter().map(|voice| voice.sentences).sum();
        let passive: Vec<&str> = voices.iter().flat_map(|voice| &voice.passive).map(String::as_str).collect();
        let count = passive.len();
        (count * 100 > most * sentences).then(|| Hit {
            rule: "PEM-5".into(),
            what: format!(
                "{count} of {sentences} sentences are passive, at most {most} in 100: say who does it. {}",
                passive.join(" ")
            ),
        })
    }
}

impl Rule {
    fn hit(&self, line: &str) -> Option<Hit> {
        let found = self.pattern.find(line)?;
        let excused = self.unless.as_ref().is_some_and(|unless| unless.is_match(line));
        (!excused).then(|| Hit { rule: self.id.clone(), what: format!("\"{}\": {}", found.as_str().trim(), self.what) })
    }
}

/// Where a passage stands, for a person who looks for it.
fn place(passage: &Passage) -> String {
    if passage.id.is_empty() { format!("under \"{}\"", passage.section) } else { format!("in {}", passage.id) }
}

fn regex(pattern: &str) -> Result<Regex, Problem> {
    Regex::new(pattern).map_err(|error| Problem::new(Kind::Syntax, error.to_string()))
}

/// Weekdays beside dates, by the calendar (DATE-4). Remembers the years it has seen.
#[derive(Debug)]
pub struct Weekdays<'l> {
    locale: &'l Locale,
    /// Each date as the language writes it, with the same date under each wrong weekday.
    years: BTreeMap<i32, Vec<(String, Vec<String>)>>,
}

impl<'l> Weekdays<'l> {
    /// For texts of a language.
    #[must_use]
    pub fn new(locale: &'l Locale) -> Self {
        Self { locale, years: BTreeMap::new() }
    }

    /// Dates of a text that stand with a wrong weekday.
    pub fn wrong(&mut self, text: &str) -> Vec<Hit> {
        let (text, mut wrong) = (spaced(text), Vec::new());
        for year in years(&text) {
            let dates = self.years.entry(year).or_insert_with(|| dates(self.locale, year));
            let here = dates.iter().filter(|(date, _)| text.contains(date.as_str()));
            wrong.extend(
                here.flat_map(|(_, with)| with).filter(|full| text.contains(full.as_str())).map(|full| not(full)),
            );
        }
        wrong
    }

    /// Days of the drop calendars of a document that stand under a wrong weekday.
    #[must_use]
    pub fn wrong_in_calendars(&self, document: &Document) -> Vec<Hit> {
        let calendars = document.blocks.iter().filter_map(|block| match block {
            Block::Calendar(calendar) => Some(calendar),
            _ => None,
        });
        calendars.flat_map(|calendar| self.wrong_days(calendar)).collect()
    }

    fn wrong_days(&self, calendar: &Calendar) -> Vec<Hit> {
        let days = years(&calendar.date_head).into_iter().filter_map(|year| NaiveDate::from_ymd_opt(year, 1, 1));
        let days = days.flat_map(|first| first.iter_days().take_while(move |day| day.year() == first.year()));
        let right: Vec<(String, String)> = days.map(|day| (self.locale.weekday(day), self.locale.day(day))).collect();
        let printed = calendar.days.iter().map(|day| (day.weekday.clone(), day.date.clone()));
        printed.filter(|day| !right.contains(day)).map(|(weekday, date)| not(&format!("{weekday} {date}"))).collect()
    }
}

fn not(date: &str) -> Hit {
    Hit { rule: "DATE-4".into(), what: format!("\"{date}\" is another weekday") }
}

/// Years of four digits that stand in a text.
fn years(text: &str) -> Vec<i32> {
    let mut years: Vec<i32> = text
        .split(|c: char| !c.is_ascii_digit())
        .filter(|digits| digits.len() == 4)
        .filter_map(|digits| digits.parse().ok())
        .filter(|year| (1900..2200).contains(year))
        .collect();
    years.sort_unstable();
    years.dedup();
    years
}

fn dates(locale: &Locale, year: i32) -> Vec<(String, Vec<String>)> {
    let Some(first) = NaiveDate::from_ymd_opt(year, 1, 1) else { return Vec::new() };
    let weekdays: Vec<String> = first.iter_days().take(7).map(|day| locale.weekday(day)).collect();
    let days = first.iter_days().take_while(|day| day.year() == year);
    days.map(|day| {
        let (full, right) = (spaced(&locale.full_date(day)), locale.weekday(day));
        let wrong = weekdays.iter().filter(|weekday| **weekday != right).map(|weekday| full.replace(&right, weekday));
        (spaced(&locale.date(day)), wrong.collect())
    })
    .collect()
}

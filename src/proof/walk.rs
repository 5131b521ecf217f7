//! What can be seen by walking: each condition over its own facts in full, all texts over many whole records.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::{Fault, records};
use crate::content::catalog::{PatientPage, Statement};
use crate::content::markdown::Piece;
use crate::content::tailor::{self, Choice};
use crate::content::{ComposeError, Content, Library, TABLE, fill};
use crate::facts::condition::Condition;
use crate::facts::{Facts, Kind, Moment, Value, definition};
use crate::practice::{Checked, Practice};
use crate::record::Record;

/// Walks every condition over all values of its own facts that it tells apart: one that never holds, one that always holds, and one that
/// chooses a statement for an eye of which it cannot be true.
#[must_use]
pub fn conditions(library: &Library) -> Vec<Fault> {
    let mut faults = Vec::new();
    for Statement { row, when, possible } in library.statements.iter() {
        let (mut holds, mut fails, mut impossible) = (false, false, false);
        each(&told_apart(when, possible), &mut BTreeMap::new(), &mut |facts| {
            let said = when.holds(facts);
            holds |= said;
            fails |= !said;
            impossible |= said && !possible.holds(facts);
        });
        let mut fault = |what: &str| faults.push(Fault::new(&row.id, what));
        if !holds {
            fault("its condition never holds");
        }
        if !fails && *when != Condition::always() {
            fault("its condition always holds: leave it out");
        }
        if impossible {
            fault("it is chosen for eyes of which `possible` says that it cannot be true");
        }
    }
    faults
}

/// Every fact of two conditions with one word for each group of words that no question of theirs tells apart.
fn told_apart<'a>(when: &'a Condition, possible: &'a Condition) -> Vec<(&'a str, Vec<&'static str>)> {
    let questions: Vec<(&str, &[String])> = when.questions().into_iter().chain(possible.questions()).collect();
    let names: BTreeSet<&str> = questions.iter().map(|(name, _)| *name).collect();
    let apart = names.into_iter().map(|name| {
        let answers = |word: &str| -> Vec<bool> {
            let asked = questions.iter().filter(|(asked, _)| *asked == name);
            asked.map(|(_, words)| words.iter().any(|wanted| wanted == word)).collect()
        };
        let mut groups: BTreeMap<Vec<bool>, &'static str> = BTreeMap::new();
        for word in words_of(name) {
            groups.entry(answers(word)).or_insert(word);
        }
        (name, groups.into_values().collect())
    });
    apart.collect()
}

fn words_of(name: &str) -> &'static [&'static str] {
    match definition(name).map(|fact| fact.kind) {
        Some(Kind::Choice(words)) => words,
        _ => &[],
    }
}

/// Calls with every combination of these values.
fn each(facts: &[(&str, Vec<&str>)], values: &mut BTreeMap<String, Value>, call: &mut impl FnMut(&Facts)) {
    let Some(((name, words), rest)) = facts.split_first() else { return call(&Facts::given(values)) };
    for word in words {
        values.insert((*name).to_owned(), Value::Choice((*word).to_owned()));
        each(rest, values, call);
    }
}

/// Walks whole records: a statement that no case reaches, a text that cannot be filled. Also gives the records whose pages
/// are worth reading: they say something that none before them said, or say it in other company.
#[must_use]
pub fn cases(practice: &Practice, library: &Library) -> (Vec<Fault>, Vec<(Checked<Record>, Moment)>) {
    let walked = match records::walk(practice) {
        Ok(walked) => walked,
        Err(error) => return (vec![Fault::new("cases", error.to_string())], Vec::new()),
    };
    let mut pages = Pages::of(library);
    let mut worth_reading = Vec::new();
    for record in &walked {
        for moment in [Moment::Before, Moment::After] {
            if moment == Moment::After && record.treatment.is_none() {
                continue;
            }
            let facts = Facts::derive(&practice.source(record, moment));
            for page in PatientPage::all_of(moment) {
                if pages.is_new(&facts, *page) && *page == PatientPage::of(moment) {
                    worth_reading.push((record.clone(), moment));
                }
            }
        }
    }
    let Pages { reached, mut faults, .. } = pages;
    let idle = library.statements.iter().filter(|statement| !reached.contains(&statement.row.id));
    faults.extend(idle.map(|statement| Fault::new(&statement.row.id, "no case reaches it")));
    (faults, worth_reading)
}

/// The pages that were filled so far.
struct Pages<'l> {
    library: &'l Library,
    /// The facts that each statement looks at.
    looks_at: BTreeMap<&'l str, Vec<&'static str>>,
    reached: BTreeSet<String>,
    companies: BTreeSet<Vec<String>>,
    texts: HashSet<(String, Vec<Piece>)>,
    /// Statements with the values they were filled from: from the same values comes the same text.
    filled: BTreeSet<String>,
    faults: Vec<Fault>,
}

impl<'l> Pages<'l> {
    fn of(library: &'l Library) -> Self {
        let looks_at = library.statements.iter().map(|statement| {
            let id = statement.row.id.as_str();
            (id, library.text(id).map(fill::facts_of).unwrap_or_default())
        });
        Self {
            library,
            looks_at: looks_at.collect(),
            reached: BTreeSet::new(),
            companies: BTreeSet::new(),
            texts: HashSet::new(),
            filled: BTreeSet::new(),
            faults: Vec::new(),
        }
    }

    /// Whether a page says something that none before it said, or says it in other company.
    fn is_new(&mut self, facts: &Facts, page: PatientPage) -> bool {
        let (ids, values) = match tailor::choose(self.library, facts, page, &[]) {
            Ok(chosen) => self.read_from(&chosen.said, facts),
            Err(error) => return self.unfilled(&error),
        };
        if self.companies.contains(&ids) && values.iter().all(|values| self.filled.contains(values)) {
            return false;
        }
        match Content::compose(self.library, facts, page, &[]) {
            Ok(content) => {
                self.reached.extend(ids.iter().cloned());
                self.filled.extend(values);
                let texts =
                    content.said.into_iter().filter(|said| self.texts.insert((said.id.clone(), said.pieces.clone())));
                let new = texts.count() > 0;
                self.companies.insert(ids) || new
            }
            Err(error) => self.unfilled(&error),
        }
    }

    fn unfilled(&mut self, error: &ComposeError) -> bool {
        self.faults.push(Fault::new("cases", format!("a text cannot be filled: {error}")));
        false
    }

    /// Ids of the statements, and each with the values it is filled from; those of one table, which share a denominator,
    /// together.
    fn read_from(&self, said: &[Choice], facts: &Facts) -> (Vec<String>, BTreeSet<String>) {
        let known: BTreeMap<&str, &Value> = facts.iter().collect();
        let (mut values, mut table) = (BTreeSet::new(), String::new());
        for Choice { statement, .. } in said {
            let id = statement.row.id.as_str();
            let from: Vec<_> = self.looks_at[id].iter().map(|name| known.get(name)).collect();
            let one = format!("{id} {from:?}");
            match statement.row.section == TABLE {
                true => table.push_str(&one),
                false => _ = values.insert(one),
            }
        }
        values.insert(table);
        (said.iter().map(|choice| choice.statement.row.id.clone()).collect(), values)
    }
}

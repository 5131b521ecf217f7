//! What can be seen by walking: each condition over its own facts in full, all texts over many whole records.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::{Fault, records};
use crate::content::catalog::{PatientPage, Statement};
use crate::content::{Content, Library};
use crate::facts::condition::Condition;
use crate::facts::{Facts, Kind, Moment, Source, Value, definitions};
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
    match definitions().find(|fact| fact.name == name).map(|fact| fact.kind) {
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
    let mut faults = Vec::new();
    let (mut reached, mut texts, mut companies) = (BTreeSet::new(), HashSet::new(), BTreeSet::new());
    let mut worth_reading = Vec::new();
    for record in &walked {
        for moment in [Moment::Before, Moment::After] {
            if moment == Moment::After && record.treatment.is_none() {
                continue;
            }
            let source = Source { record, profile: &practice.profile, formulary: &practice.formulary, moment };
            let facts = Facts::derive(&source);
            match Content::compose(library, &facts, PatientPage::of(moment), &[]) {
                Ok(content) => {
                    let ids: Vec<String> = content.said.iter().map(|said| said.id.clone()).collect();
                    reached.extend(ids.iter().cloned());
                    let new =
                        content.said.into_iter().filter(|said| texts.insert((said.id.clone(), said.pieces.clone())));
                    let new = new.count() > 0;
                    if companies.insert(ids) || new {
                        worth_reading.push((record.clone(), moment));
                    }
                }
                Err(error) => faults.push(Fault::new("cases", format!("a text cannot be filled: {error}"))),
            }
        }
    }
    let idle = library.statements.iter().filter(|statement| !reached.contains(&statement.row.id));
    faults.extend(idle.map(|statement| Fault::new(&statement.row.id, "no case reaches it")));
    (faults, worth_reading)
}

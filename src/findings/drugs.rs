//! What is said of all drugs of a case: those that go home, those used in the clinic, those in use before.

use super::drug::{Around, in_id, shown};
use super::rules::{Rules, Words};
use super::{Finding, Level, Planned};
use crate::facts::drops::{self, Course, Used};
use crate::facts::{Facts, Value};
use crate::record::formulary::{Drug, Group, RuleCover};
use crate::record::profile::Labels;

/// All findings about the drugs of a case.
pub(super) fn all(rules: &Rules, facts: &Facts, drugs: Planned, labels: Labels) -> Vec<Finding> {
    let home: Vec<&Drug> = drugs.home.iter().map(|course| course.drug).collect();
    let mut found: Vec<Finding> =
        drugs.home.iter().flat_map(|course| about(course, &home, rules, facts, drugs, labels)).collect();
    let around = Around { others: &home, in_use: drugs.in_use };
    for drug in drugs.clinic {
        found.extend(in_clinic(drug, around, rules, facts, labels));
    }
    for used in &drugs.in_use.drops {
        found.extend(rules.drugs.iter().filter_map(|rule| rule.apply_in_use(used, facts, labels)));
    }
    for course in drugs.home {
        found.extend(drugs.in_use.drops.iter().filter_map(|used| doubled(course.drug, used, drugs, &rules.doubled)));
    }
    found.extend(drugs.in_use.unread.iter().map(|entry| unread(entry, &rules.unread)));
    found
}

/// Findings about a drug used in the clinic.
///
/// Nothing is to be withheld at home, and that it is used there is no reason to ask.
fn in_clinic(drug: &Drug, around: Around, rules: &Rules, facts: &Facts, labels: Labels) -> Vec<Finding> {
    let course = Course { drug, per_day: 0, days: 0 };
    let rules = rules.drugs.iter().filter(|rule| !rule.row.take_home);
    let found = rules.filter_map(|rule| rule.apply(&course, facts, around, labels));
    found.map(|finding| Finding { drops: false, ..finding }).collect()
}

/// Findings about one course at home, with what could be taken in its place where it is withheld.
fn about(
    course: &Course,
    home: &[&Drug],
    rules: &Rules,
    facts: &Facts,
    drugs: Planned,
    labels: Labels,
) -> Vec<Finding> {
    let others: Vec<&Drug> = home.iter().copied().filter(|drug| drug.key != course.drug.key).collect();
    let around = Around { others: &others, in_use: drugs.in_use };
    let objections = |course: &Course| -> Vec<Finding> {
        rules.drugs.iter().filter_map(|rule| rule.apply(course, facts, around, labels)).collect()
    };
    let mut found = objections(course);
    if course.drug.rules == RuleCover::None {
        found.push(unreviewed(course.drug, &rules.unreviewed));
    }
    if found.iter().any(|finding| finding.level.withholds()) {
        let candidates = drugs.stock.drugs().filter(|drug| stands_in(drug, course.drug, home, facts));
        let free =
            |drug: &&Drug| objections(&Course { drug, ..*course }).iter().all(|finding| finding.level == Level::Note);
        let names =
            candidates.filter(free).map(|drug| format!("{} {} [{}]", drug.shown_name(), drug.strength, drug.key));
        let names: Vec<String> = names.collect();
        for finding in found.iter_mut().filter(|finding| finding.level.withholds()) {
            finding.alternatives.clone_from(&names);
        }
    }
    found
}

/// Groups that lower the pressure within hours. Prostaglandins do not, and are no stand-in.
const QUICK: &[Group] = &[Group::BetaBlocker, Group::CarbonicAnhydraseInhibitor, Group::AlphaAgonist];

/// Whether a drug serves the same purpose, may go home, is covered by the rules and is named by no allergy.
fn stands_in(drug: &Drug, planned: &Drug, home: &[&Drug], facts: &Facts) -> bool {
    let quick = |drug: &Drug| drug.groups.iter().any(|group| QUICK.contains(group));
    let allergies = match facts.iter().find(|(name, _)| *name == "allergies") {
        Some((_, Value::List(allergies))) => &allergies[..],
        _ => &[],
    };
    let same_purpose = drug.groups.iter().any(|group| planned.is_in(*group)) || (quick(drug) && quick(planned));
    same_purpose
        && !drug.clinic_only
        && drug.rules == RuleCover::Complete
        && home.iter().all(|other| other.key != drug.key)
        && !drops::is_named(drug, allergies)
}

/// A drug for which the program has no complete rules is never passed silently.
fn unreviewed(drug: &Drug, words: &Words) -> Finding {
    Finding {
        id: format!("no-rules-{}", drug.key),
        level: Level::Ask,
        title: drug.name.clone(),
        says: words.says.clone(),
        basis: words.basis.clone(),
        drug: Some(drug.key.clone()),
        drops: true,
        ..Finding::default()
    }
}

/// A drop in use that holds a substance of a planned one would be taken twice.
fn doubled(planned: &Drug, used: &Used, drugs: Planned, words: &Words) -> Option<Finding> {
    let shared = drops::shared(planned, used, drugs.stock);
    if shared.is_empty() {
        return None;
    }
    let entry = shown(&used.entry);
    Some(Finding {
        id: format!("doubled-{}-{}", planned.key, in_id(&entry, used.unread)),
        level: Level::Ask,
        title: entry,
        typed: used.unread,
        says: words.says.replace("[planned]", &planned.name).replace("[shared]", &shared.join(", ")),
        basis: words.basis.clone(),
        drug: Some(planned.key.clone()),
        drops: true,
        ..Finding::default()
    })
}

/// Nor is a medicine or a drop in use whose name the program does not know.
fn unread(entry: &str, words: &Words) -> Finding {
    let entry = shown(entry);
    Finding {
        id: format!("unread-{}", in_id(&entry, true)),
        level: Level::Ask,
        typed: true,
        says: words.says.clone(),
        basis: words.basis.clone(),
        drops: true,
        title: entry,
        ..Finding::default()
    }
}

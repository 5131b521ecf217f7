//! What can be seen in the texts alone.

use std::collections::BTreeSet;

use super::Fault;
use super::wording::Wording;
use crate::content::Library;
use crate::content::evidence::{Evidence, SMALL};
use crate::content::fill::evidence_of;
use crate::content::template::Template;

/// Numbers typed in, words that the wording rules forbid, half a framing, a number of a small group without its range,
/// evidence that row and text do not share or nobody uses.
#[must_use]
pub fn faults(library: &Library, wording: &Wording) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut used = BTreeSet::new();
    for statement in library.statements.iter() {
        let row = &statement.row;
        let text = library.text(&row.id).unwrap_or_default();
        let said = said(text);
        let mut fault = |what: String| faults.push(Fault::new(&row.id, what));
        if said.contains(|c: char| c.is_numeric()) {
            fault("a number is typed in: take it from a fact or from the evidence".into());
        }
        for hit in wording.lines(&said) {
            fault(format!("{}: {}", hit.rule, hit.what));
        }
        for id in half_framed(text) {
            fault(format!("about(\"{id}\") stands without rest(\"{id}\"): say how many it is, and how many it is not"));
        }
        for id in bare(text, |id| library.evidence.get(id).is_some_and(Evidence::is_small)) {
            fault(format!("evidence {id} counts fewer than {SMALL} and stands without range(\"{id}\")"));
        }
        let named: BTreeSet<&String> = row.evidence.iter().collect();
        let in_text = evidence_of(text);
        let in_text: BTreeSet<&String> = in_text.iter().collect();
        for id in named.difference(&in_text) {
            fault(format!("evidence {id} is named and its text does not use it"));
        }
        for id in in_text.difference(&named) {
            fault(format!("its text uses evidence {id}, which it does not name"));
        }
        used.extend(row.evidence.iter().chain(&row.figures));
    }
    let idle = library.evidence.keys().filter(|id| !used.contains(id));
    faults.extend(idle.map(|id| Fault::new(id, "no statement uses this evidence")));
    faults
}

/// The words of a text without what stands between braces, and without the numbers of a list.
fn said(text: &str) -> String {
    let words: String = text.split('{').map(|part| part.rsplit('}').next().unwrap_or(part)).collect();
    let lines = words.lines().map(|line| {
        let item = line.trim_start_matches(|c: char| c.is_ascii_digit());
        if item.starts_with(". ") { item } else { line }
    });
    lines.collect::<Vec<_>>().join("\n")
}

/// The evidence that a text names in calls of some functions.
fn called(text: &str, functions: &[&str]) -> BTreeSet<String> {
    let ids = Template::read(text).and_then(|text| text.ids(functions));
    ids.unwrap_or_default().into_iter().collect()
}

/// Evidence of which only one side is told.
fn half_framed(text: &str) -> Vec<String> {
    called(text, &["about"]).difference(&called(text, &["rest"])).cloned().collect()
}

/// Evidence from a small group of which a number is told without what chance may have done to it.
fn bare(text: &str, is_small: impl Fn(&str) -> bool) -> Vec<String> {
    let told = called(text, &["about", "counted", "count"]);
    told.difference(&called(text, &["range"])).filter(|id| is_small(id)).cloned().collect()
}

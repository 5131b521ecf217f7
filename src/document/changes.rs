//! What a patient would now read differently: two versions of a page, compared statement by statement.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::Serialize;
use similar::{ChangeTag, TextDiff};

use super::reading::Passage;

/// One difference between two versions of a page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Change {
    /// Id of the statement or part; empty for words of the page itself.
    pub id: String,
    /// What happened to it.
    #[serde(rename = "change")]
    pub kind: ChangeKind,
    /// The words, with what went and what came.
    pub words: Vec<Words>,
}

/// What happened to a statement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangeKind {
    /// It is said now and was not before.
    New,
    /// It was said before and is not now.
    Gone,
    /// It is said in other words.
    Changed,
    /// It is said in the same words and stands elsewhere.
    Moved,
}

/// A run of words of a change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Words {
    /// In both.
    Same(String),
    /// Only in the old version.
    Old(String),
    /// Only in the new version.
    New(String),
}

/// Compares two readings, in the order of the new one; what is gone comes last.
#[must_use]
pub fn between(old: &[Passage], new: &[Passage]) -> Vec<Change> {
    let mut changes = Vec::new();
    let moved = moved(old, new);
    for id in ids(new) {
        let now = text(new, id);
        let words = match text(old, id) {
            before if before.is_empty() => (ChangeKind::New, vec![Words::New(now)]),
            before if before != now => (ChangeKind::Changed, words(&before, &now)),
            _ if moved.contains(id) => (ChangeKind::Moved, vec![Words::Same(now)]),
            _ => continue,
        };
        changes.push(Change { id: id.to_owned(), kind: words.0, words: words.1 });
    }
    let after: BTreeSet<&str> = ids(new).into_iter().collect();
    for id in ids(old).into_iter().filter(|id| !after.contains(id)) {
        changes.push(Change { id: id.to_owned(), kind: ChangeKind::Gone, words: vec![Words::Old(text(old, id))] });
    }
    changes
}

/// The ids in the order of their first passage. The words of the page itself have the empty id and count as one.
fn ids(passages: &[Passage]) -> Vec<&str> {
    let mut seen = BTreeSet::new();
    passages.iter().map(|passage| passage.id.as_str()).filter(|id| seen.insert(*id)).collect()
}

/// All words of an id.
fn text(passages: &[Passage], id: &str) -> String {
    passages.iter().filter(|passage| passage.id == id).map(|passage| passage.text.as_str()).collect()
}

/// Ids in both whose order among those in both changed: all that are not in the longest common order.
fn moved<'a>(old: &'a [Passage], new: &'a [Passage]) -> BTreeSet<&'a str> {
    let (old, new) = (ids(old), ids(new));
    let old: Vec<&str> = old.into_iter().filter(|id| new.contains(id)).collect();
    let new: Vec<&str> = new.into_iter().filter(|id| old.contains(id)).collect();
    let diff = similar::capture_diff_slices(similar::Algorithm::Lcs, &old, &new);
    let inserted = diff.iter().filter(|op| op.tag() != similar::DiffTag::Equal);
    inserted.flat_map(|op| new[op.new_range()].to_vec()).collect()
}

fn words(old: &str, new: &str) -> Vec<Words> {
    let mut words: Vec<Words> = Vec::new();
    for change in TextDiff::from_words(old, new).iter_all_changes() {
        let text = change.value();
        match (change.tag(), words.last_mut()) {
            (ChangeTag::Equal, Some(Words::Same(run)))
            | (ChangeTag::Delete, Some(Words::Old(run)))
            | (ChangeTag::Insert, Some(Words::New(run))) => run.push_str(text),
            (ChangeTag::Equal, _) => words.push(Words::Same(text.to_owned())),
            (ChangeTag::Delete, _) => words.push(Words::Old(text.to_owned())),
            (ChangeTag::Insert, _) => words.push(Words::New(text.to_owned())),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(passages: &[(&str, &str)]) -> Vec<Passage> {
        let passage =
            |(id, text): &(&str, &str)| Passage { id: (*id).into(), text: (*text).into(), ..Passage::default() };
        passages.iter().map(passage).collect()
    }

    #[test]
    fn each_kind_of_change_is_told_apart() {
        let old = page(&[("a", "one two three"), ("b", "same"), ("c", "moves"), ("d", "goes"), ("", "page")]);
        let new = page(&[("c", "moves"), ("a", "one 2 three"), ("b", "same"), ("e", "comes"), ("", "page")]);
        let changes = between(&old, &new);
        let kinds: Vec<(&str, ChangeKind)> = changes.iter().map(|change| (change.id.as_str(), change.kind)).collect();
        assert_eq!(
            kinds,
            [("c", ChangeKind::Moved), ("a", ChangeKind::Changed), ("e", ChangeKind::New), ("d", ChangeKind::Gone)]
        );
        let same = |text: &str| Words::Same(text.into());
        assert_eq!(changes[1].words, [same("one "), Words::Old("two".into()), Words::New("2".into()), same(" three")]);
    }

    #[test]
    fn the_same_page_has_no_changes() {
        let page = page(&[("a", "one"), ("", "page")]);
        assert_eq!(between(&page, &page), []);
    }
}

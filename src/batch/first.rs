//! The first reading of a batch: whom each case is of and what its files will be called. Everything else of a record is
//! forgotten until its turn.

use std::collections::BTreeMap;

use crate::facts::Moment;
use crate::record::Record;
use crate::record::identity::Identity;

/// What is kept of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry {
    /// Code of the case.
    pub(super) code: String,
    /// Where the names of its files begin.
    pub(super) stem: String,
    identity: Identity,
}

impl Entry {
    pub(super) fn of(record: &Record, moment: Moment) -> Self {
        let case = &record.case;
        let stem = format!("{}-r{}-{}", case.code, case.revision, moment.word());
        Self { code: case.code.clone(), stem, identity: Identity::of(&record.patient) }
    }
}

/// Whether another case of the batch would write files of the same names, by place. A disk may not tell upper from lower
/// case.
pub(super) fn clashes(entries: &[Option<Entry>]) -> Vec<bool> {
    let stems: Vec<Option<String>> =
        entries.iter().map(|entry| entry.as_ref().map(|entry| entry.stem.to_lowercase())).collect();
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for stem in stems.iter().flatten() {
        *count.entry(stem).or_default() += 1;
    }
    stems.iter().map(|stem| stem.as_ref().is_some_and(|stem| count[stem.as_str()] > 1)).collect()
}

/// Places of the cases that may be of one patient, group by group: those with one record number, and those with one name
/// and date of birth, however they are written.
pub(super) fn groups(entries: &[Option<Entry>]) -> Vec<Vec<usize>> {
    let mut first = Groups { above: (0..entries.len()).collect() };
    let (mut numbers, mut persons) = (BTreeMap::new(), BTreeMap::new());
    let read = entries.iter().enumerate().filter_map(|(at, entry)| Some((at, &entry.as_ref()?.identity)));
    for (at, identity) in read.clone() {
        let number = *numbers.entry(identity.number()).or_insert(at);
        let person = *persons.entry(identity.person()).or_insert(at);
        first.unite(number, at);
        first.unite(person, at);
    }
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, _) in read {
        groups.entry(first.of(at)).or_default().push(at);
    }
    groups.into_values().collect()
}

/// Places, each below one that stands before it in its group.
struct Groups {
    above: Vec<usize>,
}

impl Groups {
    /// The first place of a group.
    fn of(&mut self, mut at: usize) -> usize {
        while self.above[at] != at {
            self.above[at] = self.above[self.above[at]]; // shortens the way for the next
            at = self.above[at];
        }
        at
    }

    fn unite(&mut self, one: usize, other: usize) {
        let (one, other) = (self.of(one), self.of(other));
        self.above[one.max(other)] = one.min(other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Entries by stem, record number, name.
    fn entries(rows: &[(&str, &str, &str)]) -> Vec<Option<Entry>> {
        let patient = |number: &str, name: &str| {
            serde_json::json!({
                "name": name, "birth_date": "1951-06-14", "record_number": number, "language": "en-US",
                "wakes": "07:00", "sleeps": "22:30",
            })
        };
        let entry = |(stem, number, name): &(&str, &str, &str)| {
            let patient = serde_json::from_value(patient(number, name)).unwrap();
            Some(Entry { code: (*stem).into(), stem: (*stem).into(), identity: Identity::of(&patient) })
        };
        rows.iter().map(entry).collect()
    }

    #[test]
    fn who_may_be_one_patient_is_one_group() {
        let mut entries = entries(&[
            ("a", "100", "Ana"),
            ("b", "200", "Ben"),
            ("c", "3OO", "Cleo"),
            ("d", "400", "Ana"),
            ("e", "300", "Dora"),
            ("f", "200", "Ana"),
        ]);
        // The number of one and the name of another bring all three together.
        assert_eq!(groups(&entries), [vec![0, 1, 3, 5], vec![2, 4]]);
        entries[5] = None;
        assert_eq!(groups(&entries), [vec![0, 3], vec![1], vec![2, 4]]);
    }

    #[test]
    fn names_that_differ_in_case_only_clash() {
        let entries = entries(&[("A-r1-after", "1", "Ana"), ("b-r1-after", "2", "Ben"), ("a-r1-after", "3", "Cleo")]);
        assert_eq!(clashes(&entries), [true, false, true]);
    }
}

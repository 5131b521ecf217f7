//! What a patient already takes: which words of a record name which medicines and drops (`templates/medicines.toml`).
//!
//! A record holds generic names as people write them. A word that names nothing known is never passed over: somebody is
//! asked about it.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use serde::Deserialize;
use strsim::damerau_levenshtein;
use toml::Spanned;

use super::{Drug, Formulary, Group};
use crate::assets::{Assets, Kind, LoadError, Problem, layers};

const FILE: &str = "templates/medicines.toml";

/// How long a word is that may be a slip of the pen, bytes: a shorter one could be anything, a longer one is no name.
const WORD: RangeInclusive<usize> = 3..=40;

/// Most names that are offered for one that nobody knows.
const MOST_NEAR: usize = 4;

/// Classes of medicines taken by mouth that rules ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    /// Beta-blockers.
    OralBetaBlocker,
    /// Calcium channel blockers.
    CalciumBlocker,
    /// Digoxin and its kin.
    Digoxin,
    /// What slows the enzyme that breaks timolol down.
    Cyp2d6Inhibitor,
    /// What strongly slows the enzyme that breaks steroids down.
    Cyp3aInhibitor,
    /// Antidepressants that act on noradrenaline.
    Tricyclic,
    /// Monoamine oxidase inhibitors.
    Maoi,
    /// Against high blood pressure, whatever they are taken for.
    Antihypertensive,
    /// Against a disturbed rhythm of the heart.
    Antiarrhythmic,
    /// Clonidine, which must not be stopped at once beside a beta-blocker.
    Clonidine,
    /// What empties the stores of noradrenaline: reserpine and its kin, guanethidine.
    CatecholamineDepleter,
    /// What acts like adrenaline.
    Sympathomimetic,
    /// What dampens the brain.
    Sedative,
    /// What keeps blood from clotting.
    Anticoagulant,
    /// Aspirin in any dose.
    Aspirin,
    /// Against diabetes.
    GlucoseLowering,
    /// Known, and no rule asks for it.
    None,
}

/// Names of medicines and drops, in lower case, word by word.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Medicines {
    ignored: BTreeSet<String>,
    classes: BTreeMap<Vec<String>, BTreeSet<Class>>,
    drops: BTreeMap<Vec<String>, BTreeSet<Group>>,
}

/// What the words of one entry name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reading {
    /// Classes of medicines.
    pub classes: BTreeSet<Class>,
    /// Groups of the formulary.
    pub groups: BTreeSet<Group>,
    /// Keys of the formulary whose generic name stands in the entry.
    pub drugs: BTreeSet<String>,
    /// Some word names nothing that is known.
    pub unread: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    ignore: Vec<String>,
    #[serde(default)]
    class: Vec<Spanned<Row>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    medicine: Option<Class>,
    drops: Option<Group>,
    names: Vec<String>,
}

impl Medicines {
    /// Reads `templates/medicines.toml`; names of the practice's own folder join them.
    ///
    /// # Errors
    /// The file and what is wrong with it.
    pub(super) fn load(assets: &Assets) -> Result<Self, LoadError> {
        let mut all = Self::default();
        for (path, text) in assets.layers(FILE) {
            all.add(&text).map_err(|problem| problem.in_file(&path))?;
        }
        Ok(all)
    }

    fn add(&mut self, text: &str) -> Result<(), Problem> {
        let file: File = layers::table(text)?;
        self.ignored.extend(file.ignore.iter().flat_map(|word| words(word)));
        for row in file.class {
            let span = row.span();
            let row = row.into_inner();
            let wrong = |what: &str| Err(Problem::new(Kind::Value, what).at(text, &span));
            for name in &row.names {
                let name = words(name);
                match (row.medicine, row.drops) {
                    _ if name.is_empty() => return wrong("a name is empty: write it or take it out"),
                    (Some(class), None) => self.classes.entry(name).or_default().insert(class),
                    (None, Some(group)) => self.drops.entry(name).or_default().insert(group),
                    _ => return wrong("a [[class]] needs either `medicine` or `drops`"),
                };
            }
        }
        Ok(())
    }
}

impl Formulary {
    /// What an entry of `medicines` or `eye_drops` names. The longest name at each place counts.
    #[must_use]
    pub fn read(&self, entry: &str) -> Reading {
        let written = words(entry);
        let mut reading = Reading::default();
        let unknown = self.go_through(&written, &mut reading);
        reading.unread = unknown.is_some() || (reading.classes.is_empty() && reading.groups.is_empty());
        reading
    }

    /// Adds what words name; the first of them that names nothing.
    fn go_through<'w>(&self, written: &'w [String], reading: &mut Reading) -> Option<&'w String> {
        let (mut at, mut unknown) = (0, None);
        while at < written.len() {
            let length = (1..=written.len() - at).rev().find(|length| self.name(&written[at..at + length], reading));
            if length.is_none() && !self.says_nothing(&written[at]) {
                unknown = unknown.or(Some(&written[at]));
            }
            at += length.unwrap_or(1);
        }
        unknown
    }

    /// The names that rules know of medicines and drops, each once, for whoever completes what is typed.
    #[must_use]
    pub fn known_names(&self) -> BTreeSet<String> {
        let medicines = self.medicines.classes.keys().chain(self.medicines.drops.keys());
        medicines.map(|name| name.join(" ")).chain(self.drugs.values().map(|drug| drug.name.clone())).collect()
    }

    /// What an entry that names nothing may have meant: its first unknown word begun, or a few letters away, as a name that is
    /// known. The best first; nobody chooses for whoever wrote it.
    #[must_use]
    pub fn near_names(&self, entry: &str) -> Vec<String> {
        let written = words(entry);
        let unknown = self.go_through(&written, &mut Reading::default());
        let Some(unknown) = unknown.filter(|word| WORD.contains(&word.len())) else { return Vec::new() };
        let names = self.known_names().into_iter().filter(|name| !name.contains(' '));
        let known = names.chain(self.medicines.ignored.iter().cloned());
        let far = |name: &String| match name.starts_with(unknown) {
            true => Some(0),
            false => Some(damerau_levenshtein(unknown, name)).filter(|far| *far <= (unknown.len() / 4).max(1)),
        };
        let mut near: Vec<(usize, String)> = known.filter_map(|name| Some((far(&name)?, name))).collect();
        near.sort();
        near.truncate(MOST_NEAR);
        near.into_iter().map(|(_, name)| entry.to_lowercase().replacen(unknown, &name, 1)).collect()
    }

    /// Adds what these words name; whether they name anything.
    fn name(&self, name: &[String], reading: &mut Reading) -> bool {
        let classes = self.medicines.classes.get(name);
        let groups = self.medicines.drops.get(name);
        let drugs = self.names.get(name).map_or(&[][..], Vec::as_slice);
        reading.classes.extend(classes.into_iter().flatten());
        reading.groups.extend(groups.into_iter().flatten());
        for key in drugs {
            reading.groups.extend(self.get(key).into_iter().flat_map(|drug| &drug.groups));
            reading.drugs.insert(key.clone());
        }
        classes.is_some() || groups.is_some() || !drugs.is_empty()
    }

    fn says_nothing(&self, word: &str) -> bool {
        self.medicines.ignored.contains(word) || word.starts_with(|c: char| c.is_ascii_digit())
    }
}

/// Which drugs bear which name: generic name, key, or the name on the practice's bottles.
pub(super) fn names(drugs: &BTreeMap<String, Drug>) -> BTreeMap<Vec<String>, Vec<String>> {
    let mut names: BTreeMap<Vec<String>, Vec<String>> = BTreeMap::new();
    for drug in drugs.values() {
        let known = [Some(&drug.name), Some(&drug.key), drug.bottle_name.as_ref()];
        let known: BTreeSet<Vec<String>> = known.into_iter().flatten().map(|name| words(name)).collect();
        known.into_iter().for_each(|name| names.entry(name).or_default().push(drug.key.clone()));
    }
    names
}

/// The words of a text in lower case, without "and": "dorzolamide and timolol" and `dorzolamide_timolol` are the same.
fn words(text: &str) -> Vec<String> {
    let text = text.to_lowercase();
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty() && *word != "and")
        .map(str::to_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(entry: &str) -> Reading {
        Formulary::load(&Assets::default()).expect("the formulary of the program").read(entry)
    }

    #[test]
    fn names_are_found_among_doses_and_salts() {
        let reading = read("Metoprolol succinate 50 mg once daily");
        assert_eq!(reading.classes, [Class::OralBetaBlocker, Class::Antihypertensive].into());
        assert!(!reading.unread);
        let both = read("lisinopril / hydrochlorothiazide 20/12.5 mg");
        assert!(both.classes.contains(&Class::Antihypertensive) && !both.unread);
        assert_eq!(read("dorzolamide and timolol").groups, read("dorzolamide_timolol").groups);
        assert_eq!(read("travoprost 0.004%").groups, [Group::Prostaglandin].into());
    }

    #[test]
    fn a_word_that_names_nothing_is_unread_even_beside_a_known_one() {
        for entry in ["", "tablet", "sodium", "something new", "timolol with something", "beta"] {
            assert!(read(entry).unread, "{entry}");
        }
    }

    #[test]
    fn a_name_within_another_word_is_no_name() {
        assert!(read("xtimolol").unread && read("timololx").unread);
    }

    #[test]
    fn a_slip_of_the_pen_is_offered_the_names_it_may_mean() {
        let formulary = Formulary::load(&Assets::default()).expect("the formulary of the program");
        for (written, near) in [
            ("asprin", &["aspirin"][..]),
            ("Asprin 81 mg", &["aspirin 81 mg"]),
            ("timololo", &["timolol"]),
            ("amlo", &["amlodipine"]),
            ("Metoprolol tartrat 50 mg", &["metoprolol tartrate 50 mg"]),
            ("timolol", &[]),
            ("am", &[]),
            ("something", &[]),
            ("", &[]),
        ] {
            assert_eq!(formulary.near_names(written), near, "{written}");
        }
        assert_eq!(formulary.near_names("met").len(), MOST_NEAR);
    }

    #[test]
    fn a_practice_adds_names_and_keeps_ours() {
        let own = "[[class]]\nmedicine = \"sedative\"\nnames = [\"somnol\"]\n";
        let assets = Assets::new([(FILE.to_owned(), own.to_owned())].into());
        let formulary = Formulary::load(&assets).expect("both files");
        assert_eq!(formulary.read("somnol").classes, [Class::Sedative].into());
        assert!(!formulary.read("metoprolol").unread);
        let wrong = Medicines::default().add("[[class]]\nnames = [\"a\"]\n").expect_err("neither medicine nor drops");
        assert!(wrong.what.contains("either"), "{wrong}");
        assert_eq!(wrong.line, Some(1));
    }
}

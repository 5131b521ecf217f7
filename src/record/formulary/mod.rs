//! The formulary: which drugs a practice may name, and what their labels say of the handling.
//!
//! It is data that a surgeon reads and edits (`templates/formulary.toml`). Whether a drug suits a patient is not
//! said here but by the drug rules, which name drugs by [`Selector`].

mod drug;
mod medicines;
mod selector;

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use crate::assets::{Assets, Kind, LoadError, Problem};
pub use drug::{Drug, Excipient, Form, Frequency, Group, Mark, Preservative, Region, RuleCover, Source, Storage};
pub use medicines::{Class, Reading};
use medicines::{Medicines, names};
use selector::is_key;
pub use selector::{Selector, SelectorError};

/// All drugs, in the order of their keys.
#[derive(Debug, Clone, PartialEq)]
pub struct Formulary {
    drugs: BTreeMap<String, Drug>,
    /// Keys by what the drugs are called, word by word.
    names: BTreeMap<Vec<String>, Vec<String>>,
    /// Medicines a patient may take, by name.
    medicines: Medicines,
}

const FILE: &str = "templates/formulary.toml";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    drug: Vec<Spanned<Drug>>,
}

impl Formulary {
    /// Reads a formulary.
    ///
    /// # Errors
    /// Text for a person, one problem a line, each with its line number: what TOML or the table of fields refuses, a
    /// key used twice, a value that is blank, out of range or without a source.
    pub fn parse(text: &str) -> Result<Self, Vec<Problem>> {
        let written: Written = toml::from_str(text).map_err(|error| {
            let what = Problem::new(Kind::Value, error.message());
            what.at(text, &error.span().unwrap_or_default())
        })?;
        let mut drugs = BTreeMap::new();
        let mut problems = Vec::new();
        for spanned in written.drug {
            let span = spanned.span();
            let drug = spanned.into_inner();
            problems.extend(faults(&drug).into_iter().map(|fault| fault.at(text, &span)));
            if drugs.contains_key(&drug.key) {
                let what = format!("two drugs have the key {:?}: rename one", drug.key);
                problems.push(Problem::new(Kind::Twice, what).of(&drug.key).at(text, &span));
            } else {
                drugs.insert(drug.key.clone(), drug);
            }
        }
        if drugs.is_empty() {
            let what = "the formulary names no drug: add a [[drug]] table";
            problems.push(Problem::new(Kind::Missing, what).on_line(1));
        }
        if problems.is_empty() { Ok(Self::of(drugs, Medicines::default())) } else { Err(problems) }
    }

    /// Reads `templates/formulary.toml` and `templates/medicines.toml`.
    ///
    /// Drugs of the practice's own folder replace those with the same key or are added.
    ///
    /// # Errors
    /// As [`Formulary::parse`], with the name of the file; also a name of a bottle in the file of the program.
    pub fn load(assets: &Assets) -> Result<Self, LoadError> {
        let mut drugs = BTreeMap::new();
        for (path, text) in assets.layers(FILE) {
            let layer = Self::parse(&text).map_err(|problems| LoadError { file: path.clone(), problems })?;
            if let Some(drug) = layer.drugs().find(|drug| path == FILE && drug.bottle_name.is_some()) {
                let what = format!("drug {:?}: only a practice's own file may name its bottles", drug.key);
                return Err(Problem::new(Kind::Fixed, what).of(&drug.key).in_file(&path));
            }
            drugs.extend(layer.drugs);
        }
        Ok(Self::of(drugs, Medicines::load(assets)?))
    }

    fn of(drugs: BTreeMap<String, Drug>, medicines: Medicines) -> Self {
        Self { names: names(&drugs), drugs, medicines }
    }

    /// The drug with this key.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Drug> {
        self.drugs.get(key)
    }

    /// All drugs, in the order of their keys.
    pub fn drugs(&self) -> impl Iterator<Item = &Drug> {
        self.drugs.values()
    }

    /// The drugs a selector means. None at all means that a rule speaks of a drug nobody can plan: refuse the rule.
    pub fn select<'a>(&'a self, selector: &'a Selector) -> impl Iterator<Item = &'a Drug> {
        self.drugs().filter(|drug| selector.covers(drug))
    }
}

/// What is wrong with one drug, beyond the shape that serde checks.
fn faults(drug: &Drug) -> Vec<Problem> {
    let name = &drug.key;
    let mut faults = Vec::new();
    let mut refuse = |wrong: bool, what: &str| {
        if wrong {
            faults.push(Problem::new(Kind::Value, format!("drug {name:?}: {what}")).of(name));
        }
    };
    refuse(!is_key(name), "the key may hold lower-case letters, digits and underscores, a letter first");
    refuse(blank(&drug.name) || drug.name.chars().any(char::is_uppercase), "write the generic name in lower case");
    refuse(blank(&drug.strength), "write the strength");
    refuse(blank(&drug.atc), "write the ATC code");
    refuse(drug.groups.is_empty(), "name at least one group");
    refuse(drug.form == Form::Suspension && !drug.shake, "a suspension is shaken: write shake = true");
    refuse(drug.bottle_name.as_deref().is_some_and(blank), "bottle_name is empty: write the name or take it out");
    refuse(drug.bottle_ml.iter().any(|size| !(0.05..=100.0).contains(size)), "a bottle holds 0.05 to 100 mL");
    refuse(drug.in_use_days.is_some_and(|days| !(1..=365).contains(&days)), "in_use_days goes from 1 to 365");
    refuse(drug.in_use_days.is_some() && drug.single_dose, "a single-dose unit has no in_use_days");
    let gaps = [drug.gap_minutes_us, drug.gap_minutes_eu_uk];
    refuse(gaps.into_iter().flatten().any(|gap| !(1..=60).contains(&gap)), "a gap goes from 1 to 60 minutes");
    let times = &drug.label_frequency;
    refuse(times.iter().any(|times| !(1..=24).contains(&times.per_day)), "per_day goes from 1 to 24");
    refuse(times.iter().any(|times| blank(&times.cite)), "a label_frequency needs its source in cite");
    let us = times.iter().filter(|times| times.label == Region::Us).count();
    refuse(us > 1 || times.len() - us > 1, "write one label_frequency for each label");
    refuse(!(1..=1440).contains(&drug.min_same_drug_minutes), "min_same_drug_minutes goes from 1 to 1440");
    refuse(drug.sources.is_empty(), "name at least one source");
    refuse(
        drug.sources.iter().any(|source| blank(&source.what) || blank(&source.cite)),
        "a source needs what and cite",
    );
    faults
}

fn blank(text: &str) -> bool {
    text.trim().is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::profile::Labels;

    const OURS: &str = include_str!("../../../templates/formulary.toml");

    /// A drug that is fine, to be spoilt by a test.
    const FINE: &str = r#"
[[drug]]
key = "a_drop"
name = "a drop"
strength = "1%"
atc = "S01"
groups = ["steroid"]
form = "suspension"
preservative = "unknown"
storage = "room"
shake = true
gap_minutes_us = 5
min_same_drug_minutes = 60
clinic_only = false
rules = "none"
sources = [{ what = "all", cite = "invented for this test", mark = "memory" }]
"#;

    fn refusal(text: &str) -> String {
        let problems = Formulary::parse(text).expect_err("has to be refused");
        problems.iter().map(Problem::to_string).collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn ours_is_read_and_every_value_has_a_source() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        for drug in ours.drugs() {
            assert!(!drug.sources.is_empty(), "{}", drug.key);
            for source in &drug.sources {
                assert!(!blank(&source.what) && !blank(&source.cite), "{}", drug.key);
                assert!(
                    !source.cite.contains("http") && !source.cite.contains("www."),
                    "{}: {}",
                    drug.key,
                    source.cite
                );
            }
        }
    }

    /// Sizes stand in the sources; how often is said of every drop that goes home, but for tears, which are taken as needed.
    #[test]
    fn sizes_and_frequencies_have_their_sources() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        for drug in ours.drugs() {
            let sized =
                drug.sources.iter().any(|source| source.what.contains("bottle") || source.what.contains("unit"));
            assert!(drug.bottle_ml.is_empty() == (drug.form == Form::Tablet) && (drug.form == Form::Tablet || sized));
            let home = !drug.clinic_only && !drug.is_in(Group::Lubricant);
            assert!(!home || !drug.label_frequency.is_empty(), "{}", drug.key);
            let held = drug.excipients.iter().chain(&drug.some_hold).count();
            let words = ["sulfite", "phosphate", "edetate", "boric", "sorbic"];
            let said = |source: &Source| words.iter().any(|word| source.what.contains(word));
            assert!(held == 0 || drug.sources.iter().any(said), "{}", drug.key);
        }
    }

    #[test]
    fn a_key_used_twice_is_refused_at_the_second() {
        assert_eq!(refusal(&[FINE, FINE].concat()), "line 18: two drugs have the key \"a_drop\": rename one");
    }

    #[test]
    fn what_is_missing_or_unknown_is_refused_at_its_line() {
        let cases = [
            (FINE.replace("shake = true", "shake = true\nshaken = true"), "line 12: unknown field `shaken`"),
            (FINE.replace("\"steroid\"", "\"steriod\""), "line 7: unknown variant `steriod`"),
            (
                FINE.replace("[{ what = \"all\", cite = \"invented for this test\", mark = \"memory\" }]", "[]"),
                "line 2: drug \"a_drop\": name at least one source",
            ),
            (FINE.replace("invented for this test", " "), "line 2: drug \"a_drop\": a source needs"),
            (FINE.replace("shake = true", "shake = false"), "line 2: drug \"a_drop\": a suspension is shaken"),
            (FINE.replace("min_same_drug_minutes = 60\n", ""), "line 2: missing field `min_same_drug_minutes`"),
            (FINE.replace("= 5", "= 0"), "line 2: drug \"a_drop\": a gap goes from"),
        ];
        for (text, expected) in cases {
            let said = refusal(&text);
            assert!(said.starts_with(expected), "{said}\nshould begin with\n{expected}");
        }
        assert!(refusal("drug = []").contains("names no drug"));
    }

    /// US label of brimonidine three times a day, UK product information twice (both seen).
    #[test]
    fn the_stricter_label_has_the_fewer_doses() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        let times = |key| {
            let drug = ours.get(key).expect("a key");
            [Labels::Us, Labels::EuUk, Labels::Stricter].map(|labels| drug.frequency(labels).map(|f| f.per_day))
        };
        assert_eq!(times("brimonidine"), [Some(3), Some(2), Some(2)]);
        assert_eq!(times("diclofenac_0_1"), [Some(4); 3]);
        assert_eq!(times("carmellose"), [None; 3]);
    }

    #[test]
    fn only_a_practice_names_its_bottles() {
        let own = FINE.replace("strength", "bottle_name = \"What The Bottle Says\"\nstrength");
        let assets = Assets::new([(FILE.to_owned(), own)].into());
        let drug = Formulary::load(&assets).expect("a practice may").get("a_drop").cloned().expect("the drug");
        assert_eq!(drug.shown_name(), "a drop (What The Bottle Says)");
        assert!(Formulary::parse(OURS).expect("ours").drugs().all(|drug| drug.bottle_name.is_none()));
    }

    #[test]
    fn every_problem_is_named_at_once() {
        let spoilt = FINE.replace("1%", "").replace("a drop", "A drop");
        assert_eq!(refusal(&spoilt).lines().count(), 2);
    }

    /// Gaps: US label of brinzolamide 10 minutes (seen), EU 5 (from memory); UK single-dose dorzolamide and timolol 10 (seen).
    #[test]
    fn the_stricter_label_has_the_longer_gap() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        let gaps =
            |key| [Labels::Us, Labels::EuUk, Labels::Stricter].map(|l| ours.get(key).expect("a key").gap_minutes(l));
        assert_eq!(gaps("brinzolamide"), [Some(10), Some(5), Some(10)]);
        assert_eq!(gaps("dorzolamide_timolol"), [Some(5), Some(10), Some(10)]);
        assert_eq!(gaps("dorzolamide_timolol_pf"), [Some(10); 3]);
        assert_eq!(gaps("phenylephrine"), [None; 3]);
    }

    #[test]
    fn a_selector_is_a_group_or_a_drug_and_reads_as_it_writes() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        for text in ["group:oral_carbonic_anhydrase_inhibitor", "drug:brinzolamide"] {
            let selector: Selector = text.parse().expect(text);
            assert_eq!(selector.to_string(), text);
            assert_eq!(ours.select(&selector).count(), 1);
        }
        for wrong in ["steroid", "group:steroids", "group:", "drug:", "drug:Timolol", "drug: timolol"] {
            assert!(wrong.parse::<Selector>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_preservative_not_known_counts_as_benzalkonium() {
        let ours = Formulary::parse(OURS).expect("the formulary of the program");
        let may = |key| ours.get(key).expect("a key").may_hold(Preservative::Benzalkonium);
        assert_eq!(
            ["timolol", "hypromellose_gel", "dorzolamide_timolol_pf", "tetracaine"].map(may),
            [true, true, false, false]
        );
    }

    #[test]
    fn solutions_come_before_suspensions_and_ointments_last() {
        let order = [Form::Solution, Form::Suspension, Form::Gel, Form::Ointment].map(Form::order);
        assert_eq!(order, [0, 1, 2, 3]);
    }
}

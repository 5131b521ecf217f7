//! Numbers that a patient may read fairly: a table of promises, each with a case that shows it and one that just does not; what
//! the program refuses to draw or to print; which label texts wait for a pharmacist; what the README says is still from memory.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use serde::Deserialize;
use serde_json::{Value, json};
use vitreoleaf::assets::{Assets, Kind};
use vitreoleaf::content::evidence::{self, Evidence, Provenance, SMALL};
use vitreoleaf::content::{Library, catalog};
use vitreoleaf::document::part::Part;
use vitreoleaf::document::reading::{self, Passage};
use vitreoleaf::document::{Block, Inline};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;
use vitreoleaf::record::formulary::Formulary;

use crate::consent::changed;
use crate::packets::{checked, practice, record};

#[derive(Deserialize)]
struct Table {
    promise: Vec<Promise>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Promise {
    says: String,
    hit: Shown,
    near_miss: Shown,
}

/// One case of a promise; see the head of `tests/fair_numbers/table.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Shown {
    #[serde(default)]
    change: BTreeMap<String, Value>,
    #[serde(default)]
    profile: Vec<[String; 2]>,
    #[serde(default)]
    evidence: Vec<Counted>,
    #[serde(default)]
    page: Option<String>,
    #[serde(default)]
    place: Option<String>,
    reads: Vec<String>,
    never: Vec<String>,
}

#[derive(Deserialize)]
struct Counted {
    id: String,
    k: u32,
    n: u32,
}

fn same(text: String) -> String {
    text
}

/// An entry of a practice's own: people in a trial, 6 months.
fn counted(id: &str, k: u32, n: u32, provenance: &str) -> String {
    format!(
        "[[evidence]]\nid = \"{id}\"\noutcome = \"x\"\npopulation = \"x\"\ngrade = \"trial\"\nunit = \"people\"\n\
         k = {{ value = {k}, provenance = \"{provenance}\" }}\nn = {{ value = {n}, provenance = \"seen\" }}\n\
         span_months = {{ value = 6, provenance = \"seen\" }}\ncitation = {{ value = \"x\", provenance = \"seen\" }}\n"
    )
}

fn own(evidence: &str) -> BTreeMap<String, String> {
    BTreeMap::from([("templates/evidence.toml".to_owned(), evidence.to_owned())])
}

impl Shown {
    fn practice(&self) -> Practice {
        let rows: String = self.evidence.iter().map(|one| counted(&one.id, one.k, one.n, "seen")).collect();
        let own = if rows.is_empty() { BTreeMap::new() } else { own(&rows) };
        practice(
            |profile| {
                self.profile.iter().fold(profile, |text, [old, new]| {
                    assert!(text.contains(old), "the profile does not say {old:?}");
                    text.replace(old, new)
                })
            },
            own,
        )
    }

    fn record(&self) -> (Record, Moment) {
        match self.page.as_deref() {
            Some("after") => (record("ring-implant", same), Moment::After),
            _ => (changed(&self.change), Moment::Before),
        }
    }

    /// What is read of it: one statement or part, or everything.
    fn words(&self) -> String {
        let ((record, moment), practice) = (self.record(), self.practice());
        let passages = page(&practice, &record, moment);
        let wanted = |passage: &&Passage| self.place.as_ref().is_none_or(|place| passage.id == *place);
        let words: String = passages.iter().filter(wanted).map(|passage| passage.text.as_str()).collect();
        assert!(!words.is_empty(), "{:?} is not on the page", self.place);
        words.replace('\u{a0}', " ")
    }

    fn assert_shows(&self, says: &str, which: &str) {
        let words = self.words();
        for read in &self.reads {
            assert!(words.contains(read), "{says}, {which}: {read:?} is missing in {words}");
        }
        for never in &self.never {
            assert!(!words.contains(never), "{says}, {which}: {never:?} stands in {words}");
        }
    }
}

fn page(practice: &Practice, record: &Record, moment: Moment) -> Vec<Passage> {
    let checked = checked(practice, record);
    let case = Case::new(&checked, moment).unwrap();
    reading::read(&case.unissued().unwrap())
}

fn file(path: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

#[test]
fn each_promise_is_kept_and_its_near_miss_is_not_touched() {
    let table: Table = toml::from_str(&file("tests/fair_numbers/table.toml")).unwrap();
    assert!(table.promise.len() >= 20, "{}", table.promise.len());
    for Promise { says, hit, near_miss } in &table.promise {
        hit.assert_shows(says, "hit");
        near_miss.assert_shows(says, "near miss");
    }
}

/// Whoever reads how many the trial helped reads how many its pretend laser did.
#[test]
fn the_trial_never_stands_without_its_pretend_group() {
    let library = Library::load(&Assets::default(), "en-US").unwrap();
    let rows: Vec<_> = library.statements.iter().map(|statement| &statement.row).collect();
    let names = |id: &str, evidence: &[String]| evidence.iter().any(|one| one == id);
    let told: Vec<_> = rows.into_iter().filter(|row| names("ben-rct-2017-responder", &row.evidence)).collect();
    assert!(told.len() >= 3, "{}", told.len());
    assert!(told.iter().all(|row| names("ben-rct-2017-sham", &row.evidence)), "{told:?}");
}

/// Each of the three answers has a box of its own, none is marked beforehand, and whoever decides signs below them with name,
/// date, time and the eye in their own hand.
#[test]
fn yes_no_and_not_yet_have_their_own_boxes() {
    let practice = practice(same, BTreeMap::new());
    let record = changed(&BTreeMap::new());
    let checked = checked(&practice, &record);
    let document = Case::new(&checked, Moment::Before).unwrap().unissued().unwrap();
    let signed = document.blocks.iter().find_map(|block| match block {
        Block::Signatures { answers, signers, .. } => Some((answers, signers)),
        _ => None,
    });
    let (answers, signers) = signed.unwrap();
    let marked = |part: Part| answers.iter().filter(|answer| answer.contains(&Inline::Mark(part.id()))).count();
    assert_eq!((answers.len(), marked(Part::SignDecline), marked(Part::SignNotYet)), (3, 1, 1));
    let patient = &signers[0];
    assert_eq!(patient.mark, Part::SignPatient.id());
    assert_eq!(patient.blanks[..4], ["Signature", "Printed name", "Date", "Time"]);
    assert!(patient.blanks[4].contains("I write which eye"));
}

/// A harm drawn as if it were a benefit would mislead: only sections of which it is known are drawn, and each picture has the
/// colour of what it counts.
#[test]
fn no_picture_of_a_harm_looks_like_a_benefit() {
    let row = |section: &str| {
        let row = format!(
            "[[statement]]\nid = \"own\"\npage = \"consent\"\nsection = \"{section}\"\norder = 1\nkind = \"text\"\n\
             figures = [\"harm-tear-longterm\"]\n"
        );
        Assets::new(BTreeMap::from([("templates/statements.toml".to_owned(), row)]))
    };
    let refused = catalog::load(&row("unknown")).expect_err("neither benefit nor harm");
    assert_eq!(refused.problems[0].kind, Kind::Value, "{refused}");
    assert!(catalog::load(&row("benefit")).is_ok());
    let practice = practice(same, BTreeMap::new());
    let record = changed(&BTreeMap::new());
    let checked = checked(&practice, &record);
    let document = Case::new(&checked, Moment::Before).unwrap().unissued().unwrap();
    let mut drawn = 0;
    for block in &document.blocks {
        match block {
            Block::Figures { items, .. } => {
                let harms: Vec<bool> = items.iter().map(|figure| figure.harm).collect();
                assert_eq!(harms, [false, true]);
            }
            Block::Ways(ways) => {
                for row in &ways.rows {
                    assert_eq!(row.harm, ["torn", "detached", "wrong"].iter().any(|word| row.head.contains(word)));
                    let figures = row.cells.iter().filter_map(|cell| cell.figure.as_ref());
                    drawn += figures.inspect(|figure| assert_eq!(figure.harm, row.harm, "{}", figure.title)).count();
                }
            }
            _ => {}
        }
    }
    assert!(drawn >= 6, "{drawn}");
}

/// A share of fewer than 100 without its count is refused, at 99 and not at 100.
#[test]
fn a_small_group_needs_its_count() {
    let row = |n: u32| {
        counted("own", 1, n, "seen")
            .replace("k = { value = 1, provenance = \"seen\" }", "per_100 = { value = 9, provenance = \"seen\" }")
    };
    let refused = evidence::load(&Assets::new(own(&row(SMALL - 1)))).expect_err("99 need their count");
    assert!(refused.to_string().contains("give k instead of per_100"), "{refused}");
    assert!(evidence::load(&Assets::new(own(&row(SMALL)))).is_ok());
}

/// No number that rests on memory reaches a page: neither one of the built-in entries nor one that a practice marks so.
#[test]
fn no_number_from_memory_prints() {
    let marked = |provenance: &str| {
        let practice = practice(same, own(&counted("ben-rct-2017-responder", 19, 36, provenance)));
        let record = changed(&BTreeMap::new());
        let checked = checked(&practice, &record);
        Case::new(&checked, Moment::Before).map(|_| ()).map_err(|error| error.to_string())
    };
    let refused = marked("memory").expect_err("from memory");
    assert!(refused.contains("evidence ben-rct-2017-responder: k is from memory"), "{refused}");
    assert!(marked("seen").is_ok());
    let library = Library::load(&Assets::default(), "en-US").unwrap();
    for entry in library.evidence.values() {
        let numbers = entry.from_memory().into_iter().filter(|field| *field != "citation").collect::<Vec<_>>();
        assert!(numbers.is_empty(), "{}: {numbers:?}", entry.id);
        assert!(entry.reference().is_ok(), "{} cannot be cited", entry.id);
    }
}

/// Where this very laser was counted, its number comes before any of another treatment.
#[test]
fn a_risk_leads_with_this_laser() {
    let practice = practice(same, BTreeMap::new());
    let library = practice.library("en-US").unwrap();
    let natural = json!({ "eye.lens": "natural", "eye.implant": "absent", "eye.capsule": "absent",
        "eye.last_lens_surgery": "unknown", "plan.enlarge_opening": "no" });
    let record = changed(&serde_json::from_value(natural).unwrap());
    let checked = checked(&practice, &record);
    let mut led = 0;
    for said in Case::new(&checked, Moment::Before).unwrap().said().unwrap().iter().filter(|one| one.section == "risks")
    {
        let printed: Vec<&Evidence> = said
            .numbers
            .iter()
            .filter(|one| one.function != "span")
            .map(|one| &library.evidence[&one.evidence])
            .collect();
        if let Some(direct) = printed.iter().position(|entry| !entry.indirect) {
            assert_eq!(direct, 0, "{}", said.id);
            led += 1;
        }
    }
    assert!(led >= 4, "{led}");
}

/// Label texts that would make a row milder wait for a pharmacist who has read the label in hand: until then the stricter value.
#[test]
fn milder_label_texts_wait() {
    let formulary = Formulary::load(&Assets::default()).unwrap();
    let drug = |key: &str| formulary.drugs().find(|drug| drug.key == key).unwrap_or_else(|| panic!("no {key}"));
    for (key, minutes) in [
        ("fluorometholone_0_1", 240),
        ("dexamethasone_phosphate_0_1", 180),
        ("dexamethasone_phosphate_0_1_pf", 180),
        ("rimexolone_1", 180),
    ] {
        assert_eq!(drug(key).min_same_drug_minutes, minutes, "{key}");
    }
    let head = file("templates/formulary.toml");
    for key in ["fluorometholone_0_1", "dexamethasone_phosphate_0_1", "rimexolone_1", "brimonidine_0_15 and _0_1"] {
        assert!(head.split("\n[[drug]]").next().unwrap().contains(key), "{key} is not said to wait");
    }
}

/// The README names every drug rule and counts every paper that rests on memory.
#[test]
fn the_readme_lists_what_rests_on_memory() {
    #[derive(Deserialize)]
    struct Rules {
        rule: Vec<Marked>,
    }
    #[derive(Deserialize)]
    struct Marked {
        id: String,
        mark: String,
    }
    let readme = file("README.md");
    let row = |first: &str| readme.lines().find(|line| line.starts_with(&format!("| {first} |"))).unwrap().to_owned();
    let rules: Rules = toml::from_str(&file("templates/drug-rules.toml")).unwrap();
    let marked: BTreeSet<String> =
        rules.rule.into_iter().filter(|rule| rule.mark == "memory").map(|rule| rule.id).collect();
    let words = row("drug rules");
    let named =
        words.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| word.starts_with('R') && word.len() > 2);
    assert_eq!(named.map(str::to_owned).collect::<BTreeSet<_>>(), marked);
    let evidence = evidence::load(&Assets::default()).unwrap();
    let papers: BTreeSet<&String> = evidence
        .values()
        .filter(|entry| entry.citation.provenance == Provenance::Memory)
        .map(|entry| &entry.citation.value)
        .collect();
    assert!(row("evidence").contains(&format!("{} papers", papers.len())), "{papers:?}");
}

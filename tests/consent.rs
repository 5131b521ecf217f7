//! What each eye is told: a table of invented eyes a clinician can read, laws over many whole records, changes by hand,
//! jurisdictions, and what is explained about all of them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use serde::Deserialize;
use serde_json::{Value, json};
use vitreoleaf::assets::Assets;
use vitreoleaf::content::Content;
use vitreoleaf::content::catalog::{Kind, PatientPage};
use vitreoleaf::content::evidence::Share;
use vitreoleaf::content::jurisdiction::{FOLDER, Jurisdiction, name};
use vitreoleaf::demo;
use vitreoleaf::document::changes::{self, ChangeKind};
use vitreoleaf::document::coverage;
use vitreoleaf::document::part::Part;
use vitreoleaf::document::reading::{self, Passage};
use vitreoleaf::document::sheet::Withheld;
use vitreoleaf::facts::condition::Condition;
use vitreoleaf::facts::{Facts, Moment};
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::proof::records;
use vitreoleaf::record::Record;

use crate::packets::{checked, made, practice, reason, record};

#[derive(Deserialize)]
struct Table {
    everyone: Vec<String>,
    eye: Vec<Eye>,
}

/// One row of `tests/consent/eyes.toml`.
#[derive(Deserialize)]
struct Eye {
    name: String,
    change: BTreeMap<String, Value>,
    also: Vec<String>,
    reads: Vec<String>,
    never: Vec<String>,
}

fn file(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/consent").join(name)).unwrap()
}

fn same(text: String) -> String {
    text
}

fn plain() -> Practice {
    practice(same, BTreeMap::new())
}

/// The eyes of the table as records, each with its name.
pub(crate) fn eyes() -> Vec<(String, Record)> {
    let table: Table = toml::from_str(&file("eyes.toml")).unwrap();
    table.eye.into_iter().map(|eye| (eye.name, changed(&eye.change))).collect()
}

/// The plain case with some places changed; "absent" takes one out.
pub(crate) fn changed(change: &BTreeMap<String, Value>) -> Record {
    let mut value = serde_json::to_value(record("ring-implant", same)).unwrap();
    value["treatment"] = Value::Null;
    value["plan"]["visits"] = json!([]);
    for (place, new) in change {
        let pointer = format!("/{}", place.replace('.', "/"));
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        let table = value.pointer_mut(parent).and_then(Value::as_object_mut).unwrap_or_else(|| panic!("no {place}"));
        table.insert(key.to_owned(), if new == "absent" { Value::Null } else { new.clone() });
    }
    serde_json::from_value(value).unwrap_or_else(|error| panic!("{change:?}: {error}"))
}

pub(crate) fn consent(practice: &Practice, record: &Record) -> Vec<Passage> {
    let checked = checked(practice, record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    reading::read(&case.unissued().unwrap())
}

fn words(passages: &[Passage]) -> String {
    passages.iter().map(|passage| passage.text.as_str()).collect()
}

/// Statements on a page, in the table's sense: no parts.
fn statements(passages: &[Passage]) -> BTreeSet<String> {
    let ids = passages.iter().map(|passage| passage.id.as_str());
    ids.filter(|id| !id.is_empty() && !Part::is(id)).map(str::to_owned).collect()
}

/// Every row of the table, exactly.
#[test]
fn each_eye_is_told_what_the_table_says() {
    let table: Table = toml::from_str(&file("eyes.toml")).unwrap();
    assert!(table.eye.len() >= 40, "only {} eyes", table.eye.len());
    let practice = plain();
    for eye in &table.eye {
        let passages = consent(&practice, &changed(&eye.change));
        let wanted: BTreeSet<String> = table.everyone.iter().chain(&eye.also).cloned().collect();
        assert_eq!(statements(&passages), wanted, "{}", eye.name);
        let words = words(&passages);
        for read in &eye.reads {
            assert!(words.contains(read), "{}: {read:?} is missing", eye.name);
        }
        for never in &eye.never {
            assert!(!words.contains(never), "{}: {never:?} stands there", eye.name);
        }
    }
}

/// Told by practices with numbers of their own and not by the eye: `results.rs` shows it.
const OF_THE_PRACTICE: &str = "own-results";

/// Every tuned statement of the consent is reached by some row of the table, and left out by another.
#[test]
fn the_table_reaches_every_tuned_statement() {
    let table: Table = toml::from_str(&file("eyes.toml")).unwrap();
    let practice = plain();
    let library = practice.library("en-US").unwrap();
    let consent = library.statements.iter().filter(|statement| statement.row.page == PatientPage::Consent);
    for statement in consent.filter(|statement| statement.row.id != OF_THE_PRACTICE) {
        let id = &statement.row.id;
        let rows = table.eye.iter().filter(|eye| eye.also.contains(id)).count();
        let everyone = table.everyone.contains(id);
        assert!(everyone || rows > 0, "no eye of the table is told {id}");
        assert!(everyone || rows < table.eye.len(), "{id} is told to every eye: list it under everyone");
    }
}

#[derive(Deserialize)]
struct Contradictions {
    words: Vec<Words>,
}

#[derive(Deserialize)]
struct Words {
    say: String,
    only_if: String,
}

/// Over all pairs of what a record can say and random records on top: the core risks are said, lens injury where there is
/// or may be a natural lens; and no page says what its record does not hold.
#[test]
fn no_page_contradicts_its_record_and_the_core_risks_always_stand() {
    let practice = plain();
    let library = practice.library("en-US").unwrap();
    let rules: Contradictions = toml::from_str(&file("words.toml")).unwrap();
    let rules: Vec<(String, Condition)> =
        rules.words.into_iter().map(|words| (words.say, Condition::parse(&words.only_if).unwrap())).collect();
    let mut met = BTreeSet::new();
    let walked = records::walk(&practice).unwrap();
    assert!(walked.len() > 1000, "only {} records", walked.len());
    for record in &walked {
        let facts = Facts::derive(&practice.source(record, Moment::Before));
        let said = Content::compose(library, &facts, PatientPage::Consent, &[]).unwrap().said;
        for core in ["risk-sight-loss", "risk-retina", "risk-pressure", "risk-not-enough"] {
            assert!(said.iter().any(|said| said.id == core), "{core} is missing");
        }
        let may_have_lens = ["natural", "unknown"].contains(&facts.choice("lens"));
        assert_eq!(said.iter().any(|said| said.id == "risk-lens"), may_have_lens);
        let text: String = said.iter().map(|said| format!("{:?}", said.pieces)).collect();
        for (say, only_if) in &rules {
            if text.contains(say) {
                met.insert(say);
                assert!(only_if.holds(&facts), "{say:?} is said although {only_if:?} does not hold");
            }
        }
    }
    let idle: Vec<_> = rules.iter().map(|(say, _)| say).filter(|say| !met.contains(say)).collect();
    assert!(idle.is_empty(), "no record is told {idle:?}");
}

/// Both framings with one denominator: k of the evidence and the rest make the whole. What a small group counted has its own.
#[test]
fn both_framings_add_up_and_a_table_has_one_denominator() {
    let practice = plain();
    let case = record("ring-implant", same);
    let checked = checked(&practice, &case);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let mut pairs = 0;
    let mut in_table = BTreeSet::new();
    for said in case.said().unwrap() {
        let about = said.numbers.iter().filter(|number| number.function == "about");
        for number in about {
            let rest = said.numbers.iter().find(|rest| rest.function == "rest" && rest.evidence == number.evidence);
            let rest: u32 = rest.unwrap_or_else(|| panic!("{} tells one side only", said.id)).text.parse().unwrap();
            let numbers: Vec<u32> = number.text.split_whitespace().filter_map(|word| word.parse().ok()).collect();
            let [k, of] = numbers[..] else { panic!("{}", number.text) };
            assert_eq!((k + rest, number.of.unwrap_or(of)), (of, of), "{}", said.id);
            pairs += 1;
        }
        if said.section == "options" {
            in_table.extend(said.numbers.iter().filter_map(|number| number.of));
        }
    }
    assert!(pairs >= 5, "{pairs}");
    assert_eq!(in_table.len(), 1, "{in_table:?}");
}

/// One number of the table below one in a hundred moves all of them to 1,000.
#[test]
fn one_small_number_moves_its_whole_table() {
    let small = "[[evidence]]\nid = \"vit-registry-2021\"\noutcome = \"x\"\npopulation = \"x\"\ngrade = \"registry\"\nunit = \"eyes\"\n\
        k = { value = 39, provenance = \"seen\" }\nn = { value = 10000, provenance = \"seen\" }\n\
        span_years = { value = 1, provenance = \"seen\" }\ncitation = { value = \"x\", provenance = \"seen\" }\n";
    let own = BTreeMap::from([("templates/evidence.toml".to_owned(), small.to_owned())]);
    let practice = practice(same, own);
    let words = words(&consent(&practice, &changed(&BTreeMap::new())));
    assert!(words.contains("Surgery for it within 1 year: about 4 in 1,000 eyes. None in the other 996"), "{words}");
    // 12 of 168 moves along; outside the table 15 of 340 keeps its hundred; small groups are never a share.
    assert!(words.contains("about 71 in 1,000 eyes"), "{words}");
    assert!(words.contains("high in about 4 in 100 eyes"), "{words}");
    assert!(words.contains("19 of 36 people called it much better or gone"));
}

/// Frequency bands of the European guideline on product information (CIOMS Working Group III, 1995; lower bound inclusive):
/// at each of their boundaries the printed share keeps its band, and a share below 1 in 100 is counted in 1,000, one below 1 in 1,000 in 10,000.
#[test]
fn shares_at_every_boundary_of_the_frequency_bands() {
    for (proportion, k, of) in [
        (0.1, 10, 100),
        (0.0999, 10, 100),
        (0.01, 1, 100),
        (0.009_999, 10, 1000),
        (0.0099, 10, 1000),
        (0.001, 1, 1000),
        (0.000_999, 10, 10_000),
        (0.0001, 1, 10_000),
        (0.000_099, 1, 10_000),
    ] {
        assert_eq!(Share::of(proportion), Share { k, of }, "{proportion}");
    }
}

fn tailored(entry: &str) -> Record {
    record("ring-implant", |text| {
        let by = "by = \"Dr. Ada Sample\"\non = 2026-08-03\nreason = \"Asked for it.\"\n";
        format!("{}\n[[tailoring]]\n{entry}\n{by}", text.split("[treatment]").next().unwrap())
    })
}

#[test]
fn a_statement_can_be_added_left_out_and_moved_up_on_the_record() {
    let practice = plain();
    let before = consent(&practice, &tailored("statement = \"before-bring\"\nchange = \"move_up\""));
    let order: Vec<&str> =
        before.iter().map(|passage| passage.id.as_str()).filter(|id| id.starts_with("before-")).collect();
    assert_eq!(order.first(), Some(&"before-bring"), "{order:?}");

    let out = consent(&practice, &tailored("statement = \"benefit-other-studies\"\nchange = \"leave_out\""));
    assert!(!statements(&out).contains("benefit-other-studies"));

    let added = tailored("statement = \"risk-opening\"\nchange = \"add\"");
    assert!(statements(&consent(&practice, &added)).contains("risk-opening"));
    let checked = checked(&practice, &added);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let sheets = case.documents(demo::issued(&added, Moment::Before)).unwrap();
    let surgeon = words(&reading::read(&sheets[1]));
    assert!(surgeon.contains("Added by Dr. Ada Sample on August 3, 2026: Asked for it."), "{surgeon}");
}

#[test]
fn what_cannot_be_done_by_hand_is_refused_with_a_reason() {
    let practice = plain();
    for (entry, why) in [
        ("statement = \"risk-sight-loss\"\nchange = \"leave_out\"", "core statement"),
        ("statement = \"risk-retina\"\nchange = \"leave_out\"", "core statement"),
        ("statement = \"risk-lens\"\nchange = \"add\"", "cannot be true of this eye"),
        ("statement = \"eye-no-lens\"\nchange = \"add\"", "cannot be true of this eye"),
        ("statement = \"option-leave\"\nchange = \"leave_out\"", "not chosen by hand"),
        ("statement = \"sign-shadow\"\nchange = \"leave_out\"", "not chosen by hand"),
        ("statement = \"risk-of-rain\"\nchange = \"add\"", "entry 1 of [[tailoring]] names no statement"),
    ] {
        let error =
            Case::new(&checked(&practice, &tailored(entry)), Moment::Before).map(|_| ()).expect_err(why).to_string();
        assert!(error.contains(why), "{entry}: {error}");
    }
}

/// A statement left out that a jurisdiction asks for withholds the consent.
#[test]
fn a_consent_that_lacks_an_element_is_withheld() {
    let practice = plain();
    let without = tailored("statement = \"deciding-decline\"\nchange = \"leave_out\"");
    let packet = made(&practice, &without, Moment::Before);
    assert_eq!(reason(&packet), Some(Withheld::Incomplete));
    assert_eq!(packet.withheld.as_ref().unwrap().by, ["CMS-16"]);
    assert!(packet.files.iter().all(|file| !file.name.contains("consent")));
}

#[test]
fn without_cost_or_regulation_no_consent_is_made() {
    for notice in ["cost", "regulation"] {
        let without = practice(
            |text| {
                let (head, rest) = text.split_once(&format!("[notices.{notice}]")).unwrap();
                let (_, tail) = rest.split_once("\n[").unwrap();
                format!("{head}[{tail}")
            },
            BTreeMap::new(),
        );
        let packet = made(&without, &changed(&BTreeMap::new()), Moment::Before);
        assert_eq!(reason(&packet), Some(Withheld::Incomplete), "{notice}");
        let lacking = &packet.withheld.as_ref().unwrap().by;
        assert!(lacking.contains(&format!("part/{notice}")), "{lacking:?}");
    }
}

/// The table's eyes hold every element of every jurisdiction.
#[test]
fn every_eye_holds_every_element_of_every_jurisdiction() {
    let table: Table = toml::from_str(&file("eyes.toml")).unwrap();
    let practice = plain();
    let library = practice.library("en-US").unwrap();
    for path in Assets::default().under(FOLDER) {
        let rules = Jurisdiction::load(&Assets::default(), name(&path)).unwrap();
        assert!(rules.notice.contains("no legal advice"), "{path}");
        assert!(coverage::unknown_ids(&rules, library).is_empty(), "{path}");
        for eye in &table.eye {
            let record = changed(&eye.change);
            let facts = Facts::derive(&practice.source(&record, Moment::Before));
            let passages = consent(&practice, &record);
            for covered in coverage::coverage(&rules, library, &facts, &passages) {
                assert!(
                    covered.lacking.is_empty(),
                    "{path}, {}: {} {:?}",
                    eye.name,
                    covered.element.row.id,
                    covered.lacking
                );
            }
        }
    }
}

/// Each element is noticed when what meets it is taken off the page.
#[test]
fn each_element_is_missed_when_it_is_gone() {
    let practice = plain();
    let library = practice.library("en-US").unwrap();
    let record = changed(&BTreeMap::new());
    let facts = Facts::derive(&practice.source(&record, Moment::Before));
    let passages = consent(&practice, &record);
    for path in Assets::default().under(FOLDER) {
        let rules = Jurisdiction::load(&Assets::default(), name(&path)).unwrap();
        for covered in coverage::coverage(&rules, library, &facts, &passages) {
            for wanted in &covered.element.row.met_by {
                let section = wanted.strip_prefix("section/");
                let of_section = |id: &str| {
                    let row = library.statements.iter().find(|statement| statement.row.id == id);
                    row.is_some_and(|statement| Some(statement.row.section.as_str()) == section)
                };
                let left: Vec<Passage> = passages
                    .iter()
                    .filter(|passage| passage.id != *wanted && !of_section(&passage.id))
                    .cloned()
                    .collect();
                let again = coverage::coverage(&rules, library, &facts, &left);
                let again = again.iter().find(|one| one.element.row.id == covered.element.row.id).unwrap();
                assert!(again.lacking.contains(&wanted.as_str()), "{path}: {wanted} is not missed");
            }
        }
    }
}

/// Until there is German text the pages of the German profile are drafts on every page of the patient.
#[test]
fn a_jurisdiction_without_text_in_its_language_prints_drafts() {
    let german =
        practice(|text| text.replace("jurisdiction = \"us-facility\"", "jurisdiction = \"germany\""), BTreeMap::new());
    let record = changed(&BTreeMap::new());
    let checked = checked(&german, &record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    assert_eq!(case.withheld(), None);
    let documents = case.documents(demo::issued(&record, Moment::Before)).unwrap();
    let says = |page: usize| documents[page].banner.iter().any(|line| line.text.contains("Draft"));
    assert!(says(0) && documents[0].draft, "{:?}", documents[0].banner);
    assert!(!says(1) && !documents[1].draft, "staff pages are no drafts");
}

/// Every statement and part of a consent stands on a page, the decision on the first, the sources on the last.
#[cfg(feature = "typeset")]
#[test]
fn every_statement_has_its_page() {
    let practice = plain();
    let record = changed(&BTreeMap::new());
    let checked = checked(&practice, &record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let document = case.unissued().unwrap();
    let places = practice.typesetter().places(&document).unwrap();
    let ids: BTreeSet<String> =
        reading::read(&document).into_iter().map(|passage| passage.id).filter(|id| !id.is_empty()).collect();
    assert_eq!(places.keys().cloned().collect::<BTreeSet<_>>(), ids);
    let page = |id: &str| places[id];
    // The first page can stand alone: decision, benefit, the risks that matter most, other ways, when to come back.
    for id in
        ["decision-lead", "benefit-trial", "point-retina", "point-pressure", "point-other-ways", "point-come-back"]
    {
        assert_eq!(page(id), 1, "{id}");
    }
    assert!(page("part/sign-patient") < page("part/references"));
    assert_eq!(page("consent-sign"), page("part/sign-patient"), "nobody signs away from the sentence");
}

#[test]
fn what_reads_differently_is_told_by_statement() {
    let practice = plain();
    let plain_eye = consent(&practice, &changed(&BTreeMap::new()));
    let glaucoma = consent(&practice, &changed(&BTreeMap::from([("history.glaucoma".to_owned(), json!("yes"))])));
    assert_eq!(changes::between(&plain_eye, &plain_eye), []);
    let changes = changes::between(&plain_eye, &glaucoma);
    let of = |id: &str| changes.iter().find(|change| change.id == id).map(|change| change.kind);
    assert_eq!(of("risk-pressure"), Some(ChangeKind::Changed));
    assert_eq!(of("eye-studies"), Some(ChangeKind::New));
    assert_eq!(of("risk-bleed-burn"), None);
    // A page's reference numbers move along and are no change of what a statement says beyond the number itself.
    assert!(changes.iter().all(|change| change.kind != ChangeKind::Moved), "{changes:?}");
}

/// Kinds that a clinician cannot change by hand are those whose loss would change what the page is.
#[test]
fn by_hand_only_points_texts_items_and_risks_change() {
    let practice = plain();
    let library = practice.library("en-US").unwrap();
    for statement in library.statements.iter() {
        let row = &statement.row;
        let entry = tailored(&format!("statement = \"{}\"\nchange = \"move_up\"", row.id));
        let moved = Case::new(&checked(&practice, &entry), Moment::Before).is_ok();
        assert_eq!(moved, matches!(row.kind, Kind::Point | Kind::Text | Kind::Item | Kind::Risk), "{}", row.id);
    }
}

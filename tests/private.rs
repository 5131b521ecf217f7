//! What tells who somebody is, and text of a record, stays out of messages: found by a mark behind every such text.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value as Json, json};
use vitreoleaf::diag::SourceFile;
use vitreoleaf::facts::{Facts, Moment, is_private};
use vitreoleaf::practice::{Draft, Practice};
use vitreoleaf::record::{Record, form};
use vitreoleaf::review::check::{Asked, check};

use crate::packets::{practice, record};

/// Stands in no word of the program.
const MARK: &str = "zqx";

fn plain() -> Practice {
    practice(|text| text, BTreeMap::new())
}

/// A record that says something wherever text may stand, with a mark behind each that is private.
fn marked() -> Json {
    let mut record = serde_json::to_value(record("event-reissue", |text| text)).unwrap();
    let kinds = ["capsule_or_lens", "vitreous_bleeding", "retina", "pressure", "implant_marked", "other", "unknown"];
    let events = kinds.map(|kind| json!({ "kind": kind, "what": "A slip", "words": "I look again tomorrow." }));
    record["treatment"]["events"] = json!(events);
    record["earlier_sessions"] = json!([{ "date": "2026-01-05", "energy_mj": 400, "result": "ring smaller" }]);
    record["health"]["allergies"] = json!(["a cream", "latex"]);
    record["health"]["medicines"] = json!(["warfarin", "aspirin", "a pill of no name"]);
    record["health"]["eye_drops"] = json!(["timolol 0.5%", "latanoprost"]);
    for (key, words) in [("contact_lens", "a lens"), ("target", "the ring"), ("end_point", "ring gone")] {
        record["procedure"][key] = words.into();
    }
    // Who signs must be a clinician of the practice: a mark behind that name would be refused.
    (record["answers"], record["surgeon_words"]) = (json!([]), json!([]));
    let form = form::describe::<Record>();
    let texts = form.keys.iter().filter(|key| key.private && key.format.is_none() && key.pattern.is_none());
    mark(&texts.map(|key| key.pointer.as_str()).collect(), "", &mut record);
    record
}

fn mark(private: &BTreeSet<&str>, at: &str, value: &mut Json) {
    match value {
        Json::Object(table) => table.iter_mut().for_each(|(key, value)| mark(private, &format!("{at}/{key}"), value)),
        Json::Array(entries) => entries.iter_mut().for_each(|value| mark(private, &format!("{at}/*"), value)),
        Json::String(text) if private.contains(at) && text != "unknown" => *text = format!("{text} {MARK}"),
        _ => {}
    }
}

#[test]
fn a_fact_that_repeats_private_text_is_private() {
    let practice = plain();
    let record: Record = serde_json::from_value(marked()).unwrap();
    let facts = Facts::derive(&practice.source(&record, Moment::After));
    let repeating: BTreeSet<&str> =
        facts.iter().filter(|(_, value)| format!("{value:?}").contains(MARK)).map(|(name, _)| name).collect();
    assert!(repeating.len() > 15, "{repeating:?}");
    let told: Vec<&&str> = repeating.iter().filter(|name| !is_private(name)).collect();
    assert!(told.is_empty(), "these repeat text of the record in messages: {told:?}");
    assert!(!format!("{:?}", facts.masked()).contains(MARK));
}

/// Findings, their titles, what was not read, blocks to answer with: all of it, before the treatment and after it.
#[test]
fn a_check_quotes_no_text_of_the_record_unless_asked() {
    let practice = plain();
    let file = SourceFile { name: "case.json".into(), text: marked().to_string() };
    let draft = Draft::read(&file, &practice).unwrap_or_else(|refused| panic!("{refused}"));
    for moment in [Moment::Before, Moment::After] {
        let told = |private| {
            let told = check(&draft, Asked { moment, pages: false, private }).unwrap();
            assert!(told.findings.iter().any(|finding| finding.id.starts_with("unread-")), "{:?}", told.findings);
            serde_json::to_string(&told).unwrap().to_lowercase()
        };
        assert!(!told(false).contains(MARK), "{}", told(false));
        let shown = told(true);
        for words in ["a pill of no name zqx: on record as taken", "timolol 0.5% zqx", "warfarin zqx"] {
            assert!(shown.contains(words), "{words}: {shown}");
        }
    }
}

/// A title says the same in a check as on the surgeon's sheet: filled, not as it stands in the file of the rules.
#[test]
fn a_title_is_filled() {
    let practice = plain();
    let mut value = serde_json::to_value(record("ring-implant", |text| text)).unwrap();
    value["eye"]["capsule"] = json!({ "state": "closed_clear" });
    value["plan"]["enlarge_opening"] = "yes".into();
    let draft = Draft::read(&SourceFile { name: "case.json".into(), text: value.to_string() }, &practice).unwrap();
    let told = check(&draft, Asked { moment: Moment::Before, pages: false, private: false }).unwrap();
    let title = |id: &str| told.findings.iter().find(|finding| finding.id == id).map(|finding| finding.title.clone());
    assert_eq!(title("enlarge-same-session").as_deref(), Some("Opening made in the same session"));
    assert!(told.findings.iter().all(|finding| !finding.title.contains('{')));
}

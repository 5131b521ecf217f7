//! What is read from other systems: cases that a clinician can read (`tests/fhir/`), and laws over any JSON.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use chrono::NaiveDate;
use proptest::prelude::*;
use serde::Deserialize;
use serde_json::{Value, json};
use vitreoleaf::assets::Assets;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::exchange::fhir::incoming::{self, Incoming, JsonFile, NotRead, Reader, Tables};
use vitreoleaf::practice::Draft;
use vitreoleaf::record::eye::Side;
use vitreoleaf::record::formulary::Formulary;
use vitreoleaf::record::{Record, load};

use crate::outputs::{described, holds};
use crate::packets::{checked, made, practice, record};

static TABLES: LazyLock<Tables> = LazyLock::new(|| Tables::load(&Assets::default()).unwrap());
static FORMULARY: LazyLock<Formulary> = LazyLock::new(|| Formulary::load(&Assets::default()).unwrap());

/// A case: what a file holds, what is taken from it, asked, and not taken.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// The eye that is treated, if that is chosen.
    treated: Option<Side>,
    /// Whether it is read for the demo's practice.
    #[serde(default)]
    practice: bool,
    taken: BTreeMap<String, Value>,
    /// Why each key is asked about, in the order of the words.
    asked: BTreeMap<String, Words>,
    /// Why each resource is not taken.
    not_taken: BTreeMap<String, String>,
    /// What sources say of a key that is asked about.
    #[serde(default)]
    candidates: BTreeMap<String, Vec<Value>>,
    resource: Vec<Value>,
}

#[derive(Debug, PartialEq, Deserialize)]
#[serde(untagged)]
enum Words {
    One(String),
    Several(BTreeSet<String>),
}

impl From<BTreeSet<String>> for Words {
    fn from(mut words: BTreeSet<String>) -> Self {
        match words.len() {
            1 => Self::One(words.pop_first().unwrap()),
            _ => Self::Several(words),
        }
    }
}

/// The resources of a case as one bundle: of one patient where they do not say whose they are.
fn bundle(resources: &[Value]) -> Value {
    let whose = |resource: &Value| {
        let mut resource = resource.clone();
        let kind = resource["resourceType"].as_str().unwrap().to_owned();
        let key = if kind == "AllergyIntolerance" { "patient" } else { "subject" };
        if !["Patient", "Practitioner", "Medication", "Appointment"].contains(&kind.as_str()) && resource[key].is_null()
        {
            resource[key] = json!({ "reference": "Patient/p" });
        }
        json!({ "resource": resource })
    };
    let mut entries: Vec<Value> = resources.iter().map(whose).collect();
    if !resources.iter().any(|resource| resource["resourceType"] == "Patient") {
        entries.push(json!({ "resource": { "resourceType": "Patient", "id": "p" } }));
    }
    json!({ "resourceType": "Bundle", "type": "collection", "entry": entries })
}

fn today() -> NaiveDate {
    "2026-08-04".parse().unwrap()
}

fn read(value: &Value, side: Option<Side>, for_practice: bool) -> Result<Incoming, NotRead> {
    let practice = for_practice.then(|| practice(|text| text, BTreeMap::new()));
    let reader = Reader { tables: &TABLES, formulary: &FORMULARY, practice: practice.as_ref(), side, today: today() };
    let bytes = value.to_string();
    reader.read(&[JsonFile { name: "file.json", bytes: bytes.as_bytes() }])
}

/// The resource of an origin without its place in the bundle.
fn resource(place: &str) -> String {
    place.rsplit(' ').next().unwrap_or_default().to_owned()
}

fn check(path: &Path) {
    let name = path.display();
    let case: Case =
        toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap_or_else(|error| panic!("{name}: {error}"));
    let found =
        read(&bundle(&case.resource), case.treated, case.practice).unwrap_or_else(|error| panic!("{name}: {error}"));
    let taken: BTreeMap<String, Value> =
        found.taken.iter().map(|taken| (taken.key.clone(), taken.value.clone())).collect();
    assert_eq!(taken, case.taken, "{name}: taken");
    let mut why: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for asked in &found.asked {
        why.entry(asked.key.clone().unwrap_or_default()).or_default().insert(asked.why.word());
    }
    let asked: BTreeMap<String, Words> = why.into_iter().map(|(key, why)| (key, why.into())).collect();
    assert_eq!(asked, case.asked, "{name}: asked");
    let mut not_taken: BTreeMap<String, String> =
        found.not_taken.iter().map(|left| (resource(&left.origin.resource), left.why.word())).collect();
    if !case.resource.iter().any(|resource| resource["resourceType"] == "Patient") {
        not_taken.remove("Patient/p"); // the one that was put beside them has no name
    }
    assert_eq!(not_taken, case.not_taken, "{name}: not taken");
    for (key, expected) in case.candidates {
        let of_key = found.asked.iter().filter(|asked| asked.key.as_ref() == Some(&key));
        let values = of_key.flat_map(|asked| &asked.candidates).filter_map(|candidate| candidate.value.clone());
        let (mut values, mut expected): (Vec<Value>, Vec<Value>) = (values.collect(), expected);
        values.sort_by_key(Value::to_string);
        expected.sort_by_key(Value::to_string);
        assert_eq!(values, expected, "{name}: candidates of {key}");
    }
    sound(&found);
}

#[test]
fn what_is_read_is_what_its_schema_says() {
    holds("fhir-in", &read(&ALL, Some(Side::Right), false).unwrap());
}

/// Whatever was read: each value has an origin and stands in the draft, which the record takes.
fn sound(found: &Incoming) {
    for taken in &found.taken {
        assert!(!taken.origins.is_empty(), "{taken:?}");
        assert_eq!(found.record.pointer(&taken.key), Some(&taken.value));
    }
    let text = incoming::commented(found).unwrap();
    let file = SourceFile { name: "draft.toml".into(), text };
    if let Err(report) = load::incomplete::<Record>(&file) {
        panic!("{report:?}\n{}", file.text);
    }
}

#[test]
fn each_case_is_read_as_a_clinician_would() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/fhir");
    let cases: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert!(cases.len() > 30, "{}", cases.len());
    cases.iter().for_each(|path| check(path));
}

#[test]
fn what_holds_no_resource_or_several_patients_is_refused_whole() {
    let several = json!({ "resourceType": "Bundle", "entry": [
        { "resource": { "resourceType": "Patient", "id": "p" } }, { "resource": { "resourceType": "Patient", "id": "q" } },
    ] });
    assert_eq!(read(&several, None, false), Err(NotRead::SeveralPatients));
    let strangers = json!({ "resourceType": "Bundle", "entry": [
        { "resource": { "resourceType": "Condition", "subject": { "reference": "Patient/p" } } },
        { "resource": { "resourceType": "Condition", "subject": { "reference": "Patient/q" } } },
    ] });
    assert_eq!(read(&strangers, None, false), Err(NotRead::SeveralPatients));
    assert!(matches!(read(&json!({}), None, false), Err(NotRead::NoResource(_))));
    let reader = Reader { tables: &TABLES, formulary: &FORMULARY, practice: None, side: None, today: today() };
    let xml = JsonFile { name: "a.xml", bytes: b"<Patient/>" };
    assert_eq!(reader.read(&[xml]), Err(NotRead::NotJson("a.xml".into())));
    let deep = format!("{{\"resourceType\": \"Bundle\", \"entry\": {}{}}}", "[".repeat(100_000), "]".repeat(100_000));
    for (bytes, why) in [
        (&b""[..], NotRead::CutOff("a.json".into())),
        (b"{\"resourceType\": \"Patient\", \"name\": [{", NotRead::CutOff("a.json".into())),
        (b"{\"resourceType\": \"Patient\", \"id\": \"\xff\"}", NotRead::NotUtf8("a.json".into())),
        (deep.as_bytes(), NotRead::NotJson("a.json".into())),
    ] {
        assert_eq!(reader.read(&[JsonFile { name: "a.json", bytes }]), Err(why));
    }
}

/// One patient in two files, each with its own address: an identifier that both hold makes them one.
#[test]
fn two_files_of_one_patient_are_read_together() {
    let patient = |id: &str| json!({ "resourceType": "Patient", "id": id, "identifier": [{ "system": "urn:x", "value": "7" }], "name": [{ "text": "Rosa Beispiel" }] });
    let (one, other) = (patient("a").to_string(), patient("b").to_string());
    let reader = Reader { tables: &TABLES, formulary: &FORMULARY, practice: None, side: None, today: today() };
    let files =
        [JsonFile { name: "a.json", bytes: one.as_bytes() }, JsonFile { name: "b.json", bytes: other.as_bytes() }];
    let found = reader.read(&files).unwrap();
    let name = found.taken.iter().find(|taken| taken.key == "/patient/name").unwrap();
    assert_eq!(name.origins.iter().map(|origin| origin.file.as_str()).collect::<Vec<_>>(), ["a.json", "b.json"]);
}

/// What another system wrote stays a comment: it can neither end its line nor become a key.
#[test]
fn hostile_text_stays_within_its_comment() {
    let condition = json!({ "resourceType": "Condition", "id": "x\n[patient]\nname = 'Y'", "subject": { "reference": "Patient/p" },
        "code": { "text": "a\r\n[health]\nasthma = \"no\"" } });
    let found = read(&bundle(&[condition]), None, false).unwrap();
    let text = incoming::commented(&found).unwrap();
    assert_eq!(text.parse::<toml::Table>().unwrap(), toml::Table::new(), "{text}");
}

/// A draft goes on: the practice checks it as any record that is half filled in.
#[test]
fn a_draft_is_a_record_that_is_half_filled_in() {
    let patient = json!({ "resourceType": "Patient", "id": "p", "name": [{ "text": "Rosa Beispiel" }], "birthDate": "1955-03-02" });
    let found = read(&bundle(&[patient]), Some(Side::Right), true).unwrap();
    let file = SourceFile { name: "draft.toml".into(), text: incoming::commented(&found).unwrap() };
    let draft =
        Draft::read(&file, &practice(|text| text, BTreeMap::new())).unwrap_or_else(|refused| panic!("{refused}"));
    assert!(draft.lacks("/plan/start") && !draft.lacks("/patient/name"));
}

/// Everything that the cases hold, in one bundle.
static ALL: LazyLock<Value> = LazyLock::new(|| {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/fhir");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let of = |path: &PathBuf| toml::from_str::<Case>(&std::fs::read_to_string(path).unwrap()).unwrap().resource;
    bundle(&paths.iter().flat_map(of).collect::<Vec<Value>>())
});

/// Any JSON.
fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        ".{0,12}".prop_map(Value::from),
        prop::sample::select(vec!["active", "Patient/p", "2026-08", "2026-08-0é", "#m", "final"]).prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 24, 4, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            prop::collection::btree_map("[a-z]{1,8}", inner, 0..4).prop_map(|keys| keys.into_iter().collect()),
        ]
    })
}

/// How many values a tree holds.
fn size(value: &Value) -> usize {
    1 + match value {
        Value::Object(keys) => keys.values().map(size).sum(),
        Value::Array(entries) => entries.iter().map(size).sum(),
        _ => 0,
    }
}

/// Puts something else in the place of one value.
fn changed(value: &mut Value, mut at: usize, other: &Value) {
    if at == 0 {
        *value = other.clone();
        return;
    }
    at -= 1;
    let below: Vec<&mut Value> = match value {
        Value::Object(keys) => keys.values_mut().collect(),
        Value::Array(entries) => entries.iter_mut().collect(),
        _ => return,
    };
    for value in below {
        let size = size(value);
        if at < size {
            return changed(value, at, other);
        }
        at -= size;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// No JSON makes the reader panic, and whatever is read is sound.
    #[test]
    fn changed_json_is_read_or_refused(places in prop::collection::vec(any::<prop::sample::Index>(), 1..8), others in prop::collection::vec(any_json(), 8)) {
        let mut value = ALL.clone();
        for (place, other) in places.iter().zip(&others) {
            let size = size(&value);
            changed(&mut value, place.index(size), other);
        }
        if let Ok(found) = read(&value, Some(Side::Right), false) {
            sound(&found);
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let reader = Reader { tables: &TABLES, formulary: &FORMULARY, practice: None, side: None, today: today() };
        let _ = reader.read(&[JsonFile { name: "a", bytes: &bytes }]);
    }

    /// Nothing becomes "no" or "none" because it is not there: without an answer of somebody no key says so.
    #[test]
    fn absence_is_never_no(kept in prop::collection::vec(any::<bool>(), 200)) {
        let mut value = ALL.clone();
        let entries = value["entry"].as_array_mut().unwrap();
        let mut kept = kept.iter();
        entries.retain(|_| *kept.next().unwrap_or(&true));
        let denies = |resource: &Value| ["716186003", "no-known-medications", "LA26683-5"].iter().any(|code| resource.to_string().contains(code));
        entries.retain(|entry| !denies(entry));
        if let Ok(found) = read(&value, Some(Side::Right), false) {
            let says_no = |value: &Value| [json!("no"), json!("none"), json!([])].contains(value);
            prop_assert!(!found.taken.iter().any(|taken| says_no(&taken.value)), "{:?}", found.taken);
        }
    }
}

/// What goes out of a case.
mod out {
    use super::*;
    use vitreoleaf::exchange::fhir::outgoing::{self, Types};
    use vitreoleaf::facts::Moment;
    use vitreoleaf::packet::Case;

    fn bundle(name: &str, moment: Moment, change: impl Fn(String) -> String) -> Value {
        let practice = practice(|text| text, BTreeMap::new());
        let record = record(name, change);
        let files = made(&practice, &record, moment).files;
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, moment).unwrap();
        let issued = vitreoleaf::demo::issued(&record, moment);
        described("fhir-out", &outgoing::bundle(&case, &files, &types(), issued).unwrap())
    }

    fn types() -> Types {
        Types::load(&Assets::default()).unwrap()
    }

    fn of_kind<'b>(bundle: &'b Value, kind: &str) -> Vec<&'b Value> {
        let resources = bundle["entry"].as_array().unwrap().iter().map(|entry| &entry["resource"]);
        resources.filter(|resource| resource["resourceType"] == kind).collect()
    }

    fn same(text: String) -> String {
        text
    }

    #[test]
    fn a_treated_case_goes_out_whole() {
        let bundle = bundle("ring-implant", Moment::After, same);
        for (kind, count) in [
            ("Patient", 1),
            ("Practitioner", 1),
            ("Procedure", 1),
            ("MedicationRequest", 2),
            ("Appointment", 1),
            ("CarePlan", 1),
            ("Provenance", 1),
        ] {
            assert_eq!(of_kind(&bundle, kind).len(), count, "{kind}");
        }
        assert!(of_kind(&bundle, "DocumentReference").len() >= 4);
        let procedure = of_kind(&bundle, "Procedure")[0];
        assert_eq!(
            (&procedure["status"], &procedure["performedDateTime"]),
            (&json!("completed"), &json!("2026-08-07T10:40:00-04:00"))
        );
        let appointment = of_kind(&bundle, "Appointment")[0];
        assert_eq!(appointment["start"], "2026-08-14T09:20:00-04:00");
    }

    /// Before the treatment: the consent with its policy, and no doses.
    #[test]
    fn before_the_treatment_the_consent_goes_out() {
        let bundle = bundle("ring-implant", Moment::Before, same);
        let consent = of_kind(&bundle, "Consent")[0];
        assert_eq!(consent["status"], "proposed");
        assert_eq!(consent["policy"][0]["uri"], "urn:vitreoleaf:jurisdiction:us-facility");
        assert_eq!(of_kind(&bundle, "MedicationRequest").len(), 0);
        assert_eq!(of_kind(&bundle, "Procedure")[0]["status"], "preparation");
        assert_eq!(of_kind(&bundle, "Appointment")[0]["start"], "2026-08-07T10:00:00-04:00");
    }

    #[test]
    fn what_is_withheld_does_not_go_out() {
        let open = bundle("young-detachment", Moment::Before, same);
        assert_eq!(of_kind(&open, "Consent").len(), 0);
        let drops = bundle("asthma-drops", Moment::After, same);
        assert_eq!(of_kind(&drops, "MedicationRequest").len(), 0);
        assert!(of_kind(&drops, "CarePlan").len() == 1, "visits stand all the same");
    }

    /// Each paper that is issued goes out as a document of its kind; a page without a row has no type. Its id stays.
    #[test]
    fn papers_go_out_as_documents_of_their_kind() {
        use vitreoleaf::packet::Form;
        let practice = practice(same, BTreeMap::new());
        let mut seen = BTreeSet::new();
        for (name, moment) in [("steroid-taper", Moment::After), ("ring-implant", Moment::Before)] {
            let record = record(name, same);
            let checked = checked(&practice, &record);
            let case = Case::new(&checked, moment).unwrap();
            let issued = vitreoleaf::demo::issued(&record, moment);
            let papers = case.papers_as(&[Form::Text]);
            let files = case.packet_of(&[Form::Text], &papers, issued).unwrap().files;
            let out = || described("fhir-out", &outgoing::bundle(&case, &files, &types(), issued).unwrap());
            let (bundle, again) = (out(), out());
            let documents = of_kind(&bundle, "DocumentReference");
            assert_eq!(documents.len(), papers.len(), "{name}");
            for (document, other) in documents.iter().zip(of_kind(&again, "DocumentReference")) {
                let title = document["content"][0]["attachment"]["title"].as_str().unwrap();
                let word = title.rsplit_once('.').unwrap().0.split(&format!("-{}-", moment.word())).nth(1).unwrap();
                seen.insert((word.to_owned(), document["type"]["coding"][0]["code"].as_str().map(str::to_owned)));
                assert_eq!(document["id"], other["id"]);
            }
        }
        let typed = |word: &str, code: &str| (word.to_owned(), Some(code.to_owned()));
        for expected in [typed("note", "28570-0"), typed("letter", "68607-1"), typed("outcome", "74468-0")] {
            assert!(seen.contains(&expected), "{expected:?} {seen:?}");
        }
        assert!(seen.contains(&("withdrawal".to_owned(), None)), "{seen:?}");
    }

    /// Every reference leads to a resource of the bundle, every id is that of its address, none is there twice.
    #[test]
    fn every_reference_leads_somewhere_and_ids_stay() {
        let bundle = bundle("steroid-taper", Moment::After, same);
        let entries = bundle["entry"].as_array().unwrap();
        let urls: BTreeSet<&str> = entries.iter().map(|entry| entry["fullUrl"].as_str().unwrap()).collect();
        assert_eq!(urls.len(), entries.len());
        for entry in entries {
            let id = entry["resource"]["id"].as_str().unwrap();
            assert_eq!(entry["fullUrl"], format!("urn:uuid:{id}"));
            assert_eq!(
                entry["request"]["url"],
                format!("{}/{id}", entry["resource"]["resourceType"].as_str().unwrap())
            );
        }
        let mut references = Vec::new();
        gather(&bundle, &mut references);
        assert!(!references.is_empty() && references.iter().all(|one| urls.contains(one.as_str())), "{references:?}");
        let second =
            super::out::bundle("steroid-taper", Moment::After, |text| text.replace("revision = 1", "revision = 2"));
        let id = |bundle: &Value, kind: &str| of_kind(bundle, kind)[0]["id"].clone();
        for kind in ["Patient", "Procedure", "CarePlan", "MedicationRequest"] {
            assert_eq!(id(&bundle, kind), id(&second, kind), "{kind}");
        }
        assert_ne!(id(&bundle, "Provenance"), id(&second, "Provenance"));
    }

    fn gather(value: &Value, found: &mut Vec<String>) {
        match value {
            Value::Object(keys) => {
                found.extend(keys.get("reference").and_then(Value::as_str).map(str::to_owned));
                keys.values().for_each(|below| gather(below, found));
            }
            Value::Array(entries) => entries.iter().for_each(|below| gather(below, found)),
            _ => {}
        }
    }

    /// Nothing beyond need: no text of the record but name, number and date of birth leaves.
    #[test]
    fn no_private_text_goes_out() {
        let record = record("ring-implant", same);
        for moment in [Moment::Before, Moment::After] {
            let text = bundle("ring-implant", moment, same).to_string();
            let private =
                [&record.complaint.reason, "reading", "lisinopril", "no breaks, no traction seen", "Laser room"];
            assert!(private.iter().all(|private| !text.contains(*private)), "{text}");
            assert!(text.contains(&record.patient.name));
        }
    }

    /// Sent there and back: what goes out is no draft of another case.
    #[test]
    fn what_goes_out_can_be_read_again() {
        let bundle = bundle("ring-implant", Moment::After, same);
        let found = read(&bundle, Some(Side::Right), true).unwrap();
        let taken: BTreeMap<&str, &Value> = found.taken.iter().map(|one| (one.key.as_str(), &one.value)).collect();
        assert_eq!(taken["/patient/name"], "Rosa Beispiel");
        assert_eq!(taken["/patient/record_number"], "000-101");
    }
}

//! From a record to the findings about its drops: what is taken already, what was not recorded, what is used in the
//! clinic, and the name on the bottle.

use std::collections::BTreeMap;

use vitreoleaf::document::sheet::Withheld;
use vitreoleaf::facts::Moment;
use vitreoleaf::findings::Level;
use vitreoleaf::packet::{Case, rows};
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;

use crate::packets::{checked, made, practice, reason, record};

fn same(text: String) -> String {
    text
}

/// An invented record with one line of it written anew.
fn with(old: &'static str, new: &'static str) -> Record {
    record("ring-implant", |text| {
        assert!(text.contains(old), "{old}");
        text.replace(old, new)
    })
}

/// Ids and levels of the findings, before the treatment.
fn findings(record: &Record) -> BTreeMap<String, Level> {
    let practice = practice(same, BTreeMap::new());
    let checked = checked(&practice, record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    case.findings.0.iter().map(|finding| (finding.id.clone(), finding.level)).collect()
}

fn fact(record: &Record, name: &str) -> String {
    let practice = practice(same, BTreeMap::new());
    Case::new(&checked(&practice, record), Moment::Before).unwrap().facts.choice(name).to_owned()
}

const MEDICINES: &str = "medicines = [\"lisinopril\"]";
const EYE_DROPS: &str = "eye_drops = []";

#[test]
fn a_medicine_nobody_knows_is_asked_until_it_is_answered() {
    let practice = practice(same, BTreeMap::new());
    let unread = with(MEDICINES, "medicines = [\"lisinopril\", \"Wonderpill #1 {{ patient }} *new*\"]");
    let packet = made(&practice, &unread, Moment::Before);
    assert_eq!(reason(&packet), Some(Withheld::Findings));
    let withheld = packet.withheld.as_ref().unwrap();
    let [id] = &withheld.by[..] else { panic!("{:?}", withheld.by) };
    assert!(id.starts_with("unread-") && !id.contains("wonder"), "{id}");
    let answered = crate::packets::answered(&practice, unread, Moment::Before, &[id]);
    assert_eq!(made(&practice, &answered, Moment::Before).withheld, None);
}

/// Classes of medicines after the WHO ATC index, from memory.
#[test]
fn what_is_taken_already_reaches_the_rules() {
    let found = findings(&with(EYE_DROPS, "eye_drops = [\"carteolol 1%\", \"ketorolac\"]"));
    assert_eq!(found.get("R15-dorzolamide_timolol"), Some(&Level::Caution), "two beta-blockers");
    assert_eq!(found.get("R62b-prednisolone_acetate_1"), Some(&Level::Caution), "steroid and anti-inflammatory drop");
    let found = findings(&with(MEDICINES, "medicines = [\"acetazolamide 250 mg\", \"metoprolol\"]"));
    assert_eq!(found.get("R22a-dorzolamide_timolol"), Some(&Level::Caution), "by mouth and as a drop");
    assert_eq!(found.get("R09-dorzolamide_timolol"), Some(&Level::Caution), "by mouth and as a drop");
    assert!(findings(&with(MEDICINES, "medicines = []")).keys().all(|id| !id.starts_with("unread")));
}

/// An empty list says none; a list that is left out says nothing.
#[test]
fn a_list_not_recorded_clears_no_drug() {
    let found = findings(&with(MEDICINES, ""));
    for id in ["R09", "R10a", "R22a"] {
        let id = format!("{id}-dorzolamide_timolol-unrecorded");
        assert_eq!(found.get(&id), Some(&Level::Caution), "{id}");
    }
    let found = findings(&with(EYE_DROPS, ""));
    assert_eq!(found.get("R15-dorzolamide_timolol-unrecorded"), Some(&Level::Caution));
    assert!(!found.contains_key("R22a-dorzolamide_timolol-unrecorded"), "tablets stand among the medicines");
}

/// A record of an earlier version holds none of the newer keys. It still loads; what could stop is asked.
#[test]
fn an_older_record_is_read_and_nothing_in_it_counts_as_no() {
    let old = record("ring-implant", |text| {
        let newer = ["narrow_angle", "corneal_", "dry_eye", "repeated_surgery", "nsaid_allergy", "sulfite_allergy"];
        let health =
            text.find("\nhypertension").expect("the newer keys") + 1..text.find("allergies =").expect("allergies");
        let mut text = text;
        text.replace_range(health, "");
        text.lines()
            .filter(|line| newer.iter().all(|key| !line.starts_with(key)))
            .map(|line| format!("{line}\n"))
            .collect()
    });
    let found = findings(&old);
    assert_eq!(found.get("R55b-prednisolone_acetate_1-unrecorded"), Some(&Level::Ask));
    assert_eq!(found.get("R65-tropicamide-unrecorded"), Some(&Level::Ask));
    assert_eq!(found.get("R43a-dorzolamide_timolol-unrecorded"), Some(&Level::Caution));
    assert!(found.iter().all(|(id, level)| *level > Level::Ask || id.ends_with("-unrecorded")), "{found:?}");
}

/// Sulfite and sulfate are no sulfonamides; what "sulfa" was, only the patient can say.
#[test]
fn the_letters_sulf_never_count_as_a_sulfonamide_and_are_never_passed_over() {
    let allergic = |to: &'static str| with("allergies = []", to);
    for quiet in ["allergies = [\"sulfite\"]", "allergies = [\"Sulphates\"]", "allergies = [\"sodium metabisulfite\"]"]
    {
        assert_eq!(fact(&allergic(quiet), "sulf_in_words"), "no", "{quiet}");
    }
    for asks in
        ["allergies = [\"Sulfa\"]", "allergies = [\"sulphur\"]", "allergies = [\"sulfite\", \"sulfamethoxazole\"]"]
    {
        let record = allergic(asks);
        assert_eq!(fact(&record, "sulf_in_words"), "yes", "{asks}");
        let found = findings(&record);
        assert_eq!(found.get("sulf-in-words"), Some(&Level::Ask), "{asks}");
        assert!(found.keys().all(|id| !id.starts_with("R16") && !id.starts_with("R17")), "{asks}: {found:?}");
    }
}

#[test]
fn facts_of_age_diabetes_and_medicines_take_the_stricter_reading() {
    let born = |date: &'static str| fact(&with("birth_date = 1955-03-02", date), "age_group");
    // The treatment is on 7 August 2026.
    assert_eq!(born("birth_date = 1961-08-07"), "65_or_older");
    assert_eq!(born("birth_date = 1961-08-08"), "18_to_64");
    assert_eq!(born("birth_date = 2008-08-07"), "18_to_64");
    assert_eq!(born("birth_date = 2008-08-08"), "12_to_17");
    let metformin = with(MEDICINES, "medicines = [\"metformin\", \"phenelzine\"]");
    assert_eq!(fact(&metformin, "diabetes"), "treatment_unknown");
    assert_eq!(fact(&metformin, "maoi"), "yes", "whatever the record says elsewhere");
    assert_eq!(fact(&with(MEDICINES, ""), "anticoagulant"), "unknown");
}

/// UK product information (MHRA) of tropicamide lists narrow angles (seen in a paraphrased copy).
#[test]
fn drops_of_the_clinic_are_judged_too_and_withhold_no_drop_at_home() {
    let narrow = with("narrow_angle = \"no\"", "narrow_angle = \"narrow\"");
    assert_eq!(findings(&narrow).get("R65-tropicamide"), Some(&Level::Stop));
    let practice = practice(same, BTreeMap::new());
    assert_eq!(reason(&made(&practice, &narrow, Moment::Before)), Some(Withheld::Findings));
    assert_eq!(made(&practice, &narrow, Moment::After).withheld, None);
}

/// US and UK texts give prednisolone acetate four times a day (both seen).
#[test]
fn doses_above_the_label_are_noted_with_their_numbers() {
    let noted = |per_day: &'static str| {
        let practice = practice(|text| text.replace("per_day = 6", per_day), BTreeMap::new());
        let record = record("ring-implant", same);
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::Before).unwrap();
        case.findings.0.iter().find(|finding| finding.id.starts_with("F01")).map(|finding| finding.says.clone())
    };
    let says = noted("per_day = 6").expect("a note");
    assert!(says.contains("6 times") && says.contains("at most 4"), "{says}");
    assert_eq!(noted("per_day = 4"), None);
}

/// The invented practice with its own row for the steroid drop: ours with one part written anew.
fn with_steroid_row(old: &str, new: &str) -> Practice {
    let ours = include_str!("../templates/formulary.toml");
    let row = ours.split("[[drug]]").find(|row| row.contains("key = \"prednisolone_acetate_1\"")).expect("the row");
    assert!(row.contains(old), "{old}");
    let own = format!("[[drug]]{}", row.replace(old, new));
    let own = own.split("\n\n").next().unwrap().to_owned();
    practice(same, BTreeMap::from([("templates/formulary.toml".to_owned(), own)]))
}

#[test]
fn each_drop_is_kept_as_its_row_says() {
    let record = record("ring-implant", same);
    for (storage, says) in [
        ("as_the_box_says", "Keep prednisolone acetate as the box says."),
        ("room", "Keep dorzolamide and timolol and prednisolone acetate at room temperature."),
        ("cold_until_opened", "Keep prednisolone acetate in the refrigerator until opened, then at room temperature."),
        ("cold", "Keep prednisolone acetate in the refrigerator."),
    ] {
        let practice = with_steroid_row("storage = \"room\"", &format!("storage = \"{storage}\""));
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::After).unwrap();
        let documents = case.documents(chrono::NaiveDateTime::default()).unwrap();
        let text = serde_json::to_value(&documents[0]).unwrap().to_string();
        assert!(text.contains(says), "{storage}: {text}");
    }
}

#[test]
fn the_name_on_the_bottle_stands_beside_the_generic_one() {
    let practice = with_steroid_row("strength =", "bottle_name = \"Bottle Name\"\nstrength =");
    let record = record("ring-implant", same);
    let checked = checked(&practice, &record);
    let case = Case::new(&checked, Moment::After).unwrap();
    let documents = case.documents(chrono::NaiveDateTime::default()).unwrap();
    for (page, document) in ["aftercare", "surgeon", "desk"].into_iter().zip(&documents) {
        let text = serde_json::to_value(document).unwrap().to_string();
        assert_eq!(text.contains("prednisolone acetate (Bottle Name)"), page != "surgeon", "{page}");
    }
    assert!(rows::doses(&case).unwrap().iter().any(|dose| dose.name.contains("Bottle Name")));
}

/// A practice writes a row again to choose otherwise; a choice in a row never makes the labels milder.
#[test]
fn a_practice_chooses_within_the_labels() {
    let ours = include_str!("../templates/drug-rules.toml");
    let row = |id: &str| {
        let row = ours.split("[[rule]]").find(|row| row.contains(&format!("id = \"{id}\""))).expect("the row");
        format!("[[rule]]{}\n", row.split("\n\n").next().expect("a row"))
    };
    let responder = row("R51").replace("level_choice = \"ask\"\n", "");
    let asthma = row("R01").replace("reason =", "level_choice = \"note\"\nreason =");
    let own = BTreeMap::from([("templates/drug-rules.toml".to_owned(), responder + &asthma)]);
    let record = record("ring-implant", |text| {
        text.replace("steroid_response = \"no\"", "steroid_response = \"yes\"")
            .replace("asthma = \"no\"", "asthma = \"yes\"")
    });
    let level = |own: BTreeMap<String, String>, id: &str| {
        let practice = practice(same, own);
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::Before).unwrap();
        case.findings.0.iter().find(|finding| finding.id == id).map(|finding| finding.level)
    };
    let responder = "R51-prednisolone_acetate_1";
    assert_eq!(level(BTreeMap::new(), responder), Some(Level::Ask), "our choice");
    assert_eq!(level(own.clone(), responder), Some(Level::Caution), "the labels warn");
    assert_eq!(level(own, "R01-dorzolamide_timolol"), Some(Level::Stop), "the labels forbid");
}
